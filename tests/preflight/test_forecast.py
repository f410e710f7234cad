from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from sweep.campaign.draws import water_of
from sweep.campaign.flight import Flight
from sweep.campaign.follow_up_plan import Tail, plan_tail
from sweep.flying.flights import Pace
from sweep.insight.limits import LimitCounts, flights_needed, judge
from sweep.linear.reach import reach
from sweep.preflight.forecast import _expected, _map, _rest, _small_search, clean_flights, preview
from tests.benchmarks.search import campaign_of, with_seed
from tests.flying.test_flights import campaign
from tests.flying.test_ride_map import ride_map
from tests.insight.test_limits import flights, pooled


@cache
def usual():
    """All that is said of the campaign as it stands."""
    return preview(campaign())


def said(start, **changes):
    """What is said of a campaign with these changes."""
    return [sentence for sentence in (preview(campaign(**changes)) if changes else usual()) if start in sentence]


def limit(value, kind):
    return SimpleNamespace(value=value, kind=kind)


@pytest.mark.parametrize("share", [0.5, 0.25, 0.02])
def test_a_share_takes_as_many_clean_flights_as_its_limit_says(share):
    assert clean_flights(limit(share, "share"), 30.0) == flights_needed(0, share)


@pytest.mark.parametrize("rate", [1.0 / 60.0, 4.0 / 60.0])
def test_a_rate_takes_as_many_clean_flights_as_its_limit_says(rate):
    """As many as the limits ask for beside one clean flight of 30 s."""
    counts = LimitCounts({"touchdowns": limit(rate, "rate")}, 1, 1)
    counts.add(flights((1, 1, 1)))
    assert clean_flights(limit(rate, "rate"), 30.0) == 1 + pooled(judge(counts, 30.0))["more_flights"][0]


@pytest.mark.parametrize("kind", ["share", "rate"])
def test_a_limit_of_nothing_takes_for_ever(kind):
    assert clean_flights(limit(0.0, kind), 30.0) == np.inf


def test_the_map_has_its_budget_stated():
    """1 x 2 x 2 x 3 flights of 4 designs."""
    (sentence,) = said("Then a map", map=ride_map(campaign()))
    assert "1 speed x 2 wave heights (5 to 15 cm, all as steep as chop) x 2 headings x 3 replicates: 48 flights" in sentence
    assert said("No map of where the leaders ride.", map=None)


def test_the_base_craft_is_weighed_floated_and_flown():
    (weight,) = said("Base craft")
    assert "kg (" in weight
    assert "N/m^2 on its foils" in weight
    assert "afloat its keel is 3.2" in weight
    (reach,) = said("It takes off at")
    assert "(limited by foil travel)" in reach
    assert "(limited by thrust)" in reach


def test_designs_without_a_trim_are_counted_and_blamed():
    """A little faster than the base craft of 50 cm^2 takes off, the designs of 40 cm^2 do not."""
    slow = 1.05 * reach(campaign().craft, water_of(campaign()), [4.0]).low
    (some,) = said("have no trim", speeds=(slow,))
    assert some.startswith("4 of 13 designs have no trim at ")
    assert "mostly with foils.*.area 40 cm² (4 of 4): they break a limit there. Of design 1 " in some
    assert "travel is short: " in some or "lift is short: " in some
    assert said("13 of 13 designs have no trim at 1 m/s: ", speeds=(1.0, 4.0))
    assert said("13 of 13 designs have none at any of the speeds.", speeds=(0.8, 1.0))
    assert not said("no trim")


def test_what_the_base_craft_is_short_of_is_told():
    (one,) = said("At 1 m/s it has no trim", speeds=(1.0, 4.0))
    assert "lift is short: at the end of their travel or at their stall the foils carry " in one
    heavy = campaign().craft.model_copy(update={"body": campaign().craft.body.model_copy(update={"mass": 60.0})})
    (none,) = said("It trims at no speed", craft=heavy)
    assert "It is nearest to it at " in none
    assert "is short" in none


def test_what_so_few_flights_cannot_show_is_told():
    """4 flights (2 conditions x 2) of 3 s: 50 % takes 5; 4 /min takes 45 s, 15 flights; both by hand."""
    (share,) = said("keeps upsets")
    assert "at 50 % stays open: that takes 5 clean flights to show, and each has 4." in share
    (rate,) = said("keeps touchdowns")
    assert "at 4 /min stays open: that takes 15 clean flights to show" in rate
    assert not said("keeps upsets", replicates=10)


def test_one_replicate_is_told():
    assert said("one replicate", replicates=1)
    assert not said("one replicate")


def test_few_waves_are_told_with_the_condition_that_has_the_fewest():
    (few,) = said("too few to show rare events")
    assert few.startswith("In doubt: broaches, touchdowns: in chop, following, 4 m/s a flight meets about ")
    assert "(2 conditions under 50)" in few
    assert not said("too few", flight=Flight(length="60 s", settle="1 s"))


def test_steep_seas_are_cautioned():
    assert said("Caution: chop: too steep.", warnings=("chop: too steep",))


def test_time_and_disk_are_told():
    (sentence,) = said("of one processor")
    assert "x real time" in sentence
    assert "MB of flights" in sentence
    assert said("How long it takes is not known", speeds=(1.0,))


def test_tolerances_have_their_budget_stated():
    """Four designs, as described and with fifteen tolerances, two conditions, four replicates: by hand."""
    (sentence,) = said("Then the same 4", tolerances="usual")
    assert "640 flights more" in sentence
    assert said("Then the same 4") == []


def test_what_follows_the_flights_is_foretold():
    (sentence,) = said("are recorded in")
    assert "recorded in every condition. Causes are found for at most 12 bad flights of each" in sentence
    assert "Small changes of the leader are flown with 4 replicates in every condition" in sentence
    assert said("of it for what follows the flights; then some 20 s for ranking and the site")


@pytest.mark.parametrize(("conditions", "spent"), [(200, 55), (800, 145), (2_000, 361)])
def test_ranking_and_the_site_take_as_long_as_they_were_measured_to(conditions, spent):
    """Processor time, s, of 20 designs in so many conditions (`benchmarks.stages`), within a tenth and half a minute."""
    (sentence,) = _expected(campaign(), Pace(100.0, 1e4, 100.0), 20, conditions, plan_tail(campaign(), 20, conditions))
    told, unit = sentence.split("then some ")[1].split(" for ranking")[0].split()
    assert float(told) * {"s": 1, "min": 60}[unit] == pytest.approx(spent, abs=0.1 * spent + 30.0)


def test_a_sample_is_foretold_by_its_number():
    sampled = Tail(recorded=30, explained=1, map=None, changed=25, replicates=2, cost=1e5)
    told = _rest(sampled, 800)
    assert "recorded in 30 of 800 conditions" in told
    assert "at most 1 bad flight of each" in told
    assert "2 replicates in 25 of 800 conditions" in told
    assert "No small changes of the leader are flown" in _rest(sampled._replace(changed=0), 800)
    assert _map(campaign(), sampled)[0].startswith("No map of where the leaders ride: it would take more than half")


def test_a_search_that_is_too_small_to_learn_from_its_rounds_is_told(tmp_path):
    """Nine factors: 9 x 12 / 2 = 54 terms of a quadratic; 0.65 of three rounds, so 28 designs a round and 224 in eight."""
    searched = campaign_of("courier", tmp_path)

    def of(designs):
        plan = searched.plan.model_copy(update={"designs": designs})
        return list(_small_search(searched.model_copy(update={"plan": plan}), 6))

    (said,) = of(223)
    assert "223 designs in 8 rounds are too few to learn where 9 factors are good" in said
    assert "“designs: 224” is the least that they can learn from" in said
    assert not of(224)
    (bought,) = _small_search(with_seed(searched, 1, 1700), 6)
    seconds = int(bought.split("simulated: ")[1].split(" s}")[0])
    assert not list(_small_search(with_seed(searched, 1, round(seconds / 8)), 6))
    assert not list(_small_search(campaign(), 2))

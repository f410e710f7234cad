"""A score is a season's: conditions weigh as often as they occur, and costs count; told by hand here."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions, season_shares
from sweep.campaign.designs import crafts_of, lay_out
from sweep.campaign.scoring import Limit
from sweep.campaign.text.problems import CampaignError
from sweep.flying.variants import worse_variants
from sweep.insight.findings import mean_responses
from sweep.insight.intervals import estimate
from sweep.insight.limits import LimitCounts
from sweep.insight.rank import over_cost, rank_flights, refused
from sweep.insight.robust import condition_costs
from sweep.insight.scores import Scoring, in_season
from sweep.model.pack.mass import price, total_mass
from sweep.model.quantities import FLEW, RESPONSE_NAMES, STATUS_NAMES
from sweep.preflight.amounts import costs_text, season_text
from tests.campaign.files import write
from tests.campaign.test_rules_between_factors import PRICES

UPSET = STATUS_NAMES.index("upset")
SEASON = ("  headings: [head, 120 deg]", "  headings: [head, 120 deg]\n  season: {seas: %s, headings: {head: 30, 120 deg: 10}}")
SEAS = "{calm: 50 %, chop: 30 %, swell: 20 %}"


def of(tmp_path: Path, seas: str = SEAS, *more: tuple[str, str], craft: tuple[tuple[str, str], ...] = ()) -> Campaign:
    season = (SEASON[0], SEASON[1] % seas)
    return load_campaign(write(tmp_path, campaign=(season, *more), craft=craft))


def rows_of(campaign: Campaign, designs: int, value: np.ndarray) -> pd.DataFrame:
    """Flights of `designs` designs, with ride-height error as value, (designs, conditions, replicates), m."""
    shape = (designs, len(list_conditions(campaign)), campaign.replicates)
    places = np.indices(shape).reshape(3, -1)
    table = pd.DataFrame(dict.fromkeys(RESPONSE_NAMES, 0.0), index=range(places.shape[1]))
    return table.assign(
        **dict(zip(("design", "condition", "replicate"), places, strict=True)),
        status=FLEW,
        time_foilborne=campaign.flight.scored,
        ride_height_error=np.broadcast_to(value, shape).ravel(),
    )


def test_each_condition_counts_as_often_as_it_occurs(tmp_path: Path) -> None:
    """Calm has no heading; chop is two seas and swell two; head seas are three times as frequent as the others; two speeds."""
    campaign = of(tmp_path)
    conditions, speeds = list_conditions(campaign), len(campaign.speeds)
    faults = len(campaign.faults)
    wanted = []
    for condition in conditions:
        sea, heading = condition.sea.name.split()[0], condition.heading.name
        share = {"calm": 0.5, "chop": 0.3 / 2, "swell": 0.2 / 2}[sea]
        share *= 1.0 if sea == "calm" else {"head": 0.75, "120 deg": 0.25}[heading]
        wanted.append(share / speeds / faults)
    np.testing.assert_allclose(np.array(campaign.season) / len(conditions), wanted, rtol=1e-12)
    assert sum(wanted) == pytest.approx(1.0)
    assert season_shares(campaign)[0].startswith("calm 50 %, chop 4 cm 15 %")
    assert len(list(season_text(campaign))) == 1


def test_without_a_season_all_count_alike(tmp_path: Path) -> None:
    campaign = load_campaign(write(tmp_path))
    assert campaign.season == ()
    assert list(season_text(campaign)) == []


WRONG = {
    "{calm: 1, chop: 2}": ("conditions.season.seas", "no swell", "calm, chop and swell"),
    "{calm: 1, chop: 2, swell: 1, gale: 1}": ("conditions.season.seas.gale", "'gale'", "calm, chop or swell"),
    "{calm: 0, chop: 2, swell: 1}": ("conditions.season.seas.calm", "0", "more than 0"),
    "{calm: often, chop: 2, swell: 1}": ("conditions.season.seas.calm", "'often'", "a share"),
    "{calm: 3 m, chop: 2, swell: 1}": ("conditions.season.seas.calm", "'3 m'", "a share"),
}


@pytest.mark.parametrize("seas", WRONG)
def test_a_wrong_season_is_refused_at_its_place(tmp_path: Path, seas: str) -> None:
    with pytest.raises(CampaignError) as raised:
        of(tmp_path, seas)
    (problem,) = raised.value.problems
    address, found, wanted = WRONG[seas]
    assert problem.address == address
    assert found in problem.found
    assert wanted in problem.wanted


def test_plain_means_of_scores_are_a_seasons(tmp_path: Path) -> None:
    campaign = of(tmp_path)
    conditions = len(campaign.season)
    errors = np.random.default_rng(1).uniform(0.005, 0.05, (3, conditions, campaign.replicates))
    rows = rows_of(campaign, 3, errors)
    alone = campaign.model_copy(update={"score": {"ride_height_error": campaign.score["ride_height_error"]}})
    scores = Scoring.of(alone).scores(rows).reshape(errors.shape)
    share = np.array(campaign.season) / conditions
    wanted = (share * (errors / 0.01).mean(axis=2)).sum(axis=1)
    np.testing.assert_allclose(estimate(scores).mean, wanted, rtol=1e-12)
    error = np.sqrt((share**2 * (errors / 0.01).var(axis=2, ddof=1)).sum(axis=1) / campaign.replicates)
    np.testing.assert_allclose(estimate(scores).error, error, rtol=1e-12)
    table = rank_flights(alone, [rows], [each.name for each in list_conditions(alone)], 3).standings.set_index("design")
    np.testing.assert_allclose(table["score"].sort_index(), wanted, rtol=1e-12)
    np.testing.assert_allclose(table["ride_height_error"].sort_index(), 0.01 * wanted, rtol=1e-12)
    means = mean_responses([rows], 3, campaign.season)["ride_height_error"]
    np.testing.assert_allclose(means, 0.01 * wanted, rtol=1e-12)


def test_two_seasons_of_the_same_flights_choose_different_boats(tmp_path: Path) -> None:
    calm, rough = of(tmp_path, "{calm: 90 %, chop: 5 %, swell: 5 %}"), of(tmp_path, "{calm: 5 %, chop: 90 %, swell: 5 %}")
    conditions = list_conditions(calm)
    still = np.array([each.sea.name == "calm" for each in conditions])
    errors = np.where(still, np.array([[0.01], [0.02]]), np.array([[0.03], [0.02]]))[:, :, None]
    names = [each.name for each in conditions]
    first = [rank_flights(each, [rows_of(each, 2, errors)], names, 2).standings["design"].iloc[0] for each in (calm, rough)]
    assert first == [0, 1]


def test_limits_and_failures_are_a_seasons_and_make_nothing_of_what_was_not_flown(tmp_path: Path) -> None:
    """One touchdown in each flight of the calm only, half of the season: half of their rate in all."""
    campaign = of(tmp_path).model_copy(update={"limits": {"touchdowns": Limit(value=1.0, kind="rate")}})
    conditions, time = list_conditions(campaign), campaign.flight.scored
    still = np.array([each.sea.name == "calm" for each in conditions])
    rows = rows_of(campaign, 1, np.zeros(1))
    rows = rows.assign(touchdowns=still[rows["condition"]] / time, status=np.where(still[rows["condition"]], UPSET, FLEW))
    counts = LimitCounts.of(campaign, 1, len(conditions))
    counts.add(rows)
    weights = counts.weights()
    events, exposure = (float((weights * each["touchdowns"]).sum()) for each in (counts.events, counts.exposure))
    assert events / exposure == pytest.approx(0.5 / time)
    assert weights.max() == 1.0
    ranked = rank_flights(campaign, [rows], [each.name for each in conditions], 1)
    assert ranked.standings["failed"].iloc[0] == pytest.approx(0.5)


def test_means_of_values_leave_out_what_is_not_there() -> None:
    values = np.array([[[1.0, 3.0], [np.nan, np.nan], [5.0, 5.0]]])
    season = np.array([1.5, 1.2, 0.3])
    found = in_season(values, season)
    assert np.mean([found[0, 0].mean(), found[0, 2].mean()]) == pytest.approx((1.5 * 2.0 + 0.3 * 5.0) / 1.8)
    assert in_season(values, None) is values


def test_what_a_condition_costs_is_against_the_seasons_mean() -> None:
    scores = np.array([[1.0, 1.0], [4.0, 4.0]])
    calm, rough = condition_costs(scores, ["calm", "rough"], None, np.array([1.6, 0.4]))
    assert (calm["cost"], rough["cost"]) == (pytest.approx(1.0 - 1.6), pytest.approx(4.0 - 1.6))


SCORE = """
score:
  ride_height_error: {weight: 1, scale: 1 cm}
  price: {weight: 0.5, scale: 20}
  mass: {weight: 0.5, scale: 1 kg}
"""
LIMITS = "limits: {price: 65, mass: 3.15 kg, touchdowns: 1 /min}"


def priced(tmp_path: Path, lines: str, craft: tuple[tuple[str, str], ...] = (PRICES,)) -> Campaign:
    """The campaign with these limits or this score instead of its own."""
    text = write(tmp_path, craft=craft)
    text.write_text(text.read_text().partition("limits:")[0] + lines + "\n")
    return load_campaign(text)


def test_costs_give_points_by_hand(tmp_path: Path) -> None:
    campaign = priced(tmp_path, SCORE)
    designs = lay_out(campaign)
    crafts = list(crafts_of(campaign, designs))
    rows = rows_of(campaign, len(designs), np.full(1, 0.02))
    found = Scoring.of(campaign).scores(rows).reshape(len(designs), -1).mean(axis=1)
    wanted = [(1.0 * 2.0 + 0.5 * price(craft) / 20.0 + 0.5 * total_mass(craft)) / 2.0 for craft in crafts]
    np.testing.assert_allclose(found, wanted, rtol=1e-12)


def test_designs_over_a_limit_of_cost_have_no_place_and_no_change_leads_there(tmp_path: Path) -> None:
    campaign = priced(tmp_path, LIMITS)
    designs = lay_out(campaign)
    crafts = list(crafts_of(campaign, designs))
    heavy = {at for at, craft in enumerate(crafts) if total_mass(craft) > 3.15}
    reasons = refused(campaign)
    assert 0 < len(heavy) < len(crafts)
    assert set(reasons) == set(range(len(crafts)))  # all cost 66
    assert reasons[min(heavy)].startswith("Mass: 3.151 kg against 3.15 kg allowed. Price: 66 against 65 allowed.")
    free = priced(tmp_path, LIMITS.replace("65", "70"))
    assert set(refused(free)) == heavy
    (said,) = costs_text(free, designs)
    spared = "a rule, mass <= 3.15 kg, spares their flights"
    assert said == f"{len(heavy)} of 433 designs are over 3.15 kg of mass and have no place; {spared}."
    assert over_cost({"price": 66.0}, crafts[0]) == ""
    tight = free.model_copy(update={"cost_limits": {"mass": total_mass(free.craft)}})
    assert all(total_mass(variant.craft) <= total_mass(free.craft) for variant in worse_variants(tight, free.craft))


def test_a_scale_that_drowns_the_flights_is_doubted(tmp_path: Path) -> None:
    campaign = priced(tmp_path, SCORE.replace("scale: 20", "scale: 2"))
    (said,) = costs_text(campaign, lay_out(campaign))
    assert said == "In doubt: price gives up to 33 points, more than the 10 of a lost flight: give it a scale of 6.6 or more."


@pytest.mark.parametrize(("lines", "address"), [("limits: {mass: 3}", "limits.mass"), ("score: {price: {scale: 3}}", "score")])
def test_wrong_costs_are_refused(tmp_path: Path, lines: str, address: str) -> None:
    with pytest.raises(CampaignError) as raised:
        priced(tmp_path, lines)
    assert [problem.address for problem in raised.value.problems] == [address]

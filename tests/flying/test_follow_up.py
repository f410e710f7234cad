"""What follows the flights is settled by counts: never more than half of them, or 20 s, and the same everywhere."""

from __future__ import annotations

import dataclasses
import functools
from collections import Counter
from dataclasses import replace
from itertools import product
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweep.campaign import follow_up_plan
from sweep.campaign.budget import Budget
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import Condition, list_conditions
from sweep.campaign.follow_up_plan import LEAST, SHARE, plan_tail, sample
from sweep.report.pages import changes as of_changes
from sweep.report.pages import rides as of_rides
from sweep.report.pages.ride import which_flights
from sweep.results.manifest import FollowUp
from tests.site_results import results

QUICK = Path(__file__).parents[2] / "configs" / "quick.yaml"


quick_demo = functools.cache(load_campaign)


def campaign(length: float = 12.0, replicates: int = 3, **changes: object) -> Campaign:
    """The quick demo with other flights; its own map is asked for."""
    quick = quick_demo(QUICK)
    flight = quick.flight.model_copy(update={"length": length, "settle": 0.5 * length})
    return quick.model_copy(update={"flight": flight, "replicates": replicates} | changes)


def unasked(chosen: Campaign) -> Campaign:
    """The same with a usual map that it does not speak of, of 54 cells."""
    assert chosen.map is not None
    usual = {"speeds": (3.2, 4.0, 5.0), "heights": (0.02, 0.04, 0.06, 0.08, 0.1, 0.12), "replicates": 6, "asked": False}
    return chosen.model_copy(update={"map": chosen.map.model_copy(update=usual)})


@given(st.integers(1, 100_000), st.integers(1, 3_000), st.integers(1, 24), st.floats(1.0, 3600.0), st.booleans())
def test_it_takes_at_most_half_of_the_flights_or_the_least(
    designs: int, conditions: int, replicates: int, length: float, asked: bool
) -> None:
    chosen = campaign(length, replicates)
    found = plan_tail(chosen if asked else unasked(chosen), designs, conditions)
    flights = designs * conditions * replicates * length
    assert 0.0 < found.cost <= max(SHARE * flights, LEAST)
    assert found.recorded >= 1
    assert found.recorded * length <= max(follow_up_plan.MOST_RECORDED, length)


def test_the_least_is_twenty_seconds_of_a_processor() -> None:
    assert pytest.approx(20.0) == LEAST / follow_up_plan.PACE


def test_a_large_campaign_has_all_of_it() -> None:
    found = plan_tail(unasked(campaign()), 2_000, 36)
    assert found.recorded == found.changed == 36
    assert (found.explained, found.replicates) == (12, 4)
    assert found.map is not None
    assert found.map.replicates == 6


def test_few_designs_in_many_conditions_are_sampled() -> None:
    """20 designs in 800 conditions: in full the changes alone would be three times the flights."""
    found = plan_tail(unasked(campaign(10.0, 1)), 20, 800)
    whole = follow_up_plan.VARIANTS * 800 * follow_up_plan.REPLICATES * 10.0
    assert whole > 3.0 * 20 * 800 * 10.0
    assert 2 <= found.changed < 800
    assert found.replicates == 2


def test_what_is_asked_for_is_flown_in_full_and_does_not_count() -> None:
    chosen = campaign(600.0, 1)
    assert chosen.map is not None
    large = chosen.map.model_copy(update={"asked": True, "replicates": 50})
    found = plan_tail(chosen.model_copy(update={"map": large}), 2, 1)
    assert found.map == large
    assert found.cost <= LEAST


@pytest.mark.parametrize(("text", "asked"), [("", False), ("map: {}\n", False), ("map: {headings: head}\n", True)])
def test_a_map_is_asked_for_by_saying_something_of_it(tmp_path: Path, text: str, asked: bool) -> None:
    path = tmp_path / "quick.yaml"
    lines = QUICK.read_text().replace("craft: craft/", f"craft: {QUICK.parent}/craft/").splitlines()
    path.write_text("\n".join([line for line in lines if not line.startswith("map:")]) + f"\n{text}")
    shown = load_campaign(path).map
    assert shown is not None
    assert shown.asked is asked


def test_a_map_that_does_not_fit_has_fewer_heights_then_one_speed_then_is_left_out() -> None:
    maps = [plan_tail(unasked(campaign(length, 1)), 2, 1).map for length in (10.0, 600.0, 1500.0, 3600.0)]
    cells = [len(each.cells()) if each else 0 for each in maps]
    assert cells == [54, 27, 9, 0]


def test_a_race_counts_what_it_may_spend() -> None:
    raced = campaign(budget=Budget.model_construct(simulated=5e5, clock=None))
    assert follow_up_plan.simulated(raced, 1_000, 36) == 5e5
    assert follow_up_plan.simulated(raced, 2, 2) == 2 * 2 * 3 * 12.0
    timed = campaign(budget=Budget.model_construct(simulated=None, clock=60.0))
    assert follow_up_plan.simulated(timed, 1_000, 36) == 1_000 * 36 * 3 * 12.0
    assert plan_tail(timed, 1_000, 36, spare=5.0).cost <= 5.0 * follow_up_plan.PACE


def test_no_clock_has_a_say(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("monotonic", "perf_counter", "process_time", "thread_time", "time"):
        monkeypatch.setattr(f"time.{name}", lambda: pytest.fail("it looked at a clock"))
    assert plan_tail(campaign(), 20, 800) == plan_tail(campaign(), 20, 800)


def conditions(seas: int, headings: int, speeds: int, every: int = 1) -> list[Condition]:
    """A made-up campaign's conditions, or every so many of them."""
    one = list_conditions(campaign())[0]
    return [
        replace(
            one,
            index=number,
            sea=one.sea.model_copy(update={"name": f"sea {sea}"}),
            heading=one.heading.model_copy(update={"name": f"heading {heading}"}),
            speed=float(speed),
        )
        for number, (sea, heading, speed) in enumerate(product(range(seas), range(headings), range(1, speeds + 1)))
    ][::every]


@pytest.mark.parametrize(
    ("shape", "count"), [((10, 8, 10), 90), ((200, 2, 2), 40), ((5, 5, 8), 6), ((1, 1, 800), 90), ((4, 9, 7), 13)]
)
def test_a_sample_has_every_sea_heading_and_speed_alike(shape: tuple[int, int, int], count: int) -> None:
    some = sample(conditions(*shape), count)
    assert len(some) == count
    assert [each.index for each in some] == sorted({each.index for each in some})
    kinds = [[each.sea.name for each in some], [each.heading.name for each in some], [each.speed for each in some]]
    for names, levels in zip(kinds, shape, strict=True):
        counts = sorted(Counter(names).values())
        assert len(counts) == min(levels, count)
        assert counts[-1] - counts[0] <= 1 + (levels < count)


def test_a_sample_is_part_of_a_larger_one_and_knows_no_more_than_there_are() -> None:
    all_ = conditions(4, 3, 2, every=2)
    for count in range(len(all_)):
        assert {each.index for each in sample(all_, count)} < {each.index for each in sample(all_, count + 1)}
    assert sample(all_, 99) == all_


def test_pages_say_what_was_sampled(tmp_path: Path) -> None:
    told = results(tmp_path)
    all_ = len(told.conditions)
    assert which_flights(told) == "One flight in each condition, the first replicate."
    some = dataclasses.replace(told, manifest=dataclasses.replace(told.manifest, tail=FollowUp(all_ - 1, 12)))
    assert f"in each of {all_ - 1} of the {all_} conditions, spread evenly" in which_flights(some)
    changes = pd.DataFrame({"flights": [4]})
    assert "conditions" not in of_changes._behind(changes, all_, all_)
    assert "in 2 of the 800 conditions, spread evenly over them" in of_changes._behind(changes, 2, 800)
    assert "In the other conditions a change may gain more or less" in of_changes._behind(changes, 2, 800)


def test_a_map_that_was_left_out_is_told_and_not_promised(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    told = dataclasses.replace(results(tmp_path), rides=pd.DataFrame())
    assert "has not been flown yet" in of_rides._missing(told)
    monkeypatch.setattr(of_rides, "flown_map", lambda results: None)
    assert "it was left out. To have it flown, add a map to the campaign file." in of_rides._missing(told)

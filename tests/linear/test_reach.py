import math

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.draws import water_of
from sweep.campaign.factors import Factor
from sweep.campaign.named_seas import FlatSea, RegularSea
from sweep.linear.reach import blame, draft, expected_encounters, find_trims, reach, reaches, trimmed
from sweep.model.pack.mass import mass_properties
from tests.flying.test_flights import NO_TRIM, campaign, flown


def changed(part, **values):
    """The courier with some values of one part changed."""
    craft = campaign().craft
    return craft.model_copy(update={part: getattr(craft, part).model_copy(update=values)})


def test_a_craft_trims_from_end_to_end_of_its_reach():
    """Against a plain scan in steps of 1 % of the speeds around both ends."""
    craft, water = campaign().craft, water_of(campaign())
    found = reach(craft, water, [4.0])
    for end, inwards in ((found.low, 1.0), (found.high, -1.0)):
        trims = [trimmed(craft, water, end * (1.0 + inwards * share)).feasible[0] for share in (-0.03, -0.02, 0.0, 0.02, 0.03)]
        assert trims == [False, False, True, True, True]


def test_what_ends_the_reach_is_named_and_moves_it():
    """More foil travel takes off sooner, less thrust flies less fast; the other end hardly moves."""
    water, usual = water_of(campaign()), reach(campaign().craft, water_of(campaign()), [4.0])
    assert (usual.low_by, usual.high_by) == ("foil travel", "thrust")
    travelling = reach(changed("servos", travel=1.5 * campaign().craft.servos.travel), water, [4.0])
    assert travelling.low < 0.95 * usual.low
    assert travelling.high == pytest.approx(usual.high, rel=0.02)
    weak = reach(changed("propulsor", static_thrust=0.7 * campaign().craft.propulsor.static_thrust), water, [4.0])
    assert weak.high < 0.9 * usual.high
    assert weak.high_by == "thrust"
    assert weak.low == pytest.approx(usual.low, rel=0.02)


def test_the_reach_is_found_from_a_speed_beyond_it():
    craft, water = campaign().craft, water_of(campaign())
    found, usual = reach(craft, water, [1.0]), reach(craft, water, [4.0])
    assert (found.low, found.high) == pytest.approx((usual.low, usual.high), rel=0.02)


def test_a_craft_that_is_far_too_heavy_trims_nowhere():
    assert reach(changed("body", mass=60.0), water_of(campaign()), [4.0]) is None


def test_a_craft_floats_as_deep_as_its_weight_asks():
    """The displaced water of a prismatic vee hull, from its section's area by trapezium rule, weighs what the craft weighs."""
    craft, water = campaign().craft, water_of(campaign())
    fleet = trimmed(craft, water, 4.0)
    depth = np.linspace(0.0, draft(fleet), 20_001)
    displaced = sum(
        hull.length * np.trapezoid(np.minimum(2.0 * depth / math.tan(hull.deadrise), hull.beam), depth)
        for hull in craft.hulls.values()
    )
    assert water.density * displaced == pytest.approx(mass_properties(craft).mass, rel=1e-4)


def test_designs_that_do_not_trim_are_those_that_do_not_fly():
    chosen = campaign(speeds=(2.3, 4.0), replicates=1, headings=campaign().headings[:1])
    trims, rows = find_trims(chosen, lay_out(chosen)), flown(chosen)
    stuck = (rows["status"] == NO_TRIM).to_numpy().reshape(13, 2)
    assert trims.speeds == (2.3, 4.0)
    np.testing.assert_array_equal(trims.feasible, ~stuck)
    assert 0 < stuck.sum() < stuck.size


def test_many_designs_are_sampled_from_end_to_end(monkeypatch):
    monkeypatch.setattr("sweep.linear.reach.MOST_TRIMMED", 5)
    assert find_trims(campaign(), lay_out(campaign())).designs.index.tolist() == [0, 3, 6, 9, 12]


def factor(label, **values):
    return Factor(label=label, addresses=(label,), unit="", **values)


def test_the_level_that_most_failures_share_is_blamed():
    """Of 3 x 4 designs those of the first area fail, and one more: 4 of 4 beats 2 of 3."""
    factors = {"area": factor("area", levels=(1.0, 2.0, 3.0)), "law": factor("law", levels=("a", "b", "c", "d"))}
    designs = pd.DataFrame([(area, law) for area in (1.0, 2.0, 3.0) for law in "abcd"], columns=["area", "law"])
    fails = (designs["area"] == 1.0).to_numpy() | (designs.index == 4)
    assert blame(factors, designs, fails) == ("area", 1.0, 4, 4)


def test_a_stretch_of_a_range_is_blamed():
    factors = {"area": factor("area", low=0.0, high=1.0)}
    designs = pd.DataFrame({"area": np.linspace(0.0, 1.0, 21)})
    found = blame(factors, designs, (designs["area"] > 0.8).to_numpy())
    assert found.level == (0.75, 1.0)
    assert (found.failing, found.designs) == (4, 6)


def test_nothing_is_blamed_if_all_fail_alike():
    factors = {"area": factor("area", levels=(1.0, 2.0))}
    designs = pd.DataFrame({"area": [1.0, 2.0, 1.0, 2.0]})
    assert blame(factors, designs, np.ones(4, dtype=bool)) is None
    assert blame(factors, designs, np.array([True, True, False, False])) is None


def test_a_regular_sea_is_met_at_its_encounter_period():
    """Deep water, head on: (2 pi / T + k U) / 2 pi with k = (2 pi / T)^2 / g, in 3 scored seconds, by hand."""
    chosen = campaign(seas=(RegularSea(name="swell", height=0.04, period=1.0),))
    head = list_conditions(chosen)[0]
    omega = 2.0 * math.pi
    assert expected_encounters(chosen, head) == pytest.approx(3.0 * (omega + omega**2 / 9.81 * 4.0) / (2.0 * math.pi), rel=1e-3)


def test_calm_water_meets_no_waves():
    chosen = campaign(seas=(FlatSea(name="calm"),))
    assert expected_encounters(chosen, list_conditions(chosen)[0]) == 0.0


def test_irregular_seas_are_met_as_often_as_flights_count():
    """The flights' own count of upcrossings, mean of 13 designs and 4 replicates."""
    chosen = campaign(replicates=4)
    counted = flown(chosen).groupby("condition")["encounters"].mean()
    for condition in list_conditions(chosen):
        assert expected_encounters(chosen, condition) == pytest.approx(counted[condition.index], rel=0.15)


def test_crafts_side_by_side_reach_as_far_as_alone():
    """Each end against a plain bisection of single trims, halved as far; one craft trims nowhere, one code stores two trims."""
    crafts = [
        campaign().craft,
        changed("body", mass=60.0),
        changed("servos", travel=1.5 * campaign().craft.servos.travel),
        changed("control", trim_speeds=(3.0, 5.0)),
    ]
    water = water_of(campaign())
    found = reaches(crafts, water, [4.0])
    assert found[1] is None
    for craft, each in zip(crafts, found, strict=True):
        assert each == reach(craft, water, [4.0])
        for end, outside in ((each.low, 0.4), (each.high, 16.0)) if each else ():
            inside = 4.0
            while abs(outside - inside) > 0.01 * inside:
                middle = 0.5 * (inside + outside)
                inside, outside = (middle, outside) if trimmed(craft, water, middle).feasible[0] else (inside, middle)
            assert end == inside


def test_code_that_stores_no_trim_reaches_nothing():
    assert reach(changed("control", trim_speeds=(0.5,)), water_of(campaign()), [4.0]) is None

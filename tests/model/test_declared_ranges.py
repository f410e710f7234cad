"""Every response of every flight lies in the range that is declared for it, and none is negative that cannot be."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweep.campaign.scoring import SCORED, Weight
from sweep.insight.scores import CAP, flight_scores
from sweep.model.compiled import LANES
from sweep.model.flight import fly, run_lanes, start_lanes
from sweep.model.onboard import faults as kinds
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.water import fresh_water
from sweep.model.quantities import FLEW, NO_TRIM, NOT_A_NUMBER, RESPONSE, RESPONSE_NAMES, RESPONSES, STATUS_NAMES, SUM
from sweep.model.responses import Counted, beyond_range, responses
from tests.model.crafts import block_of, calm, changed, courier, fleet_of, jonswap, quiet, response, silent, statuses
from tests.model.test_faults import SLOTS

CRAFTS = 8
CRAFT = {
    "foils.*": st.floats(20e-4, 90e-4),
    "struts.height": st.floats(0.1, 0.3),
    "body.mass": st.floats(1.0, 6.0),
    "control.ride_height": st.floats(0.02, 0.15),
    "control.height.proportional": st.floats(0.0, 4.0),
    "control.pitch.proportional": st.floats(0.0, 5.0),
    "control.roll.proportional": st.floats(0.0, 3.0),
    "rangefinders.dropout": st.floats(0.0, 0.9),
    "rangefinders.spikes": st.floats(0.0, 0.5),
    "windage.area": st.floats(0.0, 0.05),
}
FAULT = st.tuples(st.sampled_from(sorted(SLOTS)), st.floats(0.0, 6.0), st.floats(-1.0, 1.0))


def a_craft(values: dict[str, float]) -> Any:
    areas = {f"foils.{name}.area": values["foils.*"] for name in courier().foils}
    return changed(courier(), areas | {name: value for name, value in values.items() if name != "foils.*"})


def fault_row(fault: tuple[str, float, float]) -> list[float]:
    """One of the kinds of faults from a time on; a turn goes round by up to two full turns either way."""
    name, begin, share = fault
    kind, which, amounts, _ = SLOTS[name]
    first = 4.0 * np.pi * share if kind == kinds.TURN else amounts[0]
    return [kind, min(which, 0), begin, begin + 4.0, first, *amounts[1:]]


def as_rows(flown: Any) -> pd.DataFrame:
    return pd.DataFrame(flown.responses, columns=list(RESPONSE_NAMES)).assign(status=flown.status)


@settings(max_examples=25, deadline=None)
@given(
    crafts=st.lists(st.fixed_dictionaries(CRAFT), min_size=CRAFTS, max_size=CRAFTS),
    sea=st.tuples(st.floats(0.0, 2 * np.pi), st.just(0.0) | st.floats(0.001, 0.25), st.floats(0.8, 2.5), st.integers(0, 99)),
    faults=st.lists(FAULT, max_size=3), wind=st.tuples(st.floats(-15, 15), st.floats(-15, 15)),
    depth=st.sampled_from([0.1, 0.3, 0.5, 5.0]), from_rest=st.booleans(), speed=st.floats(1.5, 12.0),
)  # fmt: skip
def test_random_flights_keep_their_ranges(
    crafts: list[dict[str, float]], sea: tuple[float, float, float, int], faults: list[Any], wind: tuple[float, float],
    depth: float, from_rest: bool, speed: float,
) -> None:  # fmt: skip
    """Any craft, sea, wind, depth, faults and turns, flying or from rest; and no score is under nothing."""
    heading, height, period, seed = sea
    fleets = build_fleets([a_craft(values) for values in crafts], fresh_water(288.15, depth), speed)
    waves = block_of(jonswap(heading, height, period, seed, depth), 10.0, settle=2.0, replicate=seed)
    table = np.array([fault_row(fault) for fault in faults]).reshape(-1, kinds.COLUMNS)
    for _, fleet in fleets:
        flown = fly(fleet, waves._replace(faults=table, wind=wind, from_rest=from_rest))
        assert not beyond_range(flown.responses).any()
        told = ~np.isin(flown.status, (NO_TRIM, NOT_A_NUMBER))
        assert np.isfinite(flown.responses[told][:, RESPONSE_NAMES.index("time_flown")]).all()
        assert np.isnan(flown.responses[~told]).all()
        for name in SCORED:
            scores = flight_scores(as_rows(flown), {name: Weight(weight=1.0, scale=1e-3 * RESPONSE[name].scale)}, 8.0)
            assert ((scores >= 0.0) & (scores <= CAP)).all(), name


OVER_ONE = ("hull_impulse", "strength_used")


def test_nothing_that_a_score_counts_can_be_negative() -> None:
    """So no score can be; a rate, a share, a time and a power have no negative either."""
    assert all(RESPONSE[name].low == 0.0 for name in SCORED)
    signed = {quantity.name for quantity in RESPONSES if quantity.low < 0.0}
    assert signed == {
        "ride_height_bias", "level_height_bias", "clearance_p01", "clearance_least", "submergence_p01", "submergence_least",
        "cavitation_margin",
    }  # fmt: skip
    assert all(quantity.high == 1.0 for quantity in RESPONSES if quantity.unit == "%" and quantity.name not in OVER_ONE)


@pytest.mark.parametrize("round_", [0.5 * np.pi, np.pi, -np.pi])
def test_a_boat_that_turns_round_pays_for_its_path(round_: float) -> None:
    """Its energy a metre is its mean power over its mean speed, whichever way it ends up; straight on it is as by distance."""
    fleet, straight = fleet_of(quiet(courier())), silent(calm(20.0))
    turn = np.array([[kinds.TURN, -1.0, 2.0, 1e9, round_, 0.0, 0.0]])
    ahead, turned = fly(fleet, straight), fly(fleet, straight._replace(faults=turn))
    assert statuses(turned) == ["flew"]
    for flown in (ahead, turned):
        power, speed = response(flown, "power_mean")[0], response(flown, "speed_mean")[0]
        assert response(flown, "energy_per_metre")[0] == pytest.approx(power / speed, rel=1e-9)
    assert response(turned, "energy_per_metre")[0] == pytest.approx(response(ahead, "energy_per_metre")[0], rel=0.1)
    assert response(turned, "speed_mean")[0] == pytest.approx(4.0, rel=0.05)


def test_a_flight_that_goes_nowhere_has_no_energy_a_metre_and_the_worst_score() -> None:
    """Without thrust it lies where it lay: not known, where a tiny distance would give any number."""
    fault = np.array([[kinds.NO_THRUST, -1.0, 0.0, 1e9, 1.0, 0.0, 0.0]])
    flown = fly(fleet_of(courier()), calm(8.0, settle=2.0)._replace(from_rest=True, faults=fault))
    assert statuses(flown) == ["flew"]
    assert response(flown, "speed_mean")[0] < 0.05
    assert np.isnan(response(flown, "energy_per_metre")[0])
    assert np.isnan(response(flown, "battery_range")[0])
    weights = {"energy_per_metre": Weight(weight=1.0, scale=1e6)}
    assert flight_scores(as_rows(flown), weights, 6.0)[0] == CAP


def test_a_response_beyond_its_range_is_no_result() -> None:
    """Its whole row is not a number, and the status says so; the others keep theirs."""
    fleet = fleet_of([courier(), changed(courier(), {"body.mass": 2.9})])
    lanes, block = start_lanes(fleet), silent(calm(3.0))
    run_lanes(fleet, block, lanes)
    parameters = np.repeat(fleet.parameters, LANES // 2, axis=0)
    sums = lanes.sums.copy()
    sums[0, SUM.power] = -1.0
    readings = np.zeros((LANES, 3))
    status, table = responses(Counted(parameters, sums, lanes.histograms, readings), 0.005, 1.0, False)
    assert status[0] == NOT_A_NUMBER
    assert (status[1:] == FLEW).all()
    assert np.isnan(table[0]).all()
    assert np.isfinite(table[1:, RESPONSE_NAMES.index("power_mean")]).all()


@pytest.mark.parametrize("quantity", RESPONSES, ids=lambda quantity: quantity.name)
def test_either_end_of_a_range_is_within_it(quantity: Any) -> None:
    table = np.full((5, len(RESPONSES)), np.nan)
    at = RESPONSE_NAMES.index(quantity.name)
    span = quantity.high - quantity.low
    table[:4, at] = [quantity.low, quantity.high, quantity.low - 1e-6 * span, quantity.high + 1e-6 * span]
    assert beyond_range(table).tolist() == [False, False, True, True, False]
    table[:, at] = [np.inf, -np.inf, np.nan, np.nan, np.nan]
    assert beyond_range(table).tolist() == [True, True, False, False, False]


def test_take_off_is_told_by_the_path(tmp_path: Any) -> None:
    """A boat that turns while it gathers speed has gone as far as it has gone."""
    turn = np.array([[kinds.TURN, -1.0, 2.0, 1e9, np.pi, 0.0, 0.0]])
    fleet, block = fleet_of(quiet(courier())), silent(calm(14.0, settle=2.0))._replace(from_rest=True)
    straight, turned = fly(fleet, block), fly(fleet, block._replace(faults=turn))
    for flown in (straight, turned):
        assert 0.0 < response(flown, "take_off_distance")[0] < response(flown, "speed_mean")[0] * 12.0
        assert response(flown, "take_off_time")[0] > 0.0
    assert STATUS_NAMES[straight.status[0]] == "flew"

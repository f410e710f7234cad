"""When the control code takes the craft to fly: no integral gathers what the hull carries, and none waits for ever."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.flight import run_lanes, start_lanes
from sweep.model.onboard.control import flies
from tests.model.crafts import LANES, RIDE, Bench, calm, changed, courier, fleet_of, history, quiet, silent

PERIOD = 0.01
INTEGRALS = (at.HEIGHT_INTEGRAL, at.PITCH_INTEGRAL, at.ROLL_INTEGRAL)
GATHERING = {f"control.{loop}.integral": 0.5 for loop in ("pitch", "roll")} | {"control.height.integral": 0.5}
NEVER_UP = {"propulsor.static_thrust": 4.0}


def bench(height: float, speed: float, flying: float, **memory: float) -> Bench:
    """Told to go; height and speed as shares of what is wanted (4 m/s)."""
    made = Bench(courier())
    made.put(at.HEIGHT_ESTIMATE, height * RIDE)
    made.put(at.SPEED_READING, 4.0 * speed)
    made.put(at.FLYING, flying)
    for name, value in memory.items():
        made.put(getattr(at, name), value)
    return made


@pytest.mark.parametrize(
    ("height", "speed", "before", "after"),
    [
        (-0.4, 0.3, False, False),  # afloat
        (0.1, 0.7, False, False),  # over the hump
        (0.7, 0.8, False, False),
        (0.8, 0.8, False, True),  # up
        (0.3, 0.5, True, True),  # sinks
        (0.1, 0.9, True, True),  # through a crest
        (-0.2, 0.6, True, True),  # slowed by weed, and able to fly on
        (0.1, 0.4, True, False),  # down
    ],
)
def test_it_takes_off_high_and_lands_low_and_slow(height: float, speed: float, before: bool, after: bool) -> None:
    assert flies(bench(height, speed, float(before)).flat, 0, PERIOD) == after
    assert not flies(bench(height, speed, float(before), AT_REST=1.0).flat, 0, PERIOD)


def test_quick_and_low_for_long_it_is_taken_to_fly() -> None:
    """Twice the levelling time of 4 s; a moment of less speed, and it begins anew."""
    made = bench(0.5, 0.95, 0.0)
    for ticks, speed in ((700, 0.95), (1, 0.85), (799, 0.95)):
        made.put(at.SPEED_READING, 4.0 * speed)
        assert not any(flies(made.flat, 0, PERIOD) for _ in range(ticks))
    assert any(flies(made.flat, 0, PERIOD) for _ in range(3))


def integrals_of(craft: Craft, length: float, settle: float) -> np.ndarray:
    """Height, pitch and roll integral (rad) at the end of a flight from rest in calm water."""
    fleet, block = fleet_of(craft), silent(calm(length, settle))._replace(from_rest=True)
    lanes = start_lanes(fleet, from_rest=True)
    run_lanes(fleet, block, lanes)
    slots = lanes.workspace.reshape(-1, LANES)
    assert slots[at.ALIVE, 0] == 1.0
    return slots[list(INTEGRALS), 0]


def test_no_integral_gathers_before_it_is_told_to_go() -> None:
    assert np.all(integrals_of(changed(courier(), GATHERING), 5.0, 5.0) == 0.0)


@pytest.mark.parametrize("law", ["level-and-height", "fused-height"])
def test_no_integral_gathers_while_it_ploughs(law: str) -> None:
    """A drive too weak to lift it: half a minute at full throttle, and nothing has gathered."""
    assert np.all(integrals_of(changed(courier(), GATHERING | NEVER_UP | {"control.law": law}), 34.0, 4.0) == 0.0)
    assert np.any(integrals_of(changed(courier(), GATHERING | {"control.law": law}), 34.0, 4.0) != 0.0)


def from_rest(values: dict[str, Any], length: float = 34.0) -> np.ndarray:
    """Height over the wanted one (m) from the moment that it is told to go, a hundred a second."""
    craft = changed(quiet(courier()), values)
    record = history(fleet_of(craft), silent(calm(length, 4.0))._replace(from_rest=True))
    return record["keel_height"][0, 400:] - RIDE


@pytest.mark.parametrize("law", ["level-and-height", "fused-height"])
@pytest.mark.parametrize("times", [1.0, 4.0])
def test_after_take_off_it_does_not_shoot_far_past_its_height(law: str, times: float) -> None:
    """Under 1 cm, where integrals that gathered from the start took it 3 to 4 cm too high."""
    found = from_rest({"control.law": law, "control.height.integral": times * courier().control.height.integral})
    assert found.max() < 0.010
    assert abs(found[-1]) < 1e-3


def test_a_wrong_trim_that_keeps_it_low_is_taken_out_in_the_end() -> None:
    """Trims of 6 m/s at 4 m/s: without an integral it rides 4 cm low, where it is too low to be taken to fly by its height."""
    wrong = {"control.trim_speeds": (6.0,), "control.height.proportional": 0.3 * courier().control.height.proportional}
    low = from_rest(wrong | {"control.height.integral": 0.0})
    assert low[-1] < -0.25 * RIDE
    assert abs(from_rest(wrong, 64.0)[-1]) < 0.005

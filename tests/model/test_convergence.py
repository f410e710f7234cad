"""Finer steps and more strips change next to nothing: closed loop, through irregular seas, with noise off.

Bars: halving the step moves means and root mean squares by less than 1 % and minima by less than 2 mm; two strips a foil are
within 2 % of eight in every mean response.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from sweep.model.pack.fleet import LONGEST_STEP
from tests.model.crafts import (
    HEADINGS,
    Floats,
    block_of,
    changed,
    courier,
    fleet_of,
    history,
    jonswap,
    quiet,
    replicates,
    silent,
)

ROOT_MEAN_SQUARES = (
    "ride_height_error", "ride_height_deviation", "level_height_error", "level_height_deviation", "vertical_acceleration",
    "pitch_rms", "roll_rms",
)  # fmt: skip
MEANS = ("speed_mean", "power_mean", "energy_per_metre", "servo_travel")
EXTREMES = (
    "clearance_least",
    "submergence_least",
    "clearance_p01",
    "submergence_p01",
    "ride_height_error_p99",
    "level_height_error_p99",
)
OF_NOTHING = 1e-6  # a craft that does not roll at all may roll differently

SEEDS = (0, 1)


@cache
def flown(heading: str, step: float, strips: int = 2) -> dict[str, Floats]:
    """Responses of the quiet courier through two seas of Hs 4 cm, Tp 1 s: (seas, 1) each."""
    fleet = fleet_of(quiet(courier()), step=step, strips=strips)
    return replicates(fleet, [silent(block_of(jonswap(HEADINGS[heading], seed=seed), 15.0, settle=4.0)) for seed in SEEDS])


def apart(first: dict[str, Floats], second: dict[str, Floats], name: str) -> float:
    """Relative difference of the mean over the seas."""
    a, b = first[name].mean(), second[name].mean()
    return 0.0 if abs(b) < OF_NOTHING else abs(a / b - 1.0)


@pytest.mark.parametrize("halvings", [0, 1])
@pytest.mark.parametrize("heading", HEADINGS)
def test_halving_the_step_changes_next_to_nothing(heading: str, halvings: int) -> None:
    """From the step that the fleet takes by itself, and once more."""
    own = fleet_of(quiet(courier())).structure.step
    assert own <= LONGEST_STEP
    coarse, fine = (flown(heading, own / 2.0**n) for n in (halvings, halvings + 1))
    moved = {name: apart(coarse, fine, name) for name in (*ROOT_MEAN_SQUARES, *MEANS)}
    assert max(moved.values()) < 0.01, {name: f"{share:.2%}" for name, share in moved.items() if share > 0.005}
    for name in (
        "ride_height_bias",
        "level_height_bias",
    ):  # means of about nothing: against the size of what they are a mean of
        assert np.abs(coarse[name] - fine[name]).max() < 0.01 * fine["ride_height_error"].min(), name
    for name in EXTREMES:
        assert np.abs(coarse[name] - fine[name]).max() < 2e-3, name
    assert np.array_equal(coarse["outside_window"] > 0.0, fine["outside_window"] > 0.0)


def test_the_differences_shrink_with_the_square_of_the_step() -> None:
    """The scheme is of second order, closed loop too: the last halving leaves about a quarter, in every motion and command."""
    block = silent(block_of(jonswap(HEADINGS["quartering"]), 8.0, settle=2.0))
    steps = (0.005, 0.0025, 0.00125)
    runs = [history(fleet_of(quiet(courier()), step=step), block, rate=1000.0, precise=True) for step in steps]
    for name in ("heading", "rudder", "roll", "pitch", "keel_height"):
        spread = np.array([run[name][0][run["time"][0] > 2.0].std() for run in runs])
        first, second = np.diff(spread)
        assert 3.0 < first / second < 6.0, f"{name}: {spread}"


@pytest.mark.parametrize("heading", ["quartering", "beam"])
def test_two_strips_a_foil_are_enough(heading: str) -> None:
    runs = {strips: flown(heading, 0.005, strips) for strips in (2, 4, 8)}
    for name in (*ROOT_MEAN_SQUARES, *MEANS):
        assert apart(runs[2], runs[8], name) < 0.02, name
        assert apart(runs[4], runs[8], name) < 0.01, name


@pytest.mark.parametrize(("speed", "chord"), [(4.0, 0.0289), (8.0, 0.0289), (8.0, 0.016)])
def test_a_small_chord_at_speed_is_flown_at_a_step_that_holds(speed: float, chord: float) -> None:
    """The stiffest mode gets its step by itself: the flight is smooth, and the same at a quarter of it."""
    area, values = 0.1732 * chord, {}
    values |= {f"foils.{name}.area": area for name in ("port", "starboard", "aft")}
    values |= {f"foils.{name}.aspect_ratio": 0.1732 / chord for name in ("port", "starboard", "aft")}
    craft = quiet(changed(courier(), values | {"control.scheduled_at": 4.0}))  # fixed gains swing at 8 m/s by themselves
    fleet = fleet_of(craft, speed)
    assert fleet.feasible[0]
    block = silent(block_of(jonswap(HEADINGS["head"], height=0.02), 3.0, settle=1.0))
    coarse = history(fleet, block)
    fine = history(fleet_of(craft, speed, step=fleet.structure.step / 4.0), block)
    assert np.abs(coarse["keel_height"]).max() < 0.2
    assert np.abs(coarse["keel_height"] - fine["keel_height"]).max() < 1e-3
    assert np.abs(coarse["pitch"] - fine["pitch"]).max() < 5e-3

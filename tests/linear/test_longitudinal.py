"""The ride in following waves beside a model of its own: what it agrees in, and what a simpler model leaves out.

A craft that overtakes waves of 1.0 to 1.6 s meets them slowly, where the height loop still answers, late: its delays make the
heave. A model without them heaves less by a third.
"""

from __future__ import annotations

from functools import cache
from math import inf, pi

import numpy as np
import pytest

from sweep.linear.ride import transfer, waves_from
from sweep.model.physics.waves import regular_sea
from tests.linear.crafts import courier, linear_of
from tests.linear.longitudinal import Left, Response, ride
from tests.model.crafts import WATER, block_of, changed, fleet_of, history, silent

PERIODS = (1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6)
SPEED = 4.0


@cache
def own(period: float, heading: float, left: Left | None = None) -> Response:
    """Our own model of the courier at 4 m/s in a wave."""
    return ride(courier(), WATER, SPEED, period, heading, left)


def without(**left: bool | float) -> np.ndarray:
    """Heave in following waves with something left out, over that with everything."""
    return np.array([abs(own(period, 0.0, Left(**left)).height / own(period, 0.0).height) for period in PERIODS])  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("heading", "heave", "pitch", "degrees"), [(0.0, 0.04, 0.08, 2.5), (pi, 0.08, 0.06, 6.0)], ids=["following", "head"]
)
def test_the_companion_rides_as_first_principles_have_it(heading: float, heave: float, pitch: float, degrees: float) -> None:
    """Shares that the amplitudes may be off, and degrees of the heave's phase; without wakes, as first principles are."""
    without_wakes = linear_of(changed(courier(), {"wake.strength": 0.0}), SPEED)
    found = transfer(without_wakes, waves_from(2.0 * pi / np.array(PERIODS), heading, inf))
    for i, period in enumerate(PERIODS):
        mine = own(period, heading)
        assert mine.encounter == pytest.approx(found.encounter[i], rel=1e-6)
        assert abs(mine.height) == pytest.approx(abs(found.level_height[i]), rel=heave), period
        assert abs(mine.pitch) == pytest.approx(abs(found.pitch[i]), rel=pitch), period
        assert abs(np.angle(mine.height / found.level_height[i], deg=True)) < degrees, period


@pytest.mark.parametrize("heading", [0.0, pi], ids=["following", "head"])
def test_wakes_take_some_of_the_pitch_and_little_of_the_heave(heading: float) -> None:
    waves = waves_from(2.0 * pi / np.array(PERIODS), heading, inf)
    felt, unfelt = (
        transfer(linear_of(changed(courier(), {"wake.strength": strength}), SPEED), waves) for strength in (1.0, 0.0)
    )
    assert np.abs(felt.pitch) / np.abs(unfelt.pitch) == pytest.approx(np.full(len(PERIODS), 0.93), abs=0.06)
    assert np.abs(felt.level_height) == pytest.approx(np.abs(unfelt.level_height), rel=0.025)


@pytest.mark.parametrize("height", [0.02, 0.06])
@pytest.mark.parametrize("period", [1.0, 1.3, 1.6])
def test_flights_heave_as_first_principles_have_it(period: float, height: float) -> None:
    """In following waves of 2 and of 6 cm: within 4 %."""
    flown = history(fleet_of(courier(), SPEED), silent(block_of(regular_sea(height, period, 0.0, 5.0), 50.0, 10.0)))
    late = flown["time"][0] > 20.0
    time, rise = flown["time"][0, late], flown["keel_height"][0, late]
    turn = own(period, 0.0).encounter * time
    terms = np.column_stack([np.cos(turn), np.sin(turn), np.ones_like(time), time])
    cosine, sine, *_ = np.linalg.lstsq(terms, rise, rcond=None)[0]
    assert np.hypot(cosine, sine) / (0.5 * height) == pytest.approx(abs(own(period, 0.0).height), rel=0.04)


def test_a_craft_that_answers_at_once_heaves_less_by_a_third() -> None:
    """At constant speed, the foils following their commands at once: 37 % less at 1.0 s, 24 at 1.3 s, 16 at 1.6 s."""
    less = 1.0 - without(servo=False, surge=False)
    assert less == pytest.approx([0.37, 0.32, 0.27, 0.24, 0.21, 0.19, 0.16], abs=0.015)
    assert np.all(np.diff(less) < 0.0)


def test_ten_milliseconds_less_of_latency_take_seven_per_cent_of_the_heave() -> None:
    """At 1.0 s; 3 % at 1.6 s."""
    sooner = changed(courier(), {"rangefinders.latency": 0.05})
    less = [1.0 - abs(ride(sooner, WATER, SPEED, period, 0.0).height / own(period, 0.0).height) for period in (1.0, 1.6)]
    assert less == pytest.approx([0.07, 0.03], abs=0.005)


@pytest.mark.parametrize(
    ("left", "most", "least"),
    [
        ({"latency": False}, -0.15, -0.45),
        ({"hold": False}, -0.05, -0.15),
        ({"servo": False}, -0.11, -0.41),
        ({"surge": False}, 0.05, -0.05),
        ({"along": False}, 0.05, 0.025),
        ({"unsteady": False}, 0.0, -0.015),
        ({"water": True}, 0.01, 0.0),
        ({"water": True, "at": 0.5}, 0.0, -0.01),
    ],
    ids=lambda left: " ".join(left) if isinstance(left, dict) else "",
)
def test_what_makes_the_heave(left: dict[str, bool | float], most: float, least: float) -> None:
    """Delays do. The lift's lag and the added mass hardly matter.

    `water` is what the accelerating water does to the added mass, `at` where thin-aerofoil theory has a foil meet the water,
    three quarters of its chord aft: the model that flies has neither, and the two cancel but for 1 %.
    """
    changes = without(**left) - 1.0
    assert changes.max() <= most
    assert changes.min() >= least


def test_the_terms_that_are_left_out_stay_small_in_head_seas() -> None:
    """Added mass in accelerating water, and foils that meet it three quarters of a chord aft: under 4 % of the heave."""
    for period in PERIODS:
        complete = own(period, pi, Left(water=True, at=0.5))
        assert abs(complete.height) == pytest.approx(abs(own(period, pi).height), rel=0.04)
        assert abs(complete.pitch) == pytest.approx(abs(own(period, pi).pitch), rel=0.01)

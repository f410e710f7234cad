"""Trim: the craft is in balance where it says so, and says so when it cannot be."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model import probe
from sweep.model.pack.fleet import Fleet
from sweep.model.pack.mass import mass_properties
from tests.model.crafts import GRAVITY, WATER, Bench, calm, changed, courier, fleet_of, history, quiet, with_foils

SPEEDS = [2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]
CRAFTS = {
    "courier": courier,
    "nose up": lambda: changed(courier(), {"control.pitch_trim": 0.02}),
    "dihedral": lambda: changed(courier(), {"foils.port.dihedral": 0.2, "foils.starboard.dihedral": 0.2}),
    "canard": lambda: with_foils(
        courier(), {"bow": {"x": 0.42, "area": 30e-4}, "main": {"x": -0.10, "area": 120e-4, "aspect_ratio": 8.0}}
    ),
    "tandem": lambda: with_foils(courier(), {"fore": {"x": 0.25, "area": 75e-4}, "aft": {"x": -0.25, "area": 75e-4}}),
}  # fmt: skip


def balance(craft: Craft, speed: float) -> tuple[Fleet, dict[str, np.ndarray], np.ndarray]:
    """The fleet, the probe's loads at its trim, lags settled, and the state's own acceleration."""
    bench = Bench(craft, speed)
    fleet = bench.fleet
    strips = sum(fleet.structure.strips)
    wakes = [bench.get(bench.foil(i) + at.FOIL.downwash, fleet.structure.foils) for i in range(fleet.structure.foils)]
    state: dict[str, Any] = {
        "position": bench.get(at.STATE.x, 3),
        "angles": bench.get(at.STATE.phi, 3),
        "velocity": bench.get(at.STATE.u, 3),
        "rates": bench.get(at.STATE.p, 3),
        "lift_lag": np.array([bench.get(i * at.STRIP.width + at.STRIP.lag) for i in range(strips)]),
        "downwash": np.array(wakes),
        "thrust": fleet.trim[0, 2],
    }
    foils = np.array([bench.get(bench.foil(i) + at.FOIL.servo.angle) for i in range(fleet.structure.foils)])
    return fleet, probe.derivative(craft, probe.Surroundings(WATER), state, foils, 0.0, 0.0), foils


@pytest.mark.parametrize("speed", [2.5, 4.0, 8.0])
@pytest.mark.parametrize("name", CRAFTS)
def test_every_force_vanishes_at_trim(name: str, speed: float) -> None:
    craft = CRAFTS[name]()
    fleet, found, foils = balance(craft, speed)
    assert np.abs(found["nu_dot"]).max() < 1e-6  # m/s2 and rad/s2
    assert np.abs(found["z_dot"]).max() < 1e-6
    assert np.abs(found["downwash_dot"]).max() < 1e-6
    assert fleet.feasible[0] == (np.all(np.abs(foils) <= craft.servos.travel) and 0.0 <= fleet.trim[0, 2] <= 1.0)


@pytest.mark.parametrize("speed", SPEEDS)
def test_the_foils_carry_the_weight_and_the_propeller_the_drag(speed: float) -> None:
    """The courier at a level pitch: no force comes from anywhere else."""
    fleet, found, _ = balance(courier(), speed)
    weight = mass_properties(courier()).mass * GRAVITY
    assert fleet.feasible[0]
    assert -found["foils"][2] == pytest.approx(weight, rel=1e-9)
    drag = -(found["foils"][0] + found["struts"][0])
    assert 30.0 * fleet.trim[0, 2] * (1.0 - speed / 15.0) == pytest.approx(drag, rel=1e-9)
    assert np.abs(found["hulls"]).max() == 0.0


def test_lift_over_drag_is_that_of_a_small_foiler() -> None:
    """At 4 m/s about 7: between 4 and 16 in towing tanks (common practice, no source)."""
    _, found, _ = balance(courier(), 4.0)
    drag = -(found["foils"][0] + found["struts"][0])
    assert 4.0 < mass_properties(courier()).mass * GRAVITY / drag < 16.0


def test_faster_needs_less_angle() -> None:
    """Lift grows with the square of the speed: the height command falls, steadily."""
    commands = [fleet_of(courier(), speed).trim[0, 0] for speed in SPEEDS]
    assert np.all(np.diff(commands) < 0.0)


@pytest.mark.parametrize(
    ("values", "speed"),
    [
        ({}, 1.5),  # far too slow for the foils
        ({"body.mass": 12.0}, 4.0),
        ({"propulsor.static_thrust": 4.0}, 4.0),  # 4.3 N are due
        ({"propulsor.no_thrust_speed": 3.9}, 4.0),
        ({"servos.travel": 0.005}, 4.0),
        ({"body.x": 1.0}, 4.0),  # far ahead of all foils
        ({"foils.port.zero_lift_angle": -0.2, "foils.starboard.zero_lift_angle": -0.2, "foils.aft.zero_lift_angle": -0.2}, 8.0),
    ],
)  # fmt: skip
def test_what_cannot_be_trimmed_is_told(values: dict[str, float], speed: float) -> None:
    assert not fleet_of(changed(courier(), values), speed).feasible[0]
    assert fleet_of(courier(), speed).feasible[0] == (speed >= 2.5)


def test_trim_does_not_depend_on_the_company() -> None:
    crafts = [changed(courier(), {"foils.aft.area": area}) for area in (40e-4, 50e-4, 60e-4)] + [
        changed(courier(), {"body.mass": 30.0})
    ]
    together = fleet_of(crafts).trim
    for craft, wanted in zip(crafts, together, strict=True):
        assert np.array_equal(fleet_of(craft).trim[0], wanted, equal_nan=True)


@pytest.mark.parametrize("name", CRAFTS)
def test_a_flight_in_calm_water_stays_in_trim(name: str) -> None:
    """Nothing to correct: a quiet craft in calm water keeps its pose for five seconds."""
    craft = quiet(CRAFTS[name]())
    record = history(fleet_of(craft), calm(5.0))
    assert np.abs(record["keel_height"] - craft.control.ride_height).max() < 1e-6
    assert np.abs(record["pitch"] - craft.control.pitch_trim).max() < 1e-6
    assert np.abs(record["roll"]).max() < 1e-6  # two foils in line do not hold roll: rounding grows, slowly
    assert np.abs(record["speed"] - 4.0).max() < 1e-6
    assert np.abs(record["surface"]).max() == 0.0

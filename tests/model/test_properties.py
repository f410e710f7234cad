"""What must hold for any craft, not only for those that were tried: by reason, and by Hypothesis.

Round trips of units are in tests/campaign/test_dimensions.py, moments of spectra in test_spectra.py and test_waves.py.
"""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model import probe
from sweep.model.flight import fly
from sweep.model.pack.foils import strip_count
from sweep.model.pack.mass import mass_properties
from sweep.model.physics.waves import elevation, flat_sea, orbital_velocity
from tests.model.crafts import (
    WATER,
    block_of,
    changed,
    courier,
    fleet_of,
    history,
    jonswap,
    mirrored,
    quiet,
    response,
    silent,
    state_of,
)
from tests.model.test_froude import EXACT, RECORD_SCALES, blocks, pair
from tests.model.test_symmetry import KEPT, NEGATED, mirror_sea

FEW = settings(max_examples=8, deadline=None)
SOME = settings(max_examples=40, deadline=None)

CRAFT = st.fixed_dictionaries(
    {
        "foils.port.area": st.floats(35e-4, 70e-4),
        "foils.starboard.area": st.floats(35e-4, 70e-4),
        "foils.aft.area": st.floats(35e-4, 70e-4),
        "foils.port.dihedral": st.floats(-0.2, 0.4),
        "struts.height": st.floats(0.15, 0.28),
        "body.mass": st.floats(2.0, 3.6),
        "control.height.proportional": st.floats(0.15, 0.9),
        "control.pitch.proportional": st.floats(0.8, 1.5),
    }
)
HEADING = st.floats(0.0, 2.0 * pi)


def around(width: float, count: int) -> st.SearchStrategy[tuple[float, ...]]:
    return st.tuples(*[st.floats(-width, width)] * count)


@FEW
@given(values=CRAFT, heading=HEADING)
def test_any_craft_and_its_mirror_image_fly_mirrored_ways(values: dict[str, Any], heading: float) -> None:
    craft = quiet(changed(courier(), values))
    fleets = fleet_of(craft), fleet_of(mirrored(craft))
    assert fleets[0].feasible[0] == fleets[1].feasible[0]
    if not fleets[0].feasible[0]:
        return
    sea = jonswap(heading, height=0.04, period=1.2)
    first = history(fleets[0], silent(block_of(sea, 2.0, settle=0.5)), precise=True)
    second = history(fleets[1], silent(block_of(mirror_sea(sea), 2.0, settle=0.5)), precise=True)
    for sign, columns in ((1.0, KEPT), (-1.0, NEGATED)):
        for column in columns:
            assert second[column] == pytest.approx(sign * first[column], abs=1e-7, nan_ok=True), column


@FEW
@given(values=CRAFT, heading=HEADING)
def test_any_craft_four_times_as_long_flies_the_same_flight(values: dict[str, Any], heading: float) -> None:
    small, large = pair(changed(courier(), EXACT | values))
    if not small.feasible[0]:
        return
    first, second = blocks(jonswap(heading, height=0.05, period=1.1), 1.5, settle=0.5)
    records = history(small, first, precise=True), history(large, second, 50.0, precise=True)
    for name, scale in RECORD_SCALES.items():
        size = max(np.nanmax(np.abs(records[0][name])), 1e-3)
        assert np.nanmax(np.abs(records[1][name] / scale - records[0][name])) < 1e-6 * size, name


@SOME
@given(
    values=CRAFT, deep=st.floats(0.0, 0.14), angles=around(0.4, 3), turn=around(1.5, 3), aside=around(1.0, 2),
    speed=st.floats(1.0, 7.0), lags=around(0.2, 6), foils=around(0.15, 3),
)  # fmt: skip
def test_foils_and_struts_take_energy_out_of_calm_water_never(
    values: dict[str, Any], deep: float, angles: Any, turn: Any, aside: Any, speed: float, lags: Any, foils: Any
) -> None:
    """The power of all their forces is not positive, whatever the craft, its motion, its lags and its foil angles.

    The rudder is straight: turned, it is a foil on its own servo, whose work is not the water's.
    """
    craft = changed(courier(), values)
    height = craft.struts.height - deep  # of the keel
    strips = sum(map(strip_count, craft.foils.values()))
    place = (0.0, 0.0, -height - mass_properties(craft).centre[2])
    state = state_of(craft, place, angles, (speed, *aside), turn) | {"lift_lag": np.resize(lags, strips)}
    found = probe.derivative(craft, probe.Surroundings(WATER), state, np.array(foils), 0.0, 0.0)
    motion = np.array([speed, *aside, *turn])
    for part in ("foils", "struts"):
        assert found[part] @ motion <= 1e-9, part


@FEW
@given(values=CRAFT, angles=around(0.1, 2), turn=around(0.5, 3), aside=around(0.3, 2), speed=st.floats(2.0, 6.0))
def test_without_thrust_a_flight_in_calm_water_only_loses_energy(
    values: dict[str, Any], angles: Any, turn: Any, aside: Any, speed: float
) -> None:
    """Half a second with its foils held, from its ride height, the hull dry: motion with the water it carries, and height."""
    craft = changed(courier(), values)
    properties = mass_properties(craft)
    state = state_of(craft, (0.0, 0.0, -0.13 - properties.centre[2]), (*angles, 0.0), (speed, *aside), turn)
    flown = probe.open_loop(craft, probe.Surroundings(WATER), state, lambda time: np.zeros(4), 0.5, 0.001)
    inverse = fleet_of(craft).parameters[0, at.INVERSE.first : at.INVERSE.first + 6 * at.INVERSE.width].reshape(6, 6)
    motion, height = flown[:, 6:], -flown[:, 2]  # with the water that it carries, and its weight
    energy = 0.5 * np.einsum("ti,ij,tj->t", motion, np.linalg.inv(inverse), motion) + properties.mass * 9.81 * height
    dry = flown[:, 2] < -properties.centre[2] - 0.02
    lasting = len(dry) if dry.all() else int(np.argmin(dry))
    assert np.diff(energy[:lasting]).max(initial=-1.0) <= 1e-6 * energy[0]
    assert lasting < 20 or energy[lasting - 1] < energy[0]


@SOME
@given(place=around(50.0, 2), deep=st.floats(-0.5, 5.0), time=st.floats(0.0, 100.0))
def test_still_water_is_still(place: Any, deep: float, time: float) -> None:
    sea = flat_sea(5.0)
    assert elevation(sea, *place, time) == 0.0
    assert np.all(orbital_velocity(sea, *place, deep, time) == 0.0)


@settings(max_examples=4, deadline=None)
@given(mass=st.floats(2.0, 4.5), balance=st.floats(-0.04, 0.04))
def test_a_craft_at_rest_on_still_water_stays_at_rest(mass: float, balance: float) -> None:
    """Once it has found its draught and trim it does not move for as long as it is left alone."""
    craft = changed(courier(), {"body.mass": mass, "body.x": balance})
    state = state_of(craft, (0.0, 0.0, 0.03 - mass_properties(craft).centre[2]))
    flown = probe.open_loop(craft, probe.Surroundings(WATER), state, lambda time: np.zeros(4), 25.0, 0.005)
    assert np.abs(flown[-600:, 7:]).max() < 2e-3
    assert np.abs(flown[-600:, 6]).max() < 0.05  # what is left of finding its trim: so slow a drift is hardly braked
    assert np.abs(flown[-1, 6]) < max(np.abs(flown[-600, 6]), 1e-3)  # slower is rest
    assert np.ptp(flown[-600:, [2, 3, 4]], axis=0).max() < 2e-3


SMOOTH = (
    "foils.port.area", "foils.aft.area", "foils.port.aspect_ratio", "foils.aft.x", "foils.port.dihedral", "foils.aft.incidence",
    "foils.port.zero_lift_angle", "struts.height", "struts.chord", "struts.thickness", "body.mass", "body.x", "body.height",
    "body.pitch_radius", "rangefinders.x", "rangefinders.height", "control.ride_height", "control.height.proportional",
    "control.height.derivative", "control.height.smoothing", "control.pitch.proportional", "control.pitch.derivative",
    "control.roll.proportional", "control.throttle_share", "control.pitch_share", "servos.bandwidth", "servos.rate",
    "servos.travel", "propulsor.static_thrust", "inertial.levelling_time",
)  # fmt: skip
NUDGE = 1e-5
WATCHED = ("ride_height_error", "level_height_deviation", "pitch_rms", "vertical_acceleration", "power_mean", "speed_mean")


@settings(max_examples=4, deadline=None)
@given(
    ride=st.floats(0.09, 0.115), gain=st.floats(0.2, 0.8), area=st.floats(42e-4, 60e-4), heading=st.sampled_from([0.0, 1.0, pi])
)
def test_responses_are_continuous_in_every_factor(ride: float, gain: float, area: float, heading: float) -> None:
    """A hundred-thousandth more of any quantity that may vary changes no response by more than a fiftieth of a hundredth.

    Not of those that the control code takes in whole ticks and whole quanta: latencies, rates, resolutions, counts.
    """
    base = quiet(changed(courier(), {"control.ride_height": ride, "control.height.proportional": gain, "foils.aft.area": area}))
    moved = [changed(base, {address: _bumped(base, address)}) for address in SMOOTH]
    fleet = fleet_of([base, *moved])
    if not fleet.feasible.all():
        return
    flown = fly(fleet, silent(block_of(jonswap(heading, height=0.03, period=1.1), 6.0, settle=2.0)), precise=True)
    for name in WATCHED:
        values = response(flown, name)
        apart = np.abs(values[1:] / values[0] - 1.0)
        assert apart.max() < 2e-4, f"{name}: {SMOOTH[int(apart.argmax())]} moves it by {apart.max():.1e}"


def _bumped(craft: Craft, address: str) -> float:
    value: Any = craft
    for step in address.split("."):
        value = value[step] if isinstance(value, dict) else getattr(value, step)
    return float(value) * (1.0 + NUDGE) if value else NUDGE

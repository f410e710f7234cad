"""The linear ride beside flights: one regular wave, small seas over headings and speeds, and limits known in advance.

Noise, quanta, resolution and biases are off. Both sides meet the very same components.
"""

from __future__ import annotations

from functools import cache
from math import inf, pi

import numpy as np
import pytest

from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.frequency import STANDING
from sweep.linear.ride import Waves, ride, transfer, waves_from
from sweep.model.flight import fly
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import Sea, draw_components, regular_sea
from tests.linear.crafts import LAWS, courier, linear, linear_of, shipped
from tests.model.crafts import HEADINGS, WATER, Floats, block_of, changed, fleet_of, history, response, silent
from tests.references import reference

LENGTH, SETTLE = 75.0, 15.0
SPEEDS = (3.0, 4.0, 6.0)
AGREES = 0.08
RESPONSES = {
    "ride_height_error": "ride_height_error",
    "level_height_deviation": "level_height_deviation",
    "pitch": "pitch_rms",
    "vertical_acceleration": "vertical_acceleration",
}


@cache
def sea(heading: str, height: float = 0.01) -> Sea:
    """JONSWAP, peak period 1 s; few enough components that a minute tells them apart."""
    return draw_components(Spectrum(height, 1.0, 3.3), HEADINGS[heading], 5.0, np.random.default_rng(3), count=16)


def synthesised(craft: LinearCraft, components: Sea, flown: dict[str, Floats]) -> dict[str, Floats]:
    """Height above the calm level (m) and pitch (rad) by transfer function and the phase of every wave where the craft was."""
    found = transfer(craft, Waves(components.omega, components.kx, components.ky, components.depth))
    place = components.kx[:, None] * flown["x"][0] + components.ky[:, None] * flown["y"][0]
    phase = components.omega[:, None] * flown["time"][0] - place - components.phase[:, None]
    ours = {"keel_height": found.level_height, "pitch": found.pitch}
    return {name: np.real((components.amplitude * part) @ np.exp(1j * phase)) for name, part in ours.items()}


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("speed", SPEEDS)
@pytest.mark.parametrize("heading", ["head", "beam", "following"])
def test_ride_height_in_a_small_sea(law: str, speed: float, heading: str) -> None:
    """Root mean squares over a minute within 8 %, as the drawn components give them."""
    flown = fly(fleet_of(courier(law), speed), silent(block_of(sea(heading), LENGTH, SETTLE)))
    predicted = ride(linear(law, speed), sea(heading))
    assert flown.status.tolist() == [0]
    for ours, name in RESPONSES.items():
        assert getattr(predicted, ours) == pytest.approx(response(flown, name)[0], rel=AGREES), name


OFF = {"body.mass": 3.3, "body.x": 0.02, "rangefinders.x": 0.1, "rangefinders.latency": 0.10, "foils.aft.area": 55e-4}


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("heading", ["head", "beam"])
def test_a_craft_whose_control_code_takes_it_for_another(law: str, heading: str) -> None:
    """Heavier, balanced and sensed elsewhere; integrals take out what that makes it ride off: within 8 %.

    A control code that knows all of it makes it pitch otherwise.
    """
    design = courier(law, control__pitch__integral=0.3)
    built = changed(design, OFF)
    ((_, fleet),) = build_fleets([built], WATER, 4.0, designed=[design])
    (companion,) = linearise(fleet)
    assert companion is not None
    flown = fly(fleet, silent(block_of(sea(heading), 2.0 * LENGTH, 4.0 * SETTLE)))
    predicted, knowing = ride(companion, sea(heading)), ride(linear_of(built, 4.0), sea(heading))
    for ours, name in RESPONSES.items():
        assert getattr(predicted, ours) == pytest.approx(response(flown, name)[0], rel=AGREES), name
    assert abs(predicted.pitch / knowing.pitch - 1.0) > 0.02


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("heading", ["beam", "following"])
def test_a_ride_moment_by_moment(law: str, heading: str) -> None:
    """What is left of height and pitch after taking the companion's away: under 5 % of their root mean square.

    Not in head seas: what the rangefinder's sampling folds down has no phase here.
    """
    craft, components = linear(law, 4.0), sea(heading)
    flown = history(fleet_of(courier(law), 4.0), silent(block_of(components, 40.0, 10.0)))
    late = flown["time"][0] > 20.0
    for name, ours in synthesised(craft, components, flown).items():
        theirs = flown[name][0, late] - flown[name][0, late].mean()
        assert np.std(theirs - ours[late]) < 0.05 * np.std(theirs), name


@pytest.mark.parametrize("heading", [pi, 0.0])
def test_one_regular_wave(heading: float) -> None:
    """Height above the calm level and pitch in a wave of 1 cm, 1.2 s at 4 m/s: amplitude within 3 %, phase within 3 degrees."""
    craft, wave = linear("level-and-height", 4.0), regular_sea(0.01, 1.2, heading, 5.0)
    flown = history(fleet_of(courier(), 4.0), silent(block_of(wave, 40.0, 10.0)))
    found = transfer(craft, waves_from(wave.omega[:1], heading, 5.0))
    late = flown["time"][0] > 15.0
    time, crest = flown["time"][0, late], np.exp(1j * wave.phase[0])
    turning = np.exp(1j * found.encounter[0] * time)
    for name, ours in (("keel_height", found.level_height), ("pitch", found.pitch)):
        around = np.column_stack([turning.real, turning.imag, np.ones_like(time), time])
        cosine, sine, *_ = np.linalg.lstsq(around, flown[name][0, late], rcond=None)[0]
        theirs = (cosine - 1j * sine) * crest / 0.005
        assert abs(theirs) == pytest.approx(abs(ours[0]), rel=0.03), name
        assert abs(np.angle(theirs / ours[0], deg=True)) < 3.0, name


@pytest.mark.parametrize("speed", [3.0, 4.0])
@pytest.mark.parametrize("heading", ["head", "beam", "following"])
def test_each_foil_by_its_own_rangefinder(heading: str, speed: float) -> None:
    """The classroom foiler without its median: rangefinders that take turns between the ticks of the code; within 8 %."""
    craft = changed(shipped("classroom"), {"control.median": 1})
    flown = fly(fleet_of(craft, speed), silent(block_of(sea(heading), LENGTH, SETTLE)))
    predicted = ride(linear_of(craft, speed), sea(heading))
    for ours, name in RESPONSES.items():
        assert getattr(predicted, ours) == pytest.approx(response(flown, name)[0], rel=AGREES), name


@pytest.mark.parametrize("heading", ["head", "beam", "following"])
def test_a_median_is_not_linear_but_leaves_the_ride(heading: str) -> None:
    """As its file has it, the median of three cuts crests met faster than it can follow, whatever their height.

    The ride-height error stays within 8 %; of the height above the calm level, under 1 mm in head seas, a third is beyond a
    linear companion.
    """
    craft = shipped("classroom")
    flown = fly(fleet_of(craft, 3.5), silent(block_of(sea(heading), LENGTH, SETTLE)))
    predicted = ride(linear_of(craft, 3.5), sea(heading))
    assert predicted.ride_height_error == pytest.approx(response(flown, "ride_height_error")[0], rel=AGREES)
    assert predicted.level_height_deviation == pytest.approx(response(flown, "level_height_deviation")[0], rel=AGREES, abs=4e-4)


def test_a_spectrum_and_its_drawn_components_ride_alike() -> None:
    """The spectrum's frequencies and five draws of 240 components, in head seas: 4 %; all rises with the waves."""
    craft, spectrum = linear("level-and-height", 4.0), Spectrum(0.02, 1.0, 3.3)
    whole = np.array(ride(craft, spectrum, heading=pi, depth=5.0))
    draws = [draw_components(spectrum, pi, 5.0, np.random.default_rng(seed), count=240) for seed in range(5)]
    drawn = np.sqrt(np.mean([np.square(ride(craft, components)) for components in draws], axis=0))
    assert drawn == pytest.approx(whole, rel=0.04, abs=1e-9)
    assert np.array(ride(craft, Spectrum(0.04, 1.0, 3.3), pi, 5.0)) == pytest.approx(2.0 * whole)


def test_very_long_waves_are_ridden_and_very_short_ones_ignored() -> None:
    """By reason: a swell of 60 s from ahead is followed with its surface; waves of 15 cm are not followed at all."""
    craft = linear("level-and-height", 4.0)
    swell = transfer(craft, waves_from(np.array([2 * pi / 60.0]), pi, inf))
    assert abs(swell.ride_height[0]) < 0.02
    assert abs(swell.level_height[0] - 1.0) < 0.02
    short = transfer(craft, waves_from(np.array([np.sqrt(9.81 * 2 * pi / 0.15)]), pi, inf))
    assert abs(short.level_height[0]) < 0.02
    assert abs(short.ride_height[0] + 1.0) < 0.02


def test_head_seas_do_not_roll_the_courier_and_mirrored_seas_mirror_its_roll() -> None:
    craft, omega = linear("fused-height", 4.0), np.linspace(3.0, 12.0, 10)
    assert np.abs(transfer(craft, waves_from(omega, pi, 5.0)).roll).max() < 1e-6
    port, starboard = (transfer(craft, waves_from(omega, side * 1.1, 5.0)) for side in (1.0, -1.0))
    assert port.roll == pytest.approx(-starboard.roll)
    assert port.ride_height == pytest.approx(starboard.ride_height)


def test_encounter_keeps_its_sign() -> None:
    table = reference("encounter", "frequency")
    craft = linear("level-and-height", 3.0)
    for row in (row for row in table.rows if row["speed m/s"] == craft.speed):
        omega = np.array([2 * pi / row["period s"]])
        for name, heading in (("head", pi), ("beam", pi / 2), ("following", 0.0)):
            met = transfer(craft, waves_from(omega, heading, inf)).encounter[0] / (2 * pi)
            assert met == pytest.approx(row[f"{name} Hz"], abs=table.tolerance)


def test_a_wave_that_keeps_up_is_a_standing_one() -> None:
    """Its speed is the craft's: the ride is steady and finite, and the surface is followed."""
    craft = linear("level-and-height", 4.0)
    found = transfer(craft, waves_from(np.array([9.81 / craft.speed]), 0.0, inf))
    assert abs(found.encounter[0]) <= STANDING
    assert np.isfinite(found.ride_height[0])
    assert abs(found.acceleration[0]) < 1e-6

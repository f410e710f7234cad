"""Pressure taps: against the second model, the textbook, a published value, mirror, Froude, lanes, the companion."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np
import pytest
from pydantic import ValidationError

from sweep.campaign.contradictions import clashes
from sweep.campaign.craft import Craft
from sweep.campaign.text.explain import reason
from sweep.linear.craft import linearise
from sweep.linear.ride import ride
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import fly
from sweep.model.kernels.frame import turn
from sweep.model.kernels.sea import put_sea
from sweep.model.onboard.estimates import height_here
from sweep.model.onboard.sensors import READINGS, aim, any_range_due, look, take_ranges
from sweep.model.onboard.tap import any_tap, press
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics import waves
from tests.model.crafts import (
    HEADINGS,
    WATER,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    drawn_tap,
    fleet_of,
    history,
    in_all_lanes,
    jonswap,
    mirrored,
    quiet,
    response,
    rotation,
    silent,
    tap,
    with_each,
    with_wand,
)
from tests.model.test_froude import LENGTH, MASS, SPEED, TIME, blocks, larger
from tests.second import sensors as second
from tests.second.sea import Sea, Water

TOLERANCE = 3e-7


def as_second(sea: waves.Sea) -> Sea:
    return Sea(sea.amplitude, sea.omega, sea.kx, sea.ky, sea.phase)


@pytest.mark.parametrize("seed", range(8))
def test_readings_and_heights_are_those_of_the_second_model(seed: int) -> None:
    """Thrown about in waves, in and out of the water, in water deep and shallow."""
    draw = np.random.default_rng([seed, 42])
    craft, depth = drawn_tap(seed), float(draw.choice([0.4, 5.0]))
    (finder,), sea = second.finders(craft), jonswap(draw.uniform(0.0, 6.0), height=0.05, seed=seed, depth=depth)
    block, bench = block_of(sea, 4.0), Bench(craft)
    put_sea(bench.flat, np.ones(LANES, dtype=bool), block.components, block.omegas, block.phases)
    readings, noise = np.full((READINGS, LANES), np.nan), in_all_lanes(silent(block).noise)
    assert any_tap(bench.flat, 1)
    rides, found = [], []
    for k in range(40):
        time = k / finder.rate
        angles, speed = draw.uniform(-0.2, 0.2, 3), draw.uniform(1.0, 6.0)
        position = np.array([4.0 * time, 0.1, -0.17 + draw.uniform(-0.1, 0.1)])
        bench.put(at.STATE, [*position, *angles, speed])
        turn(bench.flat, at.STATE.phi, at.ROTATION.first)
        assert any_range_due(bench.flat, time, 1)
        aim(bench.flat)
        press(bench.flat, len(block.omegas), time, 1.0)
        look(bench.flat, len(block.omegas), time, 1.0, False)
        take_ranges(bench.flat, readings, noise, 1)
        rides.append((time, rotation(*angles), position, speed))
        found.append(readings[k, 0])
    water = Water(WATER.density, WATER.viscosity, WATER.vapour_pressure, depth)
    felt = second.depths_felt(finder, rides, as_second(sea), water)
    wanted = second.behind_a_tube(felt, 1.0 / finder.rate, finder.own["tube_lag"])
    assert np.array(found) == pytest.approx(wanted, abs=TOLERANCE, nan_ok=True)
    assert 0 < np.isnan(wanted).sum() < 40
    too_much = craft.rangefinders.each["tap"].pressure_coefficient * 4.0**2 / 2.0 / 9.81
    for reading in (0.05, 0.12):
        roll, pitch = draw.uniform(-0.3, 0.3, 2)
        bench.put(at.ROLL_TURN.first, [sin(roll), cos(roll)])
        bench.put(at.PITCH_TURN.first, [sin(pitch), cos(pitch)])
        bench.put(at.RANGE_LAST, reading)
        height = second.height_by_tap(finder, too_much, reading, roll, pitch)
        assert float(height_here(bench.flat, 0, 0)) == pytest.approx(height, abs=TOLERANCE)


def heads(depth: float, length: float, ground: float) -> np.ndarray:
    """Half the range (m) of the depth that a fixed tap shows in a wave of 1 cm amplitude and a length (m)."""
    craft = with_each({"tap": tap(x=0.0)})
    omega = float(np.sqrt(9.81 * 2.0 * pi / length * np.tanh(2.0 * pi / length * ground)))
    wave = waves.regular_sea(0.02, 2.0 * pi / omega, 0.0, ground)
    block, bench = block_of(wave, 4.0), Bench(craft)
    put_sea(bench.flat, np.ones(LANES, dtype=bool), block.components, block.omegas, block.phases)
    shown = []
    for time in np.linspace(0.0, 2.0 * pi / omega, 65):
        bench.put(at.POINT, [0.0, 0.0, depth, 0.0])
        press(bench.flat, 1, float(time), 1.0)
        shown.append(bench.get(at.TAP_HEAD))
    return 0.5 * np.ptp(shown)


@pytest.mark.parametrize("ground", [0.3, 5.0])
@pytest.mark.parametrize("length", [0.5, 1.0, 3.0])
def test_it_feels_short_waves_less(length: float, ground: float) -> None:
    """The pressure response factor, cosh k(D - z) / cosh k D (Dean & Dalrymple 1991, section 4.2, from memory)."""
    k, depth = 2.0 * pi / length, 0.12
    factor = np.cosh(k * (ground - depth)) / np.cosh(k * ground)
    assert heads(depth, length, ground) == pytest.approx(0.01 * factor, rel=0.03)


@pytest.mark.parametrize("pitch", [0.0, 0.05])
def test_on_calm_water_it_rides_at_the_wanted_height(pitch: float) -> None:
    """The control code knows what the flow past the tap adds at the speed wanted."""
    craft = changed(quiet(with_each({"tap": tap(pressure_coefficient=0.08)})), {"control.pitch_trim": pitch})
    record = history(fleet_of(craft), silent(calm(8.0)))
    assert record["ride_height"][0, -50:].mean() == pytest.approx(craft.control.ride_height, abs=5e-4)


def test_the_error_grows_with_the_square_of_the_speed() -> None:
    """By hand: C_p u^2 / (2 g) of water; at 4 m/s a coefficient of 0.05 is 4.1 cm."""
    bench = Bench(with_each({"tap": tap(pressure_coefficient=0.05)}))
    readings, nothing = np.full((READINGS, LANES), np.nan), in_all_lanes(silent(calm(4.0)).noise)
    seen = []
    for k, u in enumerate((0.0, 2.0, 4.0)):
        bench.put(at.STATE, [0.0, 0.0, -0.15, 0.0, 0.0, 0.0, u])
        turn(bench.flat, at.STATE.phi, at.ROTATION.first)
        assert any_range_due(bench.flat, k / 50.0, 1)
        aim(bench.flat)
        press(bench.flat, 0, 0.0, 1.0)
        take_ranges(bench.flat, readings, nothing, 1)
        seen.append(readings[k, 0])
    assert seen[1] - seen[0] == pytest.approx(0.05 * 4.0 / 19.62)
    assert seen[2] - seen[0] == pytest.approx(0.0408, abs=5e-5)


@pytest.mark.parametrize("seed", range(2))
def test_the_mirror_image_flies_the_mirrored_way(seed: int) -> None:
    craft = quiet(drawn_tap(seed))
    sea = jonswap(HEADINGS["quartering"], height=0.04, period=1.2)
    first = history(fleet_of(craft), silent(block_of(sea, 3.0, settle=1.0)), precise=True)
    image = history(fleet_of(mirrored(craft)), silent(block_of(sea._replace(ky=-sea.ky), 3.0, settle=1.0)), precise=True)
    for column, sign in {"roll": -1.0, "y": -1.0, "pitch": 1.0, "ride_height": 1.0, "sensed_height": 1.0}.items():
        assert image[column] == pytest.approx(sign * first[column], abs=1e-7), column
    assert np.abs(first["roll"]).max() > 1e-3


def test_it_scales_by_froude() -> None:
    """Lengths times four, times and speeds times two."""
    own = {"x": 0.22, "height": -0.17, "rate": 20.0, "tube_lag": 0.05, "mass": 0.01}
    scales = {"x": LENGTH, "height": LENGTH, "rate": 1 / TIME, "tube_lag": TIME, "mass": MASS}
    large = {name: scales[name] * value for name, value in own.items()}
    craft = quiet(with_each({"tap": tap(pressure_coefficient=0.05, **own)}))
    large_craft = quiet(with_each({"tap": tap(pressure_coefficient=0.05, **large)}, larger(courier())))
    ((_, small_fleet),) = build_fleets([craft], WATER, 4.0, step=0.01)
    viscous = WATER._replace(viscosity=WATER.viscosity * LENGTH * SPEED, depth=WATER.depth * LENGTH)
    ((_, large_fleet),) = build_fleets([large_craft], viscous, 4.0 * SPEED, step=0.01 * TIME)
    small_block, large_block = blocks(jonswap(HEADINGS["head"], 0.04), 8.0)
    one, other = history(small_fleet, small_block, 50.0, True), history(large_fleet, large_block, 50.0 / TIME, True)
    for name in ("ride_height", "sensed_height", "pitch"):
        scale = LENGTH if name != "pitch" else 1.0
        assert other[name] == pytest.approx(scale * one[name], abs=2e-5 * scale), name


def test_no_lane_knows_of_the_others() -> None:
    """Taps beside beams in one batch, and alone: to the bit."""
    crafts = [drawn_tap(0), with_each({"a": {}}), drawn_tap(3), with_each({"a": {"beam": 0.3}})]
    block = block_of(jonswap(HEADINGS["head"], 0.05), 8.0)
    together = fly(fleet_of(crafts), block)
    for i, craft in enumerate(crafts):
        assert fly(fleet_of(craft), block).responses[0].tobytes() == together.responses[i].tobytes()


def test_single_precision_feels_what_double_does() -> None:
    craft, sea = quiet(with_each({"tap": tap()})), jonswap(HEADINGS["head"], 0.04)
    flown = [history(fleet_of(craft), silent(block_of(sea, 4.0)), precise=precise) for precise in (False, True)]
    assert flown[0]["sensed_height"] == pytest.approx(flown[1]["sensed_height"], abs=2e-4)


def test_small_changes_of_a_tap_change_a_flight_a_little() -> None:
    block = silent(block_of(jonswap(HEADINGS["head"], 0.03), 10.0))
    craft = quiet(with_each({"tap": tap(pressure_coefficient=0.05, tube_lag=0.03)}))
    for name in ("x", "height", "pressure_coefficient", "tube_lag"):
        value = getattr(craft.rangefinders.each["tap"], name)
        crafts = [changed(craft, {f"rangefinders.each.tap.{name}": value * (1.0 + change)}) for change in (0.0, 1e-3, 2e-3)]
        errors = response(fly(fleet_of(crafts), block), "ride_height_error")
        assert 0.0 < np.ptp(errors) < 0.02 * errors[0], name


def test_the_companion_knows_how_deep_it_is_and_its_tube() -> None:
    """Ride height error in small waves: linear against flown."""
    craft = quiet(with_each({"tap": tap(pressure_coefficient=0.03, tube_lag=0.02)}))
    for sea in (jonswap(HEADINGS["head"], height=0.01, period=1.2), jonswap(HEADINGS["following"], height=0.01, period=0.8)):
        fleet = fleet_of(craft)
        (linear,) = linearise(fleet)
        assert linear is not None
        flown = fly(fleet, silent(block_of(sea, 40.0, settle=8.0)))
        assert response(flown, "ride_height_error")[0] == pytest.approx(ride(linear, sea).ride_height_error, rel=0.05)


def test_what_is_wrong_is_told() -> None:
    for values, where in (
        ({"blind": 0.01}, "rangefinders.each.tap.blind"),
        ({"kind": "beam"}, "rangefinders.each.tap.tube_lag"),
        ({"ahead": 0.1}, "rangefinders.each.tap.ahead"),
    ):
        description = with_each({"tap": tap(tube_lag=0.02)}).model_dump()
        description["rangefinders"]["each"]["tap"] |= values
        with pytest.raises(ValidationError) as error:
            Craft.model_validate(description, context={"si": True})
        assert reason(error.value)[0] == where
    (clash,) = clashes(with_each({"tap": tap(height=-0.05)}), WATER, False)
    assert clash.at == ("rangefinders", "each", "tap", "height")
    assert not list(clashes(with_each({"tap": tap()}), WATER, False))


@pytest.mark.parametrize("craft", [with_wand(None, {"dropout": 0.3}), with_each({"tap": tap(rate=100.0, dropout=0.3)})])
def test_readings_are_lost_as_often_as_the_file_says(craft: Craft) -> None:
    """Level on calm water, by far the commonest tilt, as at any other: 30 of 100 readings a second."""
    assert response(fly(fleet_of(craft), calm(20.0)), "rangefinder_faults")[0] == pytest.approx(30.0, rel=0.1)

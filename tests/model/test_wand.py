"""Wands: against the second model and a solver of their equation, textbook physics, mirror, Froude, lanes, companion."""

from __future__ import annotations

from math import asin, cos, degrees, pi, radians, sin, sqrt
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from scipy.integrate import solve_ivp

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
from sweep.model.onboard.sensors import READINGS, aim, any_range_due, take_ranges
from sweep.model.onboard.wand import move_wands, set_levels
from sweep.model.pack.fleet import build_fleets
from sweep.model.pack.wands import rest_angle
from sweep.model.stepping.sampling import sample_sea
from tests.model.crafts import (
    HEADINGS,
    WATER,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    drawn_wand,
    fleet_of,
    history,
    in_all_lanes,
    jonswap,
    mirrored,
    quiet,
    response,
    rotation,
    silent,
    with_each,
    with_wand,
)
from tests.model.test_froude import FORCE, LENGTH, MASS, SPEED, TIME, blocks, larger
from tests.second import sensors as second_sensors
from tests.second import wands as second
from tests.second.sea import Sea, elevation, orbital_velocity

TOLERANCE = 3e-7
STILL = np.zeros(3)


def random_ride(draw: np.random.Generator) -> second.Ride:
    """A craft thrown about near the water."""
    return second.Ride(
        rotation=rotation(*draw.uniform(-0.4, 0.4, 3)),
        position=np.array([0.0, 0.0, draw.uniform(-0.35, -0.1)]),
        velocity=np.array([draw.uniform(1.0, 7.0), *draw.uniform(-1.0, 1.0, 2)]),
        rates=draw.uniform(-2.0, 2.0, 3),
        velocity_rate=draw.uniform(-20.0, 20.0, 3),
        rates_rate=draw.uniform(-50.0, 50.0, 3),
        elevation=draw.uniform(-0.05, 0.05),
        water=draw.uniform(-0.5, 0.5, 3),
    )


def angles_of(turned: np.ndarray) -> list[float]:
    return [np.arctan2(turned[2, 1], turned[2, 2]), -asin(turned[2, 0]), np.arctan2(turned[1, 0], turned[0, 0])]


def put_ride(bench: Bench, ride: second.Ride, quarter: float = 0.0) -> None:
    """Set the state and the water at the tip; quarter: by how much lower the water is in the middle of the step, m."""
    bench.put(at.STATE, [*ride.position, *angles_of(ride.rotation), *ride.velocity, *ride.rates])
    bench.put(at.RATE.u, [*ride.velocity_rate, *ride.rates_rate])
    bench.put(at.WAND.sea.eta, [ride.elevation - quarter, *ride.water])
    bench.put(at.WAND.sea_before.quarter.eta, quarter)


@pytest.mark.parametrize("seed", range(12))
def test_every_half_step_is_that_of_the_second_model(seed: int) -> None:
    """Thrown about at random, from half a step to half a step, at either end of a step."""
    draw = np.random.default_rng([seed, 32])
    craft = drawn_wand(seed)
    bench, one = Bench(craft), second.hinged(craft, "bow", WATER.density)
    arm = second.Arm(draw.uniform(0.0, 1.0), draw.uniform(-5.0, 5.0), draw.uniform(-0.3, 0.0))
    bench.put(at.WAND.angle, list(arm))
    touched = 0
    for _ in range(60):
        moving, half = random_ride(draw), draw.uniform(5e-4, 5e-3)
        ends = int(draw.integers(2))
        put_ride(bench, moving, draw.uniform(-0.01, 0.01) if ends == at.END_STEP else 0.0)
        move_wands(bench.flat, 1, at.STATE.first, ends, half)
        arm = second.half_step(one, moving, arm, half)
        found = bench.get(at.WAND.angle, 3)
        assert found == pytest.approx(list(arm), rel=TOLERANCE, abs=TOLERANCE)
        arm = second.Arm(*found)
        touched += second.wetted(one, moving, arm.angle, arm.level)[1] > 0.0
    assert 3 < touched < 60


@pytest.mark.parametrize("seed", range(6))
def test_where_it_rests_is_where_the_second_model_has_it(seed: int) -> None:
    craft = drawn_wand(seed)
    one = second.hinged(craft, "bow", WATER.density)
    for speed in (2.0, 4.0, 8.0):
        level = -(craft.control.ride_height + craft.wands["bow"].height)
        place = np.array([0.0, 0.0, level - one.place[2]])
        resting = second.Ride(np.eye(3), place, np.array([speed, 0.0, 0.0]), STILL, STILL, STILL, 0.0, STILL)
        found = rest_angle(craft, craft.wands["bow"], WATER.density, speed)
        assert found == pytest.approx(second.at_rest(one, resting), abs=1e-8)


def test_the_water_at_its_tip_is_that_of_the_second_model() -> None:
    """Elevation and velocity where the tip is at the predicted pose."""
    craft, sea = with_wand(y=0.1), jonswap(2.0, height=0.06)
    bench, block = Bench(craft), block_of(sea, 4.0)
    put_sea(bench.flat, np.ones(LANES, dtype=bool), block.components, block.omegas, block.phases)
    angles, position = np.array([0.1, -0.05, 0.4]), np.array([3.0, 1.0, -0.2])
    bench.put(at.PREDICTED, [*position, *angles])
    turn(bench.flat, at.PREDICTED.phi, at.PREDICTED_ROTATION.first)
    bench.put(at.WAND.angle, 0.6)
    sample_sea(bench.flat, len(block.omegas), 1.3, 1.0, bench.counts)
    one = second.hinged(craft, "bow", WATER.density)
    x, y, _ = position + rotation(*angles) @ (one.place + 0.3 * second.along(0.6))
    theirs = Sea(sea.amplitude, sea.omega, sea.kx, sea.ky, sea.phase)
    found = bench.get(at.WAND.sea.eta, 4)
    assert found[0] == pytest.approx(elevation(theirs, x, y, 1.3), abs=TOLERANCE)
    assert found[1:] == pytest.approx(orbital_velocity(theirs, WATER, x, y, 0.0, 1.3), abs=TOLERANCE)


def swung(craft: Craft, step: float, length: float) -> tuple[np.ndarray, np.ndarray]:
    """Times and angles of a wand over waves of 4 cm met at 2 Hz, the craft level and steady at 4 m/s, at a step (s)."""
    bench = Bench(craft)
    bench.put(at.STATE, [0.0, 0.0, -craft.control.ride_height - bench.get(at.KEEL), 0.0, 0.0, 0.0, 4.0])
    bench.put(at.RATE.u, [0.0] * 6)
    set_levels(bench.flat, 1)
    angles = []
    for n in range(round(length / step)):
        middle, quarter = (n + 0.5) * step, 0.5 * step
        for end, ends, ahead in ((middle, at.MID_STEP, 0.0), (middle + quarter, at.END_STEP, quarter)):
            bench.put(at.WAND.sea.eta, wave(end - ahead))
            bench.put(at.WAND.sea_before.quarter.eta, wave(end) - wave(end - ahead))
            move_wands(bench.flat, 1, at.STATE.first, ends, quarter)
        angles.append(bench.get(at.WAND.angle))
    return (np.arange(len(angles)) + 1.0) * step, np.array(angles)


def wave(time: float) -> float:
    return 0.02 * sin(4.0 * pi * time) * min(time / 0.5, 1.0)


@pytest.mark.parametrize(
    "own", [{}, {"mass": 0.02, "press": 0.1}, {"mass": 0.001, "press": 0.3, "width": 0.01}, {"mass": 0.01, "press": 0.05}]
)
def test_its_steps_converge_to_the_equation(own: dict[str, Any]) -> None:
    """Light and stiff, heavy and limp: with 5 ms within 1 % of the swing from a solver of M19.3, and nearer with shorter."""
    craft = with_wand(**own)
    one = second.hinged(craft, "bow", WATER.density)

    def rates(time: float, state: np.ndarray) -> list[float]:
        position = np.array([0.0, 0.0, -craft.control.ride_height - one.place[2]])
        moving = second.Ride(np.eye(3), position, np.array([4.0, 0.0, 0.0]), STILL, STILL, STILL, wave(time), STILL)
        return [state[1], second.acceleration(one, moving, second.Arm(state[0], state[1], 0.0))]

    start = rest_angle(craft, craft.wands["bow"], WATER.density, 4.0)
    exact = solve_ivp(rates, (0.0, 2.0), [start, 0.0], "LSODA", rtol=1e-8, atol=1e-10, dense_output=True, max_step=0.002)
    errors = []
    for step in (0.005, 0.0025, 0.00125):
        times, angles = swung(craft, step, 2.0)
        wanted = exact.sol(np.minimum(times, 2.0))[0]
        errors.append(sqrt(np.mean((angles - wanted) ** 2)) / np.std(wanted))
    assert errors[0] < 0.01
    assert errors[2] < 0.5 * errors[0]


def test_off_the_water_it_falls_as_a_rod_about_its_end() -> None:
    """A plain rod without a spring, from level, over water far below: the angle of a physical pendulum (textbook)."""
    mass, arm = 0.01, 0.3
    craft = with_wand(mass=mass, arm=arm, press=0.5 * mass * 9.81, most_angle=1.57)
    bench = Bench(craft)
    bench.put(at.STATE, [0.0, 0.0, -5.0, 0.0, 0.0, 0.0])
    bench.put(at.RATE.u, [0.0] * 6)
    set_levels(bench.flat, 1)
    bench.put(at.WAND.angle, [0.0, 0.0])
    pendulum = solve_ivp(lambda _, y: [y[1], 1.5 * 9.81 / arm * cos(y[0])], (0.0, 0.2), [0.0, 0.0], rtol=1e-9, atol=1e-12)
    for _ in range(400):
        move_wands(bench.flat, 1, at.STATE.first, at.MID_STEP, 5e-4)
    assert bench.get(at.WAND.angle) == pytest.approx(pendulum.y[0, -1], rel=2e-3)
    for _ in range(1000):
        move_wands(bench.flat, 1, at.STATE.first, at.MID_STEP, 5e-4)
    assert bench.get(at.WAND.angle, 2) == pytest.approx([1.57, 0.0])  # it hangs at its stop


def test_how_deep_it_swims_is_where_drag_balances_press() -> None:
    """By hand: spring and weight against (1/2) rho C b s (V sin a)^2 in the middle of the wetted length."""
    craft = with_wand(press=0.2, width=0.006, drag=0.9)
    wand = craft.wands["bow"]
    for speed in (3.0, 5.0):
        angle = rest_angle(craft, wand, WATER.density, speed)
        wet = wand.arm - craft.control.ride_height / sin(angle)
        drag = 0.5 * WATER.density * 0.9 * 0.006 * wet * (speed * sin(angle)) ** 2 * (wand.arm - 0.5 * wet)
        pressed = 0.2 * wand.arm - 0.5 * wand.mass * 9.81 * wand.arm * (1.0 - cos(angle))
        assert drag == pytest.approx(pressed, rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_readings_and_heights_are_those_of_the_second_model(seed: int) -> None:
    """At random angles: what its sensor reads, and the height that the control code makes of it."""
    draw = np.random.default_rng([seed, 33])
    craft = drawn_wand(seed)
    own, wand, bench = craft.rangefinders.each["feeler"], craft.wands["bow"], Bench(craft)
    block, finder = block_of(jonswap(pi), 4.0), second_sensors.finders(craft)[0]
    readings, noise = np.full((READINGS, LANES), np.nan), in_all_lanes(block.noise)
    still = second.Ride(np.eye(3), STILL, np.array([4.0, 0.0, 0.0]), STILL, STILL, STILL, 0.0, STILL)
    one = second.hinged(craft, "bow", WATER.density)
    over = craft.control.ride_height + wand.height
    rests = second.at_rest(one, still._replace(position=np.array([0.0, 0.0, -over - one.place[2]])))
    swims = wand.arm * sin(rests) - over
    for k in range(20):
        angle = draw.uniform(-0.3, 1.3)
        bench.put(at.WAND.angle, angle)
        assert any_range_due(bench.flat, k / 100.0, 1)
        aim(bench.flat)
        take_ranges(bench.flat, readings, noise, 1)
        wanted = wand.arm * sin(angle) + own.noise * block.noise.range_normal[k]
        if own.angle_step:
            wanted = wand.arm * sin(round(asin(np.clip(wanted / wand.arm, -1.0, 1.0)) / own.angle_step) * own.angle_step)
        assert readings[k, 0] == pytest.approx(wanted, abs=TOLERANCE)
        roll, pitch = draw.uniform(-0.3, 0.3, 2)
        bench.put(at.ROLL_TURN.first, [sin(roll), cos(roll)])
        bench.put(at.PITCH_TURN.first, [sin(pitch), cos(pitch)])
        bench.put(at.RANGE_LAST, readings[k, 0])
        height = second_sensors.height_by_wand(finder, wand.arm, swims, float(readings[k, 0]), roll, pitch)
        assert float(height_here(bench.flat, 0, 0)) == pytest.approx(height, abs=TOLERANCE)


@pytest.mark.parametrize("pitch", [0.0, 0.05])
def test_on_calm_water_it_rides_at_the_wanted_height(pitch: float) -> None:
    """The control code knows how deep the tip swims at the speed wanted."""
    craft = changed(quiet(with_wand()), {"control.pitch_trim": pitch})
    record = history(fleet_of(craft), silent(calm(8.0)))
    assert record["ride_height"][0, -50:].mean() == pytest.approx(craft.control.ride_height, abs=2e-4)


def test_slower_it_swims_deeper_and_the_craft_rides_lower() -> None:
    """Set at 4 m/s, flown at 3 with the same setting of its tip: the immersion grows by more than half."""
    craft = with_wand()
    wand = craft.wands["bow"]

    def deep(speed: float) -> float:
        return wand.arm * sin(rest_angle(craft, wand, WATER.density, speed)) - craft.control.ride_height

    assert deep(3.0) > 1.5 * deep(4.0) > 2.0 * deep(6.0)


def test_a_limp_heavy_wand_skips_and_a_sprung_one_does_not() -> None:
    """In a steep head sea the tip of a heavy arm that little presses leaves the crests: its sensor is then wrong."""
    sea = jonswap(HEADINGS["head"], 0.07, 0.7)
    off = []
    for own in ({"mass": 0.02, "press": 0.05}, {"mass": 0.002, "press": 0.3, "width": 0.01}):
        record = history(fleet_of(quiet(with_wand(**own))), silent(block_of(sea, 15.0)), rate=200.0)
        off.append(np.nanstd((record["sensed_height"] - record["ride_height"])[:, 800:]))
    assert off[0] > 1.3 * off[1]


@pytest.mark.parametrize("seed", range(3))
def test_the_mirror_image_flies_the_mirrored_way(seed: int) -> None:
    craft = changed(quiet(drawn_wand(seed)), {"rangefinders.each.feeler.angle_step": 0.0})
    sea = jonswap(HEADINGS["quartering"], height=0.04, period=1.2)
    first = history(fleet_of(craft), silent(block_of(sea, 3.0, settle=1.0)), precise=True)
    image = history(fleet_of(mirrored(craft)), silent(block_of(sea._replace(ky=-sea.ky), 3.0, settle=1.0)), precise=True)
    for column, sign in {"roll": -1.0, "y": -1.0, "pitch": 1.0, "ride_height": 1.0, "sensed_height": 1.0}.items():
        assert image[column] == pytest.approx(sign * first[column], abs=1e-7), column
    assert np.abs(first["roll"]).max() > 1e-3


def test_it_scales_by_froude() -> None:
    """Lengths times four, times and speeds times two, masses and forces times 64: the same angles."""
    own = {"x": 0.45, "arm": 0.3, "height": 0.02, "mass": 0.004, "press": 0.06, "width": 0.003}
    scales = dict.fromkeys(("x", "height", "arm", "width"), LENGTH) | dict.fromkeys(("mass", "press"), FORCE)
    craft = quiet(with_wand(courier(), {"rate": 20.0, "mass": 0.01}, **own))
    large = {name: scales[name] * value for name, value in own.items()}
    large_craft = quiet(with_wand(larger(courier()), {"rate": 20.0 / TIME, "mass": 0.01 * MASS}, **large))
    ((_, small_fleet),) = build_fleets([craft], WATER, 4.0, step=0.01)
    viscous = WATER._replace(viscosity=WATER.viscosity * LENGTH * SPEED, depth=WATER.depth * LENGTH)
    ((_, large_fleet),) = build_fleets([large_craft], viscous, 4.0 * SPEED, step=0.01 * TIME)
    small_block, large_block = blocks(jonswap(HEADINGS["head"], 0.04), 8.0)
    one, other = history(small_fleet, small_block, 50.0, True), history(large_fleet, large_block, 50.0 / TIME, True)
    for name in ("ride_height", "sensed_height", "pitch"):
        scale = LENGTH if name != "pitch" else 1.0
        assert other[name] == pytest.approx(scale * one[name], abs=2e-5 * scale), name


def test_no_lane_knows_of_the_others() -> None:
    """Unlike wands side by side and alone: to the bit."""
    crafts = [drawn_wand(seed) for seed in range(4)]
    block = block_of(jonswap(HEADINGS["head"], 0.05), 8.0)
    together = fly(fleet_of(crafts), block)
    for i, craft in enumerate(crafts):
        assert fly(fleet_of(craft), block).responses[0].tobytes() == together.responses[i].tobytes()


def test_an_unread_wand_changes_nothing_but_its_mass() -> None:
    """The craft does not feel a wand: without a mass to speak of, and read by no one, it flies the same."""
    craft = courier()
    block = block_of(jonswap(HEADINGS["head"], 0.05), 8.0)
    bare = fly(fleet_of(craft), block).responses
    with_one = Craft.model_validate(
        craft.model_dump() | {"wands": {"bow": {"x": 0.4, "arm": 0.3, "mass": 1e-9}}}, context={"si": True}
    )
    assert fly(fleet_of(with_one), block).responses == pytest.approx(bare, rel=1e-3, abs=1e-6, nan_ok=True)


def test_small_changes_of_a_wand_change_a_flight_a_little() -> None:
    """Random wands: no step in how the ride error goes with press, arm and mass."""
    block = silent(block_of(jonswap(HEADINGS["head"], 0.03), 10.0))
    for seed in range(3):
        craft = changed(quiet(drawn_wand(seed)), {"rangefinders.each.feeler.angle_step": 0.0})
        for name in ("press", "arm", "mass", "width"):
            value = getattr(craft.wands["bow"], name)
            crafts = [changed(craft, {f"wands.bow.{name}": value * (1.0 + change)}) for change in (0.0, 1e-3, 2e-3)]
            errors = response(fly(fleet_of(crafts), block), "ride_height_error")
            assert np.ptp(errors) < 0.02 * errors[0], (seed, name)


def test_the_companion_flies_it_where_it_does_not_skip() -> None:
    """Ride height error in small waves: linear against flown."""
    craft = quiet(with_wand(press=0.3, width=0.01))
    sea = jonswap(HEADINGS["head"], height=0.01, period=1.2)
    fleet = fleet_of(craft)
    (linear,) = linearise(fleet)
    assert linear is not None
    flown = fly(fleet, silent(block_of(sea, 40.0, settle=8.0)))
    assert response(flown, "ride_height_error")[0] == pytest.approx(ride(linear, sea).ride_height_error, rel=0.05)


def test_finer_steps_change_the_ride_by_less_than_a_hundredth() -> None:
    craft, block = quiet(with_wand()), silent(block_of(jonswap(HEADINGS["head"], 0.04, 0.9), 15.0))
    coarse, fine = (response(fly(fleet_of(craft, step=step), block), "ride_height_error")[0] for step in (0.005, 0.0025))
    assert coarse == pytest.approx(fine, rel=0.01)


def test_what_is_wrong_is_told() -> None:
    for values, where in (
        ({"wand": "stern"}, "rangefinders.each.feeler.wand"),
        ({"wand": None}, "rangefinders.each.feeler.kind"),
        ({"blind": 0.01}, "rangefinders.each.feeler.blind"),
        ({"height": 0.02}, "rangefinders.each.feeler.height"),
        ({"kind": "beam"}, "rangefinders.each.feeler.wand"),
    ):
        description = with_wand().model_dump()
        description["rangefinders"]["each"]["feeler"] |= values
        with pytest.raises(ValidationError) as error:
            Craft.model_validate(description, context={"si": True})
        assert reason(error.value)[0] == where


@pytest.mark.parametrize(
    ("own", "where"), [({"arm": 0.09}, "arm"), ({"height": -0.1}, "height"), ({"most_angle": radians(15.0)}, "arm")]
)
def test_a_wand_that_cannot_feel_the_water_is_told(own: dict[str, float], where: str) -> None:
    (clash,) = clashes(with_wand(**own), WATER, False)
    assert clash.at == ("wands", "bow", where), clash
    assert not list(clashes(with_wand(), WATER, False))


def test_steps_of_the_angle_are_steps_of_the_reading() -> None:
    """Half a degree of an arm of 30 cm is 2.6 mm times the cosine of its angle."""
    craft = with_wand(sensor={"angle_step": radians(0.5)})
    bench, readings = Bench(craft), np.full((READINGS, LANES), np.nan)
    nothing = in_all_lanes(silent(calm(4.0)).noise)
    seen = []
    for k, angle in enumerate(np.radians(np.linspace(20.0, 24.0, 33))):
        bench.put(at.WAND.angle, angle)
        assert any_range_due(bench.flat, k / 100.0, 1)
        aim(bench.flat)
        take_ranges(bench.flat, readings, nothing, 1)
        seen.append(degrees(asin(readings[k, 0] / 0.3)))
    assert sorted({round(each, 6) for each in seen}) == [20.0, 20.5, 21.0, 21.5, 22.0, 22.5, 23.0, 23.5, 24.0]


def test_beside_a_beam_both_are_heard() -> None:
    """A wand and a rangefinder with a beam, on calm water: both tell the ride height."""
    craft = quiet(with_each({"eye": {}, "feeler": {"kind": "wand", "wand": "bow"}}, with_wand()))
    record = history(fleet_of(craft), silent(calm(8.0)))
    assert record["ride_height"][0, -50:].mean() == pytest.approx(craft.control.ride_height, abs=2e-4)

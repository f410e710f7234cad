"""The second model against physics that is not its own: if it is wrong, it cannot judge the compiled one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ruamel.yaml import YAML
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from sweep.campaign.craft import Craft, Hull
from tests.second.cases import OPEN_LOOP, SEAS, random_moment, trimmed
from tests.second.compare import relative_difference, trajectory_difference
from tests.second.courier import FRESH, courier
from tests.second.flaps import Turned
from tests.second.loads import jones, lift_slope, strip_load, surface_lift_factor, wrench
from tests.second.parts import MassProperties, Strip, plate_factor, rigid_mass, strips_of
from tests.second.sea import FLAT, GRAVITY, Sea, Vector, Water, elevation, orbital_velocity, regular_sea
from tests.second.second_model import (
    Inputs,
    Loads,
    SecondModel,
    State,
    acceleration,
    angle_rates,
    derivative,
    fly,
    forces,
    rotation,
    state_of,
)
from tests.second.sections import section_at


def flat(numbers: dict[str, Any], path: str = "") -> dict[str, Any]:
    """Nested values by dotted path."""
    found: dict[str, Any] = {}
    for name, value in numbers.items():
        found |= flat(value, f"{path}{name}.") if isinstance(value, dict) else {path + name: value}
    return found


def test_the_courier_in_si_numbers_is_that_of_the_file() -> None:
    text = Path(__file__).parents[2].joinpath("configs", "craft", "courier.yaml").read_text()
    of_file = flat(Craft.model_validate(YAML(typ="safe").load(text)).model_dump())
    for path, value in flat(courier().model_dump()).items():
        assert value == (pytest.approx(of_file[path]) if isinstance(value, float) else of_file[path]), path


def test_mass_is_the_sum_of_the_parts_by_hand() -> None:
    foil = 1250 * 0.68 * 0.12 * (50e-4 / 6) * np.sqrt(50e-4 * 6)  # density x area of the section x span
    strut = 1500 * 0.70 * 0.03 * 0.0045 * 0.20
    mass = trimmed("courier")[0].mass
    assert mass.mass == pytest.approx(3.06 + 0.01 + 3 * foil + 3 * strut, rel=1e-12)
    x = (0.01 * 0.35 + (foil + strut) * (2 * 0.22 - 0.40)) / mass.mass
    height = (3.06 * 0.065 - 3 * foil * 0.20 - 3 * strut * 0.10) / mass.mass
    assert mass.centre == pytest.approx([x, 0.0, height], abs=1e-12)
    assert np.all(np.linalg.eigvalsh(trimmed("ferry")[0].mass.inertia) > 0)


def test_plate_factors_are_those_of_the_classification_society() -> None:
    # DNV-RP-C205, rectangular plates, among them ratios between our nodes; values from memory, tolerance 0.003.
    table = {1.0: 0.579, 1.59: 0.704, 2.0: 0.757, 3.17: 0.840, 4.0: 0.872, 6.25: 0.917, 10.0: 0.947}
    for ratio, factor in table.items():
        assert plate_factor(ratio) == pytest.approx(factor, abs=0.003)


def test_trim_of_the_courier() -> None:
    model, level = trimmed("courier")
    rate = derivative(model, FLAT, 0.0, level.state, Inputs(level.foil_angles, 0.0, level.throttle))
    still = np.concatenate([rate.velocity, rate.rates, rate.lift_lag, rate.downwash, [rate.thrust, rate.side]])
    assert np.max(np.abs(still)) < 1e-9
    assert rate.position == pytest.approx([4.0, 0.0, 0.0], abs=1e-12)
    # The design's prototype, a craft of 3.2 kg with the same foils, trimmed at 1.2 to 2.1 deg and 4.2 N.
    assert np.all(np.abs(np.degrees(level.foil_angles) - 1.2) < 1.0)
    assert level.thrust == pytest.approx(4.2, abs=1.0)


def immersed_area(hull: Hull, draft: float) -> float:
    """Section area under water by numerical integration of its breadth, m^2."""
    area, _ = quad(lambda z: min(2.0 * z / np.tan(hull.deadrise), hull.beam), 0.0, draft, epsrel=1e-10, limit=200)
    return area


def at_rest(model: SecondModel, draft: float, roll: float = 0.0) -> State:
    """At rest and level but for the roll, with the keel a draft under the water."""
    _, level = trimmed("courier")
    z = draft - model.mass.centre[2] * np.cos(roll)
    return level.state._replace(
        position=np.array([0.0, 0.0, z]), angles=np.array([roll, 0.0, 0.0]), velocity=np.zeros(3), thrust=0.0
    )


def floating_draft(model: SecondModel) -> float:
    """Draft at which the hull's lift is the weight, m."""
    weight = model.mass.mass * GRAVITY
    still = Inputs(np.zeros(3))
    return float(brentq(lambda d: forces(model, FLAT, 0.0, at_rest(model, d), still).hull_lift - weight, 0.001, 0.11))


def test_floats_at_its_displacement() -> None:
    model, _ = trimmed("courier")
    hull = model.craft.hulls["main"]
    draft = floating_draft(model)
    displaced = FRESH.density * immersed_area(hull, draft) * hull.length
    assert displaced == pytest.approx(model.mass.mass, rel=1e-3)
    assert draft == pytest.approx(0.0322, abs=0.0002)  # by hand: (3.199 / 999.1 / 0.9 - 15.96e-4) / 0.16 + 0.01995


def test_rights_itself_with_the_metacentric_height() -> None:
    # GM = KB + BM - KG, BM = second moment of the waterplane over the displaced volume (any naval architecture text).
    model, _ = trimmed("courier")
    hull, draft, roll = model.craft.hulls["main"], floating_draft(model), 0.01
    moment, _ = quad(lambda z: z * min(2.0 * z / np.tan(hull.deadrise), hull.beam), 0.0, draft)
    metacentre = moment / immersed_area(hull, draft)
    metacentre += hull.length * hull.beam**3 / 12.0 / (model.mass.mass / FRESH.density) - model.mass.centre[2]
    heeled = forces(model, FLAT, 0.0, at_rest(model, draft, roll), Inputs(np.zeros(3))).wrenches["hulls"]
    assert heeled[3] == pytest.approx(-model.mass.mass * GRAVITY * metacentre * np.sin(roll), rel=0.05)


FLIP = np.array([1.0, -1.0, 1.0])


@pytest.mark.parametrize("sea", ["flat", "jonswap"])
@pytest.mark.parametrize("regime", ["flying", "foils half out", "hull in", "tumbling"])
def test_the_mirrored_craft_does_the_mirrored_thing(regime: str, sea: str) -> None:
    model, _ = trimmed("courier")
    state, inputs, time = random_moment("courier", regime, 11)
    waves = SEAS[sea]
    here = derivative(model, waves, time, state, inputs)
    there = derivative(
        model,
        waves._replace(ky=-waves.ky, wind=(waves.wind[0], -waves.wind[1])),
        time,
        mirrored(state),
        Inputs(inputs.foil_angles[[1, 0, 2]], -inputs.rudder, inputs.throttle, -inputs.side),
    )
    assert relative_difference(there.vector(), mirrored(here).vector()) < 1e-12


def mirrored(state: State) -> State:
    """The courier's state, or its rate, seen in a mirror along the keel."""
    return State(
        position=state.position * FLIP,
        angles=-state.angles * FLIP,
        velocity=state.velocity * FLIP,
        rates=-state.rates * FLIP,
        lift_lag=state.lift_lag[[3, 2, 1, 0, 5, 4]],
        downwash=state.downwash[[1, 0]],
        thrust=state.thrust,
        side=-state.side,
        voltage=state.voltage,
    )


@pytest.mark.parametrize("sea", ["regular", "jonswap"])
def test_place_and_heading_do_not_matter(sea: str) -> None:
    model, _ = trimmed("ferry")
    state, inputs, time = random_moment("ferry", "hull in", 3)
    waves, turn, shift = SEAS[sea], 0.7, np.array([3.0, -2.0, 0.0])
    about_z = rotation(np.array([0.0, 0.0, turn]))
    kx, ky, _ = about_z @ np.array([waves.kx, waves.ky, 0.0 * waves.kx])
    blown = about_z @ np.array([*waves.wind, 0.0])
    phase = waves.phase - kx * shift[0] - ky * shift[1]
    moved = waves._replace(kx=kx, ky=ky, phase=phase, wind=(blown[0], blown[1]))
    elsewhere = state._replace(position=about_z @ state.position + shift, angles=state.angles + np.array([0.0, 0.0, turn]))
    here = forces(model, waves, time, state, inputs).total()
    there = forces(model, moved, time, elsewhere, inputs).total()
    assert relative_difference(there, here) < 1e-11


def energy(model: SecondModel, row: Vector) -> float:
    """Kinetic energy, with that of the water the foils and struts move, and potential energy, J."""
    motion = row[6:12]
    return float(0.5 * motion @ model.inertia @ motion - model.mass.mass * GRAVITY * row[2])


@pytest.mark.parametrize("craft", ["courier", "ferry"])
def test_without_thrust_energy_only_falls_in_calm_water(craft: str) -> None:
    model, level = trimmed(craft)
    start = level.state._replace(
        thrust=0.0,
        angles=np.array([-0.05, 0.05, 0.2]),
        rates=np.array([0.4, 0.3, 0.5]),
        velocity=np.array([4.0, 0.2, 0.0]),
    )
    times = np.linspace(0.0, 0.3, 61)
    flight = fly(model, FLAT, start, lambda time: Inputs(level.foil_angles), times)
    energies = np.array([energy(model, row) for row in flight])
    assert np.all(np.diff(energies) < 0)
    assert all(forces(model, FLAT, 0.0, state_of(model, row), Inputs(level.foil_angles)).hull_lift == 0 for row in flight)


def test_orbital_velocities_of_a_published_wave_code() -> None:
    # Height 0.2 m, period 1.5 s, water 1 m deep: raschii 2.0.0, AiryWave.velocity (checks 1.2).
    water, wave = Water(1000.0, 1e-6, 1706.0, 1.0), regular_sea(0.2, 1.5, 0.0, 1.0)
    for depth, horizontal in ((0.0, 0.43906512), (0.1, 0.367813), (0.5, 0.19377757)):
        assert orbital_velocity(wave, water, 0.0, 0.0, depth, 0.0)[0] == pytest.approx(horizontal, rel=3e-6)
    assert orbital_velocity(wave, water, 0.0, 0.0, 0.5, -1.5 / 4)[2] == pytest.approx(-0.142236, rel=3e-6)


def test_the_surface_moves_with_the_water_under_it() -> None:
    wave, step = SEAS["jonswap"], 1e-5
    rise = (elevation(wave, 0.3, -0.2, 1.0 + step) - elevation(wave, 0.3, -0.2, 1.0 - step)) / (2.0 * step)
    assert orbital_velocity(wave, FRESH, 0.3, -0.2, 0.0, 1.0)[2] == pytest.approx(-rise, rel=1e-7)


def test_depth_factor_against_the_flat_plate() -> None:
    # checks 5.3a: two-dimensional flat plate under a free surface, infinite Froude number, 200 vortices.
    plate = {0.1: 0.61641, 0.25: 0.73092, 0.5: 0.85452, 1.0: 0.94725, 2.0: 0.98507, 5.0: 0.99752}
    for x, factor in plate.items():
        assert surface_lift_factor(x) == pytest.approx(factor, abs=2e-4)


@pytest.mark.parametrize(("ratio", "share", "rate"), [(3.0, 0.283, 0.540), (6.0, 0.361, 0.381)])
def test_lift_after_a_step_follows_jones(ratio: float, share: float, rate: float) -> None:
    # R. T. Jones, NACA TR 681: lift over its final value is 1 - share exp(-rate s), s half chords travelled.
    assert jones(ratio) == pytest.approx((share, rate), rel=1e-12)
    foil = trimmed("courier")[0].foils[0].model_copy(update={"aspect_ratio": ratio, "zero_lift_angle": 0.0})
    speed, angle, normal = 4.0, 1e-3, np.array([0.0, 0.0, 1.0])
    section = section_at(courier(), foil, 1.6e5)
    strip = Strip(0, np.zeros(3), normal, foil.area, foil.chord)

    def lift(lag: float) -> tuple[float, float]:
        load = strip_load(foil, section, FRESH, strip, np.array([speed, 0.0, 0.0]), 0.3, Turned(angle), 0.0, lag)
        return -float(load.force[2]), load.lag_rate

    solution = solve_ivp(lambda t, lag: [lift(lag[0])[1]], (0.0, 0.03), [0.0], rtol=1e-10, atol=1e-14)
    travelled = 2.0 * speed * 0.03 / foil.chord
    assert lift(solution.y[0, -1])[0] / lift(angle)[0] == pytest.approx(1.0 - share * np.exp(-rate * travelled), rel=1e-6)


def test_lift_slope_near_the_surface() -> None:
    # checks 5.3c: aspect ratio 6 rectangular plate, lift slope over that of deep water; the model is held to 5 %.
    foil = trimmed("courier")[0].foils[0]
    section = section_at(courier(), foil, 1.6e5)
    deep = lift_slope(foil, section, 100.0, 1e9)
    for chords, ratio in ((0.5, 0.8047), (1.0, 0.8985), (2.0, 0.9566)):
        assert lift_slope(foil, section, chords * foil.chord, 1e9) / deep == pytest.approx(ratio, rel=0.05)


def test_angle_rates_turn_the_rotation_matrix() -> None:
    angles, rates, step = np.array([0.4, -0.3, 1.9]), np.array([0.7, -0.2, 0.5]), 1e-6
    change = step * angle_rates(angles, rates)
    numerical = (rotation(angles + change) - rotation(angles - change)) / (2.0 * step)
    spin = np.array([[0, -rates[2], rates[1]], [rates[2], 0, -rates[0]], [-rates[1], rates[0], 0]])
    assert np.allclose(numerical, rotation(angles) @ spin, atol=1e-8)


def test_free_body() -> None:
    # Moments of inertia 1, 2, 3, start (1, 0, 1): closed form in Jacobi elliptic functions (checks 9).
    model, level = trimmed("courier")
    mass = MassProperties(2.0, np.zeros(3), np.diag([1.0, 2.0, 3.0]))
    body = replace(model, mass=mass, inertia=np.diag([2.0, 2.0, 2.0, 1.0, 2.0, 3.0]))
    zero = np.zeros(1)
    nothing = Loads({"none": np.zeros(6)}, zero, zero, zero, zero, 0.0)

    def rate(time: float, row: Vector) -> Vector:
        state = level.state._replace(angles=row[:3], velocity=row[3:6], rates=row[6:])
        return np.concatenate([angle_rates(state.angles, state.rates), acceleration(body, state, nothing)])

    start = np.array([0.1, 0.2, 0.3, 1.0, 2.0, 3.0, 1.0, 0.0, 1.0])
    end = solve_ivp(rate, (0.0, 1.0), start, rtol=1e-11, atol=1e-12).y[:, -1]
    assert end[6:] == pytest.approx([0.57780247, 0.81617664, 0.88201582], abs=1e-7)
    # No force: the velocity over ground stays what it was.
    assert rotation(end[:3]) @ end[3:6] == pytest.approx(rotation(start[:3]) @ start[3:6], abs=1e-8)


def test_moment_of_a_force() -> None:
    force, place = np.array([1.0, -2.0, 3.0]), np.array([0.5, 0.7, -0.2])
    assert wrench(force, place) == pytest.approx([*force, *np.cross(place, force)])


def test_added_mass_of_the_struts_by_hand() -> None:
    model, _ = trimmed("courier")
    wetted = 0.20 - model.craft.control.ride_height
    each = FRESH.density * np.pi / 4.0 * 0.03**2 * wetted
    below = model.mass.centre[2] + 0.20 - wetted / 2.0  # of the middle of the wetted length, under the centre
    forward = 2 * 0.22 - 0.40 - 3 * model.mass.centre[0]
    added = model.inertia - rigid_mass(model.mass)
    assert added[1, 1] == pytest.approx(3 * each, rel=1e-12)
    assert added[1, 3] == pytest.approx(-3 * each * below, rel=1e-12)
    assert added[1, 5] == pytest.approx(each * forward, rel=1e-12)


def test_dihedral_lifts_the_tips() -> None:
    craft = trimmed("ferry")[0].craft
    strips = [strip for strip in strips_of(craft, np.zeros(3), 4) if strip.foil == 1]
    for inner, outer in ((strips[1], strips[0]), (strips[2], strips[3])):
        outwards = outer.place - inner.place
        assert outwards[2] == pytest.approx(-abs(outwards[1]) * np.tan(0.15))  # z is down
        assert outer.normal @ outwards == pytest.approx(0.0, abs=1e-15)
        assert outer.normal[2] > 0
        assert np.linalg.norm(outer.normal) == pytest.approx(1.0)


@pytest.mark.parametrize("name", ["jonswap", "foil out"])
def test_reference_flights_are_solved_well(name: str) -> None:
    case = OPEN_LOOP[name]()
    model, _ = trimmed(case.craft)
    times = np.linspace(0.0, 0.5, 26)
    usual, tight = (fly(model, case.sea, case.start, case.inputs, times, tolerance) for tolerance in (1e-8, 1e-11))
    assert trajectory_difference(usual[:, :12], tight[:, :12]) < 1e-6


def test_flat_sea_is_flat() -> None:
    assert elevation(FLAT, 1.0, 2.0, 3.0) == 0.0
    assert np.all(orbital_velocity(Sea(*FLAT[:5], settle=1.0), FRESH, 1.0, 2.0, 0.1, 3.0) == 0.0)

"""Foils with struts and servos of their own, taper and sweep, rudders that are no strut, ballast, a battery that sags."""

from __future__ import annotations

from math import cos, pi, radians, sqrt, tan
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweep.campaign.addresses import value_at
from sweep.campaign.contradictions import clashes
from sweep.campaign.craft import Craft
from sweep.linear.craft import linearise, with_servos
from sweep.linear.reach import foil_angles, reach
from sweep.model import layout as at
from sweep.model import probe
from sweep.model.flight import fly
from sweep.model.kernels.rigid_body import evaluate
from sweep.model.pack.fleet import build_fleets
from sweep.model.pack.foils import deep_slope
from sweep.model.pack.mass import mass_properties, price, total_mass
from sweep.model.pack.propulsion import full_power
from sweep.model.pack.trim import FOREVER
from sweep.model.physics.propulsion import loaded_voltage
from sweep.model.physics.section import section_of
from tests.model import test_froude, test_symmetry
from tests.model.crafts import (
    WATER,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    fleet_of,
    history,
    jonswap,
    quiet,
    response,
    silent,
)
from tests.model.test_froude import EXACT, LENGTH, MASS, RECORD_SCALES
from tests.model.test_symmetry import KEPT, NEGATED, mirror_sea
from tests.second.pilot import cutter, pilot

FEW = settings(max_examples=5, deadline=None)
NEW = st.fixed_dictionaries(
    {
        "foils.bow.taper": st.floats(0.3, 1.0),
        "foils.bow.sweep": st.floats(-0.4, 0.5),
        "foils.port.taper": st.floats(0.4, 1.0),
        "foils.starboard.sweep": st.floats(-0.3, 0.3),
        "foils.stern.strut.height": st.floats(0.24, 0.31),
        "foils.starboard.strut.chord": st.floats(0.026, 0.04),
        "foils.bow.servo.bandwidth": st.floats(40.0, 90.0),
        "ballast.lead.x": st.floats(0.1, 0.3),
        "ballast.lead.y": st.floats(-0.1, 0.1),
        "steering.rudders.port.length": st.floats(0.15, 0.26),
        "battery.charge": st.floats(0.2, 1.0),
    }
)
LENGTHS = (
    *(
        f"foils.{foil}.strut.{size}"
        for foil in ("bow", "port", "starboard", "stern")
        for size in ("height", "chord", "thickness")
    ),
    *(
        f"steering.rudders.{name}.{size}"
        for name in ("port", "fore")
        for size in ("x", "y", "top", "length", "chord", "thickness")
    ),
    *(f"ballast.{name}.{size}" for name in ("lead", "trim") for size in ("x", "y", "height")),
)
OTHER_SCALES = {
    **dict.fromkeys(("foils.bow.span",), LENGTH),
    **dict.fromkeys(("ballast.lead.mass", "ballast.trim.mass"), MASS),
    "foils.bow.servo.bandwidth": 0.5,
    "battery.resistance": 1.0 / test_froude.POWER,  # of equal voltages
}


@FEW
@given(values=NEW, heading=st.floats(0.0, 2.0 * pi))
def test_any_such_craft_and_its_mirror_image_fly_mirrored_ways(values: dict[str, Any], heading: float) -> None:
    first, second = test_symmetry.fleets(changed(pilot(), values))
    if not first.feasible[0]:
        assert not second.feasible[0]
        return
    sea = jonswap(heading, height=0.04, period=1.2)
    flown = history(first, silent(block_of(sea, 2.0, settle=0.5)), precise=True)
    image = history(second, silent(block_of(mirror_sea(sea), 2.0, settle=0.5)), precise=True)
    for sign, columns in ((1.0, KEPT), (-1.0, NEGATED)):
        for column in columns:
            assert image[column] == pytest.approx(sign * flown[column], abs=1e-7, nan_ok=True), column


@FEW
@given(values=NEW)
def test_any_such_craft_four_times_as_long_flies_the_same_flight(values: dict[str, Any]) -> None:
    small = changed(pilot(), {address: value for address, value in EXACT.items() if not address.startswith("foils.")} | values)
    scales = {**test_froude.SCALES, **dict.fromkeys(LENGTHS, LENGTH), **OTHER_SCALES}
    for name in small.foils:
        scales |= {f"foils.{name}.x": LENGTH, f"foils.{name}.y": LENGTH, f"foils.{name}.area": LENGTH**2}
        scales |= {f"foils.{name}.ventilation.washout": 1.0}
    known = {address: value_at(small, address) for address in scales if address.split(".")[1] not in ("aft",)}
    large = changed(small, {address: value * scales[address] for address, value in known.items() if value is not None})
    description = large.model_dump()
    for foil in description["foils"].values():
        foil["strut_offsets"] = [LENGTH * offset for offset in foil["strut_offsets"]]
    large = Craft.model_validate(description, context={"si": True})
    viscous = WATER._replace(viscosity=WATER.viscosity * LENGTH * 2.0, depth=WATER.depth * LENGTH)
    ((_, one),) = build_fleets([small], WATER, 4.0, step=0.01)
    ((_, other),) = build_fleets([large], viscous, 8.0, step=0.02)
    assert one.feasible[0] == other.feasible[0]
    if not one.feasible[0]:
        return
    blocks = test_froude.blocks(jonswap(2.0, height=0.05, period=1.1), 1.5, settle=0.5)
    records = history(one, blocks[0], precise=True), history(other, blocks[1], 50.0, precise=True)
    for name, scale in RECORD_SCALES.items():
        size = max(np.nanmax(np.abs(records[0][name])), 1e-3)
        assert np.nanmax(np.abs(records[1][name] / scale - records[0][name])) < 1e-6 * size, name


def test_a_fixed_foil_needs_moving_ones_at_two_places() -> None:
    """The courier's two front foils are abreast: with its aft foil fixed nothing gives it the pitch that is wanted."""
    fixed = changed(courier(), {"foils.aft.mounting": "fixed"})
    assert ("foils", "aft", "mounting") in [clash.at for clash in clashes(fixed, WATER, from_rest=False)]
    assert not [clash for clash in clashes(pilot(), WATER, from_rest=False) if clash.at[-1] == "mounting"]


def test_a_flight_does_not_depend_on_the_lanes_beside_it() -> None:
    """Sagging beside full batteries, fixed beside moving foils, tapered beside straight ones."""
    base = {"foils.stern.mounting": "moving", "foils.stern.taper": 1.0, "battery.charge": 1.0, "battery.resistance": 0.0}
    crafts = [
        pilot(),
        changed(pilot(), base),
        changed(pilot(), {"ballast.lead.mass": 0.0}),
        changed(pilot(), {"battery.charge": 0.9}),
    ]
    block = block_of(jonswap(1.0, height=0.05), 6.0, settle=2.0)
    together = fly(fleet_of(crafts, step=0.005), block)
    for number, craft in enumerate(crafts):
        alone = fly(fleet_of(craft, step=0.005), block)
        assert np.array_equal(alone.responses[0], together.responses[number], equal_nan=True)


@pytest.mark.parametrize("craft", [pilot, cutter])
def test_more_strips_change_the_trim_little(craft: Any) -> None:
    few, some, many = (fleet_of(craft(), strips=strips) for strips in (4, 8, 16))
    off = [np.abs(np.array(foil_angles(fleet)) - foil_angles(many)).max() for fleet in (few, some)]
    assert np.degrees(off[0]) < 0.1
    assert off[1] < 0.6 * off[0] + 1e-5


SMOOTH = (
    "foils.bow.taper", "foils.bow.sweep", "foils.port.taper", "foils.starboard.sweep", "foils.stern.strut.height",
    "foils.starboard.strut.thickness", "foils.bow.servo.bandwidth", "ballast.lead.mass", "ballast.lead.x", "ballast.lead.y",
    "steering.rudders.port.chord", "steering.rudders.port.length", "steering.rudders.port.turns", "battery.charge",
    "battery.resistance", "battery.voltage",
)  # fmt: skip


def test_responses_are_continuous_in_every_new_factor() -> None:
    base = quiet(changed(pilot(), {"foils.bow.servo.travel": 0.3}))
    moved = [changed(base, {address: value_at(base, address) * (1.0 - 1e-5)}) for address in SMOOTH]
    fleet = fleet_of([base, *moved])
    assert fleet.feasible.all()
    flown = fly(fleet, silent(block_of(jonswap(pi, height=0.03, period=1.1), 6.0, settle=2.0)), precise=True)
    for name in ("ride_height_error", "pitch_rms", "vertical_acceleration", "power_mean", "speed_mean"):
        values = response(flown, name)
        apart = np.abs(values[1:] / values[0] - 1.0)
        assert apart.max() < 2e-4, f"{name}: {SMOOTH[int(apart.argmax())]} moves it by {apart.max():.1e}"


def test_the_craft_s_struts_mean_all_foils_without_their_own() -> None:
    deeper = changed(courier(), {"foils.aft.strut.height": 0.26})
    higher = changed(deeper, {"struts.height": 0.22})
    heights = [higher.strut_of(foil).height for foil in higher.foils.values()]
    assert heights == [0.22, 0.22, 0.26]
    assert higher.strut_of(higher.foils["aft"]).chord == courier().struts.chord
    as_common = changed(courier(), {f"foils.{name}.strut.height": courier().struts.height for name in courier().foils})
    assert np.array_equal(fleet_of(as_common).parameters, fleet_of(courier()).parameters, equal_nan=True)


def test_parts_have_their_mass_and_price() -> None:
    rudder = {"x": -0.3, "length": 0.2, "chord": 0.03, "thickness": 0.004, "density": 2000.0, "price": 7.0}
    description = courier().model_dump() | {"ballast": {"lead": {"mass": 0.5, "x": 0.2}}}
    description["steering"]["rudders"] = {"fin": rudder}
    description["foils"]["aft"]["strut"] = {"price": 11.0}
    craft = Craft.model_validate(description, context={"si": True})
    own = courier().struts.price
    assert total_mass(craft) - total_mass(courier()) == pytest.approx(0.5 + 2000.0 * 0.70 * 0.2 * 0.03 * 0.004)
    assert price(craft) - price(courier()) == pytest.approx(7.0 + 11.0 - own)


def test_the_mass_of_a_tapered_swept_foil_is_that_of_its_slices() -> None:
    """A sum over a thousand slices, with their places: mass, centre and inertia of the craft."""
    given = {"foils.aft.taper": 0.4, "foils.aft.sweep": 0.4, "foils.aft.density": 9000.0}
    whole, without = (
        mass_properties(changed(courier(), given)),
        mass_properties(changed(courier(), {"foils.aft.density": 1e-9})),
    )
    foil, height = changed(courier(), given).foils["aft"], -courier().struts.height
    y = ((np.arange(4000) + 0.5) / 4000 - 0.5) * foil.span_length
    chord = 2.0 * foil.chord / 1.4 * (1.0 - 0.6 * np.abs(y) / (foil.span_length / 2))
    masses = 9000.0 * 0.68 * foil.thickness_ratio * chord**2 * foil.span_length / 4000
    places = np.stack([foil.x - np.abs(y) * tan(0.4), y, np.full(4000, height)], axis=1)
    mass = without.mass + masses.sum()
    centre = (without.mass * without.centre + masses @ places) / mass
    assert whole.mass == pytest.approx(mass, rel=1e-6)
    assert whole.centre == pytest.approx(centre, abs=1e-7)

    def about(point: np.ndarray, at_place: np.ndarray, some: np.ndarray) -> np.ndarray:
        arms = (at_place - point) * [1.0, 1.0, -1.0]
        return np.asarray(
            np.einsum("n,nij->ij", some, (arms**2).sum(1)[:, None, None] * np.eye(3) - arms[:, :, None] * arms[:, None])
        )

    inertia = without.inertia + about(centre, without.centre[None], np.array([without.mass])) + about(centre, places, masses)
    assert whole.inertia == pytest.approx(inertia, abs=1e-6)


def weissinger(aspect: float, taper: float, sweep: float, panels: int = 60, even: bool = False) -> float:
    """Lift slope per rad of a thin wing in an unbounded flow: horseshoes on the quarter chord, flow along the wing at 3/4.

    Weissinger 1947 (NACA TM 1120): one row of vortices, each with its bound part swept and two legs aft.
    """
    turns = np.linspace(pi, 0.0, panels + 1)
    edges = np.cos(turns) * aspect / 2.0  # span = aspect ratio, mean chord = 1
    middles = np.cos((turns[1:] + turns[:-1]) / 2.0) * aspect / 2.0
    if even:
        edges = np.linspace(-0.5, 0.5, panels + 1) * aspect
        middles = (edges[1:] + edges[:-1]) / 2.0
    chord = 2.0 / (1.0 + taper) * (1.0 - (1.0 - taper) * 2.0 * np.abs(middles) / aspect)
    bound, control = np.abs(edges) * tan(sweep), np.abs(middles) * tan(sweep) + chord / 2.0

    def segment(x: float, y: float, x1: float, y1: float, x2: float, y2: float) -> float:
        """Upwash at (x, y) of a vortex of strength 4 pi from 1 to 2, all in one plane."""
        ax, ay, bx, by = x - x1, y - y1, x - x2, y - y2
        turn = ax * by - ay * bx
        if abs(turn) < 1e-12:
            return 0.0
        return (
            (x2 - x1) * (ax / np.hypot(ax, ay) - bx / np.hypot(bx, by))
            + (y2 - y1) * (ay / np.hypot(ax, ay) - by / np.hypot(bx, by))
        ) / turn

    far = 1e4
    wash = np.zeros((panels, panels))
    for i in range(panels):
        for j in range(panels):
            (x1, x2), (y1, y2) = bound[j : j + 2], edges[j : j + 2]
            legs = [(far, y1, x1, y1), (x1, y1, x2, y2), (x2, y2, far, y2)]
            wash[i, j] = sum(segment(control[i], middles[i], *leg) for leg in legs) / (4.0 * pi)
    strength = np.linalg.solve(wash, -np.ones(panels))
    return abs(2.0 * float(strength @ np.diff(edges)) / aspect)


def thin(aspect: float, taper: float, sweep: float) -> float:
    """The model's lift slope of a foil far below the surface, of a section of 2 pi per rad."""
    foil = courier().foils["aft"].model_copy(update={"aspect_ratio": aspect, "taper": taper, "sweep": sweep})
    foil = foil.model_copy(update={"section": foil.section.model_copy(update={"lift_slope": 2.0 * pi})})
    return deep_slope(foil, section_of(courier(), foil))


@pytest.mark.parametrize("taper", [0.3, 0.6, 1.0])
@pytest.mark.parametrize("sweep", [15.0, 30.0])
@pytest.mark.parametrize("aspect", [4.0, 6.0, 10.0])
def test_sweep_lowers_the_lift_slope_as_by_a_vortex_lattice(aspect: float, sweep: float, taper: float) -> None:
    """Within 5 %, and 2 % without taper, by lifting-surface theory, which shares nothing with M4.10 and M4.14.

    The slope itself is 7 to 9 % over the lattice's for a rectangle, straight or swept, and nearer with taper: that is M4.10.
    """
    angle = radians(sweep)
    lost = thin(aspect, taper, angle) / thin(aspect, taper, 0.0)
    assert lost == pytest.approx(
        weissinger(aspect, taper, angle) / weissinger(aspect, taper, 0.0), rel=0.02 if taper == 1.0 else 0.05
    )
    assert 1.0 < thin(aspect, taper, angle) / weissinger(aspect, taper, angle) < 1.09


def test_the_lattice_itself_agrees_with_a_published_swept_wing() -> None:
    """Aspect ratio 5, swept 45 degrees, eight equal panels: 3.443 per rad (Bertin & Smith, ch. 7, from memory)."""
    assert weissinger(5.0, 1.0, radians(45.0), 8, even=True) == pytest.approx(3.443, rel=0.005)


def test_the_lift_slope_is_the_handbook_s() -> None:
    """USAF DATCOM section 4.1.3.2 (from memory), with the sweep of the quarter chord: 2 pi A / (2 + sqrt(A^2 / cos^2 + 4))."""
    for aspect, sweep in ((4.0, 0.2), (7.0, 0.5)):
        handbook = 2.0 * pi * aspect / (2.0 + sqrt(aspect**2 / cos(sweep) ** 2 + 4.0))
        assert thin(aspect, 1.0, sweep) == pytest.approx(handbook, rel=1e-9)


def test_a_fixed_foil_stands_still_and_counts_in_no_mean_of_the_servos() -> None:
    fleet = fleet_of(pilot())
    flown = history(fleet, block_of(jonswap(pi, height=0.04), 6.0, settle=2.0))
    angles = flown["foils"][0]
    assert np.all(angles[:, 3] == 0.0)
    assert np.abs(np.diff(angles[:, :3], axis=0)).max() > 1e-3
    result = fly(fleet, block_of(jonswap(pi, height=0.04), 6.0, settle=2.0))
    assert response(result, "servo_at_limit")[0] < 0.5
    bench = Bench(pilot())
    assert bench.get(at.SERVO_SHARE) == pytest.approx(1.0 / 3.0)


@pytest.mark.parametrize("craft", [pilot, cutter])
def test_a_craft_of_unlike_parts_flies_level_in_calm_water(craft: Any) -> None:
    flown = fly(fleet_of(quiet(craft())), silent(calm(12.0, settle=6.0)))
    assert response(flown, "ride_height_error")[0] < 2e-3
    assert response(flown, "pitch_rms")[0] < radians(0.5)
    assert response(flown, "speed_mean")[0] == pytest.approx(4.0, rel=0.01)


@pytest.mark.parametrize("name", ["port", "fore"])
def test_a_rudder_turns_the_bow_the_way_that_the_code_means(name: str) -> None:
    """Right rudder command, bow to starboard, whether the rudder is ahead of or behind the centre of gravity."""
    description = pilot().model_dump()
    rudders = {name: description["steering"]["rudders"][name]}
    description["steering"] |= {"rudder": None, "second_rudder": None, "rudders": rudders}
    craft = Craft.model_validate(description, context={"si": True})
    bench = Bench(craft)
    side = bench.get(at.RUDDER_SIDE)
    assert side == (1.0 if name == "port" else -1.0)
    keel = mass_properties(craft).centre[2]
    state: dict[str, Any] = {"position": np.array([0.0, 0.0, -0.115 - keel]), "angles": np.zeros(3), "thrust": 0.0}
    state |= {"velocity": np.array([4.0, 0.0, 0.0]), "rates": np.zeros(3)}
    state |= {"lift_lag": np.zeros(sum(bench.fleet.structure.strips)), "downwash": np.zeros((4, 4))}
    turned = [probe.derivative(craft, probe.Surroundings(WATER), state, np.zeros(4), side * angle, 0.0) for angle in (0.0, 0.1)]
    assert turned[1]["struts"][5] - turned[0]["struts"][5] > 0.01


def test_rudders_on_both_sides_of_the_centre_help_each_other() -> None:
    steers = [fleet_of(pilot()).parameters[0, number * at.STRUT.width + at.STRUT.steers] for number in range(6)]
    assert steers == pytest.approx([-1.0, 0.0, 0.0, 1.0, 1.4, -1.0])


def test_the_linear_companion_has_each_servo_and_the_voltage() -> None:
    (craft,) = linearise(fleet_of(quiet(pilot())))
    assert craft is not None
    assert [bandwidth for bandwidth, _ in craft.servos] == [70.0, 50.0, 50.0, 50.0, 50.0]
    assert np.all(craft.code.mix[3] == 0.0)
    poles = np.linalg.eigvals(with_servos(craft).a)
    assert np.isfinite(poles).all()
    voltage = craft.plant.a[-2, -2]
    assert voltage == pytest.approx(-1.0 / 0.12, rel=0.3)
    assert craft.plant.a[-2, -1] < 0.0  # more throttle, less voltage


def test_a_battery_under_load() -> None:
    """12.6 V behind 50 mohm giving 200 W: 17.02 A and 11.75 V, by the quadratic of V = E - R I and P = V I."""
    voltage = loaded_voltage(12.6, 0.05, 200.0)
    current = (12.6 - voltage) / 0.05
    assert (voltage, current) == pytest.approx((11.749, 17.02), rel=1e-3)
    assert voltage * current == pytest.approx(200.0)
    assert loaded_voltage(12.6, 0.05, 1000.0) == 6.3  # more than it can give


@pytest.mark.parametrize("craft", [pilot, cutter])
def test_a_full_battery_at_full_throttle_at_rest_gives_the_thrust_of_the_file(craft: Any) -> None:
    full = changed(craft(), {"battery.charge": 1.0})
    bench = Bench(full)
    for slot, value in ((at.MID, np.zeros(12)), (at.MID.z, 3.0), (at.THRUST_MID, 1.0), (at.SIDE_THRUST_MID, 0.0)):
        bench.put(slot, value)
    for _ in range(60):
        evaluate(bench.flat, bench.counts, WATER.density, FOREVER)
    assert bench.get(at.VOLTAGE_MID) == pytest.approx(1.0, abs=1e-9)
    assert bench.get(at.POWER) == pytest.approx(full_power(full, WATER.density), rel=1e-9)
    assert 0.6 < bench.get(at.SAG.given) / (full.battery.voltage or 1.0) < 1.0


def test_the_largest_speed_falls_with_the_charge_and_the_resistance() -> None:
    crafts = [
        changed(pilot(), {"battery.charge": charge, "battery.resistance": ohm})
        for charge, ohm in ((1, 0.0), (1, 0.06), (0.2, 0.06))
    ]
    found = [reach(craft, WATER, [4.0]) for craft in crafts]
    highs = [each.high for each in found if each is not None]
    assert highs[0] > highs[1] * 0.999 > highs[2] * 1.01
    assert all(each is not None and each.high_by == "thrust" for each in found[1:])


def test_a_craft_without_a_voltage_flies_as_one_that_never_sags() -> None:
    stiff = changed(courier(), {"battery.voltage": 14.8})
    block = block_of(jonswap(pi), 5.0, settle=2.0)
    assert np.array_equal(fly(fleet_of(courier()), block).responses, fly(fleet_of(stiff), block).responses, equal_nan=True)


def test_boats_whose_batteries_sag_are_linearised_together_as_alone() -> None:
    """Each with the lag of its own thrust, which its voltage follows with."""
    crafts = [changed(quiet(pilot()), {"propulsor.lag": lag}) for lag in (0.1, 0.2, 0.3)]
    together = linearise(fleet_of(crafts))
    for craft, found in zip(crafts, together, strict=True):
        (alone,) = linearise(fleet_of(craft))
        assert found is not None
        assert alone is not None
        np.testing.assert_allclose(found.plant.a, alone.plant.a, rtol=1e-6, atol=1e-6)

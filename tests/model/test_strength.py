"""Struts and foils as beams, against handbook cases, Saint-Venant's torsion and what must hold for any craft."""

from __future__ import annotations

from math import pi, radians
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_matrix, lil_matrix
from scipy.sparse.linalg import spsolve

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model import quantities
from sweep.model.flight import fly
from sweep.model.kernels.rigid_body import evaluate
from sweep.model.physics.strength import (
    AREA,
    BENDING,
    ELASTIC_AXIS,
    MATERIALS,
    divergence_share,
    foil_terms,
    root_stress,
    second_moment,
    strut_terms,
    tip_bend,
    torsion_constant,
)
from sweep.model.records import Strain
from sweep.model.slots import fields_of
from sweep.model.stepping.strength import measure_strength
from tests.model.crafts import Bench, block_of, calm, changed, courier, fleet_of, jonswap, mirrored, quiet, response, silent
from tests.model.test_froude import EXACT, LENGTH, blocks, pair
from tests.model.test_symmetry import mirror_sea

GLASS = MATERIALS["glass-epoxy"]
OF_GLASS = {"struts.material": "glass-epoxy"}
NAMES = ("strut_stress", "strut_bend", "strut_twist", "foil_stress", "foil_bend", "foil_twist", "strength_used")


def solid(**changes: Any) -> Craft:
    """The courier with struts and foils of glass, changed."""
    foils = {f"foils.{name}.material": "glass-epoxy" for name in courier().foils}
    return changed(courier(), OF_GLASS | foils | {name.replace("__", "."): value for name, value in changes.items()})


def aft(**changes: Any) -> Any:
    """The aft foil of it, changed."""
    return solid().foils["aft"].model_copy(update=changes)


def naca(x: np.ndarray, ratio: float) -> np.ndarray:
    """Half the thickness over the chord of the four-digit sections (Abbott & von Doenhoff 1959, from memory)."""
    return 5.0 * ratio * (0.2969 * np.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4)


X = (1.0 - np.cos(np.linspace(0.0, pi, 20001))) / 2.0


def test_the_section_is_that_of_the_naca_four_digit_thickness() -> None:
    y = naca(X, 1.0)
    assert np.trapezoid(2.0 * y, X) == pytest.approx(AREA, rel=1e-3)
    assert np.trapezoid(2.0 / 3.0 * y**3, X) == pytest.approx(BENDING, rel=1e-3)
    assert np.trapezoid(X * y**3, X) / np.trapezoid(y**3, X) == pytest.approx(0.25 + ELASTIC_AXIS, abs=1e-3)


def saint_venant(ratio: float, across: int) -> float:
    """Torsion constant of the section of chord 1: twice the integral of Prandtl's stress function, of Laplacian -2 (1903).

    By finite differences on points `across` a thickness, with the arms cut at the edge (Shortley & Weller 1938).
    """
    step = ratio / across
    places = np.arange(1, int(1.0 / step)) * step, np.arange(-across // 2 - 1, across // 2 + 2) * step
    x, y = np.meshgrid(*places, indexing="ij")
    inside = np.abs(y) < naca(x, ratio) - 1e-12
    index = np.cumsum(inside.ravel()).reshape(inside.shape) - 1
    matrix, right = lil_matrix((inside.sum(), inside.sum())), np.full(inside.sum(), -2.0)
    for i, j in zip(*np.nonzero(inside), strict=True):
        here, edge = index[i, j], naca(x[i, j], ratio)
        arms = [min(step, edge - y[i, j]), min(step, edge + y[i, j])]
        for side, arm in zip((1, -1), arms, strict=True):
            weight = 2.0 / (arm * sum(arms))
            matrix[here, here] -= weight
            if inside[i, j + side] and arm == step:
                matrix[here, index[i, j + side]] += weight
        matrix[here, here] -= 2.0 / step**2
        for side in (1, -1):
            if 0 <= i + side < len(x) and inside[i + side, j]:
                matrix[here, index[i + side, j]] += 1.0 / step**2
    return float(2.0 * spsolve(csr_matrix(matrix), right).sum() * step**2)


@pytest.mark.parametrize("ratio", [0.12, 0.2])
def test_the_torsion_constant_is_saint_venant_s(ratio: float) -> None:
    """Roark's formula for thin aerofoils, J = 4 I / (1 + 16 I / (A c^2)), against the stress function itself."""
    assert torsion_constant(1.0, ratio) == pytest.approx(saint_venant(ratio, 24), rel=0.03)


def test_the_torsion_formula_gives_the_ellipse_s() -> None:
    """pi a^3 b^3 / (a^2 + b^2) (Roark) from the ellipse's own I and A."""
    a, b = 0.5, 0.07
    inertia, area, chord = pi * a * b**3 / 4.0, pi * a * b, 2.0 * a
    assert 4.0 * inertia / (1.0 + 16.0 * inertia / (area * chord**2)) == pytest.approx(pi * a**3 * b**3 / (a**2 + b**2))


def test_a_cantilever_under_a_load_is_the_handbook_s() -> None:
    """100 N at the end of 1 m of 200 GPa with I = 1e-8 m4: F L^3 / (3 E I) = 16.67 mm; half way along 5/16 of that (Roark)."""
    assert tip_bend(100.0, 1.0, 1.0, 2000.0) == pytest.approx(0.016667, rel=1e-4)
    assert tip_bend(100.0, 1.0, 0.5, 2000.0) == pytest.approx(5.0 / 16.0 * 0.016667, rel=1e-4)
    assert root_stress(3.0, 0.03, 0.0045) == pytest.approx(3.0 * 0.00225 / (0.03941 * 0.03 * 0.0045**3))


def test_materials_are_what_a_table_could_hold() -> None:
    """Of an isotropic one G = E / (2 (1 + nu)), nu 0.25 to 0.4; steel and aluminium stretch alike for their weight (common)."""
    for name in ("aluminium-6082-t6", "stainless-steel", "printed-pla"):
        assert 0.25 <= MATERIALS[name].stiffness / (2.0 * MATERIALS[name].shear) - 1.0 <= 0.4, name
    steel, light = MATERIALS["stainless-steel"], MATERIALS["aluminium-6082-t6"]
    assert steel.stiffness / steel.density == pytest.approx(light.stiffness / light.density, rel=0.05)
    assert all(1e-4 < each.strength / each.stiffness < 0.05 and each.source for each in MATERIALS.values())


def test_half_a_foil_on_one_strut_is_a_cantilever_under_an_even_load() -> None:
    """w a^2 / 2 at the root and w a^4 / (8 E I) at the tip (Roark), w = 1 N over half the span."""
    foil = aft()
    arm = foil.span_length / 2
    thick = foil.thickness_ratio * foil.chord
    for half in foil_terms(foil):
        assert half.stress == pytest.approx(root_stress(arm / 2, foil.chord, thick), rel=1e-9)
        assert half.bend == pytest.approx(arm**3 / (8.0 * GLASS.stiffness * second_moment(foil.chord, thick)), rel=1e-9)


def test_an_even_load_is_on_the_safe_side_of_an_elliptic_one() -> None:
    """Of an elliptic loading the half's middle is 4 / (3 pi) of the way out (0.424); an even one asks for 18 % more."""
    elliptic = 4.0 / (3.0 * pi) * aft().span_length / 2
    even = foil_terms(aft())[0].stress / root_stress(1.0, aft().chord, 0.12 * aft().chord)
    assert even / elliptic == pytest.approx(1.178, abs=2e-3)


def test_between_two_struts_a_foil_is_a_beam_on_two_supports() -> None:
    """w s^2 / 8 and 5 w s^4 / (384 E I) (Roark); its ends bear nothing where its struts stand at its tips."""
    foil = aft(strut_offsets=(-0.5 * aft().span_length, 0.5 * aft().span_length))
    apart, load = foil.span_length, 2.0 / foil.span_length
    inertia = second_moment(foil.chord, 0.12 * foil.chord)
    for half in foil_terms(foil):
        assert half.stress == pytest.approx(root_stress(load * apart**2 / 8.0, foil.chord, 0.12 * foil.chord))
        assert half.bend == pytest.approx(5.0 * load * apart**4 / (384.0 * GLASS.stiffness * inertia))
        assert half.twist == half.moment == 0.0


def test_an_even_torque_twists_a_foil_as_a_shaft() -> None:
    """T a^2 / (2 G J) at the tip of a bar under an even torque a metre (Roark)."""
    foil, arm = aft(), aft().span_length / 2
    half, shaft = foil_terms(aft())[1], GLASS.shear * torsion_constant(foil.chord, 0.12 * foil.chord)
    assert half.moment == pytest.approx(foil.chord / arm * arm**2 / 2.0 / shaft, rel=1e-9)
    assert half.twist == pytest.approx(ELASTIC_AXIS * half.moment, rel=1e-9)


def test_a_foil_swept_back_turns_its_tip_down_as_it_bends_up() -> None:
    """By the slope of the tip times the sine of the sweep, w a^3 / (6 E I) along its line: washout (common practice)."""
    foil, sweep = aft(sweep=0.5), 0.5
    chord, reach = foil.chord * np.cos(sweep), foil.span_length / 2 / np.cos(sweep)
    slope = reach**2 / (6.0 * GLASS.stiffness * second_moment(chord, 0.12 * chord))
    shaft = GLASS.shear * torsion_constant(chord, 0.12 * chord)
    turned = ELASTIC_AXIS * chord * reach / 2.0 / shaft * np.cos(sweep)
    assert foil_terms(foil)[0].twist == pytest.approx(turned - np.sin(sweep) * slope, rel=1e-9)
    assert foil_terms(foil)[0].twist < 0.0 < foil_terms(aft(sweep=-0.5))[0].twist


def test_a_flap_bears_nothing() -> None:
    """What is ahead of the hinge of a flap of 30 % has 95.8 % of the integral of thickness^3."""
    plain, flapped = foil_terms(aft())[0], foil_terms(aft(flap=0.3))[0]
    cubes = naca(X, 1.0) ** 3
    share = np.trapezoid(np.where(X <= 0.7, cubes, 0.0), X) / np.trapezoid(cubes, X)
    assert share == pytest.approx(0.958, abs=1e-3)
    assert flapped.bend == pytest.approx(plain.bend / share, rel=1e-3)
    assert flapped.stress == pytest.approx(plain.stress / share, rel=1e-3)


def test_a_foil_diverges_where_its_share_is_one() -> None:
    """G J theta'' + q e c^2 a theta = 0 from a root to a free tip: q = (pi / 2)^2 G J / (e c^2 a l^2) (Bisplinghoff et al.).

    Worked out anew: the least eigenvalue of the finite differences.
    """
    foil, slope, count = aft(), 4.5, 400
    length, shaft = foil.span_length / 2, GLASS.shear * torsion_constant(foil.chord, 0.12 * foil.chord)
    step = length / count
    matrix = (2.0 * np.eye(count) - np.eye(count, k=1) - np.eye(count, k=-1)) / step**2
    matrix[-1, -1] = 1.0 / step**2
    least = np.linalg.eigvalsh(matrix)[0]
    pressure = least * shaft / (ELASTIC_AXIS * foil.chord**2 * slope)
    twist = foil_terms(foil)[0].twist * pressure * foil.area / 2.0
    assert divergence_share(twist, slope) == pytest.approx(1.0, rel=5e-3)


def test_what_has_no_material_has_no_strength() -> None:
    flown = fly(fleet_of([courier(), solid(), changed(courier(), OF_GLASS)]), block_of(jonswap(pi / 2), 6.0, settle=2.0))
    struts, foils = response(flown, "strut_stress"), response(flown, "foil_twist")
    assert np.isnan(struts).tolist() == [True, False, False]
    assert np.isnan(foils).tolist() == [True, False, True]
    assert np.isnan(response(flown, "overloads")).tolist() == [True, False, False]
    same = [name for name in quantities.RESPONSE_NAMES if name not in quantities.OF_STRENGTH]
    for name in same:  # told beside the flight, not part of it
        assert len(set(response(flown, name).tolist())) == 1 or np.isnan(response(flown, name)).all(), name


def test_in_calm_water_the_foils_bear_what_they_lift() -> None:
    """The lift of each foil from the bench's lift coefficients; the stress by the formula of an even load."""
    craft = quiet(solid())
    bench = Bench(craft)
    flown = fly(bench.fleet, silent(calm(8.0, settle=4.0)))
    found = []
    for number, foil in enumerate(craft.foils.values()):
        lift = 0.5 * 999.1 * 16.0 * foil.area * abs(bench.get(at.FOIL.lift_mean + bench.foil(number)))
        found.append(root_stress(lift * foil.span_length / 8.0, foil.chord, foil.thickness_ratio * foil.chord))
    assert response(flown, "foil_stress")[0] == pytest.approx(max(found), rel=0.03)
    assert response(flown, "strength_used")[0] == pytest.approx(response(flown, "foil_stress")[0] / GLASS.strength)


def test_the_side_load_on_a_strut_bends_it_by_the_handbook_s_formula() -> None:
    """Loads are read from a step in which the craft slips; stress, bend and twist are worked out here, for level foils."""
    craft = solid()
    bench = Bench(craft)
    bench.put(at.MID.v, 0.3)
    evaluate(bench.flat, bench.counts, 999.1, 0.0)
    measure_strength(bench.flat, bench.counts)
    strut, found = craft.struts, []
    for number in range(3):
        first = number * at.STRUT.width
        force, wet = abs(bench.get(first + at.STRUT.side)), bench.get(first + at.STRUT.wet)
        roll = abs(bench.get(first + at.STRUT.roll))
        arm, inertia = strut.height - wet / 2, 0.03941 * strut.chord * strut.thickness**3
        bend = force * arm**2 * (3 * strut.height - arm) / (6 * GLASS.stiffness * inertia)
        shaft = GLASS.shear * torsion_constant(strut.chord, strut.thickness)
        stress = force * arm * strut.thickness / 2 / inertia
        found.append((stress, bend, ELASTIC_AXIS * strut.chord * force * arm / shaft))
        assert roll < 0.05 * force * arm  # of its foil's halves, which lift almost alike
    assert force > 1.0
    slots = at.STRAIN.strut_stress, at.STRAIN.strut_bend, at.STRAIN.strut_twist
    for slot, wanted in zip(slots, np.transpose(found), strict=True):
        assert bench.get(slot) == pytest.approx(max(wanted), rel=0.05)
    assert strut_terms(courier().struts).strength == 0.0


def test_a_foil_with_dihedral_pushes_its_strut_aside() -> None:
    """One that slips lifts more on one side: that side force bends its strut at the foot, F H^3 / (3 E I)."""
    craft = solid(foils__aft__dihedral=0.5, foils__aft__strips=2)
    bench = Bench(craft)
    bench.put(at.MID.v, 0.2)
    evaluate(bench.flat, bench.counts, 999.1, 0.0)
    measure_strength(bench.flat, bench.counts)
    first = list(craft.foils).index("aft")
    pushed = bench.get(at.FOIL.load.aside + bench.foil(first))
    strut = next(s for s in range(3) if bench.get(s * at.STRUT.width + at.STRUT.foil) == first)
    assert bench.get(strut * at.STRUT.width + at.STRUT.aside) == pytest.approx(pushed)
    assert pushed * bench.get(strut * at.STRUT.width + at.STRUT.side) > 0.0  # both to port, away from where it slips to
    assert abs(pushed) > 0.5


def test_taller_struts_ride_better_and_bend_more() -> None:
    """What a search of strut heights must be told: with the room of 26 cm fewer touches, and more bend at the foot."""
    crafts = [solid(struts__height=height, control__ride_height=0.48 * height) for height in (0.18, 0.26)]
    flights = [fly(fleet_of(craft), block_of(jonswap(pi / 2, height=0.08, period=1.1), 20.0, settle=4.0)) for craft in crafts]
    low, high = ({name: response(flown, name)[0] for name in ("touchdowns", *NAMES)} for flown in flights)
    assert high["touchdowns"] <= low["touchdowns"]
    assert high["strut_bend"] > 1.5 * low["strut_bend"]
    assert high["strut_stress"] > 1.1 * low["strut_stress"]


@pytest.mark.parametrize(("material", "breaks"), [("printed-pla", 1.0), ("carbon-epoxy", 0.0)])
def test_a_flight_is_overloaded_where_a_stress_was_over_the_strength(material: str, breaks: float) -> None:
    thin = {"struts.material": material, "struts.thickness": 0.0025}
    craft = changed(solid(struts__height=0.26, control__ride_height=0.12), thin)
    flown = fly(fleet_of(craft), block_of(jonswap(pi / 2, height=0.1, period=1.1), 15.0, settle=4.0))
    assert response(flown, "overloads")[0] == breaks == float(response(flown, "strength_used")[0] > 1.0)
    far = response(flown, "strut_bend")[0] > 0.02 * 0.26 or response(flown, "strut_twist")[0] > radians(1.0)
    assert response(flown, "bends")[0] >= float(far)


def test_a_limit_on_strength_wants_every_material() -> None:
    assert courier().without_material()[:2] == ["foil port", "foil starboard"]
    assert solid().without_material() == []


CRAFT = st.fixed_dictionaries(
    {
        "foils.port.area": st.floats(40e-4, 65e-4),
        "foils.aft.dihedral": st.floats(-0.3, 0.4),
        "foils.aft.taper": st.floats(0.4, 1.0),
        "foils.aft.sweep": st.floats(-0.4, 0.4),
        "foils.port.y": st.floats(-0.2, -0.12),
        "struts.height": st.floats(0.17, 0.26),
        "struts.thickness": st.floats(0.003, 0.008),
    }
)
OFFSETS = st.sampled_from([(0.0,), (0.02,), (-0.05, 0.06)])
FEW = settings(max_examples=5, deadline=None)


def strains(craft: Craft, block: Any) -> dict[str, float]:
    """The strains of one flight in double precision; none where it has no trim."""
    flown = fly(fleet_of(craft), silent(block), precise=True)
    return {name: response(flown, name)[0] for name in NAMES}


def on_offsets(craft: Craft, offsets: tuple[float, ...]) -> Craft:
    """With other struts under its aft foil."""
    foils = craft.foils | {"aft": craft.foils["aft"].model_copy(update={"strut_offsets": offsets})}
    return craft.model_copy(update={"foils": foils})


@FEW
@given(values=CRAFT, offsets=OFFSETS, heading=st.floats(0.0, 2.0 * pi))
def test_the_mirror_image_strains_alike(values: dict[str, float], offsets: tuple[float, ...], heading: float) -> None:
    craft = quiet(changed(solid(), values))
    sea = jonswap(heading, height=0.04, period=1.2)
    first = strains(on_offsets(craft, offsets), block_of(sea, 2.0, settle=0.5))
    other = on_offsets(mirrored(craft), tuple(-offset for offset in offsets))
    assert strains(other, block_of(mirror_sea(sea), 2.0, settle=0.5)) == pytest.approx(first, rel=1e-6, nan_ok=True)


@FEW
@given(values=CRAFT, heading=st.floats(0.0, 2.0 * pi))
def test_four_times_as_long_strains_as_the_lengths_say(values: dict[str, float], heading: float) -> None:
    """Of the same material: stress and strain grow with the length, a bend with its square, a twist with the length."""
    small, large = pair(changed(solid(), EXACT | values))
    first, second = blocks(jonswap(heading, height=0.05, period=1.1), 2.0, settle=0.5)
    flights = fly(small, first, precise=True), fly(large, second, precise=True)
    for name in NAMES:
        scale = LENGTH**2 if name.endswith("bend") else LENGTH
        found = [response(flown, name)[0] for flown in flights]
        assert found[1] == pytest.approx(scale * found[0], rel=1e-6, nan_ok=True), name


@FEW
@given(values=CRAFT)
def test_a_lane_strains_by_itself(values: dict[str, float]) -> None:
    """Beside crafts of other materials and of none, to the bit."""
    others = [courier(), solid(), solid(struts__material="printed-pla"), changed(courier(), OF_GLASS)]
    straight = {name: value for name, value in values.items() if not name.startswith("foils.aft")}
    craft, block = changed(solid(), straight), block_of(jonswap(1.0, height=0.06), 3.0, settle=1.0)
    alone, together = fly(fleet_of(craft), block), fly(fleet_of([others[0], craft, *others[1:]]), block)
    assert np.array_equal(alone.responses[0], together.responses[1], equal_nan=True)


def test_strains_converge_with_the_step() -> None:
    """The largest of a flight, with half the step and a quarter of it."""
    found = []
    for step in (0.008, 0.004, 0.002):
        flown = fly(fleet_of(quiet(solid()), step=step), silent(block_of(jonswap(2.0, height=0.05), 6.0, settle=2.0)))
        found.append(np.array([response(flown, name)[0] for name in NAMES]))
    apart = [np.abs(one / found[-1] - 1.0).max() for one in found[:-1]]
    assert apart[1] < 0.6 * apart[0] < 0.03


def test_strains_have_a_place_each() -> None:
    """The sums of a flight stand in the order of the record."""
    kept = quantities.Sums._fields
    first = kept.index("strut_stress_most")
    places = [name.removesuffix("_most") for name in kept[first : first + at.STRAIN.width]]
    assert places == ["strength_used" if name == "used" else name for name in fields_of(Strain)]

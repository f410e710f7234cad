"""Mass, centre of gravity and inertia against sums by hand, and how they follow the factors of a campaign."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.pack.mass import mass_properties, price
from tests.model.crafts import RIDE, WATER, Bench, changed, courier, rotation, with_foils
from tests.second.parts import mass_properties as second_mass


def test_mass_and_centre_of_the_courier_by_hand() -> None:
    """Foil: 50 cm^2 at aspect ratio 6, 12 % thick: 173.2 mm x 28.87 mm, 0.68 x 3.464 mm x 28.87 mm of section, 14.72 g.

    Strut: 20 cm x 3 cm x 4.5 mm, 0.70 of it: 28.35 g. Body 3.06 kg, rangefinder 10 g at x = 35 cm on the keel.
    """
    foil, strut, body, finder = 0.014722, 0.02835, 3.06, 0.010
    mass = body + 3 * (foil + strut) + finder
    x = ((foil + strut) * (2 * 0.22 - 0.40) + finder * 0.35) / mass
    height = (body * 0.065 - 3 * foil * 0.20 - 3 * strut * 0.10) / mass
    found = mass_properties(courier())
    assert found.mass == pytest.approx(mass, abs=2e-6)
    assert found.centre == pytest.approx([x, 0.0, height], abs=1e-6)


def test_inertia_of_the_courier_by_hand() -> None:
    """Points and thin rods, Steiner's theorem, axis by axis."""
    foil, strut, body, finder = 0.0147224, 0.02835, 3.06, 0.010
    x0, _, h0 = mass_properties(courier()).centre
    rod, leg = foil * 0.1732051**2 / 12, strut * 0.20**2 / 12
    roll = body * (0.12**2 + (0.065 - h0) ** 2) + finder * h0**2
    pitch = body * (0.25**2 + x0**2 + (0.065 - h0) ** 2) + finder * ((0.35 - x0) ** 2 + h0**2)
    yaw = body * (0.27**2 + x0**2) + finder * (0.35 - x0) ** 2
    for x, y in ((0.22, -0.17), (0.22, 0.17), (-0.40, 0.0)):
        roll += foil * (y**2 + (h0 + 0.20) ** 2) + rod + strut * (y**2 + (h0 + 0.10) ** 2) + leg
        pitch += foil * ((x - x0) ** 2 + (h0 + 0.20) ** 2) + strut * ((x - x0) ** 2 + (h0 + 0.10) ** 2) + leg
        yaw += foil * ((x - x0) ** 2 + y**2) + rod + strut * ((x - x0) ** 2 + y**2)
    assert np.diag(mass_properties(courier()).inertia) == pytest.approx([roll, pitch, yaw], rel=1e-6)


def test_a_craft_that_is_the_same_port_and_starboard_has_no_product_across() -> None:
    inertia = mass_properties(courier()).inertia
    assert np.abs(inertia[[0, 1], [1, 2]]).max() < 1e-17
    assert inertia[0, 2] != 0.0  # fore and aft it is not the same
    assert np.array_equal(inertia, inertia.T)
    assert np.linalg.eigvalsh(inertia).min() > 0.0


def test_a_foil_out_of_the_middle_gives_products() -> None:
    """A heavy foil ahead, to starboard and low: the sums of xy, xz and yz (x ahead, y starboard, z down) are positive.

    So the products are negative, as the matrix of inertia has them.
    """
    lopsided = changed(courier(), {"foils.starboard.density": 80_000.0, "foils.starboard.x": 0.4})
    inertia = mass_properties(lopsided).inertia
    assert inertia[0, 1] < 0.0
    assert inertia[0, 2] < 0.0
    assert inertia[1, 2] < 0.0


@given(
    mass=st.floats(1.0, 5.0),
    x=st.floats(-0.1, 0.1),
    height=st.floats(0.02, 0.1),
    density=st.floats(1e3, 8e3),
    strut=st.floats(0.1, 0.4),
)
def test_moving_the_body_moves_the_centre_by_its_share(
    mass: float, x: float, height: float, density: float, strut: float
) -> None:
    values = {"body.mass": mass, "body.height": height, "foils.aft.density": density, "struts.height": strut}
    first, second = (mass_properties(changed(courier(), values | {"body.x": place})) for place in (0.0, x))
    assert second.mass == first.mass
    assert second.centre - first.centre == pytest.approx([mass / first.mass * x, 0.0, 0.0], abs=1e-15)


def total(craft: Craft) -> float:
    return mass_properties(craft).mass


def test_nothing_is_free() -> None:
    """A bigger foil of the same shape grows with the 3/2 power of its area, a taller strut with its height; a sensor weighs."""
    base, bare = courier(), total(courier())
    foil = 1250.0 * 0.68 * 0.12 * (50e-4 / 6**0.5 / 50e-4**0.5) ** 2 * (50e-4 * 6) ** 0.5
    bigger = changed(base, {"foils.aft.area": 4 * 50e-4})
    assert total(bigger) - bare == pytest.approx(7 * foil)
    assert bigger.foils["aft"].span_length == pytest.approx(2 * base.foils["aft"].span_length)
    taller = changed(base, {"struts.height": 0.30})
    assert total(taller) - bare == pytest.approx(3 * 1500.0 * 0.70 * 0.03 * 0.0045 * 0.10)
    assert mass_properties(taller).centre[2] < mass_properties(base).centre[2]
    assert mass_properties(taller).inertia[0, 0] > mass_properties(base).inertia[0, 0]
    more = changed(base, {"rangefinders.count": 3, "rangefinders.mass": 0.05, "rangefinders.price": 20.0, "struts.price": 7.0})
    assert total(more) - bare == pytest.approx(3 * 0.05 - 0.01)
    assert mass_properties(more).centre[0] > mass_properties(base).centre[0]
    assert price(more) == price(base) + 3 * 20.0 + 3 * 7.0 == 420.0 + 60.0 + 21.0


def test_the_rigid_body_s_momentum_is_that_of_its_parts() -> None:
    """Turn the craft about its centre: the sum over parts of r x m (omega x r) is the inertia times omega (points only)."""
    craft = changed(courier(), {"foils.port.x": 0.3, "rangefinders.count": 2, "rangefinders.layout": "over-foils"})
    properties = mass_properties(craft)
    omega = np.array([0.3, -0.7, 1.1])
    momentum = np.zeros(3)
    for mass, place, own in parts(craft):
        arm = np.array([place[0], place[1], -place[2]]) - properties.centre * [1.0, 1.0, -1.0]
        momentum += np.cross(arm, mass * np.cross(omega, arm)) + own * omega
    assert properties.inertia @ omega == pytest.approx(momentum, rel=1e-12)


def parts(craft: Craft) -> list[tuple[float, list[float], np.ndarray]]:
    """Mass, place in build axes and own inertia of every part of a craft whose first two rangefinders are over its foils."""
    body, struts = craft.body, craft.struts
    radii = np.array([body.roll_radius, body.pitch_radius, body.yaw_radius])
    found: list[tuple[float, list[float], np.ndarray]] = [(body.mass, [body.x, 0.0, body.height], body.mass * radii**2)]
    for foil in craft.foils.values():
        m = foil.density * 0.68 * foil.thickness_ratio * foil.chord**2 * foil.span_length
        found.append((m, [foil.x, foil.y, -struts.height], m * foil.span_length**2 / 12 * np.array([1.0, 0.0, 1.0])))
        m = struts.density * 0.70 * struts.chord * struts.thickness * struts.height
        found.append((m, [foil.x, foil.y, -struts.height / 2], m * struts.height**2 / 12 * np.array([1.0, 1.0, 0.0])))
    over = list(craft.foils.values())[: craft.rangefinders.count]
    return found + [(craft.rangefinders.mass, [foil.x, foil.y, craft.rangefinders.height], np.zeros(3)) for foil in over]


def test_what_the_kernel_inverts_is_the_rigid_and_the_added_mass() -> None:
    """A single flat foil pair: heave and surge have the added mass of the plates, surge none (plate factor at AR 6: 0.9135)."""
    craft = with_foils(courier(), {"fore": {"x": 0.3}, "aft": {"x": -0.3}})
    bench, mass = Bench(craft), total(craft)
    matrix = np.linalg.inv(bench.get(at.INVERSE.first, 6 * at.INVERSE.width).reshape(6, 6))
    chord, span = 0.0288675, 0.1732051
    plates = 2 * 0.9135 * WATER.density * pi / 4 * chord**2 * span
    struts = 2 * WATER.density * pi / 4 * 0.03**2 * (0.20 - RIDE)
    assert matrix == pytest.approx(matrix.T, abs=1e-9)
    assert np.diag(matrix)[:3] == pytest.approx([mass, mass + struts, mass + plates], rel=1e-5)
    assert matrix[0, 1:] == pytest.approx(np.zeros(5), abs=1e-9)


def test_added_mass_turns_with_the_dihedral() -> None:
    """Plates at 90 degrees to each other share their added mass between heave and sway as cos^2 and sin^2."""
    craft = with_foils(courier(), {"fore": {"x": 0.3, "dihedral": 0.5}, "aft": {"x": -0.3, "dihedral": 0.5}})
    matrix = np.linalg.inv(Bench(craft).get(at.INVERSE.first, 6 * at.INVERSE.width).reshape(6, 6))
    plates = 2 * 0.9135 * WATER.density * pi / 4 * 0.0288675**2 * 0.1732051
    struts = 2 * WATER.density * pi / 4 * 0.03**2 * (0.20 - RIDE)
    sway, heave = np.diag(matrix)[1:3] - total(craft)
    assert heave == pytest.approx(plates * np.cos(0.5) ** 2, rel=1e-4)
    assert sway - struts == pytest.approx(plates * np.sin(0.5) ** 2, rel=1e-4)


def test_body_axes_do_not_depend_on_where_the_datum_is() -> None:
    """Everything a decimetre further forward: the same craft about its own centre."""
    base = changed(courier(), {"inertial.x": 0.02})
    moved = {f"{part}.x": value + 0.1 for part, value in (
        ("body", 0.0), ("hulls.main", 0.0), ("foils.port", 0.22), ("foils.starboard", 0.22), ("foils.aft", -0.40),
        ("rangefinders", 0.35), ("inertial", 0.02), ("propulsor", -0.40), ("windage", 0.0),
    )}  # fmt: skip
    first, second = Bench(base), Bench(changed(base, moved))
    one, other = first.fleet.parameters[0], second.fleet.parameters[0]
    assert other[at.CENTRE.x] - one[at.CENTRE.x] == pytest.approx(0.1)
    limited = np.isfinite(one)
    limited[at.CENTRE.x] = False
    assert np.abs(one[limited] - other[limited]).max() < 1e-9
    assert np.array_equal(np.isfinite(one), np.isfinite(other))


def test_textbook_rotation_is_one() -> None:
    turned = rotation(0.2, -0.4, 1.0)
    assert turned @ turned.T == pytest.approx(np.eye(3), abs=1e-15)
    assert rotation(0.0, 0.1, 0.0) @ [1.0, 0.0, 0.0] == pytest.approx([np.cos(0.1), 0.0, -np.sin(0.1)])  # bow up is up


def test_prices_follow_area_length_and_number():
    base = courier()
    areas, lengths = (
        sum(foil.area for foil in base.foils.values()),
        sum(len(foil.strut_offsets) for foil in base.foils.values()),
    )
    dear = {f"foils.{name}.price_per_area": 4000.0 for name in base.foils} | {"struts.price_per_length": 50.0}
    found = price(changed(base, dear)) - price(base)
    assert found == pytest.approx(4000.0 * areas + 50.0 * lengths * base.struts.height)
    moved = sum(foil.moves for foil in base.foils.values())
    assert price(changed(base, {"servos.price": 9.0})) - price(base) == pytest.approx(9.0 * moved)
    assert price(changed(base, {"steering.servo.price": 5.0, "battery.price": 70.0})) - price(base) == pytest.approx(75.0)


def test_servos_weigh_over_their_foils():
    base = courier()
    heavy = changed(base, {"servos.mass": 0.05, "steering.servo.mass": 0.02})
    before, after = mass_properties(base), mass_properties(heavy)
    moved = [foil for foil in base.foils.values() if foil.moves]
    assert after.mass - before.mass == pytest.approx(0.05 * len(moved) + 0.02)
    moment = before.mass * before.centre[0] + 0.05 * sum(foil.x for foil in moved) + 0.02 * base.body.x
    assert after.centre[0] == pytest.approx(moment / after.mass)


def test_servos_weigh_alike_in_the_second_model() -> None:
    heavy = changed(courier(), {"servos.mass": 0.05, "foils.aft.servo.mass": 0.08, "steering.servo.mass": 0.02})
    found, wanted = mass_properties(heavy), second_mass(heavy)
    assert found.mass == pytest.approx(wanted.mass, rel=1e-12)
    np.testing.assert_allclose(found.centre, wanted.centre, atol=1e-12)
    np.testing.assert_allclose(found.inertia, wanted.inertia, atol=1e-12)

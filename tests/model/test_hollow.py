"""Hollow struts and foils: against thin-walled theory, the stress function itself, and the solid ones that they become."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from pydantic import ValidationError
from scipy.sparse import csr_matrix, lil_matrix
from scipy.sparse.linalg import spsolve

from sweep.campaign.craft import Craft
from sweep.campaign.text.explain import reason
from sweep.model.flight import fly
from sweep.model.pack.mass import total_mass
from sweep.model.physics.hollow import shares_of
from sweep.model.physics.strength import (
    AREA,
    BENDING,
    ELASTIC_AXIS,
    MATERIALS,
    foil_terms,
    second_moment,
    strut_terms,
    torsion_constant,
)
from sweep.preflight.strength import strained_parts
from tests.model.crafts import WATER, block_of, changed, courier, fleet_of, jonswap, response
from tests.model.test_strength import OF_GLASS, aft, naca, solid

GLASS = MATERIALS["glass-epoxy"]


def constants(ratio: float, wall: float) -> tuple[float, float]:
    """I and J of a section of chord 1 with a wall, from the terms of a strut."""
    terms = strut_terms(
        courier().struts.model_copy(update={"material": "glass-epoxy", "chord": 1.0, "thickness": ratio, "wall": wall})
    )
    return 1.0 / (terms.bend * GLASS.stiffness), ELASTIC_AXIS / (terms.twist * GLASS.shear)


def outline(ratio: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """x, y and length of every piece of the outline, chord 1."""
    x = (1.0 - np.cos(np.linspace(0.0, pi, 4001))) / 2.0
    y = naca(x, ratio)
    across, up = np.concatenate([x, x[::-1]]), np.concatenate([y, -y[::-1]])
    return (across[1:] + across[:-1]) / 2, (up[1:] + up[:-1]) / 2, np.hypot(np.diff(across), np.diff(up))


@pytest.mark.parametrize("ratio", [0.09, 0.15, 0.2])
def test_a_thin_wall_is_bredt_s_tube(ratio: float) -> None:
    """J = 4 A^2 w / perimeter (Bredt 1896; Roark's thin tubes) and I = the integral of w y^2 ds along the outline."""
    wall = 0.002 * ratio
    _, up, length = outline(ratio)
    inertia, torsion = constants(ratio, wall)
    reduction = 1.0 + 16.0 * inertia / (shares_of(np.array([wall / ratio])).area[0] * AREA * ratio)
    area = AREA * ratio - 0.5 * wall * length.sum()
    assert torsion * reduction == pytest.approx(4.0 * area**2 * wall / length.sum(), rel=0.07)
    assert inertia == pytest.approx(wall * (up**2 * length).sum(), rel=0.03)


def stress_function(ratio: float, wall: float, across: int) -> float:
    """Torsion constant of a section of chord 1 with a wall: twice the integral of Prandtl's function over wall and void.

    By finite differences. In the void, which bears nothing, the function is one number: there it is made hard to bend.
    """
    step = ratio / across
    places = np.arange(1, int(1.0 / step)) * step, np.arange(-across // 2 - 1, across // 2 + 2) * step
    x, y = np.meshgrid(*places, indexing="ij")
    edge = naca(x, ratio)
    inside = np.abs(y) < edge - 1e-12
    yields = np.where(np.abs(y) < edge - wall, 1e6, 1.0)  # one over the shear modulus
    index = np.cumsum(inside.ravel()).reshape(inside.shape) - 1
    matrix, right = lil_matrix((inside.sum(), inside.sum())), np.full(inside.sum(), -2.0)
    for i, j in zip(*np.nonzero(inside), strict=True):
        here = index[i, j]
        arms = {(0, 1): min(step, edge[i, j] - y[i, j]), (0, -1): min(step, edge[i, j] + y[i, j])}
        for (di, dj), arm in (arms | {(1, 0): step, (-1, 0): step}).items():
            span = step if di else 0.5 * sum(arms.values())
            there = 0 <= i + di < len(x) and inside[i + di, j + dj] and arm == step
            soft = 2.0 / (1.0 / yields[i, j] + 1.0 / yields[i + di, j + dj]) if there else yields[i, j]
            weight = soft / (arm * span)
            matrix[here, here] -= weight
            if there:
                matrix[here, index[i + di, j + dj]] += weight
    return float(2.0 * spsolve(csr_matrix(matrix), right).sum() * step**2)


@pytest.mark.parametrize("share", [0.2, 0.35])
def test_the_torsion_constant_of_a_thick_wall_is_that_of_the_stress_function(share: float) -> None:
    """Within a tenth: Bredt's tube takes the wall's middle line for the whole of a wall that is not thin."""
    ratio = 0.15
    found = constants(ratio, share * ratio)[1]
    assert found == pytest.approx(stress_function(ratio, share * ratio, 40), rel=0.1)


@pytest.mark.parametrize("flap", [None, 0.3])
def test_a_wall_of_half_the_thickness_is_solid_and_a_thinner_one_weaker_throughout(flap: float | None) -> None:
    walls = np.array([0.02, 0.1, 0.25, 0.4, 0.49, 0.5])
    shares = shares_of(walls, flap)
    for each in shares:
        assert np.all(np.diff(each) > 0.0)
    assert shares.area[-1] == pytest.approx(1.0, abs=1e-5)
    assert shares.bending[-1] == pytest.approx(shares.torsion[-1], abs=1e-5)
    half = 0.5 * courier().struts.thickness
    whole, hollow = (strut_terms(solid().struts.model_copy(update={"wall": wall})) for wall in (None, half))
    assert hollow == pytest.approx(whole, rel=1e-5)
    foils = [foil_terms(aft(wall=wall, flap=flap)) for wall in (None, 0.5 * aft().thickness_ratio * aft().chord)]
    for one, other in zip(*foils, strict=True):
        assert other == pytest.approx(one, rel=1e-5)


def test_numbers_by_hand() -> None:
    """Of a wall of a fifth of the thickness: area, I and J over the solid's, by sums over a thousand slices of the chord."""
    x = (np.arange(200000) + 0.5) / 200000
    h, v = naca(x, 1.0), 0.2
    void = h > v
    found = shares_of(np.array([v]))
    assert found.area[0] == pytest.approx(1.0 - (h - v)[void].sum() / h.sum(), abs=1e-4)
    assert found.bending[0] == pytest.approx(1.0 - ((h - v)[void] ** 3).sum() / (h**3).sum(), abs=1e-4)
    length, middle = void.mean(), 2.0 * (h - v / 2)[void].sum() / len(x)
    tube = 4.0 * middle**2 * v / (2.0 * length) + 2.0 * length * v**3 / 3.0
    rest = 8.0 / 3.0 * (h[~void] ** 3).sum() / len(x)
    assert found.torsion[0] == pytest.approx((tube + rest) / (4.0 * BENDING), rel=1e-3)


def test_a_hollow_strut_weighs_less_and_bends_more() -> None:
    """Of 20 cm by 3 cm by 4.5 mm with a wall of 1 mm: its metal weighs and bends as its sections say; the flight is another."""
    whole = changed(courier(), OF_GLASS)
    hollow = changed(whole, {"struts.wall": 0.001})
    share = shares_of(np.array([1.0 / 4.5]))
    metal = 3 * courier().struts.density * 0.70 * 0.2 * 0.03 * 0.0045
    assert total_mass(whole) - total_mass(hollow) == pytest.approx(metal * (1.0 - share.area[0]))
    terms = strut_terms(hollow.struts)
    assert terms.bend == pytest.approx(1.0 / (GLASS.stiffness * second_moment(0.03, 0.0045) * share.bending[0]))
    assert terms.twist > ELASTIC_AXIS * 0.03 / (GLASS.shear * torsion_constant(0.03, 0.0045))
    flown = fly(fleet_of([whole, hollow]), block_of(jonswap(2.0, height=0.05), 8.0, settle=2.0))
    bends = response(flown, "strut_bend")
    assert 1.0 < bends[1] / bends[0] < 1.5 / share.bending[0]


def test_what_is_told_before_a_flight_knows_the_wall() -> None:
    walls = (None, 0.0012, 0.0006)
    parts = [
        list(strained_parts(changed(solid(), {"struts.wall": wall, "foils.aft.wall": wall}), WATER, 4.0)) for wall in walls
    ]
    for name in ("the strut of foil aft", "foil aft"):
        used = [next(part.stress for part in each if part.name == name) for each in parts]
        assert used[0] < used[1] < used[2], name


@pytest.mark.parametrize(
    ("values", "where"),
    [
        ({"struts": {"wall": 0.003}}, "struts.wall"),
        ({"foils": {"aft": {"wall": 0.004}}}, "foils.aft.wall"),
        ({"foils": {"aft": {"strut": {"wall": 0.003}}}}, "foils.aft.strut.wall"),
    ],
)
def test_a_wall_that_does_not_fit_is_told(values: dict[str, dict[str, object]], where: str) -> None:
    description = courier().model_dump()
    for key, value in values.items():
        for name, each in value.items():
            if isinstance(each, dict):
                description[key][name] |= each
            else:
                description[key][name] = each
    with pytest.raises(ValidationError) as error:
        Craft.model_validate(description, context={"si": True})
    assert reason(error.value)[0] == where

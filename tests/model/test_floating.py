"""Afloat, touching down and coasting to rest: Archimedes by hand, and no energy out of nothing."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq, fsolve

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model import probe
from sweep.model.flight import fly
from sweep.model.pack.mass import mass_properties
from tests.model.crafts import (
    GRAVITY,
    RIDE,
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
    rotation,
    state_of,
    with_foils,
)

CATAMARAN = {
    "port": {"length": 0.9, "beam": 0.08, "deadrise": 0.4, "depth": 0.12, "y": -0.2},
    "starboard": {"length": 0.9, "beam": 0.08, "deadrise": 0.4, "depth": 0.12, "y": 0.2},
}


def catamaran() -> Craft:
    description = with_foils(courier(), {"fore": {"x": 0.25, "area": 75e-4}, "aft": {"x": -0.30, "area": 75e-4}}).model_dump()
    return Craft.model_validate(description | {"hulls": CATAMARAN}, context={"si": True})


CRAFTS = {"courier": courier, "loaded": lambda: changed(courier(), {"body.mass": 5.0, "body.x": 0.03}), "catamaran": catamaran}


def slices(craft: Craft) -> list[tuple[float, float, float, float, float]]:
    """Every slice of the hulls: x and y of its keel (build axes), length, beam, tangent of the deadrise; m."""
    return [
        (
            hull.x + hull.length * ((i + 0.5) / hull.stations - 0.5),
            hull.y,
            hull.length / hull.stations,
            hull.beam,
            np.tan(hull.deadrise),
        )
        for hull in craft.hulls.values()
        for i in range(hull.stations)
    ]


def section(depth: float, beam: float, slope: float) -> tuple[float, float]:
    """Immersed area (m2) of a vee section, and the integral of that area over the depth (m3)."""
    chine = 0.5 * beam * slope
    d = max(depth, 0.0)
    if d <= chine:
        return d**2 / slope, d**3 / (3.0 * slope)
    over = d - chine
    return chine**2 / slope + beam * over, chine**3 / (3.0 * slope) + chine**2 / slope * over + 0.5 * beam * over**2


def equilibrium(craft: Craft) -> tuple[float, float]:
    """Depth of the keel under the centre of gravity (m) and pitch (rad) at which weight and moment balance, by hand."""
    properties = mass_properties(craft)

    def unbalanced(unknowns: np.ndarray) -> list[float]:
        draft, pitch = unknowns
        lift = moment = 0.0
        for x, _, length, beam, slope in slices(craft):
            area, _ = section(draft - np.sin(pitch) * (x - properties.centre[0]), beam, slope)
            lift += WATER.density * area * length
            moment += WATER.density * area * length * (x - properties.centre[0])
        return [lift - properties.mass, moment]

    draft, pitch = fsolve(unbalanced, [0.03, 0.0])
    return float(draft), float(pitch)


def drift(craft: Craft, length: float, dt: float = 0.005, angles: np.ndarray | None = None, **state: Any) -> np.ndarray:
    """Twelve states over time, foils held (at nothing unless given), throttle shut, on calm water."""
    foils = np.zeros(len(craft.foils) + 1) if angles is None else angles
    return probe.open_loop(craft, probe.Surroundings(WATER), state_of(craft, **state), lambda time: foils, length, dt)


def hull_up(craft: Craft, row: np.ndarray) -> float:
    """Upward force (N) of the hulls in one state."""
    state = state_of(craft, row[:3], row[3:6], row[6:9], row[9:12])
    force = probe.derivative(craft, probe.Surroundings(WATER), state, np.zeros(len(craft.foils)), 0.0, 0.0)["hulls"][:3]
    return float(-(rotation(*row[3:6]) @ force)[2])


@pytest.mark.parametrize("name", CRAFTS)
def test_dropped_on_calm_water_it_comes_to_rest_at_its_displacement(name: str) -> None:
    craft = CRAFTS[name]()
    properties = mass_properties(craft)
    draft, pitch = equilibrium(craft)
    rest = drift(craft, 15.0, position=(0.0, 0.0, draft - properties.centre[2] - 0.04), angles=(0.1, 0.05, 0.0))[-1]
    assert np.abs(rest[8:12]).max() < 0.01
    assert np.abs(rest[6:8]).max() < 0.08  # it may still drift: at a walking pace hardly anything brakes it
    assert hull_up(craft, rest) == pytest.approx(properties.mass * GRAVITY, rel=0.01)
    keel = rest[2] + (rotation(*rest[3:6]) @ [0.0, 0.0, properties.centre[2]])[2]
    assert keel == pytest.approx(draft, rel=0.01)
    assert rest[4] == pytest.approx(pitch, abs=2e-3)
    assert abs(rest[3]) < 5e-3


def test_draft_of_the_courier_by_hand() -> None:
    """Level: 3.199 kg / (999.1 kg/m3 x 0.9 m) = 35.6 cm2 of section; 16.0 to the chine at 2.0 cm, the rest 16 cm broad."""
    draft = brentq(
        lambda d: 999.1026 * 0.9 * section(d, 0.16, np.tan(np.radians(14.0)))[0] - mass_properties(courier()).mass, 0.0, 0.1
    )
    assert draft == pytest.approx(0.01995 + (35.58 - 15.96) * 1e-4 / 0.16, abs=1e-4)
    assert equilibrium(courier())[0] == pytest.approx(draft, abs=5e-4)


def test_a_flight_from_rest_starts_afloat() -> None:
    """Lying still until it is let go: the keel at its draft, the hull with all the weight."""
    record = history(fleet_of(quiet(courier())), calm(3.0, settle=3.0)._replace(from_rest=True))
    assert record["keel_height"][0] == pytest.approx(-equilibrium(courier())[0], abs=2e-3)
    assert record["hull_load"][0].mean() == pytest.approx(1.0, abs=0.01)
    assert np.abs(record["speed"]).max() < 0.02
    assert np.abs(record["throttle"]).max() == 0.0


def test_heeled_it_rights_itself_with_its_metacentric_height() -> None:
    """GM = KB + BM - KG by the textbook: BM is the waterplane's second moment over the volume."""
    craft = courier()
    properties = mass_properties(craft)
    draft, _ = equilibrium(craft)
    area, lifted = section(draft, 0.16, np.tan(np.radians(14.0)))
    metacentric = draft - lifted / area + 0.16**3 / 12.0 / area - properties.centre[2]
    heel = 0.02
    state = state_of(craft, (0.0, 0.0, draft - properties.centre[2]), (heel, 0.0, 0.0))
    moment = probe.derivative(craft, probe.Surroundings(WATER), state, np.zeros(3), 0.0, 0.0)["hulls"][3]
    assert moment == pytest.approx(-properties.mass * GRAVITY * metacentric * heel, rel=0.03)


# Touch-down


@pytest.mark.parametrize(("area", "pitch"), [(50e-4, 0.0), (50e-4, 0.07), (0.5e-4, 0.0), (0.5e-4, -0.05)])
def test_it_lands_and_does_not_dive(area: float, pitch: float) -> None:
    """At 4 m/s the foils (or next to none of them) let go: it falls on the water, slows down and floats; the deck stays dry."""
    craft = changed(courier(), {f"foils.{name}.area": area for name in ("port", "starboard", "aft")})
    keel = mass_properties(craft).centre[2]
    no_lift = np.append(np.full(3, -0.035), 0.0)
    flight = drift(craft, 15.0, angles=no_lift, position=(0.0, 0.0, -RIDE - keel), velocity=(4.0, 0.0, 4.0 * pitch))
    bow = flight[:, 2] + np.array([(rotation(*row[3:6]) @ [0.45, 0.0, keel])[2] for row in flight])
    depth = flight[:, 2] + keel
    landed = int(np.argmax(depth > 0.0))
    assert depth[landed] > 0.0
    assert max(depth.max(), bow.max()) < craft.hulls["main"].depth
    assert np.abs(flight[:, 3]).max() < 1e-6
    assert np.all(np.diff(flight[landed:, 6]) < 1e-3)  # never faster again
    assert flight[-1, 6] < 0.3
    assert depth[-1] == pytest.approx(equilibrium(craft)[0], abs=4e-3)


def test_in_flight_it_touches_crests_and_bounces_off() -> None:
    """Set low over a steep sea it wets the hull several times and every time comes clear again without losing its flight."""
    low = quiet(changed(courier(), {"control.ride_height": 0.05}))
    fleet = fleet_of(low)
    block = block_of(jonswap(np.pi, height=0.10, period=1.3, seed=4), 12.0, settle=2.0)
    record = history(fleet, block)
    wet = record["clearance"][0] < 0.0
    assert np.sum(np.diff(wet.astype(int)) == 1) >= 3
    ends = np.flatnonzero(np.diff(wet.astype(int)) == -1)
    assert all(record["clearance"][0, end : end + 30].max() > 0.01 for end in ends)
    assert record["hull_load"][0].max() > 0.02
    assert np.isfinite(record["time"]).all()
    assert response(fly(fleet, block), "lost_flights")[0] == 0.0
    assert record["speed"][0].min() > 3.8


def energy(craft: Craft, row: np.ndarray, mass_matrix: np.ndarray) -> float:
    """Kinetic energy with that of the moved water, height of the weight, and water lifted by the hulls; J."""
    properties = mass_properties(craft)
    turned = rotation(*row[3:6])
    total = 0.5 * row[6:12] @ mass_matrix @ row[6:12] - properties.mass * GRAVITY * row[2]
    for x, y, length, beam, slope in slices(craft):
        arm = np.array([x - properties.centre[0], y - properties.centre[1], properties.centre[2]])
        total += WATER.density * GRAVITY * length * section(row[2] + (turned @ arm)[2], beam, slope)[1]
    return float(total)


COASTING: dict[str, dict[str, Any]] = {
    "touching down": {"velocity": (4.0, 0.0, 0.3)},
    "nose down": {"velocity": (4.0, 0.0, 0.0), "angles": (0.0, -0.10, 0.0)},
    "sideways": {"velocity": (3.0, 0.6, 0.0), "angles": (0.05, 0.0, 0.3), "rates": (0.3, 0.0, 0.6)},
    "backwards": {"velocity": (-1.0, 0.0, 0.0)},
    "dropped": {"velocity": (0.0, 0.0, 0.0)},
}


@pytest.mark.parametrize("case", COASTING)
def test_without_thrust_energy_only_falls(case: str) -> None:
    """In calm water nothing gives energy: it falls, through flight, impact and rest.

    What the model simplifies (where buoyancy acts in a heeled slice, the least speed of a foil's angle) may give back at most a
    ten-thousandth of what there was.
    """
    craft = courier()
    matrix = np.linalg.inv(Bench(craft).get(at.INVERSE.first, 6 * at.INVERSE.width).reshape(6, 6))
    keel = mass_properties(craft).centre[2]
    flight = drift(craft, 8.0, dt=0.0025, position=(0.0, 0.0, -0.06 - keel), **COASTING[case])
    energies = np.array([energy(craft, row, matrix) for row in flight[::4]])
    floor = energy(craft, np.concatenate([[0.0, 0.0, equilibrium(craft)[0] - keel], np.zeros(9)]), matrix)
    left = energies - floor
    rise = (left - np.minimum.accumulate(left)).max()
    assert rise < 1e-4 * left[0], f"{rise:.2e} J of {left[0]:.2e} J"
    assert left[-1] < 0.05 * left[0]


def test_a_boat_left_to_itself_in_waves_stays_afloat() -> None:
    """Closed loop at rest speed is no flight, but it must float: throttle shut, chop of 6 cm from the beam, ten seconds."""
    fleet = fleet_of(quiet(courier()))
    block = block_of(jonswap(np.pi / 2, height=0.06, period=1.2), 10.0, settle=10.0)._replace(from_rest=True)
    record = history(fleet, block)
    assert np.isfinite(record["time"]).all()
    assert np.abs(record["roll"]).max() < np.radians(35.0)
    assert record["hull_load"][0].mean() == pytest.approx(1.0, abs=0.05)

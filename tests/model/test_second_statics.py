"""Mass, mixer and trim of the compiled model against the second one."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from sweep.linear.reach import foil_angles
from sweep.model import probe
from sweep.model.pack import mass
from sweep.model.pack.fleet import build_fleets
from sweep.model.pack.foils import mixer as fleet_mixer
from sweep.model.physics.section import section_of
from tests.second import parts, wakes
from tests.second.cases import CRAFTS, pulse, trimmed
from tests.second.courier import FRESH
from tests.second.sea import FLAT, Vector
from tests.second.second_model import Inputs, build, fly, mixer, trim
from tests.second.trailing import NODES, tables


@pytest.mark.parametrize("craft", CRAFTS)
def test_mass_centre_and_inertia(craft: str) -> None:
    wanted, found = trimmed(craft)[0].mass, mass.mass_properties(CRAFTS[craft]())
    assert found.mass == pytest.approx(wanted.mass, rel=1e-13)
    assert np.allclose(found.centre, wanted.centre, rtol=0.0, atol=1e-15)
    assert np.allclose(found.inertia, wanted.inertia, rtol=0.0, atol=1e-14)


@pytest.mark.parametrize("craft", CRAFTS)
def test_mixer(craft: str) -> None:
    model, _ = trimmed(craft)
    cut = [[strip for strip in model.strips if strip.foil == number] for number in range(len(model.foils))]
    places = [np.average([strip.place for strip in of], axis=0, weights=[strip.area for strip in of]) for of in cut]
    sections = [section_of(model.craft, foil) for foil in model.foils]
    assert np.allclose(fleet_mixer(model.foils, sections, places), mixer(model), rtol=0.0, atol=1e-12)


@pytest.mark.parametrize(("speed", "strips"), [(3.0, 2), (4.0, 2), (6.0, 2), (4.0, 4)])
@pytest.mark.parametrize("craft", CRAFTS)
def test_trim(craft: str, speed: float, strips: int) -> None:
    model = build(CRAFTS[craft](), FRESH, strips)
    wanted = trim(model, speed)
    ((_, fleet),) = build_fleets([model.craft], FRESH, speed, strips=strips)
    travels = [foil.servo.travel or model.craft.servos.travel for foil in model.foils]
    within = np.all(np.abs(wanted.foil_angles) <= travels) and 0.0 <= wanted.throttle <= 1.0
    assert bool(fleet.feasible[0]) == within, f"foils {np.degrees(wanted.foil_angles)} deg, throttle {wanted.throttle}"
    if within:
        commands = [wanted.height_command, wanted.pitch_command, wanted.throttle]
        assert fleet.trim[0] == pytest.approx(commands, abs=1e-7)


@pytest.mark.parametrize("speed", [2.2, 2.3, 2.4])
def test_no_trim_where_the_foils_are_beyond_their_travel(speed: float) -> None:
    model, _ = trimmed("courier")
    within = np.all(np.abs(trim(model, speed).foil_angles) <= model.craft.servos.travel)
    ((_, fleet),) = build_fleets([model.craft], FRESH, speed)
    assert bool(fleet.feasible[0]) == within


@cache
def quadrature_tables(away: float, ends: tuple[float, ...], span: float, chord: float) -> Vector:
    """A wake's tables by the law of Biot and Savart, as `tests.second.trailing` has them by MODEL.md."""
    if ends[0] + ends[-1] < 0.0:  # to port: the mirror image
        return quadrature_tables(away, tuple(-end for end in reversed(ends)), span, chord)[:, ::-1]
    if away < chord:  # nothing is smoothed there by quadrature
        return tables(away, ends, span, chord)
    found = np.zeros((2, len(ends) - 1, len(NODES)))
    for s, (start, end) in enumerate(pairwise(ends)):
        for k, node in enumerate(NODES[:-1]):
            place = wakes.Arrangement(span, chord, away, 0.0, node * span / 2.0, 0.0, start, end)
            up = -node * span / 2.0
            bound = wakes.strip_mean(place, lambda y, p=place, z=up: wakes.bound_at(p, y, z))
            found[0, s, k] = bound + wakes.strip_mean(place, lambda y, p=place, z=up: wakes.sheet_at(p, y, z))
            found[1, s, k] = bound + wakes.strip_mean(place, lambda y, p=place, z=up: wakes.pair_at(p, y, z), wakes.CORE)
    return found


@pytest.mark.parametrize("speed", [2.5, 6.0])
def test_trim_with_sixteen_strips_and_a_wake_of_its_own(speed: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second model with wakes by quadrature, which could contradict the kernel's; the kernel with 16 strips and with 2."""
    monkeypatch.setattr(parts, "wake_tables", quadrature_tables)
    wanted = trim(build(CRAFTS["courier"](), FRESH, 16), speed)
    for strips, degrees in ((16, 0.03), (None, 0.1)):
        ((_, fleet),) = build_fleets([CRAFTS["courier"]()], FRESH, speed, strips=strips)
        assert np.degrees(foil_angles(fleet)) == pytest.approx(np.degrees(wanted.foil_angles), abs=degrees)
        assert fleet.trim[0, 2] == pytest.approx(wanted.throttle, rel=0.02)


def test_a_flight_with_sixteen_strips_and_a_wake_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """A push on all foils in calm water, open loop from trim: heave within 1 %, the little pitch that it brings within 5 %."""
    monkeypatch.setattr(parts, "wake_tables", quadrature_tables)
    craft = CRAFTS["courier"]()
    model = build(craft, FRESH, 16)
    level, (own, usual) = trim(model, 4.0), trimmed("courier")

    def pushed(angles: Vector, time: float) -> Vector:
        return angles + 0.03 * pulse(time, 0.02, 0.35)

    times = np.linspace(0.0, 0.4, 81)
    fine = fly(model, FLAT, level.state, lambda t: Inputs(pushed(level.foil_angles, t), throttle=level.throttle), times, 1e-6)
    wakes_felt = np.zeros((3, 3))
    for pair, lift in zip(own.pairs, usual.state.downwash, strict=True):
        wakes_felt[pair.behind, pair.ahead] = lift
    start = usual.state._asdict() | {"downwash": wakes_felt}
    flown = probe.open_loop(
        craft, probe.Surroundings(FRESH), start, lambda t: np.append(pushed(usual.foil_angles, t), 0.0), 0.4, 0.005
    )
    for column, share in ((2, 0.01), (8, 0.01), (4, 0.05)):
        wanted = fine[:, column] - fine[0, column]
        assert np.abs(flown[:, column] - flown[0, column] - wanted).max() < share * np.abs(wanted).max()

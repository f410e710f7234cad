"""The wake of a foil at the strips of another: its fast functions against quadrature, and what follows from it in trim."""

from __future__ import annotations

import tomllib
from math import pi
from pathlib import Path

import numpy as np
import pytest

from sweep.linear.reach import foil_angles, reach
from sweep.model.pack.foils import strip_count
from sweep.model.physics.downwash import NODES, Pair, wake_tables, wakes
from tests.model.crafts import WATER, changed, courier, fleet_of, with_foils

REFERENCES = Path(__file__).resolve().parents[1] / "references" / "wakes.toml"
SPAN, CHORD = 0.173, 0.173 / 6.0


def arrangements() -> list[dict[str, float]]:
    """Those of the fixture, which tests/references/make_wakes.py makes by quadrature of the law of Biot and Savart."""
    table = tomllib.loads(REFERENCES.read_text(encoding="utf-8"))["downwash"]
    return [dict(zip(table["columns"], row, strict=True)) for row in table["rows"]]


@pytest.mark.parametrize("wake", ["sheet", "pair"])
def test_each_wake_is_that_of_an_independent_quadrature(wake: str) -> None:
    found, wanted = [], []
    for each in arrangements():
        ends = np.array([each["start"], each["end"]]) + each["side"]
        apart = np.array([abs(each["below"]), 2.0 * each["depth"] + each["below"]])  # the wake, then its image
        found.append(getattr(wakes(each["aft"], ends, apart, each["span"], each["chord"]), wake)[0].sum())
        wanted.append(each["bound"] + each[wake])
    off = np.abs(np.array(found) - wanted)
    assert len(off) >= 40
    worst = int(np.argmax(off / np.maximum(0.002, 0.02 * np.abs(wanted))))
    assert np.all(off <= np.maximum(0.002, 0.02 * np.abs(wanted))), (arrangements()[worst], found[worst], wanted[worst])


def test_far_behind_in_plane_and_inside_the_span_it_is_that_of_prandtl() -> None:
    # 2 C_L / (pi AR): Prandtl's lifting line of elliptic loading, far behind (any textbook of wing theory).
    ends = np.linspace(-0.5, 0.5, 9) * SPAN
    sheet = wakes(50.0, ends, np.zeros(1), SPAN, CHORD).sheet[:, 0]
    assert sheet == pytest.approx(2.0 / (pi * 6.0), rel=2e-3)


@pytest.mark.parametrize("distance", [0.02, 0.1, 0.6, -0.05])
def test_port_and_starboard_are_alike(distance: float) -> None:
    ends = np.array([-0.13, -0.04, 0.02, 0.15])
    there = wakes(distance, ends, np.array([0.0, 0.03]), SPAN, CHORD)
    mirrored = wakes(distance, -ends[::-1], np.array([0.0, 0.03]), SPAN, CHORD)
    for one, other in zip(there, mirrored, strict=True):
        assert one == pytest.approx(other[::-1], abs=1e-12)


def test_more_strips_have_the_same_mean() -> None:
    for ends in (np.linspace(-0.1, 0.1, 3), np.linspace(-0.02, 0.2, 3)):
        finer = np.linspace(ends[0], ends[-1], 17)
        for wake in (0, 1):
            coarse = wakes(0.3, ends, np.array([0.0, 0.02]), SPAN, CHORD)[wake]
            fine = wakes(0.3, finer, np.array([0.0, 0.02]), SPAN, CHORD)[wake]
            assert coarse.mean(axis=0) == pytest.approx(fine.mean(axis=0), abs=1e-12)


def test_tables_follow_the_wake_between_their_nodes() -> None:
    draws = np.random.default_rng(5)
    off = []
    for _ in range(100):
        distance, breadth, side = draws.uniform(1.0, 25.0) * CHORD, draws.uniform(0.5, 3.0) * SPAN, draws.uniform(-1, 1) * SPAN
        ends = side + breadth * np.linspace(-0.5, 0.5, 3)
        apart = np.sort(draws.uniform(0.0, 6.0, 20))
        exact = wakes(distance, ends, apart * 0.5 * SPAN, SPAN, CHORD)
        for fine, table in zip(exact, wake_tables((Pair(distance, tuple(ends), SPAN, CHORD),))[0], strict=True):
            off.append(np.abs(fine - [np.interp(apart, NODES, row) for row in table]))
    assert np.quantile(np.concatenate(off), 0.95) < 1.5e-3


def test_a_centimetre_more_of_span_between_foils_does_not_flip_the_trim() -> None:
    def angles(apart: float) -> np.ndarray:
        craft = with_foils(courier(), {
            "port": {"x": 0.22, "y": -0.5 * apart}, "starboard": {"x": 0.22, "y": 0.5 * apart}, "aft": {"x": -0.40},
        })  # fmt: skip
        return np.degrees(foil_angles(fleet_of(craft, 3.0)))

    assert np.abs(angles(0.20) - angles(0.21)).max() < 0.3


def test_the_bracket_of_wakes_is_between_its_ends() -> None:
    aft = {
        rolled: np.degrees(foil_angles(fleet_of(changed(courier(), {"wake.rolled_up": rolled}), 4.0)))[2]
        for rolled in (0.0, 1.0)
    }
    as_it_grows = np.degrees(foil_angles(fleet_of(courier(), 4.0)))[2]
    assert min(aft.values()) <= as_it_grows <= max(aft.values())
    assert abs(aft[0.0] - aft[1.0]) > 0.05


def test_no_wake_is_no_downwash() -> None:
    still = fleet_of(changed(courier(), {"wake.strength": 0.0}), 4.0)
    port, _, aft = np.degrees(foil_angles(still))
    felt = np.degrees(foil_angles(fleet_of(courier(), 4.0)))
    assert felt[0] == pytest.approx(port, abs=0.2)
    assert abs(felt[2] - aft) > 0.05


def test_strips_follow_from_the_dihedral() -> None:
    flat = courier().foils["aft"]
    assert strip_count(flat) == 2
    assert strip_count(flat.model_copy(update={"dihedral": 0.6})) == 10
    assert strip_count(flat.model_copy(update={"dihedral": -0.8, "aspect_ratio": 20.0})) == 16
    assert strip_count(flat.model_copy(update={"strips": 6})) == 6


def test_a_dihedral_foil_through_the_surface_trims_as_with_more_strips() -> None:
    def pitch(strips: int | None) -> float:
        craft = with_foils(courier(), {
            "bow": {"x": 0.25, "area": 90e-4, "aspect_ratio": 8.0, "dihedral": 0.6},
            "aft": {"x": -0.40, "area": 60e-4},
        })  # fmt: skip
        return float(np.degrees(foil_angles(fleet_of(craft, 4.0, strips=strips)))[0])

    assert abs(pitch(None) - pitch(16)) < 0.5 * abs(pitch(2) - pitch(16)) + 0.02


def test_take_off_moves_little_inside_the_bracket() -> None:
    ends = [reach(changed(courier(), {"wake.rolled_up": rolled}), WATER, [4.0]) for rolled in (0.0, 1.0)]
    assert ends[0] is not None
    assert ends[1] is not None
    assert ends[0].low == pytest.approx(ends[1].low, rel=0.05)

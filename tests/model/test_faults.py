"""Faults begin and end when they say, act where they say and nowhere else, and mirror."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sweep.campaign.faults import FaultFile, named_faults
from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.kernels.rigid_body import evaluate, foil_forces, start
from sweep.model.onboard import faults as kinds
from sweep.model.onboard.faults import apply_faults
from sweep.model.onboard.safety import RANGE_LOST
from sweep.model.pack.trim import FOREVER
from tests.model.crafts import Bench, calm, changed, courier, fleet_of, history, quiet, silent

START, STOP = 2.0, 3.0
RIGHT = 1  # starboard among the foils


def foil(number: int, slot: int) -> int:
    return number * at.FOIL.width + slot


SLOTS: dict[str, tuple[int, int, tuple[float, ...], dict[int, float]]] = {
    "weed": (
        kinds.WEED,
        RIGHT,
        (12e-4, 0.2, 0.0),
        {foil(RIGHT, at.FOIL.weed_area): 12e-4, foil(RIGHT, at.FOIL.weed_lift): 0.8},
    ),
    "stuck servo": (kinds.STUCK_SERVO, RIGHT, (0.0, 0.0, 0.0), {foil(RIGHT, at.FOIL.stuck): 1.0}),
    "silent": (kinds.SILENT, 2, (0.0, 0.0, 0.0), {at.RANGE_SILENT + 2: 1.0}),
    "frozen": (kinds.FROZEN, 0, (0.0, 0.0, 0.0), {at.RANGE_STUCK: 1.0}),
    "spikes": (kinds.SPIKING, -1, (0.05, 0.1, 0.0), {at.FAULT_SPIKES.share: 0.05, at.FAULT_SPIKES.size: 0.1}),
    "no thrust": (kinds.NO_THRUST, -1, (0.4, 0.0, 0.0), {at.THRUST_LEFT: 0.6}),
    "shifted load": (
        kinds.SHIFTED_LOAD,
        -1,
        (0.3, 0.05, -0.02),
        {at.PAYLOAD.mass: 0.3, at.PAYLOAD.x: 0.05, at.PAYLOAD.y: -0.02},
    ),
    "turn": (kinds.TURN, -1, (1.5, 0.0, 0.0), {at.COURSE_WANTED: 1.5}),
    "disarmed": (kinds.DISARMED, -1, (0.0, 0.0, 0.0), {at.DISARMED: 1.0}),
}


def table(kind: int, which: int, amounts: tuple[float, ...], stop: float = STOP) -> np.ndarray:
    return np.array([[kind, which, START, stop, *amounts]])


def changes(rows: np.ndarray, time: float) -> dict[int, float]:
    """Every slot of the workspace that differs from one without faults, and its value."""
    bench, sound = Bench(courier()), Bench(courier())
    apply_faults(bench.flat, rows, bench.counts.foils, time)
    apply_faults(sound.flat, np.zeros((0, kinds.COLUMNS)), bench.counts.foils, time)
    differ = ~((bench.slots == sound.slots) | (np.isnan(bench.slots) & np.isnan(sound.slots)))
    assert (differ.all(axis=1) == differ.any(axis=1)).all()  # every lane alike
    return {int(slot): float(bench.slots[slot, 0]) for slot in np.flatnonzero(differ.any(axis=1))}


@pytest.mark.parametrize("name", SLOTS)
def test_a_fault_changes_its_own_slots_from_start_to_stop(name: str) -> None:
    kind, which, amounts, expected = SLOTS[name]
    rows = table(kind, which, amounts)
    assert changes(rows, START - 0.005) == {}
    assert changes(rows, START) == pytest.approx(expected)
    assert changes(rows, STOP - 0.005) == pytest.approx(expected)
    assert changes(rows, STOP) == (pytest.approx(expected) if name == "turn" else {})


def test_a_lost_link_grows_old_until_it_is_back() -> None:
    rows = table(kinds.LOST_LINK, -1, (0.0, 0.0, 0.0))
    assert changes(rows, START) == changes(rows, STOP) == {}
    assert changes(rows, START + 0.4) == {at.LINK_AGE: pytest.approx(0.4, abs=2e-5)}


@pytest.mark.parametrize(("name", "spread"), [("weed", 3), ("stuck servo", 3), ("silent", 4), ("frozen", 4)])
def test_a_fault_of_all_is_on_every_one(name: str, spread: int) -> None:
    """On the courier's three foils, or on as many rangefinders as there may be."""
    kind, _, amounts, one = SLOTS[name]
    assert len(changes(table(kind, -1, amounts), START)) == spread * len(one)


def test_faults_add_up() -> None:
    weeds = np.vstack([table(kinds.WEED, RIGHT, (12e-4, 0.2, 0.0)), table(kinds.WEED, -1, (3e-4, 0.5, 0.0))])
    found = changes(weeds, START)
    assert found[foil(RIGHT, at.FOIL.weed_area)] == pytest.approx(15e-4)
    assert found[foil(RIGHT, at.FOIL.weed_lift)] == pytest.approx(0.4)
    assert found[foil(0, at.FOIL.weed_area)] == pytest.approx(3e-4)


@pytest.mark.parametrize(
    ("written", "row"),
    [
        ({"weed": {"where": "foils.starboard", "drag": "12 cm^2", "from": "8 s"}}, (kinds.WEED, 1, 8.0, 1e9, 12e-4, 0, 0)),
        ({"weed": {"where": "foils.*", "drag": "0 cm^2", "from": "0 s"}}, (kinds.WEED, -1, 0.0, 1e9, 0, 0, 0)),
        ({"stuck_servo": {"where": "foils.aft", "from": "1 s", "to": "2 s"}}, (kinds.STUCK_SERVO, 2, 1, 2, 0, 0, 0)),
        ({"silent": {"where": "rangefinders.2", "from": "1 s"}}, (kinds.SILENT, 1, 1.0, 1e9, 0, 0, 0)),
        ({"frozen": {"from": "1 s"}}, (kinds.FROZEN, -1, 1.0, 1e9, 0, 0, 0)),
        ({"spikes": {"share": "5 %", "size": "10 cm", "from": "1 s"}}, (kinds.SPIKING, -1, 1.0, 1e9, 0.05, 0.1, 0)),
        ({"no_thrust": {"from": "1 s"}}, (kinds.NO_THRUST, -1, 1.0, 1e9, 1.0, 0, 0)),
        ({"turn": {"by": "-90 deg", "from": "1 s"}}, (kinds.TURN, -1, 1.0, 1e9, -np.pi / 2, 0, 0)),
        ({"lost_link": {"from": "1 s"}}, (kinds.LOST_LINK, -1, 1.0, 1e9, 0, 0, 0)),
        ({"disarmed": {"from": "1 s", "to": "2 s"}}, (kinds.DISARMED, -1, 1.0, 2.0, 0, 0, 0)),
    ],
)
def test_the_file_says_where_and_when(written: dict[str, Any], row: tuple[float, ...]) -> None:
    (fault,) = named_faults((FaultFile.model_validate(written),), courier())
    assert fault.rows[0] == pytest.approx(row)


def flight(rows: np.ndarray, values: dict[str, Any] | None = None, length: float = 6.0) -> dict[str, np.ndarray]:
    """Time history of the courier in a calm, without noise but for what draws the spikes."""
    craft = quiet(changed(courier(), values or {}))
    return history(fleet_of(craft), noiseless(length)._replace(faults=rows))


def noiseless(length: float) -> Block:
    """Calm and silent, with the draws of lost and wrong readings left in."""
    block = calm(length)
    return silent(block)._replace(noise=silent(block).noise._replace(range_uniform=block.noise.range_uniform))


NOTHING = np.zeros((0, kinds.COLUMNS))


@pytest.mark.parametrize("name", ["weed", "spikes", "no thrust", "shifted load", "turn", "disarmed"])
def test_a_flight_is_the_same_until_its_fault_begins(name: str) -> None:
    kind, which, amounts, _ = SLOTS[name]
    sound, faulty = flight(NOTHING), flight(table(kind, which, amounts))
    before = sound["time"][0] < START
    for column in ("x", "keel_height", "pitch", "roll", "heading", "foils", "throttle"):
        assert np.array_equal(sound[column][0, before], faulty[column][0, before])
    assert not np.allclose(sound["x"][0, ~before], faulty["x"][0, ~before], atol=1e-5)


def test_a_stuck_foil_stays_while_the_others_move() -> None:
    """A turn gives the servos something to do."""
    rows = np.vstack([table(kinds.TURN, -1, (1.0, 0.0, 0.0)), table(kinds.STUCK_SERVO, RIGHT, (0.0, 0.0, 0.0))])
    found = flight(rows, {"control.bank_share": 0.5})
    stuck = (found["time"][0] > START + 0.01) & (found["time"][0] < STOP - 0.01)
    spread = np.ptp(found["foils"][0, stuck], axis=0)
    assert spread[RIGHT] == 0.0
    assert spread[0] > 1e-3
    assert np.ptp(found["foils"][0, found["time"][0] > STOP, RIGHT]) > 0.0


def test_a_frozen_rangefinder_tells_no_more() -> None:
    """The height that is sensed moves with the attitude alone while the boat rises or falls from under it."""
    load = table(kinds.SHIFTED_LOAD, -1, (0.5, 0.0, 0.0), stop=1e9)
    free, frozen = flight(load), flight(np.vstack([load, table(kinds.FROZEN, -1, (0.0, 0.0, 0.0), stop=1e9)]))
    assert frozen["ride_height"][0, -1] < free["ride_height"][0, -1] - 0.01  # nothing brings it back up
    assert abs(frozen["sensed_height"][0, -1] - 0.095) < 0.5 * abs(frozen["ride_height"][0, -1] - 0.095)


def test_a_silent_rangefinder_keeps_its_last_reading() -> None:
    """For as long as the boat goes on without one: half a second."""
    load = table(kinds.SHIFTED_LOAD, -1, (0.5, 0.0, 0.0), stop=1e9)
    runs = [flight(np.vstack([load, table(kind, -1, (0.0, 0.0, 0.0), stop=1e9)])) for kind in (kinds.FROZEN, kinds.SILENT)]
    trusts = runs[0]["time"][0] < START + 0.5
    assert np.allclose(runs[0]["keel_height"][:, trusts], runs[1]["keel_height"][:, trusts], atol=1e-9)
    assert not runs[1]["stopped_by"][:, trusts].any()
    assert (runs[1]["stopped_by"][0, runs[1]["time"][0] > START + 0.56] == RANGE_LOST).all()
    assert not runs[0]["stopped_by"].any()


def test_thrust_comes_back() -> None:
    found = flight(table(kinds.NO_THRUST, -1, (1.0, 0.0, 0.0)), length=8.0)
    speed, time = found["speed"][0], found["time"][0]
    assert speed[np.searchsorted(time, STOP)] < 0.95 * speed[np.searchsorted(time, START)]
    assert speed[-1] > speed[np.searchsorted(time, STOP)]


@pytest.mark.parametrize("name", ["weed", "stuck servo"])
def test_port_and_starboard_mirror(name: str) -> None:
    """To rounding, which four seconds magnify. A servo shows that it is stuck in a turn only."""
    kind, _, amounts, _ = SLOTS[name]
    turn = 1.0 if name == "stuck servo" else 0.0
    runs = [
        flight(np.vstack([table(kind, which, amounts), table(kinds.TURN, -1, (sign * turn, 0.0, 0.0))]))
        for which, sign in ((0, -1.0), (1, 1.0))
    ]
    mirror(*runs)


@pytest.mark.parametrize("name", ["shifted load", "turn"])
def test_the_signs_mirror(name: str) -> None:
    kind, _, (first, x, y), _ = SLOTS[name]
    other = (first, x, -y) if name == "shifted load" else (-first, x, y)
    mirror(flight(table(kind, -1, (first, x, y), 1e9)), flight(table(kind, -1, other, 1e9)))


def test_a_boat_that_is_stopped_in_a_turn_mirrors() -> None:
    runs = [
        flight(
            np.vstack([table(kinds.TURN, -1, (sign, 0.0, 0.0)), [[kinds.DISARMED, -1, 2.5, 2.8, 0.0, 0.0, 0.0]]]), length=4.0
        )
        for sign in (-1.0, 1.0)
    ]
    assert runs[0]["stopped_by"].any()
    mirror(*runs)


def mirror(first: dict[str, np.ndarray], second: dict[str, np.ndarray]) -> None:
    for column in ("y", "roll", "heading", "rudder"):
        assert np.allclose(first[column], -second[column], atol=1e-6), column
    for column in ("x", "keel_height", "pitch", "speed", "throttle"):
        assert np.allclose(first[column], second[column], atol=1e-6), column
    assert np.allclose(first["foils"], second["foils"][:, :, [1, 0, 2]], atol=1e-6)
    assert np.abs(first["roll"]).max() > 1e-3
    assert np.isfinite(first["roll"]).all()


@pytest.mark.parametrize("number", [0, 2])
def test_weed_drags_by_its_area_in_the_flow(number: int) -> None:
    """In trim at 4 m/s: dynamic pressure times its area, at its foil, whatever strips share it."""
    bench, area = Bench(courier(), speed=4.0), 12e-4

    def forces() -> np.ndarray:
        evaluate(bench.flat, bench.counts, bench.fleet.density, FOREVER)
        start(bench.flat)
        foil_forces(bench.flat, bench.counts, bench.fleet.density, FOREVER)
        return np.asarray(bench.get(at.FORCE))

    clean = forces()
    bench.put(foil(number, at.FOIL.weed_area), area)
    drag = forces() - clean
    assert drag[0] == pytest.approx(-0.5 * bench.fleet.density * 4.0**2 * area, rel=0.02)
    assert abs(drag[2]) < 0.01 * abs(drag[0])
    lever = bench.get(at.STRIP.x + 2 * number * at.STRIP.width, 3)  # of its first strip, as deep as the other
    assert drag[4] == pytest.approx(lever[2] * drag[0], rel=0.02)

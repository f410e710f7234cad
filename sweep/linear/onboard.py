"""One tick of the control code, linear about trim: from its inputs and memory to its commands."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.linear.differences import Floats, slopes
from sweep.linear.plant import ACCELERATIONS, moving
from sweep.linear.sensing import SILENCE
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import Lanes
from sweep.model.kernels.frame import turn
from sweep.model.onboard.choices import COMBINED, VOTE, law_of
from sweep.model.onboard.control import Tick, control
from sweep.model.onboard.servo import RING
from sweep.model.pack.fleet import Fleet

MEMORY = (
    at.HEIGHT_INTEGRAL,
    at.PITCH_INTEGRAL,
    at.ROLL_INTEGRAL,
    at.SPEED_INTEGRAL,
    at.SMOOTHED_HEIGHT,
    at.ROLL_ESTIMATE,
    at.PITCH_ESTIMATE,
    at.FUSED_RATE,
    at.HEIGHT_ESTIMATE,
)
"""What a cascade's filters hold follows, then with a fused height its earlier estimates."""
MIXED = ("height", "pitch", "roll")
NEVER = 1e15  # a tick that does not come


class Code(NamedTuple):
    """memory' = a memory + b known, commands = c memory + d known, once a control tick.

    known: MOTION, the six accelerations (u' ... r'), then what is held: ranges, speed, heading, rate of heading.
    commands: those of `loops` (rad; the last is the rudder's), then the throttle; mix: (foils, loops - 1), foil angle of each.
    """

    a: Floats
    b: Floats
    c: Floats
    d: Floats
    loops: tuple[str, ...]
    mix: Floats


def linearise_code(fleet: Fleet, lanes: Lanes, nudge: float) -> list[Code]:
    """One a design of a fleet of at most LANES, whose lanes are in trim and know its readings.

    Limits, quanta and the gate are left out. A vote of rangefinders counts as their mean: none of equals decides it alone.
    """
    structure, slots = fleet.structure, lanes.workspace.reshape(-1, LANES)
    counts, own = structure.counts, not law_of(structure.law).levels
    mix, memory = _mixes(slots, structure.foils), _memory(fleet)
    slots[at.NAVIGATION_TICK] = NEVER
    slots[at.COMBINE] = np.where(slots[at.COMBINE] == VOTE, COMBINED["mean"], slots[at.COMBINE])
    slots[at.RUDDER_SERVO.travel], slots[at.RUDDER_SERVO.quantum] = np.inf, 0.0
    for first in range(0, structure.foils * at.FOIL.width, at.FOIL.width):
        travel = slots[first + at.FOIL.moved_by.travel]
        travel[travel > 0.0], slots[first + at.FOIL.moved_by.quantum] = np.inf, 0.0
    if not own:
        counts = counts._replace(foils=len(MIXED))
        _unmix(slots)
    counts = counts._replace(rudder_servos=0)  # they are commanded what the first one is
    commands = np.zeros((counts.foils + 1, RING, LANES))

    def tick() -> Floats:
        turn(lanes.workspace, at.STATE.phi, at.ROTATION.first)
        control(lanes.workspace, commands, lanes.readings, SILENCE, counts, Tick(0, structure.period))
        return np.concatenate([slots[memory], commands[:, 0], slots[[at.THROTTLE]]])

    direct = [*moving(at.STATE), *moving(at.RATE)[ACCELERATIONS]]
    ranges = range(at.RANGE_LAST, at.RANGE_LAST + structure.rangefinders)
    known = [*direct, *ranges, at.SPEED_READING, at.HEADING_READING, at.HEADING_RATE]
    found = slopes(lanes.workspace, [[slot] for slot in (*memory, *known)], tick, nudge, fleet)
    names = tuple(f"foil {i + 1}" for i in range(structure.foils)) if own else MIXED
    identity = np.eye(structure.foils)
    n = len(memory)
    return [_code(found[i], n, (*names, "heading"), identity if own else mix[i]) for i in range(fleet.size)]


def _memory(fleet: Fleet) -> list[int]:
    """Slots of the control code's memory."""
    fuses = law_of(fleet.structure.law).fuses
    earlier = int(fleet.parameters[:, at.KNOWN_AGE].max()) if fuses else 0
    held = [*at.PITCH_HELD, *at.ROLL_HELD] if law_of(fleet.structure.law).cascades else []
    return [*MEMORY, *held, *(at.HEIGHT_ESTIMATE + back for back in range(1, earlier + 1))]


def _code(found: Floats, n: int, loops: tuple[str, ...], mix: Floats) -> Code:
    """n: the size of its memory."""
    return Code(found[:n, :n], found[:n, n:], found[n:, :n], found[n:, n:], loops, mix)


def _mixes(slots: Floats, foils: int) -> Floats:
    """(lanes, foils, 3): angle of each foil for one unit of height, pitch and roll command."""
    return np.array([slots[at.FOIL.mix.slots(i * at.FOIL.width)] for i in range(foils)]).transpose(2, 0, 1)


def _unmix(slots: Floats) -> None:
    """Give three foils one command each, so that the commands themselves come out, also where one of them is fixed."""
    for i in range(len(MIXED)):
        slots[at.FOIL.mix.slots(i * at.FOIL.width)] = np.eye(3)[i][:, None]
        slots[i * at.FOIL.width + at.FOIL.moved_by.travel] = np.inf

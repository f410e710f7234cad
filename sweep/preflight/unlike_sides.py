"""How a craft with unlike sides flies: its trim balances no rolling moment (M16.1), so that the control code has to."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sweep.model import layout as at
from sweep.model.block import Block, make_block
from sweep.model.compiled import LANES
from sweep.model.flight import fly_record, start_lanes
from sweep.model.history import RECORDED
from sweep.model.onboard.noise import NoiseTables
from sweep.model.physics.waves import flat_sea
from sweep.words.numbers import number
from sweep.words.phrases import listed

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.model.pack.fleet import Fleet

ROLLS = math.radians(1.0)
"""Rad/s^2: what rolls by less in its trim is no further off than its builder can measure (judgement)."""
SETTLED, FLOWN = 20.0, 30.0
"""s of a flight over calm water: the means are of its end (judgement)."""
DEPTH = 100.0
"""m: deep for every craft; flat water is the same in any depth."""


def as_flown(craft: Craft, fleet: Fleet) -> str:
    """A sentence on the foils' angles and the lean in calm water, of the first design of a fleet in trim; '' of like sides."""
    first = fleet.part(0, 1)
    rolls = start_lanes(first).workspace.reshape(-1, LANES)[at.RATE.p, 0]
    if abs(rolls) < ROLLS:
        return ""
    if fleet.structure.own is not None:
        return " Its sides are unlike, and this holds no roll; what the code of your own adds is not known before it runs."
    block = _silent(make_block(flat_sea(DEPTH), 0, "calm water", 0, FLOWN, SETTLED))
    (history,) = fly_record(first, block, rate=10.0)
    means = history[round(SETTLED * 10.0) :].mean(axis=0)
    if not np.isfinite(means).all():
        return " Its sides are unlike, and in calm water its control code does not keep it flying."
    angles = [f"{name} {math.degrees(angle):.1f}" for name, angle in zip(craft.foils, means[len(RECORDED) :], strict=True)]
    lean = math.degrees(means[list(RECORDED).index("roll")])
    side = "starboard" if lean > 0.0 else "port"
    return (
        " Its sides are unlike, and this holds no roll: in calm water, and without the sensors' errors, the code turns "
        f"the foils to {listed(angles, 'and')} deg, and it leans {number(abs(lean), 2)} deg to {side}."
    )


def _silent(block: Block) -> Block:
    """The same with every sensor as the craft file has it, but without noise, bias or loss."""
    noise = NoiseTables(*(np.zeros_like(table) for table in block.noise))
    return block._replace(noise=noise._replace(range_uniform=np.ones_like(noise.range_uniform)))

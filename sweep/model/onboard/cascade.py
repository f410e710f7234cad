"""The loops of the cascaded law: of an angle, and of the rate of turning that it asks for. Angles in rad."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import part
from sweep.model.elementary import clip
from sweep.model.layout import keep, row


class Cascade(NamedTuple):
    """Slots of an axis: its `records.CascadeGains`, what its filters hold, and its integral."""

    gains: int
    held: int
    integral: int


class Attitude(NamedTuple):
    """Of an axis: the angle wanted beside the trim's, the trim's less the estimate (rad), and the gyro's rate (rad/s)."""

    wanted: float
    off: float
    rate: float


PITCH_CASCADE = Cascade(at.PITCH_CASCADE.first, at.PITCH_HELD.first, at.PITCH_INTEGRAL)
ROLL_CASCADE = Cascade(at.ROLL_CASCADE.first, at.ROLL_HELD.first, at.ROLL_INTEGRAL)


@part
def run_cascade(workspace: np.ndarray, lane: int, axis: Cascade, attitude: Attitude, period: float, time: float) -> float:
    """Command of the rate loop (rad), which the angle loop tells what rate to hold (M15.20).

    period: of control ticks, s; time: s, over which the error of the rate is integrated; 0 freezes the integral.
    """
    gains, held = axis.gains, axis.held
    wanted = workspace[row(held + at.CASCADE_MEMORY.wanted) + lane]
    wanted += period / (period + workspace[row(gains + at.CASCADE.angle_lag) + lane]) * (attitude.wanted - wanted)
    most = workspace[row(gains + at.CASCADE.angle_limit) + lane]
    asked = clip(workspace[row(gains + at.CASCADE.angle_proportional) + lane] * (wanted + attitude.off), -most, most)
    rate = workspace[row(held + at.CASCADE_MEMORY.rate) + lane]
    change = (attitude.rate - rate) / (period + workspace[row(gains + at.CASCADE.lag) + lane])
    rate += period * change
    limit = workspace[row(gains + at.CASCADE.limit) + lane]
    gathered = workspace[row(axis.integral) + lane]
    command = (
        workspace[row(gains + at.CASCADE.proportional) + lane] * (asked - rate)
        + gathered
        - workspace[row(gains + at.CASCADE.derivative) + lane] * change
    )
    gathered += workspace[row(gains + at.CASCADE.integral) + lane] * (asked - rate) * time
    keep(workspace, held + at.CASCADE_MEMORY.wanted, lane, wanted)
    keep(workspace, held + at.CASCADE_MEMORY.rate, lane, rate)
    keep(workspace, axis.integral, lane, clip(gathered, -limit, limit))
    return clip(command, -limit, limit)

"""The safe state: what the control code stops the boat for, and how it begins again.

Its limits are judgement. The exported C has the same ones, and no setting changes either.
"""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import wrapped
from sweep.model.layout import alike, keep, row

LONGEST_LINK_AGE = 0.5  # s since the last message of the person in charge
RANGE_PERIODS, LEAST_RANGE_AGE, MOST_RANGE_AGE = 10.0, 0.5, 2.0
"""A rangefinder is stale after so many periods of its own without a reading, between so many s."""
LEAST_UPRIGHT = 0.5  # cosine of the largest tilt, 60 degrees: of the roll on an even keel
IN_TIME = 1e-5  # s by which a link is younger than it is, so that none is as old as the limit to the last digit

SWITCHED_OFF, LINK_LOST, RANGE_LOST, TILTED = 1.0, 2.0, 3.0, 4.0
"""What the boat is stopped by; 0 while it runs. Only the arming switch, off and on again, ends the last three."""
BEGUN_ANEW = (
    at.HEIGHT_INTEGRAL, at.PITCH_INTEGRAL, at.ROLL_INTEGRAL, at.SPEED_INTEGRAL, at.FLYING, at.QUICK_TIME,
    at.PITCH_HELD.wanted, at.PITCH_HELD.rate, at.ROLL_HELD.wanted, at.ROLL_HELD.rate,
)  # fmt: skip
"""What the loops remember, which is 0 when the boat is armed."""


@part
def runs(workspace: np.ndarray, lane: int) -> float:
    """1 while the control code may move anything, 0 in the safe state."""
    return 1.0 if workspace[row(at.STOPPED_BY) + lane] == 0.0 else 0.0


@kernel
def watch(workspace: np.ndarray, rangefinders: int, time: float) -> None:
    """Stop the boat in the lanes where it must not run; begin anew where it has been armed (M15.21). time: s, of the tick.

    Needs the attitude's estimates, and the readings taken.
    """
    now = alike(workspace, time)
    oldest = row(at.SCRATCH)
    for lane in range(LANES):
        workspace[oldest + lane] = now
    for sensor in range(rangefinders):
        heard, trust = row(at.RANGE_HEARD + sensor), row(at.KNOWN_TRUST + sensor)
        for lane in range(LANES):
            last = workspace[heard + lane] if workspace[trust + lane] > 0.0 else now
            workspace[oldest + lane] = last if last < workspace[oldest + lane] else workspace[oldest + lane]
    armed_anew = 0
    for lane in range(LANES):
        before = workspace[row(at.STOPPED_BY) + lane]
        off = workspace[row(at.DISARMED) + lane] > 0.0
        upright = workspace[row(at.ROLL_TURN.cosine) + lane] * workspace[row(at.PITCH_TURN.cosine) + lane]
        danger = 0.0 if upright >= LEAST_UPRIGHT else TILTED
        danger = RANGE_LOST if now - workspace[oldest + lane] > workspace[row(at.RANGE_PATIENCE) + lane] else danger
        danger = LINK_LOST if workspace[row(at.LINK_AGE) + lane] > LONGEST_LINK_AGE else danger
        anew = before == SWITCHED_OFF and not off
        held = 0.0 if anew else before
        held = SWITCHED_OFF if off else held
        keep(workspace, at.STOPPED_BY, lane, held if held > 0.0 else danger)
        workspace[oldest + lane] = 1.0 if anew else 0.0
        armed_anew += anew
    if armed_anew > 0:
        begin_anew(workspace)


@kernel
def begin_anew(workspace: np.ndarray) -> None:
    """In the lanes where SCRATCH is 1, forget what the loops have gathered, and steer the heading that the boat has.

    Of the angles that are that heading, COURSE takes the one from which the shorter way leads to the wanted course.
    """
    for lane in range(LANES):
        if workspace[row(at.SCRATCH) + lane] > 0.0:
            for slot in BEGUN_ANEW:
                keep(workspace, slot, lane, 0.0)
            wanted = workspace[row(at.COURSE_WANTED) + lane] + workspace[row(at.LEG_HEADING) + lane]
            keep(workspace, at.COURSE, lane, wanted - wrapped(wanted - workspace[row(at.HEADING_READING) + lane]))

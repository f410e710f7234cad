"""The course that the control code follows: legs, each with a heading, a speed and an end, and stops between them.

A table of rows, the same for every design of a block, in the order of the legs. The first begins once the flight is scored.
A leg is over after its time, or after its path as the craft reckons it from its speed readings: each craft goes on when it
is there. The last leg lasts to the end of the flight.
"""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.layout import alike, row

# Columns
TIME = 0  # s, that the leg lasts; not read where there is a path
PATH = 1  # m, that it is long; 0: it lasts its time
HEADING = 2  # rad, to starboard of the way at the start: several turns add up
RATE = 3  # rad/s, at which the heading comes to that; 0: the control code's own
SPEED = 4  # m/s, wanted
STOPPED = 5  # 1: the throttle is shut, and the craft lies afloat
COLUMNS = 6

IN_TIME = 1e-5  # s: a leg that ends this soon after a tick has ended (judgement)


@kernel
def follow_legs(workspace: np.ndarray, course: np.ndarray, tick: int, period: float) -> None:
    """Begin the next leg in every lane that flies and whose leg is over (M15.18). course: (legs, COLUMNS); period: s.

    Call at every control tick of the scored time, before the control code runs.
    """
    legs = course.shape[0]
    for lane in range(LANES):
        if workspace[row(at.ALIVE) + lane] == 0.0:
            continue
        leg = int(workspace[row(at.LEG) + lane]) - 1
        path = workspace[row(at.LEG_PATH) + lane] + workspace[row(at.SPEED_READING) + lane] * alike(workspace, period)
        workspace[row(at.LEG_PATH) + lane] = path
        if leg >= 0:
            lasted = (tick - int(workspace[row(at.LEG_TICK) + lane])) * period
            length = course[leg, PATH]
            over = path >= length if length > 0.0 else lasted >= course[leg, TIME] - IN_TIME
            if not over or leg + 1 >= legs:
                continue
        begin_leg(workspace, course[leg + 1], lane)
        workspace[row(at.LEG) + lane] = leg + 2
        workspace[row(at.LEG_TICK) + lane] = tick
        workspace[row(at.LEG_PATH) + lane] = 0.0


@kernel
def begin_leg(workspace: np.ndarray, leg: np.ndarray, lane: int) -> None:
    """Set what one lane wants in the leg after its present one, and the trim that its control code holds there (M15.18)."""
    workspace[row(at.LEG_HEADING) + lane] = leg[HEADING]
    workspace[row(at.LEG_RATE) + lane] = leg[RATE]
    workspace[row(at.WANTED_SPEED) + lane] = leg[SPEED]
    workspace[row(at.AT_REST) + lane] = leg[STOPPED]
    trim = at.LEG_TRIM.first + int(workspace[row(at.LEG) + lane]) * at.LEG_TRIM.width
    for slot in range(at.LEG_TRIM.width):
        workspace[row(at.TRIM.first + slot) + lane] = workspace[row(trim + slot) + lane]

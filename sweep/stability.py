"""How steady a craft is, in words: its modes and what its loops have to spare, for a check and for a design's page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from sweep.linear.table import Row, damping, speed_limit, stability_table
from sweep.wording import number

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.linear.margins import Margins
    from sweep.model.water import Water
    from sweep.outlook import Reach

CALLED = "Small motions in calm water, with the gains of the craft file"
MOST_ROWS = 3
LONG = 1000.0
"""s: a mode that takes longer to halve does not settle (judgement)."""


def stability_text(craft: Craft, water: Water, reach: Reach, speeds: Sequence[float]) -> list[str]:
    """A short table of the craft over its speeds (m/s), and the speed from which on its loops are unstable."""
    chosen = few_speeds(reach, speeds)
    rows = stability_table(craft, water, chosen)
    known = {row.speed: row.slowest.real for row in rows if row.trims}
    limit = speed_limit(craft, water, sorted({*chosen, reach.high}), known)
    cells = [headings(rows), *([speed_words(row.speed), *row_words(row)] for row in rows)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    lines = ["  " + "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in cells]
    return [f"{CALLED} (of each loop: gain it may grow by, phase and delay to spare):", *lines, limit_words(limit, reach)]


def few_speeds(reach: Reach, speeds: Sequence[float]) -> list[float]:
    """At most three speeds (m/s): the wanted ones, and those near the ends of the reach if there are too few."""
    ends = (1.1 * reach.low, 0.95 * reach.high)
    wanted = sorted({speed for speed in speeds if reach.low <= speed <= reach.high})
    if len(wanted) > MOST_ROWS:
        wanted = [wanted[0], wanted[len(wanted) // 2], wanted[-1]]
    more = [end for end in ends if all(abs(end - speed) > 0.1 * speed for speed in wanted)]
    return sorted([*wanted, *more[: MOST_ROWS - len(wanted)]])


def headings(rows: Sequence[Row]) -> list[str]:
    """Of the columns of `row_words`, behind the speed."""
    loops = next((list(row.margins) for row in rows if row.trims), [])
    return ["speed", "slowest mode", "least damped swing", *loops]


def row_words(row: Row) -> list[str]:
    """Slowest mode, least damped swing, margins of every loop; nothing but the first without a trim."""
    if not row.trims:
        return ["has no trim", ""]
    spare = margin_words if row.stable else edge_words
    return [growth_words(row.slowest.real), swing_words(row.least_damped), *map(spare, row.margins.values())]


def growth_words(rate: float) -> str:
    """'halves in 1.2 s' or 'doubles in 0.4 s'; rate in 1/s."""
    time = math.log(2.0) / abs(rate) if rate else math.inf
    if time > LONG:
        return "stays as it is"
    return f"{'doubles' if rate > 0.0 else 'halves'} in {number(time, 2)} s"


def swing_words(mode: complex) -> str:
    """'2.4 Hz, 12 % damped'; mode in 1/s."""
    if not mode:
        return "none"
    return f"{number(abs(mode.imag) / (2.0 * math.pi), 2)} Hz, {100.0 * damping(mode):.0f} % damped"


def margin_words(margins: Margins) -> str:
    """'×2.1, 38 deg, 70 ms': a gain margin, a phase margin and the delay that could be added.

    A loop that no surface answers (a heading steered by propellers) is not judged.
    """
    if not math.isfinite(margins.gain) and not math.isfinite(margins.phase):
        return "not judged"
    gain = f"×{number(margins.gain, 2)}" if math.isfinite(margins.gain) else "any"
    if not math.isfinite(margins.phase):
        return f"{gain}, never crosses"
    return f"{gain}, {math.degrees(margins.phase):.0f} deg, {1000.0 * margins.delay:.0f} ms"


def edge_words(margins: Margins) -> str:
    """'edge at ×0.9': the gain at which a loop of an unstable craft is neither; nothing if lowering it meets none."""
    return f"edge at ×{number(margins.least_gain, 2)}" if margins.least_gain > 0.0 else ""


def speed_words(speed: float) -> str:
    """'4 m/s'."""
    return f"{number(speed, 2)} m/s"


def limit_words(limit: float, reach: Reach) -> str:
    """A sentence on the speed (m/s) from which on the loops are unstable."""
    if math.isnan(limit):
        return "With these gains small motions grow at every one of these speeds."
    if math.isinf(limit):
        return f"With these gains it is stable up to {number(reach.high)} m/s, as fast as it flies."
    return f"With these gains it is stable up to {number(limit, 2)} m/s; faster, small motions grow."

"""How steady a craft is, in words: its modes and the margins of its loops, for a check and for a design's page."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sweep.linear.shares import TRIED, Span
from sweep.linear.table import SpeedStability, damping, stability_table, stable_spans
from sweep.words.numbers import decimals, number
from sweep.words.phrases import together

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.linear.margins import Margins
    from sweep.linear.reach import Reach
    from sweep.linear.ticks import Mode
    from sweep.model.physics.water import Water

CALLED = "Small motions in calm water, with the gains of the craft file"
SHARES = f"Factors on these gains that keep it stable, tried from {number(float(TRIED[0]))} to {number(float(TRIED[-1]))}"
MOST_ROWS = 3
"""Motions of a craft that are listed, the slowest to fade (judgement)."""
BETWEEN, NEAR = 7, 0.06
"""Speeds of a reach at which stability is looked at first, and how near (a share) another may stand for one: judgement."""
IN_HAND = 1.1
"""Times the lowest speed at which its foils carry a craft, from which on it flies (measured: six crafts of the demos, in calm
water, fell at the lowest speed in one flight of four or more, and in none at this)."""

LONG = 1000.0
"""s: a mode that takes longer to halve counts as not settling (judgement)."""


UNKNOWN_LAW = "Its law is code of the builder's own: how stable it is, is not judged; only its flights tell."


def stability_text(craft: Craft, water: Water, reach: Reach, speeds: Sequence[float]) -> list[str]:
    """Two short tables of the craft over its speeds (m/s), and between which speeds its loops are stable."""
    if craft.control.traits.own:
        return [UNKNOWN_LAW]
    rows = stability_table(craft, water, few_speeds(reach, speeds))
    spans = spans_within(craft, water, reach, {row.speed: row.slowest.rate.real for row in rows if row.trims})
    margins = [headings(rows), *([speed_words(row.speed), *row_words(row)] for row in rows)]
    shares = [share_headings(rows), *([speed_words(row.speed), *share_words(row)] for row in rows)]
    return [
        f"{CALLED} (margins of each loop: gain, phase, delay):",
        *_aligned(margins),
        f"{SHARES} (each loop alone, and all gains together):",
        *_aligned(shares),
        limit_words(spans, reach),
    ]


def _aligned(cells: list[list[str]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    return ["  " + "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in cells]


def spans_within(craft: Craft, water: Water, reach: Reach, known: Mapping[float, float]) -> tuple[Span, ...]:
    """Between which speeds (m/s) of its reach a craft is stable; known: growth (1/s) at speeds where it is known."""
    between = np.geomspace(reach.low, reach.high, BETWEEN).tolist()[1:-1]
    far = [speed for speed in between if all(abs(speed - each) > NEAR * speed for each in known)]
    return stable_spans(craft, water, sorted({reach.low, *far, *known, reach.high}), known)


def few_speeds(reach: Reach, speeds: Sequence[float]) -> list[float]:
    """At most three speeds (m/s): the wanted ones, and those near the ends of the reach if there are too few."""
    ends = (1.1 * reach.low, 0.95 * reach.high)
    wanted = sorted({speed for speed in speeds if reach.low <= speed <= reach.high})
    if len(wanted) > MOST_ROWS:
        wanted = [wanted[0], wanted[len(wanted) // 2], wanted[-1]]
    more = [end for end in ends if all(abs(end - speed) > 0.1 * speed for speed in wanted)]
    return sorted([*wanted, *more[: MOST_ROWS - len(wanted)]])


def headings(rows: Sequence[SpeedStability]) -> list[str]:
    """Headings of `row_words`, after the speed."""
    loops = next((list(row.margins) for row in rows if row.trims), [])
    return ["speed", "slowest mode", "least damped oscillation", *loops]


def row_words(row: SpeedStability) -> list[str]:
    """Slowest mode, least damped swing, margins of every loop; only the first without a trim."""
    if not row.trims:
        return ["has no trim", ""]
    spare = margin_words if row.stable else edge_words
    return [slowest_words(row.slowest), swing_words(row.least_damped), *map(spare, row.margins.values())]


def slowest_words(mode: Mode) -> str:
    """'rolling, halves in 1.2 s'."""
    return f"{mode.motion}, {growth_words(mode.rate.real)}"


def growth_words(rate: float) -> str:
    """'halves in 1.2 s' or 'doubles in 0.4 s'; rate in 1/s."""
    time = math.log(2.0) / abs(rate) if rate else math.inf
    if time > LONG:
        return "stays as it is"
    return f"{'doubles' if rate > 0.0 else 'halves'} in {number(time, 2)} s"


def swing_words(mode: Mode) -> str:
    """'rolling, 2.4 Hz, 12 % damped'."""
    if not mode.rate:
        return "none"
    hertz = number(abs(mode.rate.imag) / (2.0 * math.pi), 2)
    return f"{mode.motion}, {hertz} Hz, {100.0 * damping(mode.rate):.0f} % damped"


def margin_words(margins: Margins) -> str:
    """'×2.1, 38 deg, 70 ms': a gain margin, a phase margin and the delay that could be added.

    A loop without a surface of its own (a heading steered by propellers) is not judged.
    """
    if not math.isfinite(margins.gain) and not math.isfinite(margins.phase):
        return "not judged"
    gain = f"×{number(margins.gain, 2)}" if math.isfinite(margins.gain) else "any"
    if not math.isfinite(margins.phase):
        return f"{gain}, never crosses"
    return f"{gain}, {math.degrees(margins.phase):.0f} deg, {1000.0 * margins.delay:.0f} ms"


def edge_words(margins: Margins) -> str:
    """'limit at ×0.9': the gain at which an unstable loop turns stable; nothing if there is none below 1."""
    return f"limit at ×{number(margins.least_gain, 2)}" if margins.least_gain > 0.0 else ""


def speed_words(speed: float) -> str:
    """'4 m/s'."""
    return f"{number(speed, 2)} m/s"


def limit_words(spans: Sequence[Span], reach: Reach) -> str:
    """The speeds (m/s) between which the loops are stable, and up to which there is none in hand, in sentences."""
    if not spans:
        return "With these gains it is unstable at every speed at which it flies."
    if spans[0] == (reach.low, reach.high):
        said = f"With these gains it is stable at all speeds that it flies at, {number(reach.low)} to {number(reach.high)} m/s."
    else:
        where = together([_from_to(span, reach) for span in spans])
        said = f"With these gains it is stable {where} m/s, and unstable at the other speeds at which it flies."
    if spans[0][0] > reach.low:
        return said
    return (
        f"{said} Under {number(IN_HAND * reach.low)} m/s the foils only just carry it: noise alone can drop it, even in a calm."
    )


def _from_to(span: Span, reach: Reach) -> str:
    low, high = inward(span)
    low = number(reach.low) if span[0] == reach.low else low
    return f"from {low} to {number(reach.high) if span[1] == reach.high else high}"


def inward(span: Span, digits: int = 2) -> tuple[str, str]:
    """Both ends in figures, rounded inwards."""
    low, high = span
    up, down = 10.0 ** decimals(low, digits), 10.0 ** decimals(high, digits)
    return number(math.ceil(low * up - 1e-6) / up), number(math.floor(high * down + 1e-6) / down)


def share_headings(rows: Sequence[SpeedStability]) -> list[str]:
    """Headings of `share_words`, after the speed."""
    return ["speed", *next((list(row.shares) for row in rows if row.trims), [])]


def share_words(row: SpeedStability) -> list[str]:
    """Least and largest share of the gains with which it is stable; nothing without a trim."""
    return [span_words(span) for span in row.shares.values()] if row.trims else ["has no trim"]


def span_words(span: Span | None) -> str:
    """'0.77 to 1.5' times the gains; an end beyond what was tried is left out."""
    if span is None:
        return "none"
    low, high = inward(span)
    least, most = span[0] <= TRIED[0], span[1] >= TRIED[-1]
    if least and most:
        return "any"
    return f"up to {high}" if least else f"{low} or more" if most else f"{low} to {high}"

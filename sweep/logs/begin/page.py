"""A page of traces: every column as it was taken, to confirm by eye before a word of it is believed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

import numpy as np

from sweep.logs.begin.draft import Draft
from sweep.logs.begin.guess import Guess
from sweep.logs.read.channels import channel_kind
from sweep.model.physics.spectra import Floats
from sweep.words.numbers import number, pretty
from sweep.words.units import from_unit

WIDTH, HEIGHT, POINTS = 900, 90, 900
HOLE = 0.02  # of the width: a longer hole in the rows is one in the trace, unless it is the usual step (judgement)
SHOWN = {"range": "cm", "pitch": "deg", "roll": "deg", "heading": "deg", "pitch_rate": "deg/s", "speed": "m/s"}
"""Units of the charts; others in SI."""
LOOK = {
    "range": "It grows when the boat rises.",
    "pitch": "Up is bow up: lift the bow on the bench, and it must go up.",
    "roll": "Up is starboard down.",
    "pitch_rate": "Up while the bow goes up.",
    "force_x": "Up while the boat speeds up, and with the bow held up.",
    "force_z": "About -9.8 m/s^2 at rest, more negative while it is pushed up.",
    "heading": "It grows in a turn to starboard.",
    "speed": "As you remember it: 4 m/s is a run, and none is a walk.",
}
STYLE = """body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;
color:#1b2733;background:#fff}
svg{width:100%;height:auto;background:#f4f7f9}path{fill:none;stroke:#0b5c8a;stroke-width:1}
h2{margin:1.6rem 0 .2rem;font-size:1.1rem}
.ask{border-left:4px solid #b25000;padding-left:.6rem}p{margin:.2rem 0}"""


def page(drafts: Sequence[Draft]) -> str:
    """The page as HTML without scripts; every word of the log is escaped."""
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        f"<title>What {escape(drafts[0].path.name)} was taken for</title><style>{STYLE}</style>"
        "<p>Look at each trace: is it what its heading says, the right way up and of the right size? "
        "What is not, correct in the mapping file.</p>"
        + "".join(part for draft in drafts for part in _parts(draft))
        + "</html>\n"
    )


def _parts(draft: Draft) -> Iterator[str]:
    clock = draft.clock
    yield f"<h1>What {escape(draft.path.name)} was taken for</h1>"
    if clock is not None:
        yield f"<h2>Clock: {escape(clock.column)}</h2><p>{escape(clock.why)}.</p>{_asked(clock.question)}"
    for guess in draft.guesses:
        unit = SHOWN.get(guess.channel, channel_kind(guess.channel).kind.units[0])
        values = _values(draft, guess) / (from_unit("1", unit) or 1.0)
        known = values[np.isfinite(values)]
        low, high = float(known.min()), float(known.max())
        title = f"{guess.channel}: {channel_kind(guess.channel).meaning}"
        yield f"<h2>{escape(title)}</h2><p>Column {escape(guess.column)}: {escape(guess.why)}.</p>{_asked(guess.question)}"
        if guess.channel in LOOK:
            yield f"<p>{escape(LOOK[guess.channel])}</p>"
        told = f"from {number(low)} to {number(high)} {pretty(unit)} over {number(np.ptp(draft.columns.time))} s"
        yield f"{_trace(draft.columns.time, values, f'{guess.channel}, {told}')}<p>{escape(told)}</p>"
    if draft.others:
        yield f"<h2>Not taken for anything</h2><p>{escape(', '.join(draft.others))}</p>"


def _asked(question: str) -> str:
    return f'<p class="ask"><strong>Not sure:</strong> {escape(question)}</p>' if question else ""


def _values(draft: Draft, guess: Guess) -> Floats:
    values = draft.columns.values[guess.column].copy()
    values[np.isin(values, guess.missing)] = np.nan
    return values * guess.factor


def _trace(time: Floats, values: Floats, title: str) -> str:
    """Lowest and highest of each stretch, so that nothing is thinned away."""
    known = np.isfinite(values) & np.isfinite(time)
    time, values = time[known], values[known]
    x = (time - time[0]) / max(float(np.ptp(time)), 1e-9) * WIDTH
    low, spread = float(values.min()), max(float(np.ptp(values)), 1e-12)
    y = HEIGHT - 4 - (values - low) / spread * (HEIGHT - 8)
    cell = np.minimum(x * POINTS / WIDTH, POINTS - 1).astype(int)
    begins = np.flatnonzero(np.diff(cell, prepend=-1))
    usual = float(np.median(np.diff(x))) if len(x) > 1 else 0.0
    starts = np.diff(x[begins], prepend=-WIDTH) > max(HOLE * WIDTH, 2.5 * usual)
    pieces = zip(starts, x[begins], np.minimum.reduceat(y, begins), np.maximum.reduceat(y, begins), strict=True)
    path = " ".join(f"{'M' if new else 'L'}{at:.1f},{first:.1f} L{at:.1f},{last:.1f}" for new, at, first, last in pieces)
    return f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(title)}"><path d="{path}"/></svg>'

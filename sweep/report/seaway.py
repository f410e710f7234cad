"""The boat of a decision in the day's waves, to scale, with the lengths that a builder asks for first."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from sweep.campaign.craft import Craft
from sweep.report.drawing import Shape, View, Wave, side
from sweep.report.drawing_marks import Mark, marks, millimetres, points_text
from sweep.words.numbers import with_unit
from sweep.words.phrases import together

WIDTH = 2.3  # of the frame over the craft's own length: judgement
WAVE_POINTS = 97  # of the surface: judgement
BELOW, ABOVE = 0.05, 0.03  # m of water under the foils, of air over the deck: judgement
GAP = 0.03  # m between a dimension and what it measures: judgement
TICK = 0.008  # half the length of a dimension's end, m: judgement
LETTERS, WORDS = 80, 46  # of the dimensions' words' height, in a picture's width: judgement
SAME = 5e-4  # m: less than half a millimetre is no other strut (judgement)


class Label(NamedTuple):
    """A word in the drawing; across, down: mm; anchor: which end of it stands there."""

    across: str
    down: str
    anchor: str
    text: str


class Seaway(NamedTuple):
    """The craft over the waves; frame: left, top, width, height, mm; water: a polygon beyond it; before: the path of the
    foils' places as the boat is; rules: of all dimensions; size: of their words, mm.

    said: the same lengths in a sentence, which is the picture's description.
    """

    frame: list[str]
    water: str
    shapes: list[Mark]
    before: str
    rules: str
    labels: list[Label]
    size: str
    said: str


class Lengths(NamedTuple):
    """Dimension lines over a view: the path of all, their words, and how tall these are, mm."""

    rules: str
    labels: list[Label]
    size: str


class Portrait(NamedTuple):
    """A small side view of a craft on calm water; frame as of `Seaway`; level: the path of the water's line."""

    frame: list[str]
    shapes: list[Mark]
    level: str


def seaway(craft: Craft, base: Craft, wave: Wave | None) -> Seaway:
    """The craft at its wanted height over one wave of the day; base: the boat as it is, whose other struts are dashed."""
    shapes = [shape for shape in side(craft) if shape.kind not in ("ring", "centre")]
    left, top, width, height = _frame(craft, shapes, wave)
    rules, labels = _dimensions(craft, wave, left, width)
    return Seaway(
        frame=[millimetres(value) for value in (left, top, width, height)],
        water=points_text(_surface(craft, wave, (left, top, width, height))),
        shapes=marks(shapes),
        before=_before(craft, base),
        rules=rules,
        labels=labels,
        size=millimetres(width / LETTERS),
        said=_said(craft, base, wave),
    )


def portrait(craft: Craft) -> Portrait:
    """A craft from starboard, small, over calm water at its wanted height."""
    shapes = [shape for shape in side(craft) if shape.kind not in ("ring", "centre", "sensor", "wand", "linkage")]
    left, top, width, height = _around(shapes, 0.02)
    level = f"M {millimetres(left)} {millimetres(craft.control.ride_height)} h {millimetres(width)}"
    return Portrait([millimetres(value) for value in (left, top, width, height)], marks(shapes), level)


def _around(shapes: list[Shape], margin: float) -> tuple[float, float, float, float]:
    across = [x for shape in shapes for x, _ in shape.points]
    down = [y for shape in shapes for _, y in shape.points]
    left, top = min(across) - margin, min(down) - margin
    return left, top, max(across) + margin - left, max(down) + margin - top


def _frame(craft: Craft, shapes: list[Shape], wave: Wave | None) -> tuple[float, float, float, float]:
    """Wide enough for the water ahead and astern; the craft a little astern of its middle."""
    left, top, width, height = _around(shapes, 0.0)
    trough = craft.control.ride_height + (wave.height / 2 if wave else 0.0)
    bottom = max(top + height, trough) + BELOW
    return left - 0.5 * (WIDTH - 1.0) * width, top - ABOVE, WIDTH * width, bottom - top + ABOVE


def _surface(craft: Craft, wave: Wave | None, frame: tuple[float, float, float, float]) -> list[tuple[float, float]]:
    left, top, width, height = frame
    left, width = left - GAP, width + 2 * GAP
    level, crest = craft.control.ride_height, left + 0.12 * width
    line = [left + width * i / (WAVE_POINTS - 1) for i in range(WAVE_POINTS)]
    rise = [wave.height / 2 * math.cos(2 * math.pi * (x - crest) / wave.length) if wave else 0.0 for x in line]
    bottom = top + height + GAP
    return [*((x, level - eta) for x, eta in zip(line, rise, strict=True)), (left + width, bottom), (left, bottom)]


def _before(craft: Craft, base: Craft) -> str:
    """Where the foils are on the boat as it is, as lines, where their struts were others."""
    moved = {name: foil for name, foil in base.foils.items() if _moved(craft, base, name)}
    lines = [(foil.x - 1.25 * foil.chord, base.strut_of(foil).height, 2 * foil.chord) for foil in moved.values()]
    return " ".join(
        f"M {millimetres(left)} {millimetres(down)} h {millimetres(width)}" for left, down, width in dict.fromkeys(lines)
    )


def _moved(craft: Craft, base: Craft, name: str) -> bool:
    if name not in craft.foils:
        return True
    return abs(craft.strut_of(craft.foils[name]).height - base.strut_of(base.foils[name]).height) > SAME


def _struts(craft: Craft) -> str:
    """Every height of its struts, the shortest first: '22 cm, 25 cm and 30 cm'."""
    return together([_cm(height) for height in sorted({craft.strut_of(foil).height for foil in craft.foils.values()})])


def _dimensions(craft: Craft, wave: Wave | None, left: float, width: float) -> tuple[str, list[Label]]:
    """The path of the dimension lines, and their words."""
    last = min(craft.foils.values(), key=lambda foil: foil.x)
    height, aft = craft.strut_of(last).height, last.x - craft.strut_of(last).chord - 2 * GAP
    ride, middle = craft.control.ride_height, _between(craft)
    spans = [(aft, 0.0, height), (middle, 0.0, ride)]
    labels = [
        _label(aft - GAP / 2, 0.75 * height, "end", f"strut {_cm(height)}"),
        _label(middle - GAP / 2, 0.5 * ride, "end", f"ride height {_cm(ride)}"),
    ]
    if wave:
        at = left + 0.95 * width
        spans.append((at, ride - wave.height / 2, ride + wave.height / 2))
        labels.append(_label(at - GAP / 2, ride + wave.height / 2 + GAP, "end", f"wave {_cm(wave.height)}"))
    return " ".join(_span(*span) for span in spans), labels


def _between(craft: Craft) -> float:
    """Where the words of the ride height end: most of the way along the widest gap between struts, so that they have room."""
    places = sorted({foil.x for foil in craft.foils.values()})
    behind, ahead = max(pairwise(places), key=lambda pair: pair[1] - pair[0], default=(places[0], places[0]))
    return behind + 0.85 * (ahead - behind)


def measured(craft: Craft, view: View) -> tuple[View, Lengths]:
    """The side view of a craft with room for its dimensions above and below, and these."""
    left, top, width, height = view.frame
    room, gap = width / 14, width / 70
    foils = sorted(craft.foils.values(), key=lambda foil: foil.x)
    aft, bow = foils[0].x, foils[-1].x
    stern, stem = (min(h.x - h.length / 2 for h in craft.hulls.values()), max(h.x + h.length / 2 for h in craft.hulls.values()))
    deck, under = -max(hull.depth for hull in craft.hulls.values()) - gap, top + height + gap
    lines = [_along(deck, stern, stem)]
    labels = [_label((stern + stem) / 2, deck - gap / 2, "middle", f"hull {_cm(stem - stern)}")]
    if bow - aft > SAME:
        lines.append(_along(under, aft, bow))
        labels.append(_label((aft + bow) / 2, under + 1.6 * gap, "middle", f"foils {_cm(bow - aft)} apart"))
    for foil in {_cm(craft.strut_of(foil).height): foil for foil in foils[::-1]}.values():
        strut = craft.strut_of(foil)
        at = foil.x + strut.chord / 2 + gap
        lines.append(_span(at, 0.0, strut.height))
        labels.append(_label(at + gap / 2, 0.8 * strut.height, "start", f"strut {_cm(strut.height)}"))
    ride, middle = craft.control.ride_height, (aft + bow) / 2
    lines.append(_span(middle, 0.0, ride))
    labels.append(_label(middle + gap / 2, 0.35 * ride, "start", f"ride height {_cm(ride)}"))
    taller = view._replace(frame=(left, top - room, width, height + 2 * room))
    return taller, Lengths(" ".join(lines), labels, millimetres(width / WORDS))


def _along(down: float, first: float, last: float) -> str:
    """A level dimension line with its two ends."""
    ends = [f"M {millimetres(x)} {millimetres(down - TICK)} v {millimetres(2 * TICK)}" for x in (first, last)]
    return " ".join([f"M {millimetres(first)} {millimetres(down)} H {millimetres(last)}", *ends])


def _span(across: float, upper: float, lower: float) -> str:
    """A vertical dimension line with its two ends."""
    ends = [f"M {millimetres(across - TICK)} {millimetres(y)} h {millimetres(2 * TICK)}" for y in (upper, lower)]
    return " ".join([f"M {millimetres(across)} {millimetres(upper)} V {millimetres(lower)}", *ends])


def _label(across: float, down: float, anchor: str, text: str) -> Label:
    return Label(millimetres(across), millimetres(down), anchor, text)


def _cm(length: float) -> str:
    return with_unit(100.0 * length, "cm")


def _said(craft: Craft, base: Craft, wave: Wave | None) -> str:
    before = f" ({_struts(base)} as it is, dashed)" if _before(craft, base) else ""
    size = f"{_cm(wave.height)} high, {with_unit(wave.length, 'm')} long" if wave else ""
    sea = f", over one wave of the day's highest sea: {size}" if wave else ""
    ride = _cm(craft.control.ride_height)
    return f"To scale: struts {_struts(craft)}{before}; it rides with its keel {ride} above mean water{sea}."

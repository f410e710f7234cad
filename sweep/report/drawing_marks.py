"""Drawings as a page sets them out: numbers as text, in whole and tenth millimetres."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import pandas as pd

from sweep.campaign.craft import Craft
from sweep.model.pack.mass import mass_properties
from sweep.report.drawing import Shape, View, replay_frame, side


class Mark(NamedTuple):
    """A shape: its kind is its style; pivot: of a foil that turns, '' of others."""

    kind: str
    name: str
    points: str
    pivot: str


class Paper(NamedTuple):
    """A view; frame: left, top, width, height; scale: the path of a bar of 10 cm; kinds: of its shapes."""

    key: str
    title: str
    frame: list[str]
    shapes: list[Mark]
    scale: str
    kinds: set[str]


class Replay(NamedTuple):
    """The side view that moves: the craft in the frame, lifted to its wanted height, over the water drawn calm.

    bottom, lift, pivot: of the frame, of the craft, and where along it the craft turns.
    """

    frame: list[str]
    bottom: str
    calm: str
    lift: str
    pivot: str
    shapes: list[Mark]


def millimetres(value: float) -> str:
    """Metres as the text of millimetres."""
    return f"{1e3 * value:.1f}".removesuffix(".0")


def paper(view: View) -> Paper:
    """A view, with a bar of 10 cm for its scale."""
    left, top, *_ = view.frame
    return Paper(
        key=view.key,
        title=view.title,
        frame=_frame(view.frame),
        shapes=marks(view.shapes),
        scale=f"M {millimetres(left + 0.02)} {millimetres(top + 0.02)} h 100",
        kinds={shape.kind for shape in view.shapes},
    )


def _frame(frame: Iterable[float]) -> list[str]:
    return [millimetres(value) for value in frame]


def marks(shapes: Iterable[Shape]) -> list[Mark]:
    """Shapes as a page sets them out."""
    return [_mark(shape) for shape in shapes]


def _mark(shape: Shape) -> Mark:
    return Mark(shape.kind, shape.name, points_text(shape.points), points_text([shape.pivot], " ") if shape.pivot else "")


def points_text(points: Iterable[Sequence[float]], between: str = ",") -> str:
    """Points in metres as the text of millimetres."""
    return " ".join(f"{millimetres(x)}{between}{millimetres(y)}" for x, y in points)


def replay_paper(craft: Craft, history: pd.DataFrame) -> Replay:
    """The side view that moves: the craft at its wanted height in calm water, in a frame that holds its recorded flights.

    history: columns keel_height and, if it is there, ride_height, m.
    """
    left, top, width, height = replay_frame(craft, float(history["keel_height"].min()), float(history["keel_height"].max()))
    bottom = top + height
    calm = ((left - 0.02, 0.0), (left + width + 0.02, 0.0), (left + width + 0.02, bottom + 0.02), (left - 0.02, bottom + 0.02))
    return Replay(
        frame=_frame((left, top, width, height)),
        bottom=millimetres(bottom),
        calm=points_text(calm),
        lift=millimetres(-craft.control.ride_height),
        pivot=millimetres(float(mass_properties(craft).centre[0])),
        shapes=marks(shape for shape in side(craft) if shape.kind not in ("wand", "linkage")),  # they move
    )

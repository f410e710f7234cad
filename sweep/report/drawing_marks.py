"""Drawings as a page sets them out: numbers as text, in whole and tenth millimetres."""

from __future__ import annotations

from typing import Any

import pandas as pd

from sweep.campaign.craft import Craft
from sweep.model.pack.mass import mass_properties
from sweep.report.drawing import Shape, View, replay_frame, side


def millimetres(value: float) -> str:
    """Metres as the text of millimetres."""
    return f"{1e3 * value:.1f}".removesuffix(".0")


def paper(view: View) -> dict[str, Any]:
    """A view, with a bar of 10 cm for its scale."""
    left, top, width, height = view.frame
    return {
        "key": view.key,
        "title": view.title,
        "frame": [millimetres(value) for value in (left, top, width, height)],
        "shapes": [_shape(shape) for shape in view.shapes],
        "scale": f"M {millimetres(left + 0.02)} {millimetres(top + 0.02)} h 100",
    }


def _shape(shape: Shape) -> dict[str, Any]:
    return {"kind": shape.kind, "name": shape.name, "points": _points(shape.points)} | (
        {"pivot": _points([shape.pivot], " ")} if shape.pivot else {"pivot": ""}
    )


def _points(points: Any, between: str = ",") -> str:
    return " ".join(f"{millimetres(x)}{between}{millimetres(y)}" for x, y in points)


def replay_paper(craft: Craft, history: pd.DataFrame) -> dict[str, Any]:
    """The side view that moves: the craft at its wanted height in calm water, in a frame that holds its recorded flights.

    history: columns keel_height and, if it is there, ride_height, m.
    """
    left, top, width, height = replay_frame(craft, float(history["keel_height"].min()), float(history["keel_height"].max()))
    bottom = top + height
    calm = ((left - 0.02, 0.0), (left + width + 0.02, 0.0), (left + width + 0.02, bottom + 0.02), (left - 0.02, bottom + 0.02))
    return {
        "frame": [millimetres(value) for value in (left, top, width, height)],
        "bottom": millimetres(bottom),
        "calm": _points(calm),
        "lift": millimetres(-craft.control.ride_height),
        "pivot": millimetres(float(mass_properties(craft).centre[0])),
        "shapes": [_shape(shape) for shape in side(craft)],
    }

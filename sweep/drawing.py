"""A craft to scale from its own numbers: side, front and plan, in metres; no text, no files.

Drawings use the paper's axes: right, and down. Side and plan look from starboard and from above with the bow to the
right; the front view looks aft, so that starboard is on the left. Hulls are prisms, as the model takes them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from sweep.campaign.craft import Craft, Foil, Hull

MARGIN = 0.045
SKY = 0.08
BEAM_DEGREES = 6.0

Point = tuple[float, float]


class Shape(NamedTuple):
    """A polygon of one kind: hull, foil, strut, propulsor, sensor, window, water or level; named if it is one of many."""

    kind: str
    points: tuple[Point, ...]
    name: str = ""


class View(NamedTuple):
    """Shapes in painting order inside a frame (left, top, width, height)."""

    key: str
    title: str
    frame: tuple[float, float, float, float]
    shapes: tuple[Shape, ...]


def draw(craft: Craft) -> tuple[View, ...]:
    """Side, front and plan with one width, so that equal widths on paper give one scale."""
    views = {"side": [*_water(craft), *_side(craft)], "front": [*_water(craft), *_front(craft)], "plan": [*_plan(craft)]}
    width = 2 * MARGIN + max(_width(shapes) for shapes in views.values())
    titles = {"side": "Side, bow to the right", "front": "Front, from ahead", "plan": "Plan, from above"}
    return tuple(View(key, titles[key], _frame(shapes, width), tuple(_spread(shapes, width))) for key, shapes in views.items())


def _box(kind: str, left: float, right: float, low: float, high: float, name: str = "") -> Shape:
    """A rectangle between two heights (positive up)."""
    return Shape(kind, ((left, -high), (right, -high), (right, -low), (left, -low)), name)


def _solid(shapes: Sequence[Shape]) -> list[Point]:
    return [point for shape in shapes if shape.kind not in ("water", "window", "level") for point in shape.points]


def _width(shapes: Sequence[Shape]) -> float:
    across = [x for x, _ in _solid(shapes)]
    return max(across) - min(across)


def _frame(shapes: Sequence[Shape], width: float) -> tuple[float, float, float, float]:
    across, down = zip(*_solid(shapes), strict=True)
    left = (min(across) + max(across) - width) / 2
    return left, min(down) - MARGIN, width, max(down) - min(down) + 2 * MARGIN


def _spread(shapes: Sequence[Shape], width: float) -> Iterator[Shape]:
    """Give water and ride window the frame's width."""
    left, top, _, height = _frame(shapes, width)
    for shape in shapes:
        if shape.kind not in ("water", "window", "level"):
            yield shape
            continue
        highest, lowest = -shape.points[0][1], -shape.points[2][1]
        lowest = -(top + height) if shape.kind == "water" else lowest
        yield _box(shape.kind, left, left + width, lowest, highest)


def ride_window(craft: Craft) -> tuple[float, float]:
    """Least and largest ride height of a level craft on flat water: the foils' depth and the keel's clearance kept, m."""
    tips = [-craft.struts.height + foil.span_length / 2 * math.tan(max(foil.dihedral, 0.0)) for foil in craft.foils.values()]
    depths = [craft.window.submergence * foil.chord for foil in craft.foils.values()]
    return craft.window.clearance, -max(tip + depth for tip, depth in zip(tips, depths, strict=True))


def _water(craft: Craft) -> list[Shape]:
    """Calm water at the wanted ride height, and where its level may be for keel and foils to keep their window."""
    least, largest = ride_window(craft)
    level = -craft.control.ride_height
    return [_box("water", 0, 1, level - SKY, level), _box("window", 0, 1, -largest, -least), _box("level", 0, 1, level, level)]


def _side(craft: Craft) -> Iterator[Shape]:
    for name, hull in craft.hulls.items():
        yield _box("hull", hull.x - hull.length / 2, hull.x + hull.length / 2, 0.0, hull.depth, name)
    struts = craft.struts
    for name, foil in craft.foils.items():
        yield _box("strut", foil.x - struts.chord / 2, foil.x + struts.chord / 2, -struts.height, 0.0)
        yield _section(foil, struts.height, name)
    yield _propulsor(craft, craft.propulsor.x, 0.02)
    yield from (
        _beam(x, craft.rangefinders.height, craft.control.ride_height) for x in sorted({x for x, _ in mountings(craft)})
    )


def _propulsor(craft: Craft, across: float, half_length: float) -> Shape:
    """A mark at the thrust line: the craft file does not know the propulsor's size."""
    height = craft.propulsor.height
    return _box("propulsor", across - half_length, across + half_length, height - 0.012, height + 0.012)


def _section(foil: Foil, depth: float, name: str) -> Shape:
    """A foil from the side: a lens of its chord and thickness, the quarter chord at its place."""
    chord, half = foil.chord, foil.thickness_ratio * foil.chord / 2
    stations = [i / 8 for i in range(9)]
    upper = [(foil.x + chord / 4 - chord * s, depth - 4 * half * s * (1 - s)) for s in stations]
    lower = [(foil.x + chord / 4 - chord * s, depth + 4 * half * s * (1 - s)) for s in reversed(stations)]
    return Shape("foil", (*upper, *lower), name)


def _beam(across: float, height: float, ride_height: float) -> Shape:
    """A rangefinder and where it looks, down to the calm water."""
    spread = (height + ride_height) * math.tan(math.radians(BEAM_DEGREES))
    return Shape("sensor", ((across, -height), (across - spread, ride_height), (across + spread, ride_height)))


def mountings(craft: Craft) -> list[Point]:
    """Where the rangefinders sit: (x, y) of each; over the foils in the file's order, or on or across the bow."""
    finders = craft.rangefinders
    if finders.layout == "over-foils":
        foils = list(craft.foils.values())
        return [(foils[i % len(foils)].x, foils[i % len(foils)].y) for i in range(finders.count)]
    if finders.count == 1:
        return [(finders.x, 0.0)]
    return [(finders.x, finders.spacing * (i / (finders.count - 1) - 0.5)) for i in range(finders.count)]


def _front(craft: Craft) -> Iterator[Shape]:
    """Starboard on the left: the paper's right is -y."""
    for name, hull in craft.hulls.items():
        yield _transverse(hull, name)
    struts = craft.struts
    for name, foil in craft.foils.items():
        for offset in foil.strut_offsets:
            across = -(foil.y + offset)
            yield _box("strut", across - struts.thickness / 2, across + struts.thickness / 2, -struts.height, 0.0)
        yield _wing(foil, struts.height, name)
    yield _propulsor(craft, 0.0, 0.012)
    yield from (
        _beam(-y, craft.rangefinders.height, craft.control.ride_height) for y in sorted({y for _, y in mountings(craft)})
    )


def _transverse(hull: Hull, name: str) -> Shape:
    half = hull.beam / 2
    chine = min(half * math.tan(hull.deadrise), hull.depth)
    outline = ((0.0, 0.0), (half, -chine), (half, -hull.depth), (-half, -hull.depth), (-half, -chine))
    return Shape("hull", tuple((-hull.y + across, down) for across, down in outline), name)


def _wing(foil: Foil, depth: float, name: str) -> Shape:
    half, thick = foil.span_length / 2, foil.thickness_ratio * foil.chord / 2
    rise = half * math.tan(foil.dihedral)
    outline = (
        (0.0, -thick),
        (half, -rise - thick / 2),
        (half, -rise + thick / 2),
        (0.0, thick),
        (-half, -rise + thick / 2),
        (-half, -rise - thick / 2),
    )
    return Shape("foil", tuple((-foil.y + across, depth + down) for across, down in outline), name)


def _plan(craft: Craft) -> Iterator[Shape]:
    """Bow to the right, starboard down."""
    for name, foil in craft.foils.items():
        half = foil.span_length / 2
        yield _box("foil", foil.x - 0.75 * foil.chord, foil.x + 0.25 * foil.chord, -foil.y - half, -foil.y + half, name)
    for name, hull in craft.hulls.items():
        half = hull.beam / 2
        yield _box("hull", hull.x - hull.length / 2, hull.x + hull.length / 2, -hull.y - half, -hull.y + half, name)
    for x, y in mountings(craft):
        yield _box("sensor", x - 0.01, x + 0.01, -y - 0.01, -y + 0.01)

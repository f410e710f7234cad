"""A craft to scale from its own numbers: side, front and plan, in metres; no text, no files.

Drawings use the paper's axes: right, and down. Side and plan look from starboard and from above with the bow to the
right; the front view looks aft, so that starboard is on the left. Hulls are prisms, as the model takes them. A craft's own
drawings have their zero at its datum, at the height of the keel; a replay has it at the calm level.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from sweep.campaign.craft import Craft, Foil, Hull, Wand, ride_window
from sweep.model.pack.mass import Triple, mass_properties, rangefinder_beams, rangefinder_places

MARGIN = 0.045  # m, as all lengths of a drawing; judgement
SKY = 0.08  # m: judgement
NARROWEST_BEAM = math.radians(3.0)  # that can be seen: judgement
PROPULSOR_LENGTH = 0.02  # m: judgement
TAP = 0.005  # half the size of a pressure tap, m: judgement
MARK = 0.013  # of the longest hull: judgement
WAVE_POINTS = 49  # of the line of the water: judgement
MOST_HEAVE = 0.6  # m: judgement

Point = tuple[float, float]
Frame = tuple[float, float, float, float]


class Shape(NamedTuple):
    """A polygon of one kind: hull, foil, strut, arm, propulsor, sensor, wand, linkage, ring, centre, window, water or level; a
    wave is a line.

    It is named if it is one of many; a foil that turns as a whole has the point that it turns about. An arm is what must carry
    a strut that stands beside the hulls: the craft file does not describe it.
    """

    kind: str
    points: tuple[Point, ...]
    name: str = ""
    pivot: Point | None = None


class View(NamedTuple):
    """Shapes in painting order inside a frame (left, top, width, height)."""

    key: str
    title: str
    frame: Frame
    shapes: tuple[Shape, ...]


class Wave(NamedTuple):
    """A wave to show beside a craft, m: its height from trough to crest, and its length."""

    height: float
    length: float


def draw(craft: Craft, wave: Wave | None = None) -> tuple[View, ...]:
    """Side, front and plan with one width, so that equal widths on paper give one scale; a wave goes through the side view."""
    views = {"side": [*_water(craft), *side(craft)], "front": [*_water(craft), *_front(craft)], "plan": [*_plan(craft)]}
    width = 2 * MARGIN + max(_width(shapes) for shapes in views.values())
    titles = {"side": "Side, bow to the right", "front": "Front, from ahead", "plan": "Plan, from above"}
    drawn = {key: View(key, titles[key], _frame(shapes, width), tuple(_spread(shapes, width))) for key, shapes in views.items()}
    if wave:
        view = drawn["side"]
        drawn["side"] = view._replace(shapes=(*view.shapes, _profile(view.frame, craft, wave)))
    return tuple(drawn.values())


def replay_frame(craft: Craft, lowest: float, highest: float) -> Frame:
    """What a replay shows: the whole craft, with some water ahead and astern, while its keel is `lowest` ... `highest` m up."""
    solid = _solid([*side(craft)])
    across, down = [x for x, _ in solid], [y for _, y in solid]
    length = max(across) - min(across)
    reach = craft.control.ride_height
    low, high = max(lowest, reach - MOST_HEAVE), min(highest, reach + MOST_HEAVE)
    top, bottom = min(down) - high - MARGIN, max(down) - low + MARGIN
    return min(across) - 0.3 * length, top, 1.6 * length, bottom - top


def _profile(frame: Frame, craft: Craft, wave: Wave) -> Shape:
    """A wave about the calm level, its crest at the craft's bow end of the frame."""
    left, _, width, _ = frame
    level, crest = craft.control.ride_height, left + 0.75 * width
    stations = [left + width * i / (WAVE_POINTS - 1) for i in range(WAVE_POINTS)]
    heights = [wave.height / 2 * math.cos(2 * math.pi * (x - crest) / wave.length) for x in stations]
    return Shape("wave", tuple((x, level - eta) for x, eta in zip(stations, heights, strict=True)))


def _mark(across: float, height: float, size: float) -> Iterator[Shape]:
    """The usual mark of a centre of gravity: a circle with two of its quarters filled."""

    yield Shape("ring", _arc(across, height, size, 0, 360))
    for first in (0, 180):
        yield Shape("centre", ((across, -height), *_arc(across, height, size, first, first + 90)))


def _arc(across: float, height: float, radius: float, first: float, last: float) -> tuple[Point, ...]:
    """Points on a circle, between two angles in degrees."""
    angles = [math.radians(first + (last - first) * i / 24) for i in range(25)]
    return tuple((across + radius * math.cos(angle), -height + radius * math.sin(angle)) for angle in angles)


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


def _water(craft: Craft) -> list[Shape]:
    """Calm water at the wanted ride height, and where its level may be for keel and foils to keep their window."""
    least, largest = ride_window(craft)
    level = -craft.control.ride_height
    return [_box("water", 0, 1, level - SKY, level), _box("window", 0, 1, -largest, -least), _box("level", 0, 1, level, level)]


def side(craft: Craft) -> Iterator[Shape]:
    """The craft alone, from starboard."""
    for name, hull in craft.hulls.items():
        yield _box("hull", hull.x - hull.length / 2, hull.x + hull.length / 2, 0.0, hull.depth, name)
    for name, foil in craft.foils.items():
        struts = craft.strut_of(foil)
        yield _box("strut", foil.x - struts.chord / 2, foil.x + struts.chord / 2, -struts.height, 0.0)
        yield from _sections(foil, struts.height, name)
    for name, rudder in craft.steering.rudders.items():
        fore, aft = rudder.x + rudder.chord / 2, rudder.x - rudder.chord / 2
        yield _box("strut", aft, fore, rudder.top - rudder.length, rudder.top, f"rudder {name}")
    yield _propulsor(craft, craft.propulsor.x, PROPULSOR_LENGTH / 2)
    yield from dict.fromkeys(
        _beam(craft, i, place[0], beam[0] / beam[2])
        for i, (place, beam) in sorted(_beams(craft), key=lambda each: each[1][0][0])
    )
    for x, _, height in _taps(craft):
        yield _box("sensor", x - TAP, x + TAP, height - TAP, height + TAP)
    for name, wand in craft.wands.items():
        back, down = _tip(craft, wand)
        yield Shape("wand", ((wand.x, -wand.height), (wand.x - back, down - wand.height)), name)
    for name, foil, wand in _led(craft):
        yield from _rods((wand.x, -wand.height), (foil.x, 0.0), (foil.x, craft.strut_of(foil).height), name=name)
    (x, _, height), size = mass_properties(craft).centre, _mark_size(craft)
    yield from _mark(float(x), float(height), size)


def _mark_size(craft: Craft) -> float:
    return MARK * max(hull.length for hull in craft.hulls.values())


def _propulsor(craft: Craft, across: float, half_length: float) -> Shape:
    """The space that its propeller sweeps."""
    height, radius = craft.propulsor.height, craft.propulsor.diameter / 2
    return _box("propulsor", across - half_length, across + half_length, height - radius, height + radius)


def _sections(foil: Foil, depth: float, name: str) -> Iterator[Shape]:
    """A foil from the side: a lens of its chord and thickness, the quarter chord at its place; of a swept one its tip too."""
    middle, tip = _chords(foil)
    if foil.sweep != 0.0:
        rise = foil.span_length / 2 * math.tan(foil.dihedral)
        yield Shape("foil", _lens(foil.x - _tip_aft(foil), depth - rise, tip, foil.thickness_ratio))
    pivot = (foil.x - foil.pivot * foil.chord, depth) if foil.flap is None and foil.moves else None
    yield Shape("foil", _lens(foil.x, depth, middle, foil.thickness_ratio), name, pivot)


def _lens(x: float, depth: float, chord: float, thickness_ratio: float) -> tuple[Point, ...]:
    """The outline of a section with its quarter chord at x."""
    half, stations = thickness_ratio * chord / 2, [i / 8 for i in range(9)]
    upper = [(x + chord / 4 - chord * s, depth - 4 * half * s * (1 - s)) for s in stations]
    lower = [(x + chord / 4 - chord * s, depth + 4 * half * s * (1 - s)) for s in reversed(stations)]
    return (*upper, *lower)


def _chords(foil: Foil) -> tuple[float, float]:
    """Chord in the middle and at the tips, m."""
    middle = 2.0 * foil.chord / (1.0 + foil.taper)
    return middle, foil.taper * middle


def _tip_aft(foil: Foil) -> float:
    """How far (m) the tips' quarter chord is aft of that in the middle."""
    return foil.span_length / 2 * math.tan(foil.sweep)


def _beams(craft: Craft) -> list[tuple[int, tuple[Triple, Triple]]]:
    """Number, place and beam of every rangefinder that has a beam."""
    seen = enumerate(zip(rangefinder_places(craft), rangefinder_beams(craft), strict=True))
    return [(i, each) for i, each in seen if craft.rangefinders.of_each("kind")[i] == "beam"]


def _taps(craft: Craft) -> list[Triple]:
    """Place of every pressure tap."""
    kinds = craft.rangefinders.of_each("kind")
    return [place for place, kind in zip(rangefinder_places(craft), kinds, strict=True) if kind == "pressure"]


def _tip(craft: Craft, wand: Wand) -> tuple[float, float]:
    """How far aft of its hinge and below it (m) the tip of a wand is, on calm water at the ride height, keel level."""
    angle = math.asin(min(max((wand.height + craft.control.ride_height) / wand.arm, -1.0), 1.0))
    kept = min(max(angle, wand.least_angle), wand.most_angle)
    return wand.arm * math.cos(kept), wand.arm * math.sin(kept)


def _led(craft: Craft) -> list[tuple[str, Foil, Wand]]:
    """Name of every foil that a wand moves, the foil, and the wand."""
    return [(name, foil, craft.wands[foil.linkage.wand]) for name, foil in craft.foils.items() if foil.linkage is not None]


def _rods(*stops: Point, name: str) -> Iterator[Shape]:
    """A linkage: straight from stop to stop, from the wand's hinge over the top of the strut to the foil (judgement)."""
    for ends in pairwise(stops):
        yield Shape("linkage", ends, name)


def _beam(craft: Craft, which: int, across: float, slope: float) -> Shape:
    """A rangefinder and where it looks, down to the calm water; drawn a little wide where its beam is a line.

    slope: by how much its beam goes across on the paper for one down.
    """
    height, ride_height = craft.rangefinders.of_each("height")[which], craft.control.ride_height
    reach = height + ride_height
    spread = reach * math.tan(max(craft.rangefinders.of_each("beam")[which], NARROWEST_BEAM) / 2)
    foot = across + reach * slope
    return Shape("sensor", ((across, -height), (foot - spread, ride_height), (foot + spread, ride_height)))


def beside(craft: Craft) -> list[Point]:
    """Where struts and rudders stand that are under no hull: (x, y) of each."""
    places = [(foil.x, foil.y + offset) for foil in craft.foils.values() for offset in foil.strut_offsets]
    places += [(rudder.x, rudder.y) for rudder in craft.steering.rudders.values()]
    return [(x, y) for x, y in places if all(abs(y - hull.y) > hull.beam / 2 for hull in craft.hulls.values())]


def _front(craft: Craft) -> Iterator[Shape]:
    """Starboard on the left: the paper's right is -y."""
    for _, y in beside(craft):
        yield Shape("arm", ((0.0, 0.0), (-y, 0.0)))
    for name, hull in craft.hulls.items():
        yield _transverse(hull, name)
    for name, foil in craft.foils.items():
        struts = craft.strut_of(foil)
        for offset in foil.strut_offsets:
            across = -(foil.y + offset)
            yield _box("strut", across - struts.thickness / 2, across + struts.thickness / 2, -struts.height, 0.0)
        yield _wing(foil, struts.height, name)
    for name, rudder in craft.steering.rudders.items():
        port, starboard = -rudder.y - rudder.thickness / 2, -rudder.y + rudder.thickness / 2
        yield _box("strut", port, starboard, rudder.top - rudder.length, rudder.top, f"rudder {name}")
    propulsor = craft.propulsor
    for across in (0.0,) if propulsor.spacing is None else (-propulsor.spacing / 2, propulsor.spacing / 2):
        yield Shape("propulsor", _arc(across, propulsor.height, propulsor.diameter / 2, 0, 360))
    yield from dict.fromkeys(
        _beam(craft, i, -place[1], -beam[1] / beam[2])
        for i, (place, beam) in sorted(_beams(craft), key=lambda each: each[1][0][1])
    )
    for _, y, height in _taps(craft):
        yield _box("sensor", -y - TAP, -y + TAP, height - TAP, height + TAP)
    for name, wand in craft.wands.items():
        yield Shape("wand", ((-wand.y, -wand.height), (-wand.y, _tip(craft, wand)[1] - wand.height)), name)
    for name, foil, wand in _led(craft):
        across = -(foil.y + foil.strut_offsets[0])
        yield from _rods((-wand.y, -wand.height), (across, 0.0), (across, craft.strut_of(foil).height), name=name)
    _, y, height = mass_properties(craft).centre
    yield from _mark(-float(y), float(height), _mark_size(craft))


def _transverse(hull: Hull, name: str) -> Shape:
    half = hull.beam / 2
    chine = min(half * math.tan(hull.deadrise), hull.depth)
    outline = ((0.0, 0.0), (half, -chine), (half, -hull.depth), (-half, -hull.depth), (-half, -chine))
    return Shape("hull", tuple((-hull.y + across, down) for across, down in outline), name)


def _wing(foil: Foil, depth: float, name: str) -> Shape:
    half, thick = foil.span_length / 2, foil.thickness_ratio * _chords(foil)[0] / 2
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


def _planform(foil: Foil) -> tuple[Point, ...]:
    """A foil from above: a rectangle, or where it is tapered or swept a shape of six corners."""
    (middle, tip), half, aft = _chords(foil), foil.span_length / 2, _tip_aft(foil)
    fore, back = foil.x + middle / 4, foil.x - 3 * middle / 4
    tip_fore, tip_back = foil.x - aft + tip / 4, foil.x - aft - 3 * tip / 4
    if foil.taper == 1.0 and foil.sweep == 0.0:
        return _box("foil", back, fore, -foil.y - half, -foil.y + half).points
    outline = ((tip_back, -half), (back, 0.0), (tip_back, half), (tip_fore, half), (fore, 0.0), (tip_fore, -half))
    return tuple((x, foil.y + across) for x, across in outline)


def _plan(craft: Craft) -> Iterator[Shape]:
    """Bow to the right, starboard down."""
    for x, y in beside(craft):
        yield Shape("arm", ((x, 0.0), (x, y)))
    for name, foil in craft.foils.items():
        yield Shape("foil", _planform(foil), name)
    for name, rudder in craft.steering.rudders.items():
        fore, aft = rudder.x + rudder.chord / 2, rudder.x - rudder.chord / 2
        yield _box("strut", aft, fore, -rudder.y - rudder.thickness / 2, -rudder.y + rudder.thickness / 2, f"rudder {name}")
    for name, hull in craft.hulls.items():
        half = hull.beam / 2
        yield _box("hull", hull.x - hull.length / 2, hull.x + hull.length / 2, -hull.y - half, -hull.y + half, name)
    for name, wand in craft.wands.items():
        yield Shape("wand", ((wand.x, wand.y), (wand.x - _tip(craft, wand)[0], wand.y)), name)
    for name, foil, wand in _led(craft):
        yield from _rods((wand.x, wand.y), (foil.x, foil.y + foil.strut_offsets[0]), name=name)
    for x, y, _ in rangefinder_places(craft):
        yield _box("sensor", x - 0.01, x + 0.01, -y - 0.01, -y + 0.01)
    x, y, _ = mass_properties(craft).centre
    yield from _mark(float(x), -float(y), _mark_size(craft))

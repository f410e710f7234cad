"""What others measured of foils, struts, hulls and boats, beside the model: agreement and disagreement, row by row.

The model is not fitted to any of it. A row whose answer leaves the measured range has its reason in REASONS, or says that none
is known.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache
from typing import NamedTuple

import numpy as np

from sweep.model.physics.foil import SPAN_EFFICIENCY, biplane_factor
from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.strut import SPRAY, form_factor, friction_line
from tests.references import reference
from tests.tows import boat
from tests.tows.towed import STRUT, WATER, Foil, Towed, hull_drag, tow

POUND, FOOT = 4.4482216, 0.3048
SPEED, DEPTH = 20.0 * FOOT, 18.0 * 0.0254
PRESSURE = 0.5 * WATER.density * SPEED**2
REYNOLDS = 6e5
ANGLES = np.radians(np.linspace(-4.0, 12.0, 32))
HULL = {"length": 11.0 * FOOT, "beam": 13.6 * 0.0254, "deadrise": math.radians(36.0), "depth": 0.4, "stations": 12}
HULL_MASS = 240.0 * POUND / GRAVITY

EDGE = 0.005  # nearer to a range's end than this is at it
NONE_KNOWN = "no reason known"
REASONS = {
    "lift of a T-foil by its angle": "its section's own slope is not known; ours is the default, 5 % under a thin aerofoil's",
    "drag of a rudder's T-foil": "our strut drags too much, and has the main foil's thickness",
    "drag of a strut's section": "turbulent friction from the leading edge; a clean strut is laminar for a part",
    "wave and spray of a strut": "Hoerner's 0.24, which struts at full scale exceed",
    "drag of a foil's section with its junction": "the polar is that of a smooth foil in still water, without flap and fillet; "
    "in the whole T-foil it and the strut's excess cancel",
    "lift by a flap of 30 % over that by incidence": "charts of sealed flaps on aircraft; the gap of this one is not known",
    "lift by speed, four chords deep": NONE_KNOWN,
    "drag 10 cm deep over drag 46 cm deep": "at high lift; the strut's excess makes raising it out of the water pay too much",
    "drag of a hull afloat": "wave-making is judgement, with a hump for beamier boats",
}
"""Why a topic leaves its range somewhere; the tests ask for one wherever it does, and for none where it does not."""


class Measured(NamedTuple):
    """A measured range and our answer, in `unit`; place: at what; topic: of REASONS; source: in short."""

    topic: str
    place: str
    low: float
    high: float
    unit: str
    source: str
    answer: Callable[[], float]

    @property
    def middle(self) -> float:
        """Of the range."""
        return 0.5 * (self.low + self.high)

    def off(self, ours: float) -> float:
        """How far ours is past the range's nearer end, a share of that end; 0 inside."""
        end = min(max(ours, self.low), self.high)
        past = ours / end - 1.0 if end else 0.0
        return past if abs(past) > EDGE else 0.0


def measured() -> list[Measured]:
    """All rows, foils first, then parts, hulls and boats."""
    return [*_first_foil(), *_second_foils(), *_parts(), *_near_the_surface(), *_hulls(), *_boats()]


def around(value: float, share: float) -> tuple[float, float]:
    """A range."""
    return value * (1.0 - share), value * (1.0 + share)


@cache
def towed(name: str) -> Towed:
    """A T-foil of the reference at the speed and depth of its tow."""
    (row,) = (row for row in reference("tows", "t_foils").rows if row["foil"] == name)
    polar = "naca-63-412" if row["section"].startswith("NACA 63-412") else None
    return tow(Foil(row["span m"], row["area m2"], row["thickness over chord"], polar), SPEED, DEPTH, ANGLES)


def _first_foil() -> Iterator[Measured]:
    rows = reference("tows", "first_foil").rows
    short = "Beaver & Zseleczky 2009, towed full scale"
    angles, lifts = [row["angle deg"] for row in rows[:6]], [row["lift lb"] * POUND for row in rows[:6]]
    slope = float(np.polyfit(angles, lifts, 1)[0])
    yield Measured(
        "lift of a T-foil by its angle", "aspect ratio 9.4, 6.1 m/s, 46 cm deep", *around(slope, 0.05), "N/deg", short,
        first_slope,
    )  # fmt: skip
    for row in rows:
        lift = row["lift lb"] * POUND
        yield Measured(
            "drag of a T-foil by its lift", f"{lift:.0f} N of lift", *around(row["drag lb"] * POUND, 0.1), "N", short,
            lambda lift=lift: towed("first main foil").drag_at(lift),
        )  # fmt: skip


def first_slope() -> float:
    """N/deg, of the first main foil over five degrees from the lift of its first row."""
    lift, angles = towed("first main foil").lift, np.degrees(ANGLES)
    start = np.interp(6.0 * POUND, lift, angles)
    return float(np.polyfit(start + np.arange(6.0), np.interp(start + np.arange(6.0), angles, lift), 1)[0])


def _second_foils() -> Iterator[Measured]:
    for topic, row in zip(
        ("drag of another T-foil", "drag of a rudder's T-foil"), reference("tows", "second_foil").rows, strict=True
    ):
        lift, ends = row["lift lb"] * POUND, (row["least drag lb"] * POUND, row["most drag lb"] * POUND)
        yield Measured(
            topic, f"NACA 63-412, {lift:.0f} N of lift", *ends, "N", "Beaver & Zseleczky 2009, towed full scale",
            lambda name=row["foil"], lift=lift: towed(name).drag_at(lift),
        )  # fmt: skip


def _parts() -> Iterator[Measured]:
    answers = {
        "drag of a strut's section": strut_section,
        "wave and spray of a strut": lambda: SPRAY,
        "drag of a foil's section with its junction": section_with_junction,
        "lift by a flap of 30 % over that by incidence": flap_share,
    }
    places = ("by its area, Reynolds number 6e5", "by its thickness squared", "by its area, lift coefficient 0.43", "6.1 m/s")
    short = "Beaver & Zseleczky 2009, by parts"
    for (topic, answer), place, row in zip(answers.items(), places, reference("tows", "parts").rows, strict=True):
        yield Measured(topic, place, row["least"], row["most"], "", short, answer)


def strut_section() -> float:
    """Drag coefficient of a strut by its area."""
    return float(2.0 * friction_line(REYNOLDS) * form_factor(STRUT["thickness"] / STRUT["chord"]))


def section_with_junction() -> float:
    """Of the second main foil: its drag less its strut's and less what its lift induces, by its area."""
    foil = Foil(0.986, 0.1022, 0.126, "naca-63-412")
    lift = 180.0 * POUND
    strut = strut_section() * STRUT["chord"] * DEPTH + SPRAY * STRUT["thickness"] ** 2
    coefficient = lift / (PRESSURE * foil.area)
    spread = 1.0 + biplane_factor(2.0 * DEPTH / foil.span)
    induced = coefficient**2 * spread / (math.pi * foil.span**2 / foil.area * SPAN_EFFICIENCY)
    return float((towed("second main foil").drag_at(lift) / PRESSURE - strut) / foil.area - induced)


def flap_share() -> float:
    """Lift of two degrees of a flap over that of two degrees of the whole foil."""
    ends = np.radians([-1.0, 1.0])
    whole, flapped = (tow(Foil(0.986, 0.1022, 0.126, flap=flap), SPEED, DEPTH, ends).lift for flap in (None, 0.3))
    return float(np.ptp(flapped) / np.ptp(whole))


def _near_the_surface() -> Iterator[Measured]:
    (deep,) = reference("tows", "depth").rows
    yield Measured(
        "lift as deep as the surface is not felt", "aspect ratio 6, 4.5 chords, over 20 chords", *around(1.0, 0.03), "",
        "Benson & Land 1942, NACA Tank 1", lambda: lift_over_deep(deep["aspect ratio"], deep["h/c"]),
    )  # fmt: skip
    (fast,) = reference("tows", "froude").rows
    yield Measured(
        "lift by speed, four chords deep", "depth Froude number 5 over 2", fast["fast over slow"] - 0.05,
        fast["fast over slow"] + 0.05, "", "Martinez-Barbera et al. 2026, towed", lambda: lift_by_speed(fast),
    )  # fmt: skip
    for row in reference("tows", "shallow").rows:
        coefficient = row["lift coefficient"]
        yield Measured(
            "drag 10 cm deep over drag 46 cm deep", f"lift coefficient {coefficient:g}", row["least drag over deep"],
            row["most drag over deep"], "", "Day, Cocard & Troll 2019, towed full scale: less, or more",
            lambda row=row: shallow_over_deep(row["speed m/s"], row["lift coefficient"]),
        )  # fmt: skip


def lift_over_deep(aspect_ratio: float, chords: float) -> float:
    """Lift at a depth over that at 20 chords, 5 in of chord, at 9 m/s."""
    chord = 5.0 * 0.0254
    foil = Foil(aspect_ratio * chord, aspect_ratio * chord**2, 0.12, strut=STRUT | {"height": 30.0 * chord})
    here, deep = (tow(foil, 9.0, depth * chord, np.radians([3.0])).lift[0] for depth in (chords, 20.0))
    return float(here / deep)


def lift_by_speed(row: dict[str, float]) -> float:
    """Lift coefficient at the higher depth Froude number over that at the lower one."""
    foil = Foil(row["span m"], row["area m2"], 0.1)
    depth = row["h/c"] * foil.area / foil.span
    speeds = [froude * math.sqrt(GRAVITY * depth) for froude in (row["slow froude"], row["fast froude"])]
    slow, fast = (tow(foil, speed, depth, np.radians([3.0])).lift[0] / speed**2 for speed in speeds)
    return float(fast / slow)


def shallow_over_deep(speed: float, coefficient: float) -> float:
    """Drag of a T-foil with its strut 100 mm deep over 457 mm deep, at the same lift."""
    foil = Foil(0.988, 0.988 * 0.095, 0.128, strut={"height": 1.0, "chord": 0.116, "thickness": 0.0168})
    lift = coefficient * 0.5 * WATER.density * speed**2 * foil.area
    shallow, deep = (tow(foil, speed, depth, ANGLES).drag_at(lift) for depth in (0.1, 0.457))
    return shallow / deep


def _hulls() -> Iterator[Measured]:
    for row in reference("tows", "hull").rows:
        speed = row["speed m/s"]
        ends = around(HULL_MASS * GRAVITY * speed**2 * row["drag over displacement and speed squared s2/m2"], 0.15)
        yield Measured(
            "drag of a hull afloat", f"{speed:g} m/s", *ends, "N", "Beaver & Zseleczky 2009, an 11 ft hull with 109 kg",
            lambda speed=speed: hull_drag(HULL, HULL_MASS, speed),
        )  # fmt: skip


def _boats() -> Iterator[Measured]:
    flying, slow = reference("tows", "boat").rows
    yield Measured(
        "drag of a boat on two T-foils", "109 kg, 6.1 m/s, flown without wakes", flying["least"], flying["most"], "N",
        "Beaver & Zseleczky 2009, its T-foils towed one by one", boat.drag,
    )  # fmt: skip
    yield Measured(
        "speed at which that boat takes off", "109 kg, keel 5 cm clear", slow["least"], slow["most"], "m/s",
        "Day, Cocard & Troll 2019, typical of its kind", boat.take_off_speed,
    )  # fmt: skip

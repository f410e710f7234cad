"""A design's numbers for its page: what it is made of, with units."""

from __future__ import annotations

from typing import NamedTuple

from sweep.campaign.craft import Craft, Foil
from sweep.campaign.units import in_unit
from sweep.drawing import ride_window
from sweep.wording import number, with_unit


class Table(NamedTuple):
    """Rows of name and cells, under headings if there is more than one cell."""

    title: str
    headings: list[str]
    rows: list[tuple[str, ...]]


def sheet(craft: Craft) -> list[Table]:
    """Foils, boat, sensing, and control of a craft."""
    foils = list(craft.foils.values())
    return [
        Table(
            "Foils",
            list(craft.foils),
            [
                (name, *cells)
                for name, cells in zip(_FOIL_ROWS, zip(*(_foil(craft, foil) for foil in foils), strict=True), strict=True)
            ],
        ),
        Table("Boat", [], _boat(craft)),
        Table("Sensing and servos", [], _sensing(craft)),
        Table("Control", [], _control(craft)),
    ]


_FOIL_ROWS = (
    "area, cm²",
    "span, cm",
    "chord, cm",
    "aspect ratio",
    "ahead of the datum, cm",
    "to starboard, cm",
    "rigging angle, deg",
    "depth at the wanted ride height, chords",
)


def _foil(craft: Craft, foil: Foil) -> tuple[str, ...]:
    depth = craft.struts.height - craft.control.ride_height
    values = (
        1e4 * foil.area,
        100.0 * foil.span_length,
        100.0 * foil.chord,
        foil.span_length / foil.chord,
        100.0 * foil.x,
        100.0 * foil.y,
        in_unit(foil.incidence, "deg"),
        depth / foil.chord,
    )
    return tuple(number(value) for value in values)


def _cm(length: float) -> str:
    return with_unit(100.0 * length, "cm")


def _boat(craft: Craft) -> list[tuple[str, ...]]:
    least, largest = ride_window(craft)
    hulls = [(f"hull {name}, length and beam", f"{_cm(hull.length)}, {_cm(hull.beam)}") for name, hull in craft.hulls.items()]
    return [
        *hulls,
        ("struts, keel to foil", _cm(craft.struts.height)),
        ("struts, chord and thickness", f"{_cm(craft.struts.chord)}, {_cm(craft.struts.thickness)}"),
        ("wanted ride height of the keel", _cm(craft.control.ride_height)),
        ("ride window on flat water", f"{_cm(least)} to {_cm(largest)}"),
        ("static thrust", with_unit(craft.propulsor.static_thrust, "N")),
    ]


def _sensing(craft: Craft) -> list[tuple[str, ...]]:
    finders, servos = craft.rangefinders, craft.servos
    return [
        ("rangefinders", f"{finders.count} ({finders.layout.replace('-', ' ')})"),
        ("their rate and latency", f"{with_unit(finders.rate, 'Hz')}, {with_unit(1e3 * finders.latency, 'ms')}"),
        ("their noise", with_unit(1e3 * finders.noise, "mm")),
        ("foil servo travel", f"±{with_unit(in_unit(servos.travel, 'deg'), 'deg')}"),
        ("foil servo rate", with_unit(in_unit(servos.rate, "deg/s"), "deg/s")),
    ]


def _control(craft: Craft) -> list[tuple[str, ...]]:
    control = craft.control
    height, pitch, roll = control.height, control.pitch, control.roll
    return [
        ("law", control.law.replace("-", " ")),
        (
            "gains",
            "fixed"
            if control.scheduled_at is None
            else f"by dynamic pressure, as here at {with_unit(control.scheduled_at, 'm/s')}",
        ),
        ("height, proportional", with_unit(in_unit(height.proportional, "deg/cm"), "deg/cm")),
        ("height, integral", with_unit(in_unit(height.integral, "deg/cm/s"), "deg/cm/s")),
        ("height, derivative", with_unit(in_unit(height.derivative, "deg*s/cm"), "deg/(cm/s)")),
        (
            "pitch, proportional and derivative",
            f"{with_unit(pitch.proportional, 'deg/deg')}, {with_unit(pitch.derivative, 's')}",
        ),
        ("roll, proportional and derivative", f"{with_unit(roll.proportional, 'deg/deg')}, {with_unit(roll.derivative, 's')}"),
        ("rate and delay", f"{with_unit(control.rate, 'Hz')}, {with_unit(1e3 * control.delay, 'ms')}"),
    ]

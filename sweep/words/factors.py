"""What a factor and its levels are called among people, from the address and the words that the craft file has."""

from __future__ import annotations

import re

_ADDRESS = re.compile(r"[a-z]+(?:\.[^\s.]+)+")
_NAMED = {
    ("foils",): "foil",
    ("hulls",): "hull",
    ("wands",): "wand",
    ("ballast",): "ballast",
    ("rangefinders", "each"): "rangefinder",
    ("steering", "rudders"): "rudder",
}
"""Groups whose parts have names of the builder's, and what one of them is."""
_ONE_OF = {"struts": "strut", "rangefinders": "rangefinder", "servos": "servo", "inertial": "inertial unit"}
_UNSAID = ("control", "propulsor")
"""Groups that go without saying before a part of theirs that has parts."""
_OF_EACH = ("area", "span", "mass", "price")
"""What a reader might take for that of all parts together."""
_WHOLE = {
    "body.price": "price without listed parts",
    "control.cascade.pitch.rate.derivative": "cascade pitch rate derivative gain",
    "control.cascade.roll.rate.derivative": "cascade roll rate derivative gain",
    "control.combine": "way of combining rangefinders",
    "control.corner": "corner frequency of the height estimate",
    "control.gate": "widest believed jump of a reading",
    "control.median": "number of readings in the median",
    "control.preview": "share of water ahead answered",
    "control.scheduled_at": "speed that the gains are for",
    "control.scheduling": "fall of the gains with speed",
    "control.ride_height": "ride height",
    "control.pitch_trim": "pitch trim",
    "control.delay": "delay of the control code",
    "control.rate": "rate of the control code",
    "control.turn_rate": "turn rate",
    "inertial.gyro_noise": "gyro noise",
    "inertial.gyro_bias": "gyro bias",
    "inertial.accelerometer_noise": "accelerometer noise",
    "inertial.accelerometer_bias": "accelerometer bias",
    "propulsor.count": "number of propulsors",
    "rangefinders.count": "number of rangefinders",
}
"""Addresses whose own words do not tell."""
_SAID = {
    "proportional": "gain",
    "integral": "integral gain",
    "derivative": "rate gain",
    "x": "distance forward",
    "y": "distance to starboard",
    "blind": "blind range",
    "far": "farthest range",
    "quantum": "smallest step",
    "flap": "flap chord",
    "pivot": "pivot place",
}
"""Last words of addresses that do not tell by themselves."""


def is_address(label: str) -> bool:
    """Whether a factor's label is an address in the craft file, and not a name that the campaign gives."""
    return _ADDRESS.fullmatch(label) is not None


def factor_name(label: str) -> str:
    """'struts.height' -> 'strut height', 'foils.*.area' -> 'area of each foil', 'control.height.proportional' -> 'height gain'.

    A name that the campaign gives stays as it is, with spaces for its dashes.
    """
    if not is_address(label):
        return _plain(label).strip()
    return _plain(_WHOLE.get(label) or _of_address(label.split(".")))


def level_name(level: str) -> str:
    """A level that is a word: 'level-and-height' -> 'level and height'; one with digits, as naca-2412, stays as it is."""
    return level if any(mark.isdigit() for mark in level) else _plain(level)


def _plain(text: str) -> str:
    return text.replace("-", " ").replace("_", " ")


def _of_address(steps: list[str]) -> str:
    for group, one in _NAMED.items():
        depth = len(group)
        if tuple(steps[:depth]) == group and len(steps) > depth + 1:
            name, rest = steps[depth], steps[depth + 1 :]
            if name == "*" and len(rest) == 1 and rest[0] in _OF_EACH:
                return f"{rest[0]} of each {one}"
            return " ".join([one if name == "*" else f"{name} {one}", *_ended(rest)])
    first, *rest = steps
    return " ".join([*([] if first in _UNSAID and len(rest) > 1 else [_ONE_OF.get(first, first)]), *_ended(rest)])


def _ended(steps: list[str]) -> list[str]:
    """Steps as words, '*' left out, the last one said better where it alone does not tell."""
    words = [step for step in steps if step != "*"]
    return [*words[:-1], _SAID.get(words[-1], words[-1])] if words else []

"""What the words of a heading say: which quantity, which unit, which way. All of it common practice, no source."""

from __future__ import annotations

import re
from typing import NamedTuple

from sweep.logs.read.channels import CHANNELS

_SPELLED: dict[tuple[str, float], str] = {
    ("deg", 1.0): "deg degs degree degrees ° grad",
    ("rad", 1.0): "rad rads radian radians",
    ("rad", 0.001): "mrad",
    ("deg", 0.01): "cd cdeg centideg centidegrees",
    ("deg", 0.1): "ddeg decideg",
    ("deg/s", 1.0): "dps deg/s °/s deg_s",
    ("rad/s", 1.0): "rad/s rps rad_s",
    ("mm", 1.0): "mm millimeter millimetre",
    ("cm", 1.0): "cm centimeter centimetre",
    ("m", 1.0): "m meter metre meters metres",
    ("ft", 1.0): "ft feet foot",
    ("in", 1.0): "in inch inches",
    ("g0", 1.0): "g g0 gs",
    ("g0", 0.001): "mg milli-g",
    ("m/s^2", 1.0): "m/s2 m/s^2 m/s² mps2 ms2 m_s2 ms-2",
    ("m/s", 1.0): "m/s mps ms-1 m_s",
    ("m/s", 0.01): "cm/s cms cm_s",
    ("m/s", 0.001): "mm/s mm_s",
    ("ft/s^2", 1.0): "ft/s2 ft/s^2 ft/s² fps2 ft_s2",
    ("ft/s", 1.0): "ft/s fps ft_s",
    ("kn", 1.0): "kn kt kts knot knots",
    ("km/h", 1.0): "kmh km/h kph km_h",
    ("mph", 1.0): "mph",
    ("%", 1.0): "% pct percent",
    ("W", 1.0): "w watt watts",
    ("s", 1.0): "s sec secs second seconds",
    ("ms", 1.0): "ms milli millis msec milliseconds",
    ("us", 1.0): "us µs micro micros usec microseconds",
    ("ns", 1.0): "ns nanos nsec",
}
UNITS = {word: unit for unit, words in _SPELLED.items() for word in words.split()}
"""A word of a heading or of a row of units -> unit, and units a number."""

WORDS: dict[str, tuple[str, ...]] = {
    "clock": ("time", "t", "timestamp", "clock", "ts", "epoch", "elapsed", "utc", "millis", "micros", "zeit", "stamp"),
    "range": (
        *("range", "rng", "rangefinder", "dist", "distance", "sonar", "ultrasonic", "lidar", "tof", "height", "altitude"),
        *("alt", "ride", "abstand", "hoehe", "höhe"),
    ),
    "pitch": ("pitch", "trim", "theta", "nose", "bow", "trimm"),
    "roll": ("roll", "heel", "phi", "bank", "krängung", "kraengung"),
    "heading": ("heading", "hdg", "course", "cog", "yaw", "compass", "psi", "track", "kurs"),
    "speed": ("speed", "spd", "sog", "velocity", "vel", "v", "fahrt", "groundspeed"),
    "throttle": ("throttle", "thr"),
    "power": ("power", "watts", "leistung"),
}
_ACCELERATION = ("acc", "accel", "accelerometer", "acceleration", "force", "specific")
_GYRO = ("gyro", "gyr", "omega", "w", "rate")
_AXES = {
    **{"x": "x", "y": "y", "z": "z", "forward": "x", "fwd": "x", "longitudinal": "x"},
    **{"up": "z", "down": "z", "vertical": "z", "lateral": "y"},
}
_OTHER = (
    "volt",
    "volts",
    "battery",
    "bat",
    "temp",
    "temperature",
    "lat",
    "lon",
    "latitude",
    "longitude",
    "sats",
    "status",
    "id",
)
_IN_A_LIST = re.compile(r"\.([012])$")
"""The part of a list, which has x, y and z in this order."""
_PLACES = ("bow", "nose", "front", "stern", "transom", "port", "starboard", "left", "right", "middle")
_COMBINED = sorted((word for word in UNITS if "/" in word or "_" in word), key=len, reverse=True)


class Heard(NamedTuple):
    """What a heading says: words; channel ("" if none, "other" if what it names is no channel); unit; turned: our other way."""

    words: tuple[str, ...]
    channel: str
    unit: tuple[str, float] | None
    turned: bool


def heard(heading: str, unit_cell: str = "") -> Heard:
    """Read a heading, and the cell of a row of units under it."""
    unit, rest = _unit_of(_IN_A_LIST.sub(lambda part: f" {'xyz'[int(part[1])]}", heading))
    if unit_cell:
        unit = UNITS.get(unit_cell.strip().lower(), unit)
    words = tuple(re.findall(r"[^\W\d_]+|\d+", re.sub(r"([a-z0-9])([A-Z])", r"\1 \2", rest)))
    lower = tuple(word.lower() for word in words)
    if unit == UNITS["ms"] and set(lower) & set(WORDS["speed"]):
        unit = UNITS["m/s"]
    channel = _channel(lower, unit)
    if not channel and unit is not None and unit[0] in ("m/s", "ft/s", "kn", "km/h", "mph"):
        channel = "speed"
    turned = (channel == "pitch" and "down" in lower) or (channel == "roll" and "port" in lower)
    return Heard(lower, channel, unit, turned)


def _unit_of(heading: str) -> tuple[tuple[str, float] | None, str]:
    """The unit that a heading names at its end or in brackets, and the heading without it."""
    bracket = re.search(r"[\[(]([^\])]*)[\])]", heading)
    if bracket and bracket.group(1).strip().lower() in UNITS:
        return UNITS[bracket.group(1).strip().lower()], heading[: bracket.start()] + heading[bracket.end() :]
    for text in _COMBINED:
        if heading.lower().endswith(text) and len(heading) > len(text) and not heading[-len(text) - 1].isalpha():
            return UNITS[text], heading[: -len(text)]
    parts = re.split(r"[_ .]+|(?<=[a-z])(?=[A-Z])", heading)
    if len(parts) > 1 and parts[-1].lower() in UNITS:
        return UNITS[parts[-1].lower()], heading[: -len(parts[-1])]
    for end in ("US", "Us", "MS"):  # as in TimeUS
        if heading.endswith(end) and heading[: -len(end)].lower() in WORDS["clock"]:
            return UNITS[end.lower()], heading[: -len(end)]
    if len(heading) > 1 and heading.lower() in UNITS and heading.lower() != "in":
        return UNITS[heading.lower()], heading
    return None, heading


def _fits(channel: str, unit: tuple[str, float] | None) -> bool:
    """Whether a unit can be a channel's; any can where a heading names none."""
    return unit is None or channel not in CHANNELS or CHANNELS[channel].kind.suits(unit[0])


def _channel(words: tuple[str, ...], unit: tuple[str, float] | None) -> str:
    """What the words name, if it can have the unit: 'bow' with a length is a rangefinder's place, and no pitch."""
    joined = "".join(words)
    axis = next((_AXES[word] for word in words if word in _AXES), joined[-1:] if joined[-1:] in "xyz" else "")
    stem = [word.rstrip("xyz") or word for word in words]
    if set(words) & set(_OTHER):
        return "other"
    if axis and (set(words) | set(stem)) & set(_GYRO) and "acc" not in joined:
        return {"y": "pitch_rate"}.get(axis, "other")
    if axis and ((set(words) | set(stem)) & set(_ACCELERATION) or words[-1][:-1] in ("a", "b")):
        return {"x": "force_x", "z": "force_z"}.get(axis, "other")
    if words == ("q",) or ("pitch" in words and "rate" in words):
        return "pitch_rate"
    if "rate" in words:
        return "other"
    for channel, names in WORDS.items():
        said = any(word in names or any(len(name) > 2 and word.startswith(name) for name in names) for word in words)
        if said and _fits(channel, unit):
            return channel
    if unit is not None and CHANNELS["range"].kind.suits(unit[0]) and set(words) & set(_PLACES):
        return "range"
    if any("range" in word or "dist" in word for word in words) or joined.startswith("rng"):
        return "range"
    return ""

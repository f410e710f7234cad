"""The kinds of quantity that a campaign or craft file holds, as types: '36 cm^2' in the file is 0.0036 inside."""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from sweep.campaign.text.problems import wrong
from sweep.words.phrases import listed
from sweep.words.units import (
    NUMBER,
    UNIT_NAMES,
    Unit,
    UnitError,
    from_unit,
    in_unit,
    quantity,
    split,
    unit,
)

__all__ = ["AnyKind", "Kind", "OneOrMore", "Whole", "in_unit", "quantity", "split", "unit_of"]

MOST = 1e15
"""Numbers of this size are slips, and their powers overflow a float (judgement)."""


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: its noun, the units people use for it (the first is shown), and whether a plain number will do.

    As metadata of an annotated float it makes pydantic read '36 cm^2'. With the validation context {"si": True} plain
    numbers are taken as SI.
    """

    noun: str
    units: tuple[str, ...] = ()
    plain: bool = False

    def read(self, value: object, si: bool = False) -> float:
        """SI value of what a file says. Raises PydanticCustomError."""
        if isinstance(value, int | float) and not isinstance(value, bool):
            return self._of_number(value, si)
        if isinstance(value, str) and self.units:
            return self._of_text(value)
        raise wrong(self.wanted() + (_slip(value) if isinstance(value, str) else ""))

    def wanted(self, number: str = "10") -> str:
        """A sentence that says what would be right, with examples."""
        return f"{self.noun}, such as {self._examples(number, 2)}" if self.units else self.noun

    def suits(self, unit_text: str) -> bool:
        """Whether it can be written in this unit."""
        try:
            return bool(self.units) and unit(unit_text).dimension == unit(self.units[0]).dimension
        except UnitError:
            return False

    def _examples(self, number: str, most: int = 4) -> str:
        return listed(f"{number} {unit_text}" for unit_text in self.units[:most])

    def _of_number(self, value: float, si: bool) -> float:
        number = _finite(value, self.noun)
        if not (self.plain or si or not self.units):
            raise wrong(f"{self.noun} with its unit: {self._examples(f'{value:g}')}", f"{value:g} without a unit")
        return number

    def _of_text(self, text: str) -> float:
        parts = split(text)
        if parts is None:
            raise wrong(self.wanted() + _slip(text))
        number, unit_text = parts
        try:
            written = unit(unit_text)
        except UnitError:
            raise wrong(self.wanted(number) + (_slip(text) or _unknown(unit_text))) from None
        if written.dimension == unit(self.units[0]).dimension and (unit_text or self.plain):
            return _finite(from_unit(number, unit_text), self.noun)
        if not unit_text:
            raise wrong(f"{self.noun} with its unit: {self._examples(number)}", f"{text!r} without a unit")
        raise wrong(self.wanted(number) + _slip(text), f"{text!r}, {noun_of(written)}")

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def read(value: object, info: core_schema.ValidationInfo) -> float:
            si = bool(info.context and info.context.get("si"))
            if si and type(value) is float and -MOST < value < MOST:  # every design has a craft of hundreds of numbers
                return value + 0.0
            return self.read(value, si)

        return core_schema.with_info_before_validator_function(read, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        if not self.units:
            return handler(schema)
        text = {"type": "string", "pattern": self.pattern(), "examples": [f"10 {text}" for text in self.units]}
        return {"anyOf": [handler(schema), text]} if self.plain else text

    def pattern(self) -> str:
        """Regular expression for an editor: a number and a unit; of a base dimension, only its own units."""
        dimension = unit(self.units[0]).dimension
        signs = ("°", "°C", "°F", "µs")
        names = [*self.units, *(name for name in (*UNIT_NAMES, *signs) if unit(name).dimension == dimension)]
        simple = len(dimension) == 1 and all(power == 1 for _, power in dimension)
        named = rf"(?:{'|'.join(dict.fromkeys(map(re.escape, names)))})s?"
        expression = named if simple else r"[A-Za-z/%°(1][A-Za-z0-9*/^()%°²³·. -]*"
        return rf"^ *{NUMBER} *(?:{expression}){'?' if self.plain else ''} *$"


@dataclass(frozen=True)
class AnyKind(Kind):
    """A quantity of whatever kind the file says by its unit; a plain number is one without."""

    def read(self, value: object, si: bool = False) -> float:
        """SI value of what a file says. Raises PydanticCustomError."""
        parts = split(value) if isinstance(value, str) else None
        if parts is None:
            return super().read(value, si)
        try:
            return _finite(from_unit(*parts), self.noun)
        except UnitError:
            raise wrong(self.wanted() + _unknown(parts[1])) from None

    def suits(self, unit_text: str) -> bool:
        """Any unit that there is."""
        try:
            return unit(unit_text) is not None
        except UnitError:
            return False

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [handler(schema), {"type": "string", "pattern": rf"^ *{NUMBER} *\\S", "examples": ["0.4 deg/cm"]}]}


def unit_of(text: str) -> Unit:
    """A unit by its text; '' is that of a plain number."""
    return unit(text)


@dataclass(frozen=True)
class Whole:
    """A whole number; True and '3' are not."""

    noun: str = "a whole number, such as 2"

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def read(value: object) -> int:
            if isinstance(value, bool) or not isinstance(value, int | float) or value % 1 != 0:
                raise wrong(self.noun)
            return int(value)

        return core_schema.no_info_before_validator_function(read, handler(source))


class OneOrMore:
    """Metadata of a tuple: a single value stands for a list of one."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(
            lambda value: value if isinstance(value, list | tuple) else [value], handler(source)
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        several = handler(schema)
        return {"anyOf": [several["items"], several]}


def is_charge(unit_text: str) -> bool:
    """Whether a unit is one of an electric charge."""
    return _CHARGE.suits(unit_text)


def noun_of(written: Unit) -> str:
    """What a unit measures, in words."""
    return _nouns().get(written.dimension, "another kind of quantity")


@lru_cache(maxsize=1)
def _nouns() -> dict[frozenset[tuple[str, Any]], str]:
    nouns = {unit(kind.units[0]).dimension: kind.noun for kind in KINDS}
    plainer = {
        "J": "an energy or a torque",
        "m^3": "a volume",
        "/s": "a rate",
        "/m": "a number per length",
        "/m^2": "a number per area",
        "s/m": "a time per length",
    }
    return nouns | {unit(text).dimension: noun for text, noun in plainer.items()} | {frozenset(): "a plain number"}


def _finite(value: float, noun: str) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise wrong(f"{noun} that is finite")
    if abs(number) >= MOST:
        raise wrong(f"{noun} under {MOST:g} in SI units")
    return number + 0.0  # no negative zero


def _slip(text: str) -> str:
    """The usual slips in writing."""
    if re.search(r"\d,\d", text):
        return " (with a point, not a comma)"
    if any(mark.isdecimal() and not mark.isascii() for mark in text) or "\N{MINUS SIGN}" in text:
        return " (in the plain digits 0 to 9, with the plain sign -)"
    if re.search(r"\d\s*g$", text, re.ASCII):
        return " (g is the gram; the acceleration of gravity is written g0)"
    return ""


def _unknown(unit_text: str) -> str:
    near = difflib.get_close_matches(unit_text, UNIT_NAMES, n=3, cutoff=0.6)
    return f" ({unit_text[:40]!r} is no unit here{'; the nearest: ' + listed(near) if near else ''})"


_LENGTH = Kind("a length", ("cm", "mm", "m", "in"))
_AREA = Kind("an area", ("cm^2", "mm^2", "m^2", "in^2"))
_ANGLE = Kind("an angle", ("deg", "rad"))
_DURATION = Kind("a time", ("s", "ms", "min"))
_MASS = Kind("a mass", ("kg", "g", "lb", "oz"))
_SPEED = Kind("a speed", ("m/s", "kn", "km/h", "mph"))
_ACCELERATION = Kind("an acceleration", ("m/s^2", "g0"))
_FORCE = Kind("a force", ("N", "kgf", "lbf"))
_ENERGY = Kind("an energy", ("Wh", "kJ"))
_POWER = Kind("a power", ("W", "kW"))
_STRESS = Kind("a stress", ("MPa", "GPa"))
_TORQUE = Kind("a torque", ("N*cm", "N*m", "kgf*cm"))
_VOLTAGE = Kind("a voltage", ("V", "mV"))
_RESISTANCE = Kind("an electric resistance", ("mohm", "ohm"))
_CHARGE = Kind("an electric charge", ("mAh", "Ah"))
_FREQUENCY = Kind("a rate", ("Hz", "/s", "/min"))
_ANGULAR_RATE = Kind("an angle per time", ("deg/s", "rad/s", "rpm"))
_DENSITY = Kind("a density", ("kg/m^3", "g/cm^3"))
_TEMPERATURE = Kind("a temperature", ("degC", "degF", "K"))
_SHARE = Kind("a share", ("%",), plain=True)
_ANGLE_GAIN = Kind("an angle per angle", ("deg/deg",), plain=True)
_ANGLE_INTEGRAL_GAIN = Kind("an angle per angle and time", ("deg/deg/s", "/s"))
_ANGLE_PER_LENGTH = Kind("an angle per length", ("deg/cm", "rad/m"))
_ANGLE_PER_LENGTH_TIME = Kind("an angle per length and time", ("deg/cm/s", "rad/m/s"))
_ANGLE_TIME_PER_LENGTH = Kind("an angle per speed", ("deg*s/cm", "deg/(cm/s)"))
_ANGLE_TIME_SQUARED = Kind("an angle per angular acceleration", ("s^2", "deg/(deg/s^2)"))
_THROTTLE_PER_ANGLE = Kind("a share of throttle per angle", ("%/deg", "/rad"))
_THROTTLE_PER_LENGTH = Kind("a share of throttle per length", ("%/cm", "/m"))
_THROTTLE_PER_SPEED = Kind("a share of throttle per speed", ("%/(m/s)", "s/m"))
_THROTTLE_PER_SPEED_TIME = Kind("a share of throttle per speed and time", ("%/(m/s)/s", "/m"))

KINDS: tuple[Kind, ...] = tuple(value for value in list(globals().values()) if isinstance(value, Kind))

Length = Annotated[float, _LENGTH]
Area = Annotated[float, _AREA]
Angle = Annotated[float, _ANGLE]
Duration = Annotated[float, _DURATION]
Mass = Annotated[float, _MASS]
Speed = Annotated[float, _SPEED]
Acceleration = Annotated[float, _ACCELERATION]
Force = Annotated[float, _FORCE]
Energy = Annotated[float, _ENERGY]
Power = Annotated[float, _POWER]
Stress = Annotated[float, _STRESS]
Torque = Annotated[float, _TORQUE]
Voltage = Annotated[float, _VOLTAGE]
Resistance = Annotated[float, _RESISTANCE]
Charge = Annotated[float, _CHARGE]
Frequency = Annotated[float, _FREQUENCY]
AngularRate = Annotated[float, _ANGULAR_RATE]
Density = Annotated[float, _DENSITY]
Temperature = Annotated[float, _TEMPERATURE]
Share = Annotated[float, _SHARE]
AngleGain = Annotated[float, _ANGLE_GAIN]
AngleIntegralGain = Annotated[float, _ANGLE_INTEGRAL_GAIN]
AnglePerLength = Annotated[float, _ANGLE_PER_LENGTH]
AnglePerLengthTime = Annotated[float, _ANGLE_PER_LENGTH_TIME]
AngleTimePerLength = Annotated[float, _ANGLE_TIME_PER_LENGTH]
AngleTimeSquared = Annotated[float, _ANGLE_TIME_SQUARED]
ThrottlePerAngle = Annotated[float, _THROTTLE_PER_ANGLE]
ThrottlePerLength = Annotated[float, _THROTTLE_PER_LENGTH]
ThrottlePerSpeed = Annotated[float, _THROTTLE_PER_SPEED]
ThrottlePerSpeedTime = Annotated[float, _THROTTLE_PER_SPEED_TIME]
Number = Annotated[float, Kind("a plain number")]
Quantity = Annotated[float, AnyKind("a number with its unit, such as 0.4 deg/cm", plain=True)]
Price = Annotated[float, Kind("a price: a plain number, in the currency you like")]
PricePerArea = Annotated[float, Kind("a price per area", ("/cm^2", "/m^2"))]
PricePerLength = Annotated[float, Kind("a price per length", ("/cm", "/m"))]
Count = Annotated[int, Whole()]

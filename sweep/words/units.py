"""The units that people write: what each is in SI, and SI values back in them.

Angle is a dimension of its own here, so that '0.4 /cm' is not taken for 0.4 rad/cm. Conversions are exact
fractions, rounded once. Exact factors: NIST SP 811 (2008), appendix B.8.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sweep.words.usual_units import FACTORS, OFFSETS

if TYPE_CHECKING:
    import pint

DEFINITIONS = """
metre = [length] = m = meter
millimetre = 0.001 * metre = mm = millimeter
centimetre = 0.01 * metre = cm = centimeter
kilometre = 1000 * metre = km = kilometer
inch = 0.0254 * metre = in
foot = 0.3048 * metre = ft = feet
nautical_mile = 1852 * metre
mile = 1609.344 * metre
litre = 0.001 * metre ** 3 = l = liter = L
second = [time] = s
millisecond = 0.001 * second = ms
microsecond = 0.000001 * second = us
minute = 60 * second = min
hour = 3600 * second = h
kilogram = [mass] = kg
gram = 0.001 * kilogram = g
pound = 0.45359237 * kilogram = lb
ounce = 1 / 16 * pound = oz
radian = [angle] = rad
milliradian = 0.001 * radian = mrad
degree = 0.01745329251994329576923690768488612713 * radian = deg
revolution = 360 * degree = rev
kelvin = [temperature]; offset: 0 = K
degC = kelvin; offset: 273.15 = celsius
degF = 5 / 9 * kelvin; offset: 459.67 * 5 / 9 = fahrenheit
knot = 1852 / 3600 * metre / second = kn = kt
mile_per_hour = 1609.344 / 3600 * metre / second = mph
kilometre_per_hour = 1000 / 3600 * metre / second = kph
standard_gravity = 9.80665 * metre / second ** 2 = g0
newton = kilogram * metre / second ** 2 = N
kilonewton = 1000 * newton = kN
millinewton = 0.001 * newton = mN
kilogram_force = 9.80665 * newton = kgf
gram_force = 0.00980665 * newton = gf
pound_force = 4.4482216152605 * newton = lbf
pascal = newton / metre ** 2 = Pa
megapascal = 1000000 * pascal = MPa
gigapascal = 1000000000 * pascal = GPa
joule = newton * metre = J
kilojoule = 1000 * joule = kJ
watt = joule / second = W
milliwatt = 0.001 * watt = mW
kilowatt = 1000 * watt = kW
watt_hour = 3600 * joule = Wh
ampere = [current] = A
ampere_hour = 3600 * ampere * second = Ah
milliampere_hour = 3.6 * ampere * second = mAh
volt = watt / ampere = V
millivolt = 0.001 * volt = mV
ohm = volt / ampere
milliohm = 0.001 * ohm = mohm
hertz = 1 / second = Hz
kilohertz = 1000 * hertz = kHz
revolution_per_minute = revolution / minute = rpm
percent = 0.01 = pct
"""

NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_QUANTITY = re.compile(rf"({NUMBER})\s*(.*)", re.ASCII | re.DOTALL)
_UNIT = re.compile(r"[A-Za-z0-9_.*/^() -]*", re.ASCII)
_POWER = re.compile(r"\^-?[1-9](?![0-9A-Za-z_.^])")
_SIGNS = {"°C": "degC", "°F": "degF", "°": "deg", "%": "percent", "²": "^2", "³": "^3", "·": "*", "µ": "u", "μ": "u"}
BASE = {"length": "m", "time": "s", "mass": "kg", "angle": "rad", "temperature": "K", "current": "A"}
_LONGEST_UNIT = 40
_LONGEST_QUANTITY = 80
"""Characters (judgement): more is no unit, and no number with one."""

UNIT_NAMES: tuple[str, ...] = tuple(
    name for line in DEFINITIONS.strip().splitlines() for name in re.findall(r"(?:^|= )([A-Za-z]\w*)(?=$| =|;)", line)
)


class UnitError(ValueError):
    """The text of a unit means nothing."""


@dataclass(frozen=True)
class Unit:
    """SI value = written value x factor + offset; the dimension maps base dimensions to their powers."""

    factor: Fraction
    offset: Fraction
    dimension: frozenset[tuple[str, Fraction]]


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[Any]:
    import pint  # a sixth of a second: only where a unit is not one of the usual ones

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(
        None, non_int_type=Fraction, autoconvert_offset_to_baseunit=True, cache_folder=None
    )
    registry.load_definitions(DEFINITIONS.strip().splitlines())
    return registry


_USUAL = {
    text: Unit(Fraction(factor), Fraction(OFFSETS.get(text, 0)), frozenset((f"[{name}]", Fraction(n)) for name, n in powers))
    for powers, factors in FACTORS.items()
    for text, factor in factors.items()
}


@lru_cache(maxsize=1024)
def unit(text: str) -> Unit:
    """What the text of a unit means; '' is the unit of a plain number. Raises UnitError."""
    return _USUAL.get(text) or parsed(text)


def parsed(text: str) -> Unit:
    """The same by a library of units, for any unit. Raises UnitError."""
    spelled = text.strip()
    for sign, name in _SIGNS.items():
        spelled = spelled.replace(sign, name)
    spelled = (f"1{spelled}" if spelled.startswith("/") else spelled).replace("**", "^")
    powers_of_powers = spelled.count(")^") > 1  # which may be of any size, and take for ever
    if len(spelled) > _LONGEST_UNIT or not _UNIT.fullmatch(spelled) or "^" in _POWER.sub("", spelled) or powers_of_powers:
        raise UnitError(f"{text[:_LONGEST_UNIT]!r} is not a unit")
    registry = _registry()
    try:
        written = registry.parse_units(spelled)
        zero, one = (registry.Quantity(Fraction(n), written).to_base_units() for n in (0, 1))
    except Exception as error:  # the parser of expressions raises whatever it stumbles over
        raise UnitError(f"{text!r} is not a unit") from error
    dimension = {str(name): Fraction(str(power)) for name, power in one.dimensionality.items()}
    offset: Fraction = zero.m
    return Unit(one.m - offset, offset, frozenset(dimension.items()))


def si_unit(unit_text: str) -> str:
    """The SI unit of what is written in this one: 'm' of 'cm', '' of '%'. Raises UnitError."""
    powers = {name.strip("[]"): int(power) for name, power in sorted(unit(unit_text).dimension)}
    factors = next((factors for known, factors in FACTORS.items() if dict(known) == powers), {})
    one = next((text for text, factor in factors.items() if factor == "1" and text not in OFFSETS), None)
    return _composed(powers) if one is None else one


def _composed(powers: dict[str, int]) -> str:
    """'rad*s/m', of the powers of base dimensions."""
    over, under = (
        "*".join(
            f"{BASE[name]}{f'^{abs(power)}' if abs(power) > 1 else ''}" for name, power in powers.items() if power * sign > 0
        )
        for sign in (1, -1)
    )
    return f"{over}/{under}" if under else over


def split(text: str) -> tuple[str, str] | None:
    """The number and the unit of a quantity as written, or None where no number leads."""
    match = _QUANTITY.fullmatch(text.strip()) if len(text) <= _LONGEST_QUANTITY else None
    return (match[1], match[2]) if match else None


def in_unit(value: float, unit_text: str) -> float:
    """An SI value in the unit that people read."""
    if not math.isfinite(value):
        return value
    scale = unit(unit_text)
    return float((Fraction(value) - scale.offset) / scale.factor)


def from_unit(number: str, unit_text: str) -> float:
    """A number as written, in its unit, to SI; infinite beyond what a float holds. Raises UnitError."""
    scale = unit(unit_text)
    exact = Fraction(number) * scale.factor + scale.offset
    try:
        return float(exact)
    except OverflowError:
        return math.inf if exact > 0 else -math.inf


def quantity(value: float, unit_text: str) -> str:
    """An SI value as people write it: '36 cm^2'."""
    return f"{in_unit(value, unit_text):.6g} {unit_text}".rstrip()

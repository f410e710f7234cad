"""Values and results in plain words, for people."""

from __future__ import annotations

import math

COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
PORTIONS = (("half", 1 / 2), ("a third", 1 / 3), ("a quarter", 1 / 4), ("a tenth", 1 / 10))
"""Shares that plain English has a word for."""


def grouped(number: int) -> str:
    """A whole number with a space between thousands: '12 000'."""
    return f"{number:,}".replace(",", "\u202f")


def count(number: int, one: str, many: str) -> str:
    """'one other', 'three others', '214 others'."""
    return f"{spelled(number)} {one if number == 1 else many}"


def percent(share: float) -> str:
    """'15 %'."""
    return f"{100.0 * share:.3g} %"


def portion(share: float) -> str:
    """'half', 'a third', 'a quarter', 'a tenth', or else '15 %'."""
    return next((said for said, exact in PORTIONS if math.isclose(share, exact)), percent(share))


def spelled(amount: int) -> str:
    """'nine', '214'."""
    return COUNTS[amount] if 0 <= amount < len(COUNTS) else grouped(amount)


def decimals(value: float, digits: int = 3) -> int:
    """The number of decimals that shows `digits` significant digits of a value."""
    if not math.isfinite(value) or value == 0.0:
        return 0
    return max(0, digits - 1 - math.floor(math.log10(abs(value))))


def number(value: float, digits: int = 3) -> str:
    """A number with `digits` significant digits and no needless zeros; 'not known' for a missing one."""
    if not math.isfinite(value):
        return "not known"
    rounded = float(f"{value:.{digits}g}")
    text = f"{rounded:.{decimals(rounded, digits)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def pretty(unit: str) -> str:
    """A unit as it is printed: 'cm^2' -> 'cm²', 'deg*s/cm' -> 'deg·s/cm'; nothing for counts."""
    return "" if unit == "count" else unit.replace("^2", "²").replace("^3", "³").replace("*", "·")


def with_unit(value: float, unit: str, digits: int = 3) -> str:
    """'1.2 cm'; the number alone if there is no unit or no number."""
    shown = number(value, digits)
    return f"{shown} {pretty(unit)}" if pretty(unit) and math.isfinite(value) else shown


def interval(low: float, high: float) -> str:
    """' (1.2 to 1.5)', or '' where one end is not known."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return ""
    return f" ({number(low)} to {number(high)})"

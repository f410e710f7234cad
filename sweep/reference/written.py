"""Numbers of the models as a file would have them: in a unit that suits them, at most four digits long."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sweep.words.units import in_unit

DIGITS = 4
"""Of a number that is told (judgement)."""
ENDLESS = 1e9
"""A number of this size stands for none at all."""


def written(value: float, units: Sequence[str] = (), towards: int = 0) -> str:
    """An SI value in the first of its units that gives a short number, or the first; without units as it is.

    towards: 1 rounds up and -1 down, so that a bound that is followed literally holds; 0 to the nearest.
    """
    if not units or units == ("",):
        return str(value) if isinstance(value, int) else _short(value, towards)
    numbers = {unit: in_unit(value, unit) for unit in units}
    unit = next((unit for unit, number in numbers.items() if _is_short(number)), units[0])
    return f"{_short(numbers[unit], towards)} {unit}"


def _is_short(number: float) -> bool:
    size = abs(round(number, 9))
    return size == 0.0 or 0.01 <= size < 1000


def _short(number: float, towards: int) -> str:
    number = round(number, 9)
    if number == 0.0 or not math.isfinite(number):
        return "0" if number == 0.0 else str(number)
    scale = 10.0 ** (DIGITS - 1 - math.floor(math.log10(abs(number))))
    scaled = number * scale
    rounded = round(scaled)
    if towards and abs(scaled - rounded) > 1e-6:
        rounded = math.ceil(scaled) if towards > 0 else math.floor(scaled)
    return f"{rounded / scale:.10g}"

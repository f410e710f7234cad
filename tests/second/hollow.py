"""The second model's hollow sections: M18.11 and M18.12, by adaptive quadrature along the chord."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar


class Hollow(NamedTuple):
    """Shares of a solid section's area, second moment of area, and torsion constant before its reduction."""

    area: float
    bending: float
    torsion: float


def half(x: float) -> float:
    """Half the thickness over the largest thickness, x along the chord."""
    return float(5.0 * (0.2969 * x**0.5 - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4))


FATTEST = float(minimize_scalar(lambda x: -half(x), bounds=(0.2, 0.4), method="bounded", options={"xatol": 1e-12}).x)


def over(function: Callable[[float], float], start: float, end: float) -> float:
    """An integral along the chord; the section is round at its nose, so it goes by the square root of x."""
    if end <= start:
        return 0.0
    return float(quad(lambda r: function(r * r) * 2.0 * r, start**0.5, end**0.5, epsabs=1e-13, epsrel=1e-11)[0])


@cache
def hollow(wall: float | None, thickness: float, flap: float | None = None) -> Hollow:
    """Of a wall and a largest thickness, m; a solid one's, but for its flap, without a wall."""
    last = 1.0 - (flap or 0.0)
    ahead, whole = over(lambda x: half(x) ** 3, 0.0, last), over(lambda x: half(x) ** 3, 0.0, 1.0)
    v = 1.0 if wall is None else wall / thickness
    if v >= half(FATTEST):
        return Hollow(1.0, ahead / whole, ahead / whole)
    front = brentq(lambda x: half(x) - v, 0.0, FATTEST, xtol=1e-15)
    back = 1.0 if half(1.0) >= v else brentq(lambda x: half(x) - v, FATTEST, 1.0, xtol=1e-15)
    area = 1.0 - over(lambda x: half(x) - v, front, back) / over(half, 0.0, 1.0)
    end = max(min(back, last), front)
    bending = (ahead - over(lambda x: (half(x) - v) ** 3, front, end)) / whole
    length, middle = end - front, over(lambda x: 2.0 * (half(x) - v / 2.0), front, end)
    solid = 8.0 / 3.0 * (ahead - over(lambda x: half(x) ** 3, front, end))
    tube = 4.0 * middle**2 * v / (2.0 * length) + 2.0 * length * v**3 / 3.0 if length > 0.0 else 0.0
    return Hollow(area, bending, (solid + tube) / (8.0 / 3.0 * whole))

"""The exponential of a small matrix. One of a library would do; importing its linear algebra takes longer than a check may."""

from __future__ import annotations

import math

import numpy as np

from sweep.linear.differences import Floats

COEFFICIENTS = (
    64764752532480000.0,
    32382376266240000.0,
    7771770303897600.0,
    1187353796428800.0,
    129060195264000.0,
    10559470521600.0,
    670442572800.0,
    33522128640.0,
    1323241920.0,
    40840800.0,
    960960.0,
    16380.0,
    182.0,
    1.0,
)
"""Of the numerator of the diagonal Padé approximant of order 13, from the constant on."""
LARGEST = 5.371920351148152
"""The 1-norm up to which the approximant is exact in double precision (Higham 2005, table 2.3; cited from memory)."""


def exponential(matrix: Floats) -> Floats:
    """Of a square matrix, by scaling and squaring.

    Higham 2005, SIAM Journal on Matrix Analysis and Applications 26, 1179-1193, algorithm 2.3, with order 13 throughout.
    """
    norm = float(np.abs(matrix).sum(axis=0).max(initial=0.0))
    squarings = max(math.ceil(math.log2(norm / LARGEST)), 0) if norm > 0.0 else 0
    a: Floats = matrix / 2.0**squarings
    one = np.eye(len(matrix))
    b, second = COEFFICIENTS, a @ a
    fourth = second @ second
    sixth = fourth @ second
    odd: Floats = a @ (sixth @ (b[13] * sixth + b[11] * fourth + b[9] * second) + _sum(b[1::2], one, second, fourth, sixth))
    even = sixth @ (b[12] * sixth + b[10] * fourth + b[8] * second) + _sum(b[0::2], one, second, fourth, sixth)
    found = np.asarray(np.linalg.solve(even - odd, even + odd), dtype=np.float64)
    for _ in range(squarings):
        found = found @ found
    return found


def _sum(shares: tuple[float, ...], *powers: Floats) -> Floats:
    """The lowest powers, each times its coefficient."""
    total: Floats = sum((share * power for share, power in zip(shares, powers, strict=False)), np.zeros_like(powers[0]))
    return total

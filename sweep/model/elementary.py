"""Elementary functions that vectorise: branch-free polynomials in place of library calls.

The coefficients are near-minimax fits (Lawson-weighted least squares at Chebyshev nodes); the stated errors hold over
the whole stated range (tests/model/test_elementary.py).
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model.compiled import fused, part

_PI_HIGH = 3.141592653589793  # pi to double precision
_PI_LOW = 1.2246467991473532e-16  # pi less the above
_TURN = 6.283185307179586  # 2 pi


@part
def nearest(x: float) -> float:
    """Nearest whole number, half to even."""
    return np.rint(x)


@fused
def sine_cosine(x: float) -> tuple[float, float]:
    """Sine and cosine of an angle in radians; error under 1e-10 for |x| < 1e5."""
    n = nearest(x * 0.3183098861837907)
    r = (x - n * _PI_HIGH) - n * _PI_LOW
    odd = n - 2.0 * nearest(0.5 * n)
    sign = 1.0 - 2.0 * odd * odd
    y = r * r
    s = -1.9840804038256414e-4 + y * (2.7522618810429056e-6 + y * -2.384669329187452e-8)
    s = r + r * y * (-0.16666666606466726 + y * (0.008333330495663078 + y * s))
    c = 2.4801070182443077e-5 + y * (-2.752566143619917e-7 + y * 1.991996131732345e-9)
    c = 1.0 + y * (-0.4999999999793847 + y * (0.04166666650397076 + y * (-0.001388888461241802 + y * c)))
    return sign * s, sign * c


@fused
def exp_negative(x: float) -> float:
    """Exponential of x <= 0; relative error under 1e-8 down to -24; below that, the value at -24."""
    t = (x if x > -24.0 else -24.0) * 0.03125
    p = 0.008289009358308059 + t * (0.0013174171152461438 + t * 0.00013636333187896644)
    p = 0.49999973734540426 + t * (0.166663765422702 + t * (0.04165126793621644 + t * p))
    p = 1.0 + t * (0.9999999918292526 + t * p)
    p2 = p * p
    p4 = p2 * p2
    p8 = p4 * p4
    p16 = p8 * p8
    return p16 * p16


@part
def arctangent(x: float) -> float:
    """Arc tangent in radians for |x| <= 2; error under 1e-8."""
    return angle_of_half(x / (1.0 + math.sqrt(1.0 + x * x)))


@fused
def angle_of_half(half: float) -> float:
    """The angle in radians whose half has this tangent, for |half| <= 0.62; error under 1e-8."""
    y = half * half
    p = 0.10590837023826512 + y * (-0.06937324140971665 + y * 0.026811800506594048)
    p = -0.3333323084128392 + y * (0.19995601230687268 + y * (-0.1421734973377345 + y * p))
    return 2.0 * (half + half * y * p)


@part
def direction(y: float, x: float) -> float:
    """Angle of the vector (x, y) from the x axis in radians, -pi ... pi; error under 1e-8, 0 for no vector."""
    across, along = abs(y), abs(x)
    steep = across > along
    large = across if steep else along
    slope = (along if steep else across) / (large if large > 0.0 else 1.0)
    angle = arctangent(slope)
    angle = 0.5 * _PI_HIGH - angle if steep else angle
    angle = _PI_HIGH - angle if x < 0.0 else angle
    return -angle if y < 0.0 else angle


@fused
def logarithm(x: float) -> float:
    """Logarithm to base 10 of 0.05 <= x <= 50; error under 1e-8."""
    root = math.sqrt(math.sqrt(math.sqrt(x)))
    t = (root - 1.0) / (root + 1.0)
    y = t * t
    series = 1.0 + y * (0.3333333333333333 + y * (0.2 + y * (0.14285714285714285 + y * (0.1111111111111111 + y * 0.09090909))))
    return 6.948711710452028 * t * series  # 16 / ln 10


@part
def wrapped(angle: float) -> float:
    """The same angle (rad) within half a turn of 0; to the last digit itself if it is so, at either end too."""
    return angle - nearest(angle / _TURN) * _TURN


@part
def clip(x: float, low: float, high: float) -> float:
    """x limited to low ... high."""
    y = x if x > low else low
    return y if y < high else high


@part
def smoothstep(x: float) -> float:
    """0 below 0, 1 above 1, cubic between."""
    t = clip(x, 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)

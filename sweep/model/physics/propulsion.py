"""The propeller: the least power for its thrust, and the shaft speed within its motor's power."""

from __future__ import annotations

import math
from typing import NamedTuple, TypeAlias

from sweep.model.compiled import part
from sweep.model.elementary import clip

LEAST_TURNS = 0.1  # 1/s: floor of the shaft speed in the advance ratio
NEWTON_STEPS = 6  # enough to come from ten times the power limit to 0.1 % of it, see `limited_speed`: measured

Curve: TypeAlias = tuple[float, float, float, float]
"""Coefficients of a cubic, the constant first."""


class Screw(NamedTuple):
    """A propeller. diameter in m; most_advance: J beyond which KQ and KT stay constant; torque: KQ as a cubic in J."""

    diameter: float
    most_advance: float
    torque: Curve


@part
def ideal_power(thrust: float, speed: float, disc: float) -> float:
    """Power (W) of an actuator disc for a thrust (N) at a speed (m/s); 0 without forward thrust (M9.4).

    disc: 2 x density x area, kg/m. Froude's momentum theory: no propeller of that diameter can do better
    (at rest the thrust is (disc P^2)^(1/3)).
    """
    pull = thrust if thrust > 0.0 else 0.0
    ahead = speed if speed > 0.0 else 0.0
    induced = math.sqrt(0.25 * ahead * ahead + pull / disc) - 0.5 * ahead
    return pull * (ahead + induced)


@part
def loaded_voltage(rest: float, resistance: float, power: float) -> float:
    """Voltage (V) of a battery that gives a power (W): V = E - R P / V (M9.8); half of E where that is more than it can give.

    rest: E, at rest, V; resistance: R, ohm. The battery as a source with an inner resistance (Johnson 2002, Journal of Power
    Sources 110, 321-329).
    """
    inside = rest * rest - 4.0 * resistance * power
    return 0.5 * (rest + math.sqrt(inside if inside > 0.0 else 0.0))


@part
def cubic(x: float, factors: Curve) -> float:
    """c0 + c1 x + c2 x^2 + c3 x^3."""
    c0, c1, c2, c3 = factors
    return c0 + x * (c1 + x * (c2 + x * c3))


@part
def shaft_power(turns: float, diameter: float, density: float, torque_coefficient: float) -> float:
    """Power (W) at a shaft speed (1/s): 2 pi n Q, Q = KQ rho n^2 D^5 (M9.7)."""
    return 2.0 * math.pi * density * turns * turns * turns * diameter**5 * torque_coefficient


@part
def slowed(turns: float, speed: float, density: float, screw: Screw, limit: float) -> float:
    """One Newton step from a shaft speed (1/s) towards that at which the shaft takes `limit` W, if it takes more (M9.6)."""
    _, kq1, kq2, kq3 = screw.torque
    advance = clip(speed / (turns * screw.diameter), 0.0, screw.most_advance)
    torque = cubic(advance, screw.torque)
    power = shaft_power(turns, screw.diameter, density, torque)
    over = 1.0 - limit / (power if power > limit else limit)
    growth = advance * (kq1 + advance * (2.0 * kq2 + advance * 3.0 * kq3)) / (torque if torque > 1e-9 else 1e-9)
    return turns * (1.0 - over / (3.0 - growth))  # power is proportional to turns^3 KQ(J), and J to 1 / turns


@part
def limited_speed(wanted: float, speed: float, density: float, screw: Screw, limit: float) -> float:
    """Shaft speed (1/s), at most the wanted one, at which the shaft takes no more than `limit` W (M9.6).

    Newton steps on the power, which is convex in the shaft speed: they approach from above and never pass the limit. Six come
    from ten times the limit to within 0.1 % of it.
    """
    turns = wanted if wanted > LEAST_TURNS else LEAST_TURNS
    for _ in range(NEWTON_STEPS):
        turns = slowed(turns, speed, density, screw, limit)
    return turns

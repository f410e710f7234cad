"""The propeller: what its thrust costs at best."""

from __future__ import annotations

import math

from sweep.model.compiled import part


@part
def ideal_power(thrust: float, speed: float, disc: float) -> float:
    """Power (W) of an actuator disc for a thrust (N) at a speed (m/s); 0 without forward thrust.

    disc: 2 x density x area, kg/m. Froude's momentum theory: no propeller of that diameter can do better
    (at rest the thrust is (disc P^2)^(1/3)).
    """
    pull = thrust if thrust > 0.0 else 0.0
    ahead = speed if speed > 0.0 else 0.0
    induced = math.sqrt(0.25 * ahead * ahead + pull / disc) - 0.5 * ahead
    return pull * (ahead + induced)

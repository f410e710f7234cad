"""What the two models are compared on: random states one by one, and short open-loop flights."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from typing import NamedTuple

import numpy as np

from tests.second.courier import FRESH, courier, ferry, tender
from tests.second.medley import medley
from tests.second.pilot import cutter, pilot
from tests.second.sea import FLAT, Sea, Vector, jonswap_sea, regular_sea
from tests.second.second_model import Inputs, SecondModel, State, Trim, build, trim

SPEED = 4.0
CRAFTS = {"courier": courier, "ferry": ferry, "tender": tender, "pilot": pilot, "cutter": cutter, "medley": medley}
SEAS = {
    "flat": FLAT,
    "regular": regular_sea(0.06, 1.1, np.pi, FRESH.depth, settle=2.0, phase=0.4),
    "shallow": regular_sea(0.05, 1.4, 2.0, FRESH.depth, phase=-1.0),
    "jonswap": jonswap_sea(0.06, 1.2, np.radians(135.0), FRESH.depth, seed=7)._replace(wind=(-4.0, 3.0)),
}


class Regime(NamedTuple):
    """Largest change from trim either way (m, rad, m/s, rad/s), share of the speed, depth of the struts' feet m."""

    position: float
    angles: float
    velocity: float
    rates: float
    speed_share: float
    depth: float


REGIMES = {
    "flying": Regime(0.01, 0.04, 0.5, 0.5, 1.0, 0.11),
    "foils half out": Regime(0.02, 0.15, 0.8, 1.0, 1.0, 0.01),
    "skimming": Regime(0.004, 0.01, 0.1, 0.5, 0.1, 0.0),
    "hull in": Regime(0.02, 0.10, 1.0, 1.0, 1.0, 0.22),
    "hull under": Regime(0.02, 0.40, 1.0, 1.0, 1.0, 0.39),
    "tumbling": Regime(0.10, 0.60, 3.5, 4.0, 1.0, 0.16),
    "adrift": Regime(0.05, 0.60, 0.5, 2.0, 0.02, 0.26),
}


@cache
def trimmed(craft: str) -> tuple[SecondModel, Trim]:
    """The second model of one of the crafts and its trim."""
    model = build(CRAFTS[craft](), FRESH)
    return model, trim(model, SPEED)


def random_moment(craft: str, regime: str, seed: int) -> tuple[State, Inputs, float]:
    """A state of a regime with lags out of balance, its inputs, and a time, s."""
    model, level = trimmed(craft)
    generator = np.random.default_rng([seed, list(REGIMES).index(regime), list(CRAFTS).index(craft)])
    change = REGIMES[regime]
    deeper = change.depth - (model.craft.struts.height - model.craft.control.ride_height)

    def around(width: float, count: int = 3) -> Vector:
        return generator.uniform(-width, width, count)

    start = level.state
    state = State(
        position=start.position + around(change.position) + np.array([*around(20.0, 2), deeper]),
        angles=start.angles + around(change.angles) + np.array([0.0, 0.0, *around(3.0, 1)]),
        velocity=start.velocity * change.speed_share + around(change.velocity),
        rates=around(change.rates),
        lift_lag=start.lift_lag + around(0.15, len(model.strips)),
        downwash=start.downwash + around(0.2, len(model.pairs)),
        thrust=float(generator.uniform(0.0, 1.0)),
        side=float(generator.uniform(-0.4, 0.4)),
        voltage=float(generator.uniform(0.7, 1.0)) if model.craft.battery.voltage is not None else 1.0,
    )
    angles = level.foil_angles + around(0.1, len(model.foils)) * [4.0 if foil.flap else 1.0 for foil in model.foils]
    rudders = around(0.17, 1 + max(strut.servo for strut in model.struts))
    inputs = Inputs(angles, rudders, state.thrust, state.side)
    return state, inputs, float(generator.uniform(0.0, 3.0))


def pulse(time: float, start: float, length: float) -> float:
    """A smooth push one way and then the other, between -1 and 1, with no kink."""
    share = (time - start) / length
    return float(np.sin(2.0 * np.pi * share) * np.sin(np.pi * share) ** 2) if 0.0 < share < 1.0 else 0.0


@dataclass(frozen=True)
class OpenLoop:
    """One short flight from a start, with foil and rudder angles as functions of time and constant throttles.

    `smooth`: nothing touches, leaves or enters the water, so that a second-order method must show second order.
    """

    craft: str
    sea: Sea
    length: float
    start: State
    inputs: Callable[[float], Inputs]
    smooth: bool


def from_trim(
    craft: str,
    sea: Sea,
    foils: Vector,
    rudder: float | Vector = 0.0,
    steady: Vector | None = None,
    smooth: bool = True,
    length: float = 1.2,
    **changes: Vector | float,
) -> OpenLoop:
    """A flight from trim plus `changes` of the state, foils pushed by a pulse and turned by `steady`, rad."""
    _, level = trimmed(craft)
    base = level.foil_angles + (0.0 if steady is None else steady)
    start = level.state._replace(**{name: getattr(level.state, name) + change for name, change in changes.items()})

    def inputs(time: float) -> Inputs:
        push = pulse(time, 0.1, 0.6)
        return Inputs(base + foils * push, rudder * push, level.throttle, start.side)

    return OpenLoop(craft, sea, length, start, inputs, smooth)


PUSHED = np.array([0.02, 0.01, -0.02, 0.0])
TWIST = np.array([0.0, 0.02, -0.02, 0.0])
NONE, ALL_UP, NOSE_UP = np.zeros(3), np.full(3, 0.02), np.array([0.03, 0.03, -0.03])
OPEN_LOOP: dict[str, Callable[[], OpenLoop]] = {
    "heave doublet": partial(from_trim, "courier", FLAT, ALL_UP),
    "pitch doublet": partial(from_trim, "courier", FLAT, NOSE_UP),
    "roll and yaw": partial(
        from_trim, "courier", FLAT, np.array([0.02, -0.02, 0.0]), rudder=0.08,
        angles=np.array([0.05, 0.0, 0.1]), rates=np.array([0.1, 0.0, -0.1]),
    ),
    "regular wave": partial(from_trim, "courier", SEAS["regular"], NONE),
    "jonswap": partial(from_trim, "courier", SEAS["jonswap"], ALL_UP),
    "ferry": partial(from_trim, "ferry", SEAS["jonswap"], np.array([0.01, 0.02, 0.01]), rudder=-0.03, length=0.5),
    "tender": partial(from_trim, "tender", SEAS["jonswap"], TWIST, side=0.1, length=0.6),
    "pilot": partial(from_trim, "pilot", SEAS["jonswap"], PUSHED, rudder=0.05, length=0.6),
    "medley": partial(
        from_trim, "medley", SEAS["jonswap"], np.array([0.02, 0.01, -0.02, 0.01, 0.0]),
        rudder=np.array([0.05, -0.03, 0.04]), length=0.45,
    ),
    "cutter": partial(from_trim, "cutter", SEAS["regular"], TWIST, side=-0.1, length=0.5),
    "touch down": partial(from_trim, "courier", FLAT, NONE, steady=np.full(3, -0.05), smooth=False, length=1.0),
    "foil out": partial(
        from_trim, "courier", FLAT, NONE, smooth=False, length=0.8,
        position=np.array([0.0, 0.0, -0.07]), angles=np.array([0.2, 0.0, 0.0]),
    ),
    "ferry touches a wave": partial(
        from_trim, "ferry", SEAS["shallow"], NONE, steady=np.full(3, -0.04), smooth=False, length=1.0,
        position=np.array([0.0, 0.0, 0.04]),
    ),
}  # fmt: skip
"""All flights by name, made when they are called. Open loop all crafts are unstable, which is why the flights are short."""

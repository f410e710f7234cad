"""The second model's drive: a thrust that falls with speed, or a published series' curves within a motor and a battery."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from math import pi, sqrt
from typing import NamedTuple

from scipy.optimize import brentq

from sweep.campaign.craft import Craft, Propeller, Propulsor
from tests.references import reference
from tests.second.sea import Water


class Push(NamedTuple):
    """Thrust N of one half of the drive, and the power W that it takes from the battery."""

    thrust: float
    power: float


@cache
def series_terms(curve: str, propeller: Propeller) -> list[tuple[float, int]]:
    """Terms of a curve of the Wageningen B-series for one propeller: factor and power of J."""
    rows = reference("propeller_series", curve).rows
    pitch, area, blades = propeller.pitch_ratio, propeller.area_ratio, propeller.blades
    return [(row["C"] * pitch ** row["t"] * area ** row["u"] * blades ** row["v"], row["s"]) for row in rows]


def series_value(curve: str, propeller: Propeller, advance: float) -> float:
    """A curve ("thrust_terms" or "torque_terms") of a propeller at an advance ratio."""
    return sum(factor * advance**power for factor, power in series_terms(curve, propeller))


@cache
def no_thrust_advance(propeller: Propeller) -> float:
    """The first advance ratio at which the thrust vanishes."""
    step, advance = 0.01, 0.0
    while series_value("thrust_terms", propeller, advance + step) > 0.0:
        advance += step
    return float(brentq(lambda j: series_value("thrust_terms", propeller, j), advance, advance + step, xtol=1e-14))


def shaft_limit(craft: Craft) -> float:
    """The most power of one shaft, W: the motor's, or its share of what the battery gives beside the electronics."""
    propulsor, propeller = craft.propulsor, craft.propulsor.propeller
    assert propeller is not None
    if craft.battery.power is None:
        return propeller.shaft_power
    left = (craft.battery.power - propulsor.electronics) * propeller.motor_efficiency / propulsor.count
    return min(propeller.shaft_power, left)


class Throttles(NamedTuple):
    """Throttle, what the port propeller gains of it, and the voltage over that which the file's thrust is for."""

    throttle: float
    side: float
    voltage: float = 1.0


def push_by_curves(craft: Craft, water: Water, speed: float, half: Throttles, share: float) -> Push:
    """One half of the drive by its propellers' curves; `share` of it is under water."""
    propulsor, propeller = craft.propulsor, craft.propulsor.propeller
    assert propeller is not None
    diameter, end = propulsor.diameter, 1.3 * no_thrust_advance(propeller)

    def advance(turns: float) -> float:
        return min(max(speed / (turns * diameter), 0.0), end)

    def power(turns: float) -> float:
        torque = water.density * turns**2 * diameter**5 * series_value("torque_terms", propeller, advance(turns))
        return 2.0 * pi * turns * torque

    turns = max(propeller.top_speed * half.voltage / (2.0 * pi) * half.throttle, 0.1)
    limit = shaft_limit(craft)
    if power(turns) > limit:
        turns = float(brentq(lambda n: power(n) - limit, 0.1, turns, xtol=1e-12))
    some = share * propulsor.count / 2.0
    thrust = some * water.density * turns**2 * diameter**4 * series_value("thrust_terms", propeller, advance(turns))
    return Push(thrust, max(some * power(turns), 0.0) / propeller.motor_efficiency)


def push_simply(propulsor: Propulsor, water: Water, speed: float, half: Throttles, share: float) -> Push:
    """One half of a drive given by its static thrust and the speed at which that is gone: both fall with the voltage."""
    assert propulsor.static_thrust is not None
    assert propulsor.no_thrust_speed is not None
    still, gone = propulsor.static_thrust * half.voltage**2, propulsor.no_thrust_speed * half.voltage
    thrust = still / 2.0 * half.throttle * (1.0 - speed / gone) * share
    disc = propulsor.count / 2.0 * pi / 4.0 * propulsor.diameter**2
    ahead, pushing = max(speed, 0.0), max(thrust, 0.0)
    wake = sqrt(ahead**2 / 4.0 + pushing / (2.0 * water.density * disc)) - ahead / 2.0
    return Push(thrust, pushing * (ahead + wake) / propulsor.efficiency)


def push_of(craft: Craft, water: Water, speed: float, half: Throttles, share: float) -> Push:
    """One half of the drive."""
    if craft.propulsor.propeller is None:
        return push_simply(craft.propulsor, water, speed, half, share)
    return push_by_curves(craft, water, speed, half, share)


def full_voltage(craft: Craft, water: Water) -> float:
    """Voltage of a full battery at full throttle at rest, V: current by bisection of V = E - R I, V I = P."""
    half = push_of(craft, water, 0.0, Throttles(1.0, 0.0), 1.0)
    return under_load(craft.battery.voltage or 0.0, craft.battery.resistance, craft.propulsor.electronics + 2.0 * half.power)


def under_load(rest: float, resistance: float, power: float) -> float:
    """Voltage V of a battery under a power W: the larger that fits, or half of that at rest."""
    if 4.0 * resistance * power >= rest**2:
        return rest / 2.0
    return float(brentq(lambda v: v * (rest - v) - resistance * power, rest / 2.0, rest + 1e-9, xtol=1e-14, rtol=1e-15))


def voltage_share(craft: Craft, water: Water, power: float) -> float:
    """The voltage under a power W over that of a full battery at full throttle at rest; 1 without a voltage."""
    battery = craft.battery
    if battery.voltage is None:
        return 1.0
    empty = battery.voltage if battery.empty_voltage is None else battery.empty_voltage
    rest = empty + battery.charge * (battery.voltage - empty)
    return under_load(rest, battery.resistance, power) / full_voltage(craft, water)


def pushes(
    craft: Craft, water: Water, speed: float, drive: Throttles, hub_depth: Callable[[float], float]
) -> list[tuple[float, Push]]:
    """The port and the starboard half: y of the shaft (build axes, m) and its push.

    `hub_depth`: how deep a hub at some y (m) lies, m.
    """
    half = propulsor.spacing / 2.0 if (propulsor := craft.propulsor).spacing is not None else 0.0
    found = []
    for y, wanted in ((-half, drive.throttle + drive.side), (half, drive.throttle - drive.side)):
        share = min(max(hub_depth(y) / (propulsor.diameter / 2.0), 0.0), 1.0)
        found.append((y, push_of(craft, water, speed, drive._replace(throttle=min(max(wanted, 0.0), 1.0)), share)))
    return found

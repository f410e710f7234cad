"""Pack a craft's drive into the numbers that the kernels read."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sweep.model import layout as at
from sweep.model.physics.propeller_series import series_curves
from sweep.model.physics.propulsion import Screw, cubic, ideal_power, limited_speed, loaded_voltage, shaft_power

if TYPE_CHECKING:
    from sweep.campaign.craft import Battery, Craft, Propeller, Propulsor

LIKELY_THROTTLE = 0.2  # first guess of the trim's throttle for a drive without curves
BEYOND_NO_THRUST = 1.3  # the curves are followed up to this multiple of the advance ratio of zero thrust: judgement
JUST_PULLING = 0.98 / BEYOND_NO_THRUST  # of MOST_ADVANCE: turned more slowly it brakes, faster its power may be at its limit


def pack_drive(row: np.ndarray, craft: Craft, place: np.ndarray, density: float) -> None:
    """Write propellers, motor and battery of one design to its row of parameters. place: of the thrust, body axes, m."""
    propulsor = craft.propulsor
    row[at.THRUST_PLACE.slots()] = place
    row[at.THRUST_LAG] = propulsor.lag
    row[at.HALF_SPACING] = 0.5 * (propulsor.spacing or 0.0)
    row[at.PROPELLER_RADIUS] = 0.5 * propulsor.diameter
    row[at.PROPELLER_COUNT] = propulsor.count
    row[at.ELECTRONICS] = propulsor.electronics
    row[at.BATTERY] = math.nan if craft.battery.energy is None else craft.battery.energy
    row[[at.VOLTAGE, at.VOLTAGE_MID]] = 1.0
    row[at.SAG.slots()] = [1.0, 0.0, 1.0]
    if propulsor.propeller is not None:
        _pack_curves(row, propulsor, propulsor.propeller, craft.battery)
        _pack_sag(row, craft, density)
        return
    row[at.TRIM.throttle] = LIKELY_THROTTLE
    row[at.STATIC_THRUST] = propulsor.static_thrust or 0.0
    row[at.NO_THRUST_SPEED] = propulsor.no_thrust_speed or 0.0
    row[at.DISC] = 2.0 * density * 0.5 * propulsor.count * math.pi / 4.0 * propulsor.diameter**2
    row[at.EFFICIENCY] = propulsor.efficiency
    _pack_sag(row, craft, density)


def _pack_sag(row: np.ndarray, craft: Craft, density: float) -> None:
    battery = craft.battery
    if battery.voltage is None or not battery.sags:
        return
    row[at.SAGS] = 1.0
    full = loaded_voltage(battery.voltage, battery.resistance, full_power(craft, density))
    row[at.SAG.slots()] = [battery.voltage_at_rest, battery.resistance, full]


def full_power(craft: Craft, density: float) -> float:
    """Power (W) that a full battery gives at full throttle and no speed, deep under water. density: of the water, kg/m3."""
    propulsor, row = craft.propulsor, np.zeros(at.PARAMETERS)
    propeller = propulsor.propeller
    if propeller is None:
        disc = 2.0 * density * 0.5 * propulsor.count * math.pi / 4.0 * propulsor.diameter**2
        half = ideal_power(0.5 * (propulsor.static_thrust or 0.0), 0.0, disc)
        return propulsor.electronics + 2.0 * half / propulsor.efficiency
    _pack_curves(row, propulsor, propeller, craft.battery)
    torque = series_curves(propeller.blades, propeller.pitch_ratio, propeller.area_ratio).torque
    screw = Screw(propulsor.diameter, float(row[at.MOST_ADVANCE]), torque)
    turns = limited_speed(float(row[at.TOP_SPEED]), 0.0, density, screw, float(row[at.SHAFT_LIMIT]))
    each = shaft_power(turns, propulsor.diameter, density, float(cubic(0.0, torque)))
    return propulsor.electronics + propulsor.count * each / propeller.motor_efficiency


def likely_throttle(parameters: np.ndarray, speeds: np.ndarray) -> np.ndarray:
    """First guess of the throttle in trim at a speed (m/s) of each, for designs with propeller curves."""
    turns = speeds / (JUST_PULLING * parameters[:, at.MOST_ADVANCE] * parameters[:, at.PROPELLER_DIAMETER])
    return np.minimum(turns / parameters[:, at.TOP_SPEED], 1.0)


def full_thrust(propulsor: Propulsor, speed: float, density: float) -> float:
    """Thrust (N) of all propellers at full throttle and a speed (m/s), deep under water; the battery sets no limit."""
    propeller = propulsor.propeller
    if propeller is None:
        return (propulsor.static_thrust or 0.0) * (1.0 - speed / (propulsor.no_thrust_speed or math.inf))
    curves = series_curves(propeller.blades, propeller.pitch_ratio, propeller.area_ratio)
    most = BEYOND_NO_THRUST * curves.no_thrust
    top = propeller.top_speed / (2.0 * math.pi)
    turns = limited_speed(top, speed, density, Screw(propulsor.diameter, most, curves.torque), propeller.shaft_power)
    advance = min(speed / (turns * propulsor.diameter), most)
    return propulsor.count * density * turns**2 * propulsor.diameter**4 * float(cubic(advance, curves.thrust))


def _pack_curves(row: np.ndarray, propulsor: Propulsor, propeller: Propeller, battery: Battery) -> None:
    curves = series_curves(propeller.blades, propeller.pitch_ratio, propeller.area_ratio)
    row[at.THRUST_CURVE.slots()] = curves.thrust
    row[at.TORQUE_CURVE.slots()] = curves.torque
    row[at.MOST_ADVANCE] = BEYOND_NO_THRUST * curves.no_thrust
    row[at.PROPELLER_DIAMETER] = propulsor.diameter
    row[at.TOP_SPEED] = propeller.top_speed / (2.0 * math.pi)
    row[at.EFFICIENCY] = propeller.motor_efficiency
    row[at.SHAFT_LIMIT] = propeller.shaft_power
    if battery.power is not None:
        left = max(battery.power - propulsor.electronics, 1e-3)
        row[at.SHAFT_LIMIT] = min(propeller.shaft_power, left * propeller.motor_efficiency / propulsor.count)

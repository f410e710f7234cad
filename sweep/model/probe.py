"""Access to the model for tests and studies: loads and rates at any state, and flights without a control code.

A state is a mapping: "position", "angles" (phi, theta, psi), "velocity", "rates", (3,) each; "lift_lag", one per strip (rad);
"downwash", (foils, foils), the lagged lift coefficient of a foil ahead (column) that acts on a foil behind (row); "thrust",
the lagged throttle; and, where they are not 0 and 1, "side", the lagged side throttle, and "voltage", over that of a full
battery at full throttle. SI, axes as in MODEL.md.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model.block import wave_table
from sweep.model.compiled import LANES
from sweep.model.flight import ramp
from sweep.model.kernels.foil_forces import foil_forces
from sweep.model.kernels.hull_forces import hull_forces, hull_wet
from sweep.model.kernels.propulsion_forces import drive
from sweep.model.kernels.rigid_body import accelerate, evaluate_again, start, take_speed, wind_and_payload
from sweep.model.kernels.sea import put_sea
from sweep.model.kernels.strut_forces import strut_forces
from sweep.model.onboard.faults import COLUMNS, apply_faults
from sweep.model.onboard.servo import turn_rudders
from sweep.model.pack.fleet import build_fleets
from sweep.model.pack.trim import FOREVER, load
from sweep.model.physics.water import Water
from sweep.model.physics.waves import Sea
from sweep.model.records import Strain
from sweep.model.slots import fields_of
from sweep.model.stepping.integrate import finish, half_way, predict, to_start
from sweep.model.stepping.sampling import sample_sea
from sweep.model.stepping.strength import measure_strength

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

Slots = np.ndarray
SMALL_TIME = 1e-4  # s: short compared with every lag, long compared with rounding


class Surroundings(NamedTuple):
    """A craft's surroundings: water, the sea or none, the settling time in which it grows (s), wind along X and Y (m/s)."""

    water: Water
    sea: Sea | None = None
    settle: float = 0.0
    wind: tuple[float, float] = (0.0, 0.0)


class _Workspace:
    """One craft in every lane of a workspace, in its surroundings."""

    def __init__(self, craft: Craft, surroundings: Surroundings) -> None:
        water, sea, self.settle, wind = surroundings
        (_, fleet), *_ = build_fleets([craft], water, 4.0)
        self.structure = fleet.structure
        self.density = water.density
        self.flat = load(fleet.parameters, fleet.structure.counts)
        self.slots = self.flat.reshape(-1, LANES)
        apply_faults(self.flat, np.zeros((0, COLUMNS)), self.structure.foils, 0.0)
        self.slots[at.WIND.slots()] = np.reshape(wind, (2, 1))
        self.waves = len(sea.omega) if sea is not None else 0
        if sea is not None:
            put_sea(self.flat, np.ones(LANES, dtype=bool), wave_table(sea), sea.omega, sea.phase)

    def put_state(self, state: Mapping[str, Any]) -> None:
        motion = np.concatenate([state["position"], state["angles"], state["velocity"], state["rates"]])
        self.slots[at.STATE.slots()] = motion[:, None]
        self.slots[at.MID.slots()] = motion[:, None]
        self.slots[[at.THRUST, at.THRUST_MID, at.THROTTLE]] = state["thrust"]
        self.slots[[at.VOLTAGE, at.VOLTAGE_MID]] = state.get("voltage", 1.0)
        self.slots[[at.SIDE_THRUST, at.SIDE_THRUST_MID, at.SIDE_THROTTLE]] = state.get("side", 0.0)
        for strip, lag in enumerate(state["lift_lag"]):
            first = strip * at.STRIP.width
            self.slots[[first + at.STRIP.lag, first + at.STRIP.lag_mid]] = lag
        for behind, lifts in enumerate(state["downwash"]):
            first = behind * at.FOIL.width
            for ahead, lift in enumerate(lifts):
                self.slots[[first + at.FOIL.downwash + ahead, first + at.FOIL.downwash_mid + ahead]] = lift

    def put_angles(self, foil_angles: np.ndarray, rudder: float | np.ndarray) -> None:
        """Set the present angles of the foils and of the rudders' servos (rad), or of the first rudder's alone."""
        for foil, angle in enumerate(foil_angles):
            first = foil * at.FOIL.width
            self.slots[[first + at.FOIL.servo.angle, first + at.FOIL.link, first + at.FOIL.servo_mid]] = angle
        rudders = np.atleast_1d(rudder)
        self.slots[[at.RUDDER.angle, at.RUDDER_LINK, at.RUDDER_MID]] = rudders[0] if len(rudders) else 0.0
        for i, angle in enumerate(rudders[1:]):
            first = i * at.OWN_SERVO.width
            self.slots[[first + at.OWN_SERVO.angle, first + at.OWN_SERVO.link]] = angle
        turn_rudders(self.flat, self.structure.counts)

    def sample(self, time: float, ahead: float) -> None:
        """Sample the sea at a time (s), at the pose that the state predicts for `ahead` seconds later."""
        predict(self.flat, ahead)
        sample_sea(self.flat, self.waves, time, ramp(time, self.settle), self.structure.counts)

    def lags(self) -> tuple[np.ndarray, np.ndarray]:
        """The MID lags of all strips, and (foils, foils) of the wakes, row the foil behind."""
        structure = self.structure
        strips = [i * at.STRIP.width + at.STRIP.lag_mid for i in range(sum(structure.strips))]
        wakes = [i * at.FOIL.width + at.FOIL.downwash_mid for i in range(structure.foils)]
        return self.slots[strips, 0], np.array([self.slots[first : first + structure.foils, 0] for first in wakes])


def derivative(
    craft: Craft,
    surroundings: Surroundings,
    state: Mapping[str, Any],
    foil_angles: np.ndarray,
    rudder: float | np.ndarray,
    time: float,
) -> dict[str, np.ndarray]:
    """Loads and rates at one time, with the sea sampled at the state itself.

    "nu_dot" (6,); "z_dot" one per strip; "downwash_dot" (foils, foils), zero where no wake acts; forces and moments about the
    centre of gravity, body axes, (6,), of "foils", "struts" (with junctions), "hulls", "air", "drive"; battery "power";
    "voltage_dot"; and the fields of `records.Strain`.
    """
    work = _Workspace(craft, surroundings)
    counts = work.structure.counts
    work.put_state(state)
    work.put_angles(foil_angles, rudder)
    work.sample(time, 0.0)
    found: dict[str, np.ndarray] = {}
    before = np.zeros(6)

    def gathered(part: str) -> None:
        total = work.slots[at.FORCE.slots(), 0].copy()
        found[part] = total - before
        before[:] = total

    take_speed(work.flat, counts.foils, 0.0)
    start(work.flat)
    foil_forces(work.flat, counts, work.density, SMALL_TIME)
    gathered("foils")
    strut_forces(work.flat, counts.struts, work.density)
    gathered("struts")
    if hull_wet(work.flat, counts.stations):
        hull_forces(work.flat, counts.stations, work.density)
    gathered("hulls")
    wind_and_payload(work.flat)
    gathered("air")
    drive(work.flat, counts.propeller, work.density, SMALL_TIME)
    gathered("drive")
    found["power"] = work.slots[at.POWER, :1].copy()
    voltage = work.slots[at.VOLTAGE_MID, :1].copy()
    accelerate(work.flat)
    found["nu_dot"] = work.slots[at.RATE.slots(), 0][6:].copy()
    measure_strength(work.flat, counts)
    found |= {name: work.slots[[slot], 0].copy() for name, slot in zip(fields_of(Strain), at.STRAIN, strict=True)}
    soon = work.lags()
    work.put_state(state)
    take_speed(work.flat, counts.foils, 0.0)
    start(work.flat)
    foil_forces(work.flat, counts, work.density, FOREVER)
    drive(work.flat, counts.propeller, work.density, FOREVER)
    settled = work.lags()
    found["voltage_dot"] = _lag_rate(np.array([state.get("voltage", 1.0)]), voltage, work.slots[at.VOLTAGE_MID, :1])
    found["z_dot"] = _lag_rate(np.asarray(state["lift_lag"]), soon[0], settled[0])
    flags = [at.WAKES + i * at.MAX_FOILS for i in range(counts.foils)]
    wakes = np.array([work.slots[first : first + counts.foils, 0] > 0.0 for first in flags])
    found["downwash_dot"] = np.where(wakes, _lag_rate(np.asarray(state["downwash"]), soon[1], settled[1]), 0.0)
    return found


def _lag_rate(now: np.ndarray, soon: np.ndarray, settled: np.ndarray) -> np.ndarray:
    """Rate of first-order lags, from their values now, SMALL_TIME later and once settled."""
    gap = np.where(settled == now, 1.0, settled - now)
    return -np.log1p(-(soon - now) / gap) / SMALL_TIME * (settled - now)


def open_loop(
    craft: Craft,
    surroundings: Surroundings,
    state: Mapping[str, Any],
    servo: Callable[[float], np.ndarray],
    duration: float,
    dt: float,
) -> np.ndarray:
    """The twelve states at 0, dt, 2 dt ... (steps + 1, 12), with the foils and the rudders at given angles.

    servo: gives the foil angles in the file's order, then those of the rudders' servos (rad; 0 if left out), at a time (s). The
    throttles do not change.
    """
    work = _Workspace(craft, surroundings)
    work.put_state(state)
    work.slots[at.ALIVE] = 1.0
    history = [work.slots[at.STATE.slots(), 0].copy()]
    counts = work.structure.counts
    for n in range(round(duration / dt)):
        time = n * dt
        work.sample(time + 0.5 * dt, 0.5 * dt)
        angles = servo(time)
        work.put_angles(angles[: counts.foils], angles[counts.foils :])
        to_start(work.flat, counts)
        take_speed(work.flat, counts.foils, 0.5 * dt)
        evaluate_again(work.flat, counts, work.density, 0.5 * dt)
        half_way(work.flat, 0.5 * dt)
        angles = servo(time + 0.5 * dt)
        work.put_angles(angles[: counts.foils], angles[counts.foils :])
        evaluate_again(work.flat, counts, work.density, dt)
        finish(work.flat, counts, dt)
        history.append(work.slots[at.STATE.slots(), 0].copy())
    return np.array(history)

"""The compiled model against the slow second one: the same equations (MODEL.md), written twice by two people.

What this file asks of `sweep.model.probe`:

`derivative(craft, surroundings, state, foil_angles, rudder, time) -> dict` at one moment, with the sea taken at
the state itself: "nu_dot" (6,); "z_dot", one a strip; "downwash_dot" (foils, foils), row the foil behind, column the foil
ahead, zero where there is no pair; the force and moment about the centre of gravity, body axes (6,), of "foils",
"struts" (with junctions), "hulls", "air", "drive"; the battery's "power" (1,); "voltage_dot" (1,) of the lagged
voltage; and (1,) each the largest "strut_stress", "strut_bend", "strut_twist", the same of foils, "used" and "bent", -1 where
no such part has a material.

`open_loop(craft, surroundings, state, servo, duration, dt) -> (steps + 1, 12)`: position, Euler angles, velocity,
rates at 0, dt, 2 dt ... with `servo(time)` giving the foils' angles in the file's order, then the rudder's; the throttles
stay what the state has.

`state` is a dict: "position", "angles" (phi, theta, psi), "velocity", "rates" (3,); "lift_lag", one a strip, foil by
foil from port to starboard; "downwash" (foils, foils) as above; "thrust", "side" and "voltage", the lagged throttle, side
throttle and voltage.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sweep.model import probe
from sweep.model.physics import waves
from tests.second.cases import CRAFTS, OPEN_LOOP, REGIMES, SEAS, OpenLoop, random_moment, trimmed
from tests.second.compare import observed_orders, relative_difference, trajectory_difference
from tests.second.sea import Sea, Vector, Water
from tests.second.second_model import (
    Inputs,
    Pose,
    SecondModel,
    State,
    acceleration,
    battery_power,
    fly,
    forces,
    rotation,
    voltage_rate,
)
from tests.second.strength import strains

TOLERANCE = 3e-7  # the kernel's own elementary functions are good to 1e-8, and loads may cancel (test_elementary.py)
STEPS = [0.01, 0.005, 0.0025, 0.00125]


def kernel_water(water: Water) -> Any:
    """The water as `sweep.model` takes it."""
    return water


def kernel_sea(sea: Sea, depth: float) -> Any:
    """The sea as `sweep.model` takes it."""
    if not len(sea.amplitude):
        return None
    return waves.Sea(sea.amplitude, sea.omega, np.hypot(sea.kx, sea.ky), sea.kx, sea.ky, sea.phase, depth)


def kernel_state(model: SecondModel, state: State) -> dict[str, Any]:
    """The state as a dict, with the downwash lags as a table (foil behind, foil ahead)."""
    return state._asdict() | {"downwash": pair_table(model, state.downwash)}


def pair_table(model: SecondModel, values: Vector) -> Vector:
    """One value a pair as a table (foil behind, foil ahead)."""
    table = np.zeros((len(model.foils), len(model.foils)))
    for pair, value in zip(model.pairs, values, strict=True):
        table[pair.behind, pair.ahead] = value
    return table


def surroundings(model: SecondModel, sea: Sea) -> probe.Surroundings:
    return probe.Surroundings(kernel_water(model.water), kernel_sea(sea, model.water.depth), sea.settle, sea.wind)


def kernel_derivative(model: SecondModel, sea: Sea, time: float, state: State, inputs: Inputs) -> dict[str, Vector]:
    """What the compiled model says at a moment."""
    return probe.derivative(
        model.craft,
        surroundings(model, sea),
        kernel_state(model, state),
        inputs.foil_angles,
        inputs.rudder,
        time,
    )


def kernel_flight(case: OpenLoop, dt: float) -> Vector:
    """What the compiled model flies."""
    model, _ = trimmed(case.craft)

    def servo(time: float) -> Vector:
        given = case.inputs(time)
        return np.concatenate([given.foil_angles, np.atleast_1d(given.rudder)])

    state = kernel_state(model, case.start)
    return probe.open_loop(model.craft, surroundings(model, case.sea), state, servo, case.length, dt)


def second_derivative(model: SecondModel, sea: Sea, time: float, state: State, inputs: Inputs) -> dict[str, Vector]:
    """What the second model says at a moment, under the names of the probe."""
    loads = forces(model, sea, time, state, inputs)
    pose = Pose(model, sea, time, state, rotation(state.angles))
    parts = {name: loads.wrenches[name] for name in ("foils", "struts", "hulls", "air")}
    return (
        strains(pose, inputs)
        | parts
        | {
            "drive": loads.wrenches["propulsor"],
            "power": np.array([battery_power(pose)]),
            "voltage_dot": np.array([voltage_rate(pose)]),
            "nu_dot": acceleration(model, state, loads),
            "z_dot": loads.lift_lag_rate,
            "downwash_dot": pair_table(model, loads.downwash_rate),
        }
    )


@pytest.mark.parametrize("sea", SEAS)
@pytest.mark.parametrize("regime", REGIMES)
@pytest.mark.parametrize("craft", CRAFTS)
def test_every_load_and_rate_is_the_same_at_random_states(craft: str, regime: str, sea: str) -> None:
    model, _ = trimmed(craft)
    for seed in range(5):
        state, inputs, time = random_moment(craft, regime, seed)
        found = kernel_derivative(model, SEAS[sea], time, state, inputs)
        wanted = second_derivative(model, SEAS[sea], time, state, inputs)
        apart = {name: relative_difference(found[name], value) for name, value in wanted.items()}
        assert max(apart.values()) < TOLERANCE, f"seed {seed}: {apart}"


@pytest.mark.parametrize("name", OPEN_LOOP)
def test_flights_converge_to_the_second_model(name: str) -> None:
    case = OPEN_LOOP[name]()
    model, _ = trimmed(case.craft)
    times = np.linspace(0.0, case.length, round(case.length / STEPS[0]) + 1)
    wanted = fly(model, case.sea, case.start, case.inputs, times)[:, :12]
    apart = [trajectory_difference(kernel_flight(case, dt)[:: round(STEPS[0] / dt)], wanted) for dt in STEPS]
    if case.smooth:
        orders = observed_orders(apart)
        assert np.all((orders[1:] > 1.7) & (orders[1:] < 2.5)), f"orders {orders}, differences {apart}"
    assert apart[-1] < (2e-4 if case.smooth else 2e-3), f"differences {apart}"
    assert apart[-1] < 0.25 * apart[0], f"differences {apart}"

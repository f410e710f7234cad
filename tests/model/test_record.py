"""A recorded flight holds together: its columns agree with each other, with the sea that was flown, and with the responses."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.model.flight import fly
from sweep.model.physics.propulsion import ideal_power
from sweep.model.physics.waves import elevation
from tests.model.crafts import HEADINGS, WATER, block_of, calm, courier, fleet_of, history, jonswap, quiet, response, silent

SETTLE = 2.0


@pytest.fixture(scope="module")
def flown() -> dict[str, np.ndarray]:
    """Every step of a flight in a quartering sea."""
    fleet = fleet_of(quiet(courier()))
    columns = history(fleet, silent(block_of(SEA, 8.0, settle=SETTLE)), rate=1.0 / fleet.structure.step)
    return {name: values[0] for name, values in columns.items()}


SEA = jonswap(HEADINGS["quartering"], height=0.05, period=1.1)


def test_ride_height_is_the_keel_s_over_the_surface(flown: dict[str, np.ndarray]) -> None:
    assert flown["ride_height"] == pytest.approx(flown["keel_height"] - flown["surface"], abs=1e-7)  # in single precision
    assert np.std(flown["surface"]) > 0.01


def test_the_surface_is_that_of_the_sea_where_the_craft_is(flown: dict[str, np.ndarray]) -> None:
    """Once it has grown: sampled every 10 ms, while the shortest waves go by in 30; so within a tenth."""
    late = flown["time"] > SETTLE
    there = elevation(SEA, flown["x"], flown["y"], flown["time"])[late]
    assert np.std(there - flown["surface"][late]) < 0.1 * np.std(there)


def test_speed_is_that_of_the_place(flown: dict[str, np.ndarray]) -> None:
    along, across = (np.gradient(flown[name], flown["time"]) for name in ("x", "y"))
    assert np.hypot(along, across)[2:-2] == pytest.approx(flown["speed"][2:-2], rel=2e-3)
    course = np.arctan2(across, along)[2:-2]
    assert np.abs(course - flown["heading"][2:-2]).max() < 0.2


def test_what_is_sensed_follows_the_ride_height(flown: dict[str, np.ndarray]) -> None:
    """A little late, and past the bow: but it is that height and no other."""
    late = flown["time"] > 1.0
    assert np.corrcoef(flown["sensed_height"][late], flown["ride_height"][late])[0, 1] > 0.5
    assert flown["sensed_height"][late].mean() == pytest.approx(flown["ride_height"][late].mean(), abs=0.01)


def test_power_is_that_of_a_disc_over_the_efficiency() -> None:
    """In trim on calm water: Froude's momentum theory for the craft's own propeller, by hand, and the electronics."""
    craft = quiet(courier())
    record = history(fleet_of(craft), silent(calm(3.0)))
    row = {name: values[0, -1] for name, values in record.items()}
    drive = craft.propulsor
    thrust = drive.static_thrust * row["throttle"] * (1.0 - row["speed"] / drive.no_thrust_speed)
    disc = 2.0 * WATER.density * np.pi / 4.0 * drive.diameter**2
    induced = np.sqrt(row["speed"] ** 2 / 4.0 + thrust / disc) - row["speed"] / 2.0
    assert row["power"] == pytest.approx(thrust * (row["speed"] + induced) / drive.efficiency + drive.electronics, rel=2e-3)


def test_responses_are_those_of_the_record(flown: dict[str, np.ndarray]) -> None:
    """The very same flight, scored from the settling time on."""
    scored = flown["time"] > SETTLE
    found = fly(fleet_of(quiet(courier())), silent(block_of(SEA, 8.0, settle=SETTLE)))
    wanted = courier().control.ride_height
    error = flown["ride_height"][scored] - wanted
    level = flown["keel_height"][scored]
    ours = {
        "ride_height_error": np.sqrt(np.mean(error**2)), "ride_height_bias": error.mean(),
        "level_height_deviation": level.std(), "pitch_rms": np.sqrt(np.mean(flown["pitch"][scored] ** 2)),
        "roll_rms": np.sqrt(np.mean(flown["roll"][scored] ** 2)), "speed_mean": flown["speed"][scored].mean(),
        "power_mean": flown["power"][scored].mean(), "clearance_least": flown["clearance"][scored].min(),
        "submergence_least": flown["submergence"][scored].min(), "roll_peak": np.abs(flown["roll"][scored]).max(),
    }  # fmt: skip
    for name, value in ours.items():
        assert response(found, name)[0] == pytest.approx(value, rel=0.01, abs=2e-4), name


@pytest.mark.parametrize("thrust", [0.3, 2.0])
def test_a_disc_asks_for_power_however_small_its_thrust(thrust: float) -> None:
    """Thrust times the speed through the disc, which is that at which the water's momentum grows by the thrust."""
    speed, disc = 3.0, 4.0
    through = ideal_power(thrust, speed, disc) / thrust
    assert disc * through * (through - speed) == pytest.approx(thrust)
    assert ideal_power(thrust, -1.0, disc) == ideal_power(thrust, 0.0, disc) == pytest.approx(thrust * np.sqrt(thrust / disc))
    assert ideal_power(-thrust, speed, disc) == ideal_power(0.0, speed, disc) == 0.0

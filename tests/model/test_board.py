"""What the control code knows of its craft: settings of the craft as designed, whatever was built."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
import pytest
from scipy.optimize import fsolve

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.flight import start_lanes
from sweep.model.pack.control import gate_between, reading_age
from sweep.model.pack.fleet import Fleet, build_fleets
from tests.model.crafts import LANES, RIDE, WATER, calm, changed, courier, fleet_of, history, quiet, silent

THREE = {"rangefinders.count": 3, "rangefinders.layout": "over-foils", "control.combine": "plane", "control.preview": 0.5}
DESIGN = changed(courier(), THREE)
BUILT: dict[str, dict[str, Any]] = {
    "heavier": {"body.mass": 3.6},
    "balanced elsewhere": {"body.x": 0.02, "body.height": 0.08},
    "foils elsewhere": {"foils.port.y": -0.21, "foils.aft.x": -0.36, "foils.port.area": 60e-4, "foils.aft.aspect_ratio": 8.0},
    "foils turned": {"foils.port.incidence": radians(1.0)},
    "rangefinders": {"rangefinders.height": 0.03, "rangefinders.latency": 0.10, "rangefinders.resolution": 0.002},
    "taller": {"struts.height": 0.22},
}
HELD = [
    *at.TRIM,
    *range(at.LEG_TRIM.first, at.LEG_TRIM.first + at.MOST_LEGS * at.LEG_TRIM.width),
    at.RUDDER_SIDE,
    *range(at.GATE, at.GATE + 3),
    *range(at.KNOWN_TRUST, at.KNOWN_TRUST + 3),
    *(slot + i * at.KNOWN_LOOK.width for i in range(3) for slot in at.KNOWN_LOOK),
    *range(at.PLANE_WEIGHT, at.PLANE_WEIGHT + 3),
    at.BANK_LIMIT,
    *(slot + i * at.KNOWN_PLACE.width for i in range(3) for slot in at.KNOWN_PLACE),
    at.KNOWN_LATENCY,
    at.KNOWN_AGE,
    at.PREVIEW_DISTANCE,
    *(slot + i * at.FOIL.width for i in range(3) for slot in at.FOIL.mix),
]


def set_up_for(design: Craft, built: Craft, speed: float = 4.0) -> Fleet:
    ((_, fleet),) = build_fleets([built], WATER, speed, designed=[design])
    return fleet


def own(craft: Craft, speed: float) -> np.ndarray:
    """Its own trim."""
    fleet = fleet_of(craft, speed)
    assert fleet.feasible[0]
    return fleet.trim[0]


@pytest.mark.parametrize("name", BUILT)
def test_what_was_built_moves_nothing_that_the_control_code_holds(name: str) -> None:
    """And it moves everything else as it moves a craft that is designed so; its gains are its own."""
    design = changed(DESIGN, {"control.gate": 0.02})
    craft = changed(design, BUILT[name] | {"control.height.proportional": 1.0})
    fleet = set_up_for(design, craft)
    found, as_designed, as_it_is = (each.parameters[0] for each in (fleet, fleet_of(design), fleet_of(craft)))
    assert found[HELD] == pytest.approx(as_designed[HELD], rel=1e-12)
    other = np.setdiff1d(np.arange(len(found)), [*HELD, *at.START_TRIM])
    assert np.array_equal(found[other], as_it_is[other], equal_nan=True)
    assert found[at.HEIGHT_GAINS.proportional] == pytest.approx(1.0)
    assert not np.allclose(as_it_is[HELD], as_designed[HELD], rtol=1e-6)
    assert fleet.feasible[0]


def test_as_designed_it_holds_its_own() -> None:
    here, there = fleet_of(DESIGN), set_up_for(DESIGN, changed(DESIGN, {"body.mass": DESIGN.body.mass}))
    assert np.array_equal(here.parameters, there.parameters, equal_nan=True)
    assert here.parameters[0, at.TRIM.slots()] == pytest.approx(here.trim[0])


@pytest.mark.parametrize("name", BUILT)
def test_every_flight_starts_in_the_craft_s_own_trim(name: str) -> None:
    """Nothing pushes it at first: no force along or down, no pitching moment, by what its own weight is."""
    fleet = set_up_for(DESIGN, changed(DESIGN, BUILT[name]))
    slots = start_lanes(fleet).workspace.reshape(-1, LANES)
    weight = 9.81 * slots[at.MASS, 0]
    assert np.abs(slots[[at.FORCE.x, at.FORCE.z, at.FORCE.m], 0]).max() < 1e-5 * weight
    assert np.abs(slots[at.STATE.z, 0] + RIDE + slots[at.KEEL, 0]) < 1e-12


# A table of trims over speed


def test_trims_are_linear_between_the_speeds_at_which_they_were_set_and_held_beyond() -> None:
    craft = changed(courier(), {"control.trim_speeds": (5.0, 3.2)})
    low, high = own(courier(), 3.2), own(courier(), 5.0)
    for speed, share in ((2.9, 0.0), (3.2, 0.0), (3.65, 0.25), (4.4, 2.0 / 3.0), (5.0, 1.0), (5.5, 1.0)):
        fleet = fleet_of(craft, speed)
        assert fleet.feasible[0]
        assert fleet.parameters[0, at.TRIM.slots()] == pytest.approx(low + share * (high - low), abs=1e-9)
        assert fleet.trim[0] == pytest.approx(own(courier(), speed), abs=1e-9)


def test_speeds_at_which_the_design_has_no_trim_are_left_out() -> None:
    assert not fleet_of(courier(), 1.0).feasible[0]
    held = fleet_of(changed(courier(), {"control.trim_speeds": (1.0, 4.0)}), 3.2).parameters[0]
    assert held[at.TRIM.slots()] == pytest.approx(own(courier(), 4.0), abs=1e-9)
    assert not fleet_of(changed(courier(), {"control.trim_speeds": (1.0,)}), 4.0).feasible[0]


def test_a_design_without_a_trim_leaves_its_control_code_none_to_hold() -> None:
    """A lighter craft of an impossible design has a trim itself, and is not flown; one of a possible design is."""
    heavy = changed(courier(), {"body.mass": 30.0})
    assert not fleet_of(heavy).feasible[0]
    assert not set_up_for(heavy, courier()).feasible[0]
    assert set_up_for(courier(), changed(courier(), {"body.mass": 3.2})).feasible[0]


def test_many_crafts_and_designs_keep_their_order() -> None:
    """Of several structures and speeds of the table, each by itself."""
    two = changed(courier(), {"rangefinders.count": 2, "rangefinders.layout": "across-bow", "control.trim_speeds": (3.5, 4.5)})
    designs = [courier(), two, two, courier()]
    crafts = [changed(each, {"body.mass": mass}) for each, mass in zip(designs, (3.0, 3.1, 3.2, 3.3), strict=True)]
    together = build_fleets(crafts, WATER, 4.0, designed=designs)
    assert sorted(index for indices, _ in together for index in indices) == [0, 1, 2, 3]
    for indices, fleet in together:
        for index, row in zip(indices.tolist(), fleet.parameters, strict=True):
            alone = set_up_for(designs[index], crafts[index]).parameters[0]
            assert np.array_equal(row[: at.STRIP.first], alone[: at.STRIP.first], equal_nan=True)


def flown(craft: Craft, speed: float, length: float = 40.0) -> tuple[float, float]:
    """Height over the wanted one (m) and pitch (rad) at the end of a flight in calm water with sensors that tell what is."""
    record = history(fleet_of(quiet(craft), speed), silent(calm(length)))
    late = record["time"][0] > length - 8.0
    return float(record["keel_height"][0, late].mean()) - RIDE, float(record["pitch"][0, late].mean())


@pytest.mark.parametrize("law", ["level-and-height", "fused-height"])
@pytest.mark.parametrize("speed", [3.6, 4.0])
def test_one_trim_without_an_integral_rides_where_statics_say(law: str, speed: float) -> None:
    """Trims of 3.2 m/s at another speed: as high as gains times error make up for the commands that hold the craft there."""
    one = {"control.law": law, "control.height.integral": 0.0, "control.trim_speeds": (3.2,)}
    craft = changed(courier(), one)
    control, held = craft.control, own(courier(), 3.2)

    def left(at_rest: np.ndarray) -> np.ndarray:
        rise, pitch = at_rest
        there = changed(courier(), {"control.ride_height": RIDE + rise, "control.pitch_trim": pitch})
        height, bow_up, _ = fleet_of(there, speed).trim[0]
        return np.array(
            [
                held[0] - control.height.proportional * rise - height,
                held[1] - control.pitch.proportional * pitch - bow_up,
            ]
        )

    rise, pitch = fsolve(left, [0.04, 0.0], epsfcn=1e-6)
    assert rise > (0.02 if speed < 4.0 else 0.04)
    assert flown(craft, speed) == (pytest.approx(rise, abs=1.5e-3), pytest.approx(pitch, abs=1e-3))
    right = changed(craft, {"control.trim_speeds": None})
    assert abs(flown(right, speed)[0]) < 1e-3


def test_the_integral_takes_a_wrong_trim_out() -> None:
    assert abs(flown(changed(courier(), {"control.trim_speeds": (3.2,)}), 4.0)[0]) < 1e-3


# Gates


@pytest.mark.parametrize(("gate", "resolution"), [(0.01, 0.001), (0.0105, 0.001), (0.02, 0.002), (0.03, 0.01), (0.025, 0.01)])
def test_a_gate_lets_the_same_jumps_through_in_single_precision(gate: float, resolution: float) -> None:
    """Readings are whole steps: a jump of at most the gate passes, one step more does not, in float as in double."""
    steps = np.arange(0, 400)
    jumps = np.abs(steps[:, None] - steps)
    wanted = jumps > np.floor(gate / resolution + 1e-9)
    for kind in (np.float64, np.float32):
        readings = steps.astype(kind) * kind(resolution)
        refused = np.abs(readings[:, None] - readings) > kind(gate_between(gate, resolution))
        assert np.array_equal(refused, wanted)
    single = steps.astype(np.float32) * np.float32(resolution)
    bare = np.abs(single[:, None] - single) > np.float32(gate)
    assert np.array_equal(bare, wanted) == (gate == 0.0105 or gate == 0.025)  # why: on a tie the last bit decides


def test_no_gate_and_no_steps_stay_so() -> None:
    assert gate_between(0.0, 0.001) == 0.0
    assert gate_between(0.02, 0.0) == 0.02


@pytest.mark.parametrize(
    ("values", "median", "ticks"),
    [
        ({"latency": 0.06, "rate": 20.0}, 1, 8),  # 60 ms, and half of the 50 ms until the next
        ({"latency": 0.06, "rate": 20.0}, 3, 13),  # the middle one of three
        ({"latency": 0.04, "rate": 40.0, "count": 2}, 1, 6),
        ({"latency": 0.0, "rate": 100.0}, 1, 0),
        ({"latency": 0.3, "rate": 1.0}, 5, at.HEIGHT_TICKS - 1),
    ],
)
def test_the_age_of_readings_in_ticks(values: dict[str, float], median: int, ticks: int) -> None:
    sensors = courier().rangefinders.model_copy(update=values)
    assert reading_age(sensors, median, 100.0) == ticks

"""Rangefinders each by itself: against the second model, in the mirror, lane by lane, and beside the short form."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

from sweep.campaign.craft import Craft
from sweep.campaign.faults import FaultFile, misplaced, named_faults
from sweep.campaign.text.explain import reason
from sweep.linear.craft import linearise
from sweep.linear.ride import ride
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import fly
from sweep.model.kernels.frame import turn
from sweep.model.kernels.sea import put_sea
from sweep.model.onboard.estimates import height_here, measure_height
from sweep.model.onboard.sensors import READINGS, aim, any_range_due, look, take_ranges
from sweep.model.physics import waves
from tests.model.crafts import (
    HEADINGS,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    fleet_of,
    history,
    in_all_lanes,
    jonswap,
    quiet,
    response,
    rotation,
    silent,
    with_each,
)
from tests.second import sensors as second
from tests.second.sea import Sea

TOLERANCE = 3e-7
WIDE = {"far": 50.0, "blind": 0.0, "tilt_limit": 1.5, "resolution": 0.0}


def random_craft(seed: int) -> Craft:
    """The courier with one to four unlike rangefinders."""
    draw = np.random.default_rng([seed, 22])
    each = {
        f"f{i}": {
            "x": draw.uniform(-0.2, 0.5), "y": draw.uniform(-0.3, 0.3), "height": draw.uniform(0.0, 0.1),
            "ahead": draw.uniform(-0.3, 0.8), "aside": draw.uniform(-0.5, 0.5), "trust": draw.uniform(0.2, 3.0),
            "latency": draw.uniform(0.0, 0.2), "noise": draw.uniform(0.0, 0.01), "beam": draw.choice([0.0, 0.4]),
            "footprint": draw.choice(["mean", "nearest"]), "mass": draw.uniform(0.0, 0.05),
            **({"rate": draw.uniform(5.0, 100.0)} if draw.random() < 0.6 else {}),
        }
        for i in range(int(draw.integers(1, 5)))
    }  # fmt: skip
    return with_each(each, **WIDE)


def as_second(sea: waves.Sea) -> Sea:
    return Sea(sea.amplitude, sea.omega, sea.kx, sea.ky, sea.phase)


@pytest.mark.parametrize("seed", range(8))
def test_readings_and_heights_are_those_of_the_second_model(seed: int) -> None:
    """At random poses in waves: the time of each reading, its value with its noise, the height by each, and their mean."""
    draw = np.random.default_rng([seed, 23])
    craft = random_craft(seed)
    finders, sea = second.finders(craft), jonswap(draw.uniform(0.0, 6.0), height=0.06, seed=seed)
    block, bench, count = block_of(sea, 4.0), Bench(craft), len(finders)
    put_sea(bench.flat, np.ones(LANES, dtype=bool), block.components, block.omegas, block.phases)
    wanted = iter(second.due(craft, 2.0))
    readings = np.full((count * READINGS, LANES), np.nan)
    noise, step, latest = in_all_lanes(block.noise), 0.0025, {}
    for n in range(801):
        time, angles = n * step, draw.uniform(-0.3, 0.3, 3)
        position = np.array([4.0 * time, 0.1, -0.25])
        bench.put(at.STATE, [*position, *angles])
        turn(bench.flat, at.STATE.phi, at.ROTATION.first)
        taken = []
        while any_range_due(bench.flat, time, count):
            which, tick = int(bench.get(at.RANGE_TURN)), int(bench.get(at.RANGE_TICK + int(bench.get(at.RANGE_TURN))))
            aim(bench.flat)
            look(bench.flat, len(block.omegas), time, 1.0, True)
            take_ranges(bench.flat, readings, noise, count)
            taken.append((which, tick * count + which))
            latest[which] = readings[which * READINGS + (tick & (READINGS - 1)), 0]
            finder = finders[which]
            true = second.true_range(finder, rotation(*angles), position, as_second(sea), time)
            true += finder.own["noise"] * block.noise.range_normal[tick * count + which]
            assert latest[which] == pytest.approx(true, rel=TOLERANCE, abs=TOLERANCE)
        expected = [next(wanted) for _ in taken]
        assert sorted(taken) == sorted((which, k) for _, which, k in expected)
        assert all(when <= time + 1e-9 < when + step + 2e-9 for when, _, _ in expected)
    roll, pitch = draw.uniform(-0.3, 0.3, 2)
    bench.put(at.ROLL_TURN.first, [np.sin(roll), np.cos(roll)])
    bench.put(at.PITCH_TURN.first, [np.sin(pitch), np.cos(pitch)])
    bench.put(at.RANGE_LAST, [latest[i] for i in range(count)])
    heights = [second.height(finder, latest[i], roll, pitch) for i, finder in enumerate(finders)]
    found = [float(height_here(bench.flat, 0, i)) for i in range(count)]
    assert found == pytest.approx(heights, rel=TOLERANCE, abs=TOLERANCE)
    trusts = [finder.own["trust"] for finder in finders]
    assert float(measure_height(bench.flat, 0, count)) == pytest.approx(second.combined(heights, trusts), abs=TOLERANCE)


def test_each_at_the_places_of_a_layout_flies_as_the_layout() -> None:
    """To the bit: the short form and the same rangefinders one by one."""
    usual = {"rate": 20.0, "latency": 0.06, "noise": 0.003, "resolution": 0.001, "blind": 0.02, "far": 1.0}
    short = changed(courier(), {"rangefinders.count": 3, "rangefinders.layout": "across-bow", "control.combine": "plane"})
    long = with_each({"a": {"y": -0.1}, "b": {"y": 0.0}, "c": {"y": 0.1}}, short, **usual)
    block = block_of(jonswap(HEADINGS["quartering"], 0.05), 12.0)
    one, other = fly(fleet_of(short), block), fly(fleet_of(long), block)
    assert one.responses.tobytes() == other.responses.tobytes()


def mirrored(craft: Craft) -> Craft:
    """What is to port to starboard; parts keep their order in the file."""
    description = craft.model_dump()
    for part in (*description["foils"].values(), *description["hulls"].values(), description["inertial"]):
        part["y"] = -part["y"]
    for one in description["rangefinders"]["each"].values():
        one["y"], one["aside"] = -one["y"], -one["aside"]
    return Craft.model_validate(description, context={"si": True})


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_mirror_image_flies_the_mirrored_way(seed: int) -> None:
    craft = quiet(random_craft(seed))
    sea = jonswap(HEADINGS["quartering"], height=0.04, period=1.2)
    mirror = sea._replace(ky=-sea.ky)
    first = history(fleet_of(craft), silent(block_of(sea, 3.0, settle=1.0)), precise=True)
    second_ = history(fleet_of(mirrored(craft)), silent(block_of(mirror, 3.0, settle=1.0)), precise=True)
    for column, sign in {"roll": -1.0, "y": -1.0, "pitch": 1.0, "ride_height": 1.0, "sensed_height": 1.0}.items():
        assert second_[column] == pytest.approx(sign * first[column], abs=1e-7), column
    assert np.abs(first["roll"]).max() > 1e-3


def test_no_lane_knows_of_the_others() -> None:
    """Crafts of the same number of rangefinders, side by side and alone: to the bit."""
    values: list[dict[str, dict[str, Any]]] = [
        {"a": {"rate": 50.0, "ahead": 0.4}, "b": {"y": 0.1, "latency": 0.01}},
        {"a": {"beam": 0.3, "trust": 0.0}, "b": {"rate": 7.0}},
        {"a": {}, "b": {"aside": 0.3, "height": 0.05}},
    ]
    crafts = [with_each(each) for each in values]
    block = block_of(jonswap(HEADINGS["head"], 0.05), 8.0)
    together = fly(fleet_of(crafts), block)
    for i, craft in enumerate(crafts):
        alone = fly(fleet_of(craft), block)
        assert alone.responses[0].tobytes() == together.responses[i].tobytes()


def test_one_without_trust_is_not_used() -> None:
    """A rangefinder that reads nonsense, and one that is right."""
    good: dict[str, Any] = {"rate": 20.0}
    wild: dict[str, Any] = {"rate": 20.0, "noise": 0.3, "trust": 0.0}
    block = block_of(jonswap(HEADINGS["head"], 0.04), 12.0)
    alone = response(fly(fleet_of(with_each({"a": good})), block), "ride_height_error")[0]
    for how in ("mean", "vote", "plane"):
        craft = changed(with_each({"a": good, "b": wild}), {"control.combine": how})
        assert response(fly(fleet_of(craft), block), "ride_height_error")[0] == pytest.approx(alone, rel=0.1)
    trusted = with_each({"a": good, "b": {**wild, "trust": 1.0}})
    assert response(fly(fleet_of(trusted), block), "ride_height_error")[0] > 1.5 * alone


def test_a_beam_ahead_flies_level_on_calm_water() -> None:
    """The control code knows where its beams look: it rides at the wanted height."""
    craft = quiet(with_each({"a": {"ahead": radians(25.0)}, "b": {"aside": radians(20.0), "y": 0.1}}))
    record = history(fleet_of(craft), silent(calm(8.0)))
    assert record["ride_height"][0, -50:].mean() == pytest.approx(craft.control.ride_height, abs=5e-4)


def test_the_companion_knows_beams_and_rates() -> None:
    """Ride height error in small waves: linear against flown; of one that looks 25 degrees ahead and one that is slow."""
    craft = quiet(with_each({"a": {"ahead": radians(25.0), "rate": 50.0}, "b": {"y": 0.1, "rate": 12.0, "trust": 0.5}}))
    sea = jonswap(HEADINGS["head"], height=0.01, period=1.2)
    fleet = fleet_of(craft)
    (linear,) = linearise(fleet)
    assert linear is not None
    flown = fly(fleet, silent(block_of(sea, 40.0, settle=8.0)))
    assert response(flown, "ride_height_error")[0] == pytest.approx(ride(linear, sea).ride_height_error, rel=0.05)


def test_what_is_wrong_is_told() -> None:
    for values, where in (
        ({"count": 2}, "rangefinders.count"),
        ({"latency": 0.1, "each": {"a": {"latency": 0.0}, "b": {"latency": 0.0}}}, "rangefinders.latency"),
        ({"each": {"a": {"trust": 0.0}, "b": {"trust": 0.0}}}, "rangefinders.each"),
        ({"each": {"a": {"blind": 1.5}, "b": {}}}, "rangefinders.each.a.blind"),
    ):
        description = with_each({"a": {}, "b": {}}).model_dump()
        description["rangefinders"] |= values
        with pytest.raises(ValidationError) as error:
            Craft.model_validate(description, context={"si": True})
        assert reason(error.value)[0] == where


def test_a_fault_names_one() -> None:
    craft = with_each({"bow": {}, "wide": {}})
    told = FaultFile.model_validate({"silent": {"from": "1 s", "where": "rangefinders.wide"}})
    assert not list(misplaced((told,), [craft]))
    assert named_faults((told,), craft)[0].rows[0][1] == 1.0
    other = FaultFile.model_validate({"silent": {"from": "1 s", "where": "rangefinders.stern"}})
    (problem,) = misplaced((other,), [craft])
    assert "rangefinders.bow" in problem.wanted

"""What a flight tells of its sections: the cavitation margin, where the data of a polar end, and air on a strut."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.campaign.polars import read_polar
from sweep.campaign.text.resources import shipped
from sweep.model import layout as at
from sweep.model.flight import fly
from sweep.model.physics.section import section_of
from sweep.model.physics.section_nodes import SectionNodes
from sweep.model.stepping.measure import measure
from tests.model.crafts import (
    WATER,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    fleet_of,
    history,
    jonswap,
    quiet,
    response,
    silent,
    statuses,
)
from tests.references import reference

POLAR = read_polar(shipped("configs") / "polars" / "naca-2412.csv").section


def on_polar(section: SectionNodes) -> Craft:
    """The courier on foils of a section that a polar gave, quiet."""
    description = quiet(courier()).model_dump() | {"polars": {"one": section}}
    for foil in description["foils"].values():
        foil["section"] = {"polar": "one"}
    return Craft.model_validate(description, context={"si": True})


def calm_response(craft: Craft, name: str, speed: float = 4.0) -> float:
    """One response of a quiet flight in calm water."""
    flown = fly(fleet_of(craft, speed), silent(calm(4.0, settle=2.0)))
    assert statuses(flown) == ["flew"]
    return float(response(flown, name)[0])


def margin(bench: Bench, speed: float, depth: float, lift: float) -> float:
    """The least margin with every foil at that speed, depth (m) and lift coefficient."""
    bench.put(at.MID.u, speed)
    for number in range(3):
        bench.put(bench.foil(number) + at.FOIL.tip_depth, depth)
        bench.put(bench.foil(number) + at.FOIL.lift_mean, lift)
    measure(bench.flat, bench.counts)
    return float(bench.get(at.CAVITATION_MARGIN))


def test_the_cavitation_number_is_the_published_one() -> None:
    """What is left of it is less by the section's suction; lift downward counts as much."""
    outside = reference("water", "cavitation_number")
    bench, suction = Bench(courier()), section_of(courier(), courier().foils["aft"]).suction
    for row in outside.rows:
        for lift in (0.0, 0.4, -0.4, 0.8):
            needed = suction[0] + suction[1] * abs(lift) + suction[2] * lift**2
            found = margin(bench, row["speed m/s"], 0.1, lift) + needed
            assert found == pytest.approx(row["cavitation number"], rel=outside.tolerance), row
    assert margin(bench, 5.0, 0.2, 0.4) > margin(bench, 5.0, 0.1, 0.4) > margin(bench, 5.0, 0.1, 0.8)


def test_the_margin_of_a_flight_falls_with_speed_and_with_weight() -> None:
    """By the depth of the tips and the lift of a foil by itself, on one that carries a known share: to a tenth of suction."""
    usual = quiet(courier())
    slow, fast = (calm_response(usual, "cavitation_margin", speed) for speed in (4.0, 6.0))
    assert fast < 0.5 * slow
    heavy = changed(usual, {"body.mass": 1.25 * usual.body.mass})
    assert calm_response(heavy, "cavitation_margin") < slow - 0.02
    record = history(fleet_of(usual), silent(calm(4.0, settle=2.0)))
    speed, depth = record["speed"][0, -1], record["submergence"][0, -1]
    number = (101325.0 - WATER.vapour_pressure + WATER.density * 9.81 * depth) / (0.5 * WATER.density * speed**2)
    area = sum(foil.area for foil in usual.foils.values())
    lift = fleet_of(usual).parameters[0, at.MASS] * 9.81 / (0.5 * WATER.density * speed**2 * area)  # of all foils together
    suction = section_of(usual, usual.foils["aft"]).suction
    assert number - slow == pytest.approx(suction[0] + suction[1] * lift + suction[2] * lift**2, rel=0.25)


@pytest.mark.parametrize(("end", "factor", "share"), [("high", 0.95, 1.0), ("high", 1.05, 0.0), ("low", 1.05, 1.0)])
def test_a_polar_is_left_at_the_end_of_its_reynolds_numbers(end: str, factor: float, share: float) -> None:
    """All of the time where the foils fly 5 % outside, never where 5 % inside."""
    foil = courier().foils["aft"]
    reynolds = 4.0 * foil.chord / WATER.viscosity
    craft = on_polar(POLAR._replace(**{f"reynolds_{end}": factor * reynolds}))
    assert calm_response(craft, "beyond_polar") == share


def test_a_polar_is_left_beyond_its_angles() -> None:
    """The angle from zero lift, either way; the foils of a calm flight are at about 5 degrees of it."""
    assert calm_response(on_polar(POLAR), "beyond_polar") == 0.0
    zero = POLAR.zero_lift_angle[1]
    tight = POLAR._replace(angle_low=zero - radians(1.0), angle_high=zero + radians(1.0))
    assert calm_response(on_polar(tight), "beyond_polar") == 1.0
    assert calm_response(quiet(courier()), "beyond_polar") == 0.0


def test_air_runs_down_a_strut_beyond_its_angle() -> None:
    """Of a threshold that the flow passes: at 12 degrees in no gentle quartering sea, at half a degree again and again."""
    block = block_of(jonswap(np.pi / 2, height=0.05, period=1.4), 15.0)
    values: list[dict[str, Any]] = [{}, {"struts.ventilation.angle": radians(1.0), "struts.ventilation.washout": 0.1}]
    flown = fly(fleet_of([changed(courier(), one) for one in values]), block)
    usual, touchy = response(flown, "strut_ventilations")
    assert usual == 0.0
    assert touchy > 0.1  # a second
    assert calm_response(changed(quiet(courier()), values[1]), "strut_ventilations") == 0.0

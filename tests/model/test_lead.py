"""Foils that wands move: trim and angles against the second model, what the wand does to the ride, mirror, companion."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

from sweep.campaign.addresses import value_at
from sweep.campaign.craft import Craft
from sweep.campaign.text.explain import reason
from sweep.linear.craft import linearise
from sweep.linear.plant import MOTION
from sweep.linear.ride import ride
from sweep.linear.ticks import eigenvalues
from sweep.model import layout as at
from sweep.model.flight import fly
from sweep.model.pack.fleet import build_fleets
from sweep.model.pack.wands import rest_angle
from sweep.model.stepping.integrate import Span, servos_half
from tests.model.crafts import (
    HEADINGS,
    WATER,
    Bench,
    block_of,
    calm,
    changed,
    courier,
    drawn_lead,
    fleet_of,
    history,
    jonswap,
    mirrored,
    quiet,
    response,
    silent,
    statuses,
    with_lead,
)
from tests.model.test_froude import FORCE, LENGTH, MASS, SPEED, TIME, blocks, larger
from tests.second import second_model as second
from tests.second import wands as second_wands

TOLERANCE = 3e-7
LED = 3  # number of the foil that the wand moves


@pytest.mark.parametrize("seed", range(4))
def test_the_second_model_is_in_balance_in_its_trim(seed: int) -> None:
    """Angles of all foils in trim, the led one's too, and the throttle: those of the second model's own trim."""
    craft = drawn_lead(seed)
    bench, model = Bench(craft), second.build(craft, WATER)
    found = np.array([bench.get(bench.foil(i) + at.FOIL.servo_mid) for i in range(4)])
    level = second.trim(model, 4.0)
    assert found == pytest.approx(level.foil_angles, abs=1e-6)
    assert bench.get(at.THROTTLE) == pytest.approx(level.throttle, abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_every_angle_is_that_of_the_second_model(seed: int) -> None:
    """The arm anywhere: linkage, limits and play, half a step after half a step."""
    draw = np.random.default_rng([seed, 52])
    craft = drawn_lead(seed)
    bench, linkage = Bench(craft), craft.foils["bow"].linkage
    assert linkage is not None
    place = bench.foil(LED)
    set_at, rest = bench.get(at.TRIM.height), bench.get(at.WAND.angle)
    angle = bench.get(place + at.FOIL.link)
    for _ in range(40):
        swung = rest + draw.uniform(-1.0, 1.0)
        bench.put(at.WAND.angle, swung)
        servos_half(bench.flat, bench.lanes.commands, bench.counts, Span(0.0, 0.25, 0.0025), WATER.density)
        angle = second_wands.led(linkage, set_at, rest, swung, angle)
        assert bench.get(place + at.FOIL.link) == pytest.approx(angle, abs=TOLERANCE)


def test_a_spring_too_weak_for_the_hinge_does_not_move_it() -> None:
    craft = with_lead({"gearing": 1.0}, 0.3, press=0.002, mass=1e-4)
    bench = Bench(craft)
    before = bench.get(bench.foil(LED) + at.FOIL.link)
    bench.put(at.WAND.angle, 1.0)
    servos_half(bench.flat, bench.lanes.commands, bench.counts, Span(0.0, 0.25, 0.0025), WATER.density)
    assert bench.get(bench.foil(LED) + at.FOIL.link) == before


def test_it_flies_level_on_calm_water() -> None:
    record = history(fleet_of(quiet(with_lead(None, 0.3, press=0.4))), silent(calm(8.0)))
    assert record["ride_height"][0, -50:].mean() == pytest.approx(courier().control.ride_height, abs=3e-4)


def test_lower_over_the_water_it_lifts_more() -> None:
    """On a crest the arm swings up and the foil turns nose up: against the elevation at the tip, over long waves."""
    craft = quiet(with_lead({"gearing": 0.4}, press=0.5, width=0.01))
    record = history(fleet_of(craft), silent(block_of(jonswap(HEADINGS["head"], 0.03, 1.6), 15.0)))
    angle, low = record["foils"][0, 400:, LED], -record["ride_height"][0, 400:]
    assert np.corrcoef(angle, low)[0, 1] > 0.5
    assert np.ptp(angle) > 0.02


def test_by_hand_it_lifts_by_height_and_not_by_roll() -> None:
    """Of a stiff wand: gearing / (arm x cosine of its angle) a metre, but for what its tip swims; roll turns nothing."""
    craft = quiet(with_lead({"gearing": 0.4}, press=0.2, width=0.03, drag=0.9, y=0.0))
    (linear,) = linearise(fleet_of(craft))
    assert linear is not None
    (lead,) = linear.leads
    angle = rest_angle(craft, craft.wands["bow"], WATER.density, 4.0)
    by_height = dict(zip(MOTION, lead.by_motion, strict=True))
    assert by_height["Z"] == pytest.approx(0.4 / (0.3 * np.cos(angle)), rel=0.1)
    assert lead.by_water == pytest.approx(by_height["Z"], rel=1e-6)
    assert by_height["phi"] == pytest.approx(0.0, abs=1e-6)


def test_the_mirror_image_flies_the_mirrored_way() -> None:
    craft = changed(quiet(drawn_lead(1)), {"wands.bow.y": 0.1})
    sea = jonswap(HEADINGS["quartering"], height=0.04, period=1.2)
    first = history(fleet_of(craft), silent(block_of(sea, 3.0, settle=1.0)), precise=True)
    image = history(fleet_of(mirrored(craft)), silent(block_of(sea._replace(ky=-sea.ky), 3.0, settle=1.0)), precise=True)
    for column, sign in {"roll": -1.0, "y": -1.0, "pitch": 1.0, "ride_height": 1.0}.items():
        assert image[column] == pytest.approx(sign * first[column], abs=1e-7), column
    assert image["foils"][..., LED] == pytest.approx(first["foils"][..., LED], abs=1e-7)


def test_no_lane_knows_of_the_others() -> None:
    """Beside a craft whose fourth foil has a servo: to the bit."""
    plain = with_lead().model_dump()
    plain["foils"]["bow"]["linkage"] = None
    crafts = [drawn_lead(0), Craft.model_validate(plain, context={"si": True}), drawn_lead(2)]
    crafts = [changed(each, {"foils.bow.flap": None}) for each in crafts]
    block = block_of(jonswap(HEADINGS["head"], 0.04), 8.0)
    together = fly(fleet_of(crafts), block)
    for i, craft in enumerate(crafts):
        assert fly(fleet_of(craft), block).responses[0].tobytes() == together.responses[i].tobytes()


def test_finer_steps_change_the_ride_by_less_than_a_hundredth() -> None:
    craft = quiet(with_lead({"gearing": 0.4}, press=0.5, width=0.01))
    block = silent(block_of(jonswap(HEADINGS["head"], 0.04, 0.9), 15.0))
    coarse, fine = (response(fly(fleet_of(craft, step=step), block), "ride_height_error")[0] for step in (0.005, 0.0025))
    assert coarse == pytest.approx(fine, rel=0.01)


@pytest.mark.parametrize("gearing", [0.1, 0.4])
def test_the_companion_flies_it(gearing: float) -> None:
    """Ride height error in small waves, linear against flown; and it is stable there."""
    craft = quiet(with_lead({"gearing": gearing}, press=0.5, width=0.01))
    sea = jonswap(HEADINGS["head"], height=0.01, period=1.2)
    fleet = fleet_of(craft)
    (linear,) = linearise(fleet)
    assert linear is not None
    assert eigenvalues(linear).real.max() < 1e-6
    flown = fly(fleet, silent(block_of(sea, 40.0, settle=8.0)))
    assert statuses(flown) == ["flew"]
    assert response(flown, "ride_height_error")[0] == pytest.approx(ride(linear, sea).ride_height_error, rel=0.05)


def test_it_scales_by_froude() -> None:
    """Lengths times four, times and speeds times two, masses and forces times 64: the same angles."""
    craft = quiet(with_lead({"gearing": 0.3}, press=0.4, arm=0.3, width=0.008, mass=0.004))
    scales = {f"wands.bow.{name}": LENGTH for name in ("x", "height", "arm", "width")}
    scales |= {"wands.bow.mass": MASS, "wands.bow.press": FORCE, "foils.bow.x": LENGTH, "foils.bow.area": LENGTH**2}
    large = changed(larger(craft), {address: scale * value_at(craft, address) for address, scale in scales.items()})
    viscous = WATER._replace(viscosity=WATER.viscosity * LENGTH * SPEED, depth=WATER.depth * LENGTH)
    ((_, small_fleet),) = build_fleets([craft], WATER, 4.0, step=0.01)
    ((_, large_fleet),) = build_fleets([large], viscous, 4.0 * SPEED, step=0.01 * TIME)
    small_block, large_block = blocks(jonswap(HEADINGS["head"], 0.04), 6.0)
    one, other = history(small_fleet, small_block, 50.0, True), history(large_fleet, large_block, 50.0 / TIME, True)
    for name, scale in {"ride_height": LENGTH, "pitch": 1.0, "foils": 1.0}.items():
        assert other[name] == pytest.approx(scale * one[name], abs=2e-5 * scale), name
    assert np.ptp(one["foils"][..., LED]) > 0.01


def test_small_changes_change_a_flight_a_little() -> None:
    """Random linkages: no step in how the ride error goes with gearing, travel and the wand's press."""
    block = silent(block_of(jonswap(HEADINGS["head"], 0.03), 10.0))
    for seed in range(3):
        craft = quiet(drawn_lead(seed))
        for name in ("foils.bow.linkage.gearing", "foils.bow.linkage.travel", "wands.bow.press"):
            crafts = [changed(craft, {name: value_at(craft, name) * (1.0 + change)}) for change in (0.0, 1e-3, 2e-3)]
            errors = response(fly(fleet_of(crafts), block), "ride_height_error")
            assert np.ptp(errors) < 0.02 * errors[0], (seed, name)


@pytest.mark.parametrize(
    ("values", "where"),
    [
        ({"linkage": {"wand": "stern"}}, "foils.bow.linkage.wand"),
        ({"mounting": "fixed"}, "foils.bow.linkage"),
    ],
)
def test_what_is_wrong_is_told(values: dict[str, Any], where: str) -> None:
    description = with_lead().model_dump()
    description["foils"]["bow"] |= values
    with pytest.raises(ValidationError) as error:
        Craft.model_validate(description, context={"si": True})
    assert reason(error.value)[0] == where

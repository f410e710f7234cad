"""Crafts that have every new kind of part at once, drawn at random: what must hold for any craft holds for them too."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi
from typing import Annotated, Any, get_args, get_origin

import numpy as np
import pytest

from sweep.campaign.addresses import value_at
from sweep.campaign.craft import Craft
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Kind
from sweep.linear.craft import linearise
from sweep.linear.ride import ride
from sweep.linear.ticks import eigenvalues
from sweep.model import layout as at
from sweep.model.flight import fly
from sweep.model.onboard.wand import move_wands
from sweep.model.pack.fleet import build_fleets
from sweep.model.stepping.integrate import Span, servos_half
from sweep.words.units import unit
from tests.model.crafts import (
    HEADINGS,
    WATER,
    Bench,
    block_of,
    changed,
    fleet_of,
    history,
    jonswap,
    mirrored,
    quiet,
    response,
    silent,
    statuses,
)
from tests.model.test_froude import LENGTH, MASS, POWER, RECORD_SCALES, SPEED, TIME, blocks
from tests.model.test_symmetry import KEPT, NEGATED, mirror_sea
from tests.model.test_wand import put_ride, random_ride
from tests.second import second_model as second
from tests.second import wands as second_wands
from tests.second.medley import medley

TOLERANCE = 3e-7
SEEDS = range(3)
FINE = {
    "foils.bow.linkage.play": 0.0,
    "steering.rudders.aft.servo.quantum": 0.0,
}
BASES = {"[length]": LENGTH, "[mass]": MASS, "[time]": TIME, "[current]": POWER}
"""How many times larger the larger craft's are, of equal voltages; what is not named is as large."""


def smooth(seed: int) -> Craft:
    """One whose sensors, servos and linkage do exactly what they are told."""
    return quiet(changed(medley(seed), FINE))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_second_model_is_in_balance_in_its_trim(seed: int) -> None:
    craft = medley(seed)
    bench, level = Bench(craft), second.trim(second.build(craft, WATER), 4.0)
    found = [bench.get(bench.foil(i) + at.FOIL.servo_mid) for i in range(len(craft.foils))]
    assert found == pytest.approx(level.foil_angles.tolist(), abs=1e-6)
    assert bench.get(at.THROTTLE) == pytest.approx(level.throttle, abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_its_wand_and_the_foil_that_this_moves_go_as_in_the_second_model(seed: int) -> None:
    craft, draw = medley(seed), np.random.default_rng([seed, 62])
    bench, linkage = Bench(craft), craft.foils["bow"].linkage
    one = second_wands.hinged(craft, "feeler", WATER.density)
    assert linkage is not None
    set_at, rest, foil = bench.get(at.TRIM.height), bench.get(at.WAND.angle), bench.get(at.FOIL.link)
    arm = second_wands.Arm(rest, 0.0, -0.1)
    bench.put(at.WAND.angle, list(arm))
    for _ in range(30):
        moving, half = random_ride(draw), draw.uniform(5e-4, 5e-3)
        put_ride(bench, moving)
        move_wands(bench.flat, 1, at.STATE.first, at.MID_STEP, half)
        servos_half(bench.flat, bench.lanes.commands, bench.counts, Span(0.0, 0.25, half), WATER.density)
        arm = second_wands.half_step(one, moving, arm, half)
        foil = second_wands.led(linkage, set_at, rest, arm.angle, foil)
        assert bench.get(at.WAND.angle, 3) == pytest.approx(list(arm), rel=TOLERANCE, abs=TOLERANCE)
        assert bench.get(at.FOIL.link) == pytest.approx(foil, abs=TOLERANCE)
        arm = second_wands.Arm(*bench.get(at.WAND.angle, 3))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_mirror_image_flies_the_mirrored_way(seed: int) -> None:
    sea, craft = jonswap(HEADINGS["quartering"], height=0.04, period=1.2), smooth(seed)
    first = history(fleet_of(craft), silent(block_of(sea, 3.0, settle=1.0)), precise=True)
    image = history(fleet_of(mirrored(craft)), silent(block_of(mirror_sea(sea), 3.0, settle=1.0)), precise=True)
    for sign, columns in ((1.0, KEPT), (-1.0, NEGATED)):
        for column in columns:
            assert image[column] == pytest.approx(sign * first[column], abs=1e-7), column
    assert np.abs(first["roll"]).max() > 1e-3


def kind_of(annotation: Any) -> Kind | None:
    """The kind of quantity in an annotation of a field."""
    if get_origin(annotation) is Annotated and (own := [each for each in get_args(annotation)[1:] if isinstance(each, Kind)]):
        return own[0]
    return next((found for each in get_args(annotation) if (found := kind_of(each)) is not None), None)


def scale_of(kind: Kind) -> float:
    """How many times larger a quantity of this kind is."""
    dimension = unit(kind.units[0]).dimension if kind.units else ()
    return float(np.prod([BASES.get(base, 1.0) ** float(power) for base, power in dimension]))


def scales(part: Part, address: str = "") -> Iterator[tuple[str, float]]:
    """Address and scale of every number with a dimension that a part gives, by its own declaration of units."""
    for name, field in type(part).model_fields.items():
        value, here = getattr(part, name), f"{address}{name}"
        if isinstance(value, Part):
            yield from scales(value, f"{here}.")
        elif isinstance(value, dict):
            for key, each in value.items():
                if isinstance(each, Part):
                    yield from scales(each, f"{here}.{key}.")
        elif isinstance(value, float) and not here.endswith("ventilation.washout"):  # the model scales that by itself
            kind = next((each for each in field.metadata if isinstance(each, Kind)), None) or kind_of(field.annotation)
            if kind is not None and (scale := scale_of(kind)) != 1.0:
                yield here, scale


def larger(craft: Craft) -> Craft:
    """Four times as long, by the units of every key: no list of names."""
    told = dict(scales(craft))
    del told["rangefinders.spacing"], told["rangefinders.rate"]  # each stands by itself
    grown = changed(craft, {address: value_at(craft, address) * scale for address, scale in told.items()})
    description = grown.model_dump()
    for foil in description["foils"].values():
        foil["strut_offsets"] = [LENGTH * offset for offset in foil["strut_offsets"]]
    return Craft.model_validate(description, context={"si": True})


def test_the_scales_are_those_that_are_known() -> None:
    told = dict(scales(medley()))
    known = {"struts.wall": LENGTH, "body.mass": MASS, "wands.feeler.press": MASS, "servos.rate": 1 / TIME,
             "battery.resistance": 1 / POWER, "control.height.proportional": 1 / LENGTH}  # fmt: skip
    assert {address: told[address] for address in known} == known
    assert not {"battery.voltage", "struts.density", "foils.bow.linkage.gearing"} & told.keys()


@pytest.mark.parametrize("seed", SEEDS)
def test_one_four_times_as_long_flies_the_same_flight(seed: int) -> None:
    craft = smooth(seed)
    viscous = WATER._replace(viscosity=WATER.viscosity * LENGTH * SPEED, depth=WATER.depth * LENGTH)
    ((_, small),) = build_fleets([craft], WATER, 4.0, step=0.01)
    ((_, large),) = build_fleets([larger(craft)], viscous, 8.0, step=0.02)
    first, second_block = blocks(jonswap(2.0, height=0.05, period=1.1), 2.0, settle=0.5)
    records = history(small, first, precise=True), history(large, second_block, 50.0, precise=True)
    for name, scale in RECORD_SCALES.items():
        size = max(np.nanmax(np.abs(records[0][name])), 1e-3)
        assert np.nanmax(np.abs(records[1][name] / scale - records[0][name])) < 1e-6 * size, name


def test_no_lane_knows_of_the_others() -> None:
    """To the bit, also beside one whose led foil's wand is other and whose walls are thicker."""
    crafts = [medley(seed) for seed in range(4)]
    block = block_of(jonswap(1.0, height=0.05), 6.0, settle=2.0)
    together = fly(fleet_of(crafts), block)
    assert statuses(together).count("flew") >= 3
    for i, craft in enumerate(crafts):
        assert fly(fleet_of(craft), block).responses[0].tobytes() == together.responses[i].tobytes()


def test_finer_steps_change_the_ride_by_less_than_a_hundredth() -> None:
    for seed in SEEDS:
        block = silent(block_of(jonswap(HEADINGS["head"], 0.04, 0.9), 10.0))
        coarse, fine = (fly(fleet_of(smooth(seed), step=step), block) for step in (0.005, 0.0025))
        for name in ("ride_height_error", "pitch_rms", "strut_stress", "foil_twist"):
            assert response(coarse, name)[0] == pytest.approx(response(fine, name)[0], rel=0.015), (seed, name)


SMOOTH = (
    "foils.port.wall", "foils.starboard.strut.wall", "struts.wall", "struts.height", "foils.bow.linkage.gearing",
    "foils.port.sweep", "foils.fin.incidence", "wands.feeler.press", "wands.feeler.arm", "ballast.lead.x", "battery.charge",
    "rangefinders.each.tap.tube_lag", "rangefinders.each.arm.trust", "steering.second_servo.bandwidth",
    "steering.rudders.aft.servo.rate", "steering.rudders.aft.wall", "steering.rudders.keel.length",
)  # fmt: skip


@pytest.mark.parametrize("seed", SEEDS)
def test_responses_are_continuous_in_every_factor(seed: int) -> None:
    base = smooth(seed)
    moved = [changed(base, {address: value_at(base, address) * (1.0 - 1e-5)}) for address in SMOOTH]
    fleet = fleet_of([base, *moved])
    assert fleet.feasible.all()
    flown = fly(fleet, silent(block_of(jonswap(pi, height=0.03, period=1.1), 6.0, settle=2.0)), precise=True)
    for name in ("ride_height_error", "pitch_rms", "vertical_acceleration", "power_mean", "strut_stress", "foil_bend"):
        values = response(flown, name)
        apart = np.abs(values[1:] / values[0] - 1.0)
        assert apart.max() < 5e-4, f"{name}: {SMOOTH[int(apart.argmax())]} moves it by {apart.max():.1e}"


def test_the_companion_flies_it() -> None:
    """Ride height error in small waves, linear against flown; and it is stable there."""
    craft, sea = smooth(0), jonswap(HEADINGS["head"], height=0.01, period=1.2)
    (linear,) = linearise(fleet_of(craft))
    assert linear is not None
    assert len(linear.servos) == len(craft.foils) + 3
    assert eigenvalues(linear).real.max() < 1e-6
    flown = fly(fleet_of(craft), silent(block_of(sea, 40.0, settle=8.0)))
    assert response(flown, "ride_height_error")[0] == pytest.approx(ride(linear, sea).ride_height_error, rel=0.06)

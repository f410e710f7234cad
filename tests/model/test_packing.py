"""Whatever a craft file says of a sensor comes to the kernels."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.campaign.craft import Rangefinders
from sweep.campaign.rangefinders import OF_A_KIND, Rangefinder
from sweep.campaign.wands import Wand
from sweep.model import layout as at
from sweep.model.pack.fleet import pack_crafts
from tests.model.crafts import WATER, changed, courier, with_each, with_wand

OTHERS = {
    "count": 3,
    "height": 0.01,
    "layout": "over-foils",
    "footprint": "nearest",
    "resolution": 0.002,
    "beam": 0.2,
    "dropout": 0.1,
    "burst": 0.2,
    "tilt_loss": 0.1,
    "spray_loss": 0.1,
    "spikes": 0.1,
}
"""What is not a number, or is nothing; all else is taken half as large again."""

ALONE = {"spacing": {"rangefinders.count": 3}}
"""With what else a property matters."""


def row_of(**values: object) -> np.ndarray:
    craft = changed(courier(), {name.replace("__", "."): value for name, value in values.items()})
    return pack_crafts([craft], WATER).rows[0]


@pytest.mark.parametrize("name", [name for name in Rangefinders.model_fields if name not in ("price", "each")])
def test_every_property_of_a_rangefinder_is_packed(name: str) -> None:
    beside = {key.replace(".", "__"): value for key, value in ALONE.get(name, {}).items()}
    value = OTHERS.get(name) or 1.5 * getattr(courier().rangefinders, name)
    assert value != getattr(courier().rangefinders, name)
    assert (row_of(**beside) != row_of(**beside, **{f"rangefinders__{name}": value})).any()


def test_a_craft_takes_no_more_room_than_its_structure_has() -> None:
    plain = courier()
    larger = changed(plain, {f"foils.{name}.strips": 4 for name in plain.foils})
    alone, both = pack_crafts([plain], WATER), pack_crafts([plain, larger], WATER)
    slots = [structure.slots for structure in both.structures]
    assert slots[0] < slots[1] < at.PARAMETERS
    assert alone.rows.shape == (1, slots[0])
    assert both.rows.shape == (2, slots[1])
    np.testing.assert_array_equal(both.rows[0, : slots[0]], alone.rows[0])


OWN = {"ahead": 0.2, "aside": -0.1, "y": 0.1, "trust": 2.0, "footprint": "nearest", "rate": 12.0}


@pytest.mark.parametrize(
    "name",
    [name for name in Rangefinder.model_fields if name not in ("price", "kind", *OF_A_KIND["wand"], *OF_A_KIND["pressure"])],
)
def test_every_property_of_a_rangefinder_by_itself_is_packed(name: str) -> None:
    two = with_each({"one": {}, "two": {}})
    value = OWN.get(name) or OTHERS.get(name) or 1.5 * getattr(two.rangefinders, name)
    own = changed(two, {f"rangefinders.each.two.{name}": value})
    assert (pack_crafts([two], WATER).rows[0] != pack_crafts([own], WATER).rows[0]).any()


def test_its_bounds_are_those_of_all() -> None:
    for name, field in Rangefinder.model_fields.items():
        usual = Rangefinders.model_fields.get(name)
        if usual is not None:
            bounds = [[repr(note) for note in each.metadata if hasattr(note, "__slots__")] for each in (field, usual)]
            assert bounds[0] == bounds[1], name


def test_a_property_as_it_is_has_the_slot_of_its_name() -> None:
    sensors = courier().rangefinders
    names = ("rate", "latency", "noise", "resolution", "blind", "far", "dropout", "spikes", "spike_size")
    assert [row_of()[getattr(at, f"RANGE_{name.upper()}")] for name in names] == [getattr(sensors, name) for name in names]
    assert row_of(rangefinders__beam=0.4)[at.RANGE_BEAM] == pytest.approx(np.tan(0.2))


OF_A_WAND = {"y": 0.05, "height": 0.02}


@pytest.mark.parametrize("name", [name for name in Wand.model_fields if name != "price"])
def test_every_property_of_a_wand_is_packed(name: str) -> None:
    craft = with_wand()
    value = OF_A_WAND.get(name) or 0.9 * getattr(craft.wands["bow"], name)
    assert (
        pack_crafts([craft], WATER).rows[0] != pack_crafts([changed(craft, {f"wands.bow.{name}": value})], WATER).rows[0]
    ).any()


@pytest.mark.parametrize(("name", "value"), [("wand", "aside"), ("angle_step", 0.01)])
def test_what_only_the_sensor_of_a_wand_has_is_packed(name: str, value: object) -> None:
    craft = with_wand()
    craft = craft.model_copy(update={"wands": craft.wands | {"aside": craft.wands["bow"]}})
    rows = [pack_crafts([each], WATER).rows[0] for each in (craft, changed(craft, {f"rangefinders.each.feeler.{name}": value}))]
    assert (rows[0] != rows[1]).any()


@pytest.mark.parametrize("name", OF_A_KIND["pressure"])
def test_what_only_a_tap_has_is_packed(name: str) -> None:
    craft = with_each({"tap": {"kind": "pressure", "height": -0.15}})
    rows = [pack_crafts([each], WATER).rows[0] for each in (craft, changed(craft, {f"rangefinders.each.tap.{name}": 0.02}))]
    assert (rows[0] != rows[1]).any()

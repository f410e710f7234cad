from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError
from ruamel.yaml import YAML

from sweep.campaign.addresses import leaves, matches, near, replace_values, value_at
from sweep.campaign.craft import Craft
from tests.campaign.files import CRAFT, load

DESCRIPTION: Any = YAML(typ="safe", pure=True).load(CRAFT)
KNOWN = leaves(DESCRIPTION)


@pytest.fixture
def craft(tmp_path: Path) -> Craft:
    return load(tmp_path).craft


def test_every_single_value_has_an_address(craft: Craft) -> None:
    assert {
        "body.mass",
        "hulls.main.beam",
        "foils.aft.section.lift_max",
        "control.law",
        "steering.servo.travel",
    } <= KNOWN.keys()
    assert "inertial.gyro_noise" in KNOWN  # the file leaves it out
    assert "name" not in KNOWN
    assert "foils.aft.strut_offsets" not in KNOWN
    for address in KNOWN:
        assert not isinstance(value_at(craft, address), dict | tuple)


def test_a_star_stands_for_any_one_step() -> None:
    assert matches("foils.*.area", KNOWN) == ["foils.port.area", "foils.starboard.area", "foils.aft.area"]
    assert matches("control.*.proportional", KNOWN) == [
        f"control.{loop}.proportional" for loop in ("height", "pitch", "roll", "heading", "speed")
    ]
    assert matches("foils.*", KNOWN) == []
    assert matches("*", KNOWN) == []


@pytest.mark.parametrize(
    ("wrong", "first"),
    [
        ("foils.port.aera", "foils.port.area"),
        ("foils.*.arae", "foils.*.area"),
        ("controll.ride_height", "control.ride_height"),
        ("struts", "struts.height"),
    ],
)
def test_the_nearest_addresses(wrong: str, first: str) -> None:
    assert near(wrong, KNOWN)[0] == first


def test_kinds_of_values() -> None:
    kinds = {
        address: KNOWN[address].kind
        for address in ("struts.height", "rangefinders.count", "rangefinders.layout", "steering.rudder")
    }
    assert list(kinds.values()) == ["number", "count", "word", "word"]


def test_values_replaced_are_the_only_change(craft: Craft) -> None:
    other = replace_values(craft, {"foils.aft.area": 0.006, "rangefinders.count": 3, "rangefinders.layout": "over-foils"})
    assert (other.foils["aft"].area, other.rangefinders.count, other.rangefinders.layout) == (0.006, 3, "over-foils")
    back = {"foils.aft.area": 0.005, "rangefinders.count": 1, "rangefinders.layout": "bow"}
    assert replace_values(other, back) == craft
    assert replace_values(craft, {}) == craft


@pytest.mark.parametrize(
    "values",
    [
        *({"struts.height": -0.1}, {"rangefinders.blind": 2.0}, {"foils.aft.span": 0.2}),
        *({"servos.bandwidth": size} for size in (1e15, 1e200, math.inf, math.nan)),  # as large as no file may have it
    ],
)
def test_an_impossible_craft_is_refused(craft: Craft, values: dict[str, float]) -> None:
    with pytest.raises(ValidationError):
        replace_values(craft, values)


def test_area_keeps_what_the_craft_says(craft: Craft) -> None:
    grown = replace_values(craft, {"foils.aft.area": 0.02})  # four times
    assert grown.foils["aft"].span_length == pytest.approx(2 * craft.foils["aft"].span_length)  # aspect ratio kept
    by_span = replace_values(craft, {"foils.aft.aspect_ratio": None, "foils.aft.span": 0.2, "foils.aft.area": 0.02})
    assert (by_span.foils["aft"].span_length, by_span.foils["aft"].chord) == pytest.approx((0.2, 0.1))  # span kept


def test_a_craft_that_is_wrong_can_still_be_addressed() -> None:
    assert "foils.bow.area" in leaves({"foils": {"bow": "nonsense"}, "hulls": 7})
    assert "struts.height" in leaves(None)


@pytest.mark.parametrize("address", [address for address, leaf in KNOWN.items() if leaf.kind == "number"])
def test_a_changed_craft_is_that_of_its_whole_description(craft: Craft, address: str) -> None:
    """However little is read again, and whatever is wrong with it: the error says the whole address."""
    for value in (1.01 * (value_at(craft, address) or 0.1), -1.0):
        description = craft.model_dump()
        group, (*path, last) = description, address.split(".")
        for step in path:
            group = group[step]
        group[last] = value
        wanted, wrong = whole(description)
        if wanted is None:
            with pytest.raises(ValidationError) as found:
                replace_values(craft, {address: value})
            assert found.value.errors(include_context=False) == wrong
            continue
        changed = replace_values(craft, {address: value})
        assert changed == wanted
        assert changed.model_dump_json() == wanted.model_dump_json()
        groups = {address.split(".")[0], "hulls", "foils", "ballast", "wands", "polars", "codes"}
        assert all(getattr(changed, name) is getattr(craft, name) for name in Craft.model_fields if name not in groups)


def whole(description: Any) -> tuple[Craft | None, list[Any]]:
    """The craft of a whole description, or what is wrong with it."""
    try:
        return Craft.model_validate(description, context={"si": True}), []
    except ValidationError as error:
        return None, list(error.errors(include_context=False))

"""A design's numbers: those of its craft file, in a builder's units, and only what its law looks at."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft, Propeller, Propulsor
from sweep.model.pack.mass import mass_properties
from sweep.report.craft_sheet import gains, sheet
from tests.site_results import campaign

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture(scope="module")
def craft(tmp_path_factory: pytest.TempPathFactory) -> Craft:
    return campaign(tmp_path_factory.mktemp("campaign")).craft


def rows(craft: Craft, title: str) -> dict[str, tuple[str, ...]]:
    table = next(table for table in sheet(craft) if table.title == title)
    return {name: cells for name, *cells in table.rows}  # type: ignore[misc]


def test_gains_come_in_the_controllers_units(craft: Craft) -> None:
    """The courier's craft file: 0.4 deg/cm, 0.1 deg/cm/s, 0.02 deg*s/cm; 1.2 deg/deg, 0.06 s."""
    found = dict(gains(craft))
    assert found["height, proportional"] == "0.4 deg/cm"
    assert found["height, integral"] == "0.1 deg/cm/s"
    assert found["height, derivative"] == "0.02 deg/(cm/s)"
    assert found["pitch, proportional"] == "1.2 deg/deg"
    assert found["pitch, derivative"] == "0.06 deg/(deg/s)"
    assert found["gain schedule"] == "none: the same gains at every speed"


def test_a_law_shows_what_it_looks_at(craft: Craft) -> None:
    laws = {
        law: dict(gains(craft.model_copy(update={"control": craft.control.model_copy(update={"law": law})})))
        for law in ("level-and-height", "fused-height", "each-foil")
    }
    assert set(laws["fused-height"]) - set(laws["level-and-height"]) == {"corner frequency of the fused height"}
    assert not any(name.startswith(("pitch", "roll", "height, integral")) for name in laws["each-foil"])
    assert laws["each-foil"]["height, proportional"] == "0.4 deg/cm"


def test_gains_that_follow_the_speed_say_so(craft: Craft) -> None:
    scheduled = craft.control.model_copy(update={"scheduled_at": 5.0})
    assert "5 m/s" in dict(gains(craft.model_copy(update={"control": scheduled})))["gain schedule"]


def test_balance_is_that_of_all_parts(craft: Craft) -> None:
    whole = mass_properties(craft)
    boat = rows(craft, "Boat")
    mass, height = (float(boat[name][0].split()[0]) for name in ("mass, all in", "centre of gravity, above the keel"))
    assert mass == pytest.approx(whole.mass, rel=5e-3)
    assert height == pytest.approx(100 * whole.centre[2], rel=5e-3)


def test_filters_of_readings_are_told(craft: Craft) -> None:
    assert not {"each reading is", "a reading is refused if it jumps by"} & set(rows(craft, "Sensing and servos"))
    filtered = craft.control.model_copy(update={"median": 3, "gate": 0.05})
    found = rows(craft.model_copy(update={"control": filtered}), "Sensing and servos")
    assert found["each reading is"] == ["the median of its last 3"]
    assert found["a reading is refused if it jumps by"] == ["over 5 cm"]


def test_several_rangefinders_say_how_they_are_taken_together(craft: Craft) -> None:
    three = craft.model_copy(update={"rangefinders": craft.rangefinders.model_copy(update={"count": 3})})
    assert rows(three, "Sensing and servos")["combined by"] == ["mean"]
    assert "combined by" not in rows(craft, "Sensing and servos")


def as_written(name: str = "courier") -> dict[str, Any]:
    """A craft file as its builder wrote it: texts with their units."""
    text = (CONFIGS / "craft" / f"{name}.yaml").read_text(encoding="utf-8")
    return dict(YAML(typ="safe", pure=True).load(text))


def test_a_builder_finds_each_number_of_the_craft_file_again(craft: Craft) -> None:
    """What is written in the courier's file stands on its page under its own name, in the file's units."""
    file = as_written()
    boat, hull, struts = rows(craft, "Boat"), file["hulls"]["main"], file["struts"]
    assert boat["hull main, length and beam"] == [f"{hull['length']}, {hull['beam']}"]
    assert boat["struts, keel to foil"] == [struts["height"]]
    assert boat["struts, chord and thickness"] == [f"{struts['chord']}, 0.45 cm"], "4.5 mm in the file"
    assert boat["wanted ride height of the keel"] == [file["control"]["ride_height"]]
    assert boat["static thrust"] == [file["propulsor"]["static_thrust"]]
    sensing, finders, servos = rows(craft, "Sensing and servos"), file["rangefinders"], file["servos"]
    assert sensing["rangefinders"] == [f"{finders['count']} ({finders['layout']})"]
    assert sensing["their rate and latency"] == [f"{finders['rate']}, {finders['latency']}"]
    assert sensing["their noise"] == [finders["noise"]]
    assert sensing["blind closer than"] == [finders["blind"]]
    assert sensing["foil servo travel"] == [f"±{servos['travel']}"]
    assert sensing["foil servo rate"] == [servos["rate"]]
    control = rows(craft, "Control")
    assert control["law"] == [file["control"]["law"].replace("-", " ")]
    assert control["rate and delay"] == [f"{file['control']['rate']}, {file['control']['delay']}"]


def test_foils_stand_where_the_craft_file_puts_them(craft: Craft) -> None:
    """x forward of the datum, y to starboard, as the file says; area = span x chord, aspect ratio = span / chord."""
    file, table = as_written()["foils"], next(table for table in sheet(craft) if table.title == "Foils")
    assert table.headings == list(file)
    found = {name: cells for name, *cells in table.rows}
    for at, foil in enumerate(file.values()):
        cell = {name: cells[at] for name, cells in found.items()}
        assert f"{cell['ahead of the datum, cm']} cm" == foil["x"]
        assert f"{cell['to starboard, cm']} cm" == foil.get("y", "0 cm")
        assert f"{cell['area, cm²']} cm^2" == foil["area"]
        assert f"{cell['angle of no lift, deg']} deg" == foil["zero_lift_angle"]
        assert cell["aspect ratio"] == str(foil["aspect_ratio"])
        assert float(cell["span, cm"]) == pytest.approx(math.sqrt(50 * 6), rel=2e-3)
        assert float(cell["chord, cm"]) == pytest.approx(math.sqrt(50 / 6), rel=2e-3)
        assert float(cell["depth at the wanted ride height, chords"]) == pytest.approx(10.5 / math.sqrt(50 / 6), rel=2e-3)


def test_the_centre_of_gravity_is_told_on_the_side_where_it_lies(craft: Craft) -> None:
    """A weight is moved 10 cm forward of where it was: the centre of gravity goes ahead with it."""
    there = float(rows(craft, "Boat")["centre of gravity, ahead of the datum"][0].split()[0])
    moved = craft.model_copy(update={"body": craft.body.model_copy(update={"x": craft.body.x + 0.1})})
    ahead = float(rows(moved, "Boat")["centre of gravity, ahead of the datum"][0].split()[0])
    assert ahead - there == pytest.approx(10.0 * craft.body.mass / mass_properties(craft).mass, rel=0.02)


def test_screws_show_their_blades_and_power_and_no_static_thrust(craft: Craft) -> None:
    """The lookout's file gives two propellers by their blades and power, the courier's one by its static thrust alone."""
    boat, file = rows(load_campaign(CONFIGS / "lookout-lake.yaml").craft, "Boat"), as_written("lookout")["propulsor"]
    assert boat["propeller, diameter"] == [f"{file['diameter']} x {file['count']}, {file['spacing']} apart"]
    assert boat["propeller, blades"] == [str(file["propeller"]["blades"])]
    assert boat["shaft power, of each"] == [file["propeller"]["shaft_power"]]
    assert not any(name.startswith("static thrust") for name in boat)
    assert "propeller, blades" not in rows(craft, "Boat")


def test_two_propellers_say_whose_thrust_and_power_it_is(craft: Craft) -> None:
    """The craft file's static thrust is of all propellers together, its shaft power of one motor (its schema says so)."""
    assert "of all propellers together" in str(Propulsor.model_fields["static_thrust"].description)
    assert str(Propeller.model_fields["shaft_power"].description) == "the most that the motor gives its shaft"
    one = rows(craft, "Boat")
    two = rows(craft.model_copy(update={"propulsor": craft.propulsor.model_copy(update={"count": 2, "spacing": 0.16})}), "Boat")
    assert two["static thrust, both together"] == one["static thrust"]
    assert two["propeller, diameter"] == [f"{one['propeller, diameter'][0]} x 2, 16 cm apart"]


def test_a_gain_that_is_not_set_is_not_shown(craft: Craft) -> None:
    """The courier's pitch loop has no integral; one of 0.3 deg/deg/s is shown between the other two."""
    assert not any(name == "pitch, integral" for name, _ in gains(craft))
    pitch = craft.control.pitch.model_copy(update={"integral": 0.3})
    found = dict(gains(craft.model_copy(update={"control": craft.control.model_copy(update={"pitch": pitch})})))
    assert found["pitch, integral"] == "0.3 deg/deg/s"
    assert found["pitch, proportional"] == "1.2 deg/deg"
    assert "roll, integral" not in found

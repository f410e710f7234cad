"""A design's numbers: those of its craft file, in a builder's units, and only what its law looks at."""

from __future__ import annotations

import pytest

from sweep.campaign.craft import Craft
from sweep.model.pack.mass import mass_properties
from sweep.report.craft_sheet import gains, sheet
from tests.site_results import campaign


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
    assert found["speed of the gains"] == "the same at every speed"


def test_a_law_shows_what_it_looks_at(craft: Craft) -> None:
    laws = {
        law: dict(gains(craft.model_copy(update={"control": craft.control.model_copy(update={"law": law})})))
        for law in ("level-and-height", "fused-height", "each-foil")
    }
    assert set(laws["fused-height"]) - set(laws["level-and-height"]) == {"corner of the fused height"}
    assert not any(name.startswith(("pitch", "roll", "height, integral")) for name in laws["each-foil"])
    assert laws["each-foil"]["height, proportional"] == "0.4 deg/cm"


def test_gains_that_follow_the_speed_say_so(craft: Craft) -> None:
    scheduled = craft.control.model_copy(update={"scheduled_at": 5.0})
    assert "5 m/s" in dict(gains(craft.model_copy(update={"control": scheduled})))["speed of the gains"]


def test_balance_is_that_of_all_parts(craft: Craft) -> None:
    whole = mass_properties(craft)
    boat = rows(craft, "Boat")
    mass, height = (float(boat[name][0].split()[0]) for name in ("mass, all in", "centre of gravity, above the keel"))
    assert mass == pytest.approx(whole.mass, rel=5e-3)
    assert height == pytest.approx(100 * whole.centre[2], rel=5e-3)


def test_filters_of_readings_are_told(craft: Craft) -> None:
    assert not {"each reading is", "refused is a reading that jumps by"} & set(rows(craft, "Sensing and servos"))
    filtered = craft.control.model_copy(update={"median": 3, "gate": 0.05})
    found = rows(craft.model_copy(update={"control": filtered}), "Sensing and servos")
    assert found["each reading is"] == ["the median of its last 3"]
    assert found["refused is a reading that jumps by"] == ["over 5 cm"]


def test_several_rangefinders_say_how_they_are_taken_together(craft: Craft) -> None:
    three = craft.model_copy(update={"rangefinders": craft.rangefinders.model_copy(update={"count": 3})})
    assert rows(three, "Sensing and servos")["taken together by"] == ["mean"]
    assert "taken together by" not in rows(craft, "Sensing and servos")

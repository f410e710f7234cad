"""Measured foils, hulls and boats beside the model: every disagreement has its reason, and the tank of the model is a tank."""

from __future__ import annotations

import tomllib
from functools import cache

import numpy as np
import pytest

from sweep.campaign.text.resources import shipped
from sweep.model.identity import model_digest
from tests.references import reference
from tests.tows import towed
from tests.tows.measured import ANGLES, DEPTH, HULL, HULL_MASS, REASONS, SPEED, Measured, measured
from tests.tows.towed import STRUT, Foil, hull_drag, tow

ROWS = measured()
RECTANGLE = Foil(0.9, 0.09, 0.12)


@cache
def answers() -> tuple[float, ...]:
    """What the model says of each row."""
    return tuple(each.answer() for each in ROWS)


def test_what_leaves_its_range_has_a_reason_and_nothing_else_has_one() -> None:
    """Where the model changes, this tells which rows come into their range, and which leave it."""
    left = {each.topic for each, ours in zip(ROWS, answers(), strict=True) if each.off(ours)}
    assert left == set(REASONS)


def test_whole_foils_and_boats_are_met() -> None:
    """What a builder asks first: drag and take-off of the boat, and drag of whole main foils."""
    whole = ("drag of a T-foil by its lift", "drag of another T-foil", "drag of a boat", "speed at which that boat takes off")
    found = [each.off(ours) for each, ours in zip(ROWS, answers(), strict=True) if each.topic.startswith(whole)]
    assert len(found) == 10
    assert not any(found)


def test_every_measured_row_of_the_references_is_asked() -> None:
    assert len(ROWS) == 1 + sum(
        len(reference("tows", name).rows)
        for name in ("first_foil", "second_foil", "parts", "hull", "depth", "froude", "shallow", "boat")
    )
    assert len({(each.topic, each.place) for each in ROWS}) == len(ROWS)


def test_the_page_has_what_the_model_says() -> None:
    """Written by the long command; of a model that has changed since, the page says so itself."""
    found = tomllib.loads((shipped("site") / "evidence" / "tows.toml").read_text(encoding="utf-8"))
    table = found["tows"]
    assert len(table["rows"]) == len(ROWS)
    assert table["agree"] == sum(row[3] == "agrees" for row in table["rows"])
    if found["made"]["model"] == model_digest():
        assert [row[2].split()[0] for row in table["rows"]] == [f"{ours:.3g}" for ours in answers()]


@pytest.mark.parametrize(("ours", "off"), [(0.5, -0.5), (0.999, 0.0), (1.5, 0.0), (2.5, 0.25)])
def test_off_is_told_from_the_nearer_end(ours: float, off: float) -> None:
    assert Measured("", "", 1.0, 2.0, "", "", lambda: ours).off(ours) == pytest.approx(off)


def test_a_range_may_begin_at_nothing() -> None:
    assert Measured("", "", 0.0, 1.0, "", "", lambda: 0.0).off(1.2) == pytest.approx(0.2)
    assert Measured("", "", 0.0, 1.0, "", "", lambda: 0.0).off(0.0) == 0.0


def test_two_abreast_are_strangers(monkeypatch: pytest.MonkeyPatch) -> None:
    here = tow(RECTANGLE, SPEED, DEPTH, ANGLES)
    monkeypatch.setattr(towed, "APART", 400.0)
    there = tow(RECTANGLE, SPEED, DEPTH, ANGLES)
    assert there.lift == pytest.approx(here.lift, rel=1e-4)
    assert there.drag == pytest.approx(here.drag, rel=1e-4)


def test_forces_follow_the_square_of_speed_but_for_friction() -> None:
    """Deep and fast; friction falls with the Reynolds number."""
    slow, fast = (tow(RECTANGLE, speed, 0.9, ANGLES[:20]) for speed in (8.0, 16.0))
    assert fast.lift == pytest.approx(4.0 * slow.lift, rel=0.02)
    assert np.all(fast.drag < 4.0 * slow.drag)
    assert np.all(fast.drag > 3.2 * slow.drag)


def test_a_longer_strut_under_water_drags_more() -> None:
    deep, deeper = (tow(RECTANGLE, SPEED, depth, ANGLES[:20]).drag_at(300.0) for depth in (0.6, 0.8))
    more = deeper - deep
    section = 0.5 * towed.WATER.density * SPEED**2 * STRUT["chord"] * 0.2
    assert 0.01 < more / section < 0.018


def test_it_is_not_towed_past_its_angles() -> None:
    with pytest.raises(ValueError, match="N of lift; towed from"):
        tow(RECTANGLE, SPEED, DEPTH, ANGLES).drag_at(9000.0)


def test_a_hull_drags_more_with_more_in_it() -> None:
    light, laden = (hull_drag(HULL, mass, 1.0) for mass in (0.7 * HULL_MASS, HULL_MASS))
    assert 0.0 < light < laden

"""Foils that would lift twice in the same water are refused, each with its number and what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.crossing import crossings
from sweep.campaign.text.problems import CampaignError, Problem
from tests.campaign.files import Changes, load, write
from tests.model.crafts import changed, courier

STARBOARD = "starboard: {x: 22 cm, y: 17 cm, area: 50 cm^2, aspect_ratio: 6}"


def refused(folder: Path, campaign: Changes = (), craft: Changes = ()) -> list[Problem]:
    """What is wrong with foils in the tender's campaign."""
    with pytest.raises(CampaignError) as raised:
        load_campaign(write(folder, campaign, craft))
    return [problem for problem in raised.value.problems if "same water" in problem.found]


def test_two_foils_in_one_place_are_refused(tmp_path: Path) -> None:
    (problem,) = refused(tmp_path, craft=((STARBOARD, STARBOARD.replace("y: 17 cm", "y: -17 cm")),))
    assert (problem.address, problem.line) == ("foils.starboard", 7)
    assert problem.found == "foils port and starboard, which have 17.3 cm of span in the same water"
    assert problem.wanted == "foils over a chord apart along the boat, 2.89 cm: the model would have both lift there"


def test_spans_that_cross_are_refused_with_the_span_that_they_may_have(tmp_path: Path) -> None:
    """Spans of 17.3 cm, 14 cm apart: 3.3 cm in common."""
    (problem,) = refused(tmp_path, craft=((STARBOARD, STARBOARD.replace("y: 17 cm", "y: -3 cm")),))
    assert "3.32 cm of span" in problem.found
    assert "or spans of 28 cm together at most" in problem.wanted


@pytest.mark.parametrize("apart", [{"x": 0.25, "y": -0.03}, {"x": 0.19, "y": -0.03}, {"y": 0.0033}])
def test_foils_apart_are_read(apart: dict[str, float]) -> None:
    """3 cm ahead or behind, over a chord of 2.89 cm; and tip by tip."""
    assert not crossings(changed(courier(), {f"foils.starboard.{name}": value for name, value in apart.items()}))
    nearer = {"x": 0.22 + 0.9 * (apart.get("x", 0.22) - 0.22), "y": apart["y"] - 0.001}
    assert crossings(changed(courier(), {f"foils.starboard.{name}": value for name, value in nearer.items()}))


def test_a_factor_that_makes_foils_cross_is_refused_at_its_end(tmp_path: Path) -> None:
    """200 cm^2 at an aspect ratio of 6 are 34.6 cm, and the foils stand 34 cm apart."""
    (problem,) = refused(tmp_path, (("to: 72 cm^2", "to: 200 cm^2"),))
    assert problem.address == "factors.foils.*.area"
    assert problem.found.startswith("foils.*.area 200 cm^2, which makes foils port and starboard, which have 0.641 cm")


def test_factors_that_only_together_make_foils_cross_are_named_together(tmp_path: Path) -> None:
    places = (
        "  apart: {addresses: [foils.port.y], levels: [-17 cm, -12 cm]}\n  foils.*.aspect_ratio: [6, 9]\nplan: full-factorial"
    )
    (problem,) = refused(tmp_path, (("to: 72 cm^2", "to: 100 cm^2"), ("plan: full-factorial", places)))
    assert problem.found.startswith("foils.*.area 100 cm^2, apart -12 cm and foils.*.aspect_ratio 9, which makes")
    load(tmp_path, ("to: 72 cm^2", "to: 90 cm^2"), ("plan: full-factorial", places))


def test_depth_parts_foils_by_their_dihedral() -> None:
    """Port of 17.3 cm at -17 cm, starboard at -3 cm: their tips cross, which bent apart by 0.5 rad each they no longer do."""
    near = {"foils.starboard.y": -0.03}
    assert [str(found) for found in crossings(changed(courier(), near))] == [
        "foils port and starboard, which have 3.32 cm of span in the same water"
    ]
    level = {"foils.starboard.y": -0.17, "foils.port.dihedral": 0.0}
    assert crossings(changed(courier(), level | {"foils.starboard.dihedral": 0.5}))  # their middles are one
    tips = near | {"foils.port.dihedral": 0.5, "foils.starboard.dihedral": -0.5}
    assert not crossings(changed(courier(), tips))
    assert not crossings(courier())


def test_a_listed_design_that_makes_foils_cross_is_refused_on_its_line(tmp_path: Path) -> None:
    listed = (("plan: full-factorial", "plan: {kind: listed, file: mine.csv}"), ("to: 72 cm^2", "to: 300 cm^2"))
    path = write(tmp_path, listed)
    heads = "foils.*.area,struts.height,rangefinders.count,rangefinders.layout,control.height.proportional,arm"
    rows = ["36 cm^2,14 cm,1,bow,0.2 deg/cm,20 cm", "300 cm^2,14 cm,1,bow,0.2 deg/cm,20 cm"]
    (tmp_path / "mine.csv").write_text("\n".join([heads, *rows]), encoding="utf-8")
    with pytest.raises(CampaignError) as raised:
        load_campaign(path)
    (problem,) = raised.value.problems
    assert problem.line == 3
    assert "a row that makes foils port and starboard" in problem.found

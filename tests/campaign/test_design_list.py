"""Plans whose designs stand in a CSV file: what is read, and what is refused where."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of, lay_out
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.results import store
from sweep.results.claim import begin
from tests.campaign.files import CAMPAIGN, write

FACTORS = """\
factors:
  struts.height: [14 cm, 18 cm]
  body.mass: {from: 2 kg, to: 4 kg}
  rangefinders.count: [1, 3]
  rangefinders.layout: [bow, over-foils]
plan: {kind: listed, file: designs.csv}
"""
HEADING = "struts.height,body.mass,rangefinders.count,rangefinders.layout\n"
GOOD = HEADING + "14 cm,3 kg,1,bow\n180 mm,2500 g,3,over-foils\n"


def listed(folder: Path, text: str) -> Campaign:
    """The campaign with designs listed in this text."""
    start, end = CAMPAIGN.index("factors:"), CAMPAIGN.index("conditions:")
    path = write(folder)
    path.write_text(CAMPAIGN[:start] + FACTORS + CAMPAIGN[end:])
    (folder / "designs.csv").write_text(text, encoding="utf-8")
    return load_campaign(path)


def refused(folder: Path, text: str) -> tuple[Problem, ...]:
    with pytest.raises(CampaignError) as caught:
        listed(folder, text)
    return caught.value.problems


def test_rows_become_designs(tmp_path: Path) -> None:
    campaign = listed(tmp_path, GOOD)
    designs = lay_out(campaign)
    assert designs.iloc[1:].values.tolist() == [[0.14, 3.0, 1, "bow"], [0.18, 2.5, 3, "over-foils"]]
    assert designs.loc[0, "struts.height"] == 0.20
    assert designs["rangefinders.count"].dtype.kind == "i"
    craft = craft_of(campaign, designs.loc[2])
    assert (craft.struts.height, craft.body.mass, craft.rangefinders.count) == (0.18, 2.5, 3)
    assert campaign.listed_text == GOOD


@pytest.mark.parametrize(
    "text",
    [
        "rangefinders.layout,body.mass,struts.height,rangefinders.count\nbow,3 kg,14 cm,1\nover-foils,2.5 kg,18 cm,3\n",
        'struts.height (mm),"body.mass, g",rangefinders.count,rangefinders.layout\n140,3000,1,bow\n180.0,2.5e3,3,over-foils\n',
        "\ufeff" + GOOD.replace("\n", "\r\n"),
        GOOD.replace("\n", "\n\n") + ",,,\n",
        GOOD.replace(",", " , "),
    ],
    ids=["other order", "units in the heading", "as a spreadsheet writes it", "empty lines", "spaces"],
)
def test_the_same_list_written_otherwise(tmp_path: Path, text: str) -> None:
    assert listed(tmp_path, text).listed == listed(tmp_path, GOOD).listed


WRONG = {
    "no unit": ("14 cm,3", "14,3", (2, 1, "struts.height"), "or the unit in the heading: 'struts.height (cm)'"),
    "another kind": ("14 cm,3", "14 kg,3", (2, 1, "struts.height"), "a length, such as 14 cm"),
    "empty cell": (",1,bow", ",,bow", (2, 3, "rangefinders.count"), "a whole number"),
    "half a sensor": (",1,bow", ",1.5,bow", (2, 3, "rangefinders.count"), "a whole number"),
    "none of the levels": ("14 cm,3", "15 cm,3", (2, 1, "struts.height"), "a level of the factor: 14 cm or 18 cm"),
    "no such level": (",1,bow", ",2,bow", (2, 3, "rangefinders.count"), "a level of the factor: 1 or 3"),
    "no such word": (",bow", ",stern", (2, 4, "rangefinders.layout"), "'over-foils'"),
    "outside the range": ("3 kg", "5 kg", (2, 2, "body.mass"), "from 2 kg to 4 kg"),
    "too few cells": (",1,bow", ",1", (2, 0, ""), "4 cells, as the headings have"),
    "decimal comma": ("14 cm", "14,0 cm", (2, 0, ""), "4 cells"),
    "a design twice": ("180 mm,2500 g,3,over-foils", "140 mm,3 kg,1,bow", (3, 0, ""), "every design once"),
    "no design": ("14 cm,3 kg,1,bow\n180 mm,2500 g,3,over-foils\n", "", (1, 0, ""), "a row for each design"),
    "unknown column": ("body.mass", "body.mess", (1, 2, ""), "the name of a factor, as body.mass"),
    "column twice": ("body.mass", "struts.height", (1, 2, "struts.height"), "every factor in one column"),
    "unit of another kind": ("struts.height", "struts.height (kg)", (1, 1, "struts.height"), "a unit of a length: cm, mm"),
    "unit of a word": ("rangefinders.layout", "rangefinders.layout (m)", (1, 4, "rangefinders.layout"), "no unit"),
    "semicolons": (HEADING, HEADING.replace(",", ";"), (1, 1, ""), "cells are separated by commas"),
    "no heading": (HEADING, "", (1, 1, ""), "the name of a factor"),
    "open quote": ("14 cm", '"14 cm', (3, 0, ""), "those with commas in quotes"),
}


@pytest.mark.parametrize(("old", "new", "place", "mend"), WRONG.values(), ids=WRONG.keys())
def test_a_wrong_list(tmp_path: Path, old: str, new: str, place: tuple[int, int, str], mend: str) -> None:
    assert old in GOOD
    problem = refused(tmp_path, GOOD.replace(old, new, 1))[0]
    assert (problem.line, problem.column, problem.address, problem.file) == (*place, str(tmp_path / "designs.csv"))
    assert mend in problem.wanted


def test_a_column_that_is_missing(tmp_path: Path) -> None:
    (problem,) = refused(tmp_path, "struts.height,body.mass,rangefinders.count\n14 cm,3 kg,1\n")
    assert (problem.line, problem.address, problem.found) == (1, "rangefinders.layout", "no such column")


def test_all_mistakes_at_once_but_not_without_end(tmp_path: Path) -> None:
    rows = "".join(f"14 cm,{mass} kg,1,bow\n" for mass in range(5, 1000))
    assert [problem.line for problem in refused(tmp_path, HEADING + rows)] == list(range(2, 22))


def test_a_row_that_makes_an_impossible_craft(tmp_path: Path) -> None:
    factors = "factors:\n  rangefinders.blind: [1 cm, 50 cm]\n  rangefinders.far: [20 cm, 1 m]\n"
    start, end = CAMPAIGN.index("factors:"), CAMPAIGN.index("conditions:")
    path = write(tmp_path)
    path.write_text(CAMPAIGN[:start] + factors + "plan: {kind: listed, file: designs.csv}\n" + CAMPAIGN[end:])
    (tmp_path / "designs.csv").write_text("rangefinders.blind,rangefinders.far\n1 cm,20 cm\n50 cm,100 cm\n")
    assert load_campaign(path).listed == ((0.01, 0.2), (0.5, 1.0))  # the pair that is impossible is not listed
    (tmp_path / "designs.csv").write_text("rangefinders.blind,rangefinders.far\n1 cm,20 cm\n50 cm,20 cm\n")
    with pytest.raises(CampaignError) as caught:
        load_campaign(path)
    (problem,) = caught.value.problems
    assert (problem.line, problem.address) == (3, "rangefinders.blind")
    assert "under the far limit, 20 cm" in problem.wanted


def test_a_list_that_is_not_there(tmp_path: Path) -> None:
    listed(tmp_path, GOOD)
    (tmp_path / "designs.csv").unlink()
    with pytest.raises(CampaignError) as caught:
        load_campaign(tmp_path / "chop.yaml")
    (problem,) = caught.value.problems
    assert (problem.address, problem.line) == ("plan.file", 9)
    assert problem.found == "'designs.csv', where there is no such file"


def test_a_list_that_was_copied_elsewhere(tmp_path: Path) -> None:
    campaign = listed(tmp_path, GOOD)
    (tmp_path / "designs.csv").rename(tmp_path / "copy.csv")
    assert load_campaign(tmp_path / "chop.yaml", listed=tmp_path / "copy.csv") == campaign


def test_a_results_folder_keeps_the_list(tmp_path: Path) -> None:
    campaign = listed(tmp_path, GOOD)
    folder = tmp_path / "results"
    folder.mkdir()
    begin(folder, campaign, lay_out(campaign), list_conditions(campaign))
    (tmp_path / "designs.csv").unlink()
    assert store.load_stored_campaign(folder) == campaign
    begin(folder, listed(tmp_path, GOOD + "\n"), lay_out(campaign), list_conditions(campaign))
    shorter = listed(tmp_path, GOOD[: GOOD.index("180 mm")])
    (said,) = begin(folder, shorter, lay_out(shorter), list_conditions(shorter))
    assert "the design table that comes of it" in said

"""Polars by CSV: wrong ones are refused at their place, good ones travel with the craft, its campaign and its results."""

from __future__ import annotations

import math
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweep.campaign.addresses import replace_values
from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of, lay_out
from sweep.campaign.polars import LARGEST_POLAR, MOST_ROWS, read_polar
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.model.physics.section import section_of
from sweep.results.claim import begin
from sweep.results.fingerprint import differences, flown_content
from sweep.results.store import load_stored_campaign
from tests.campaign.files import Changes, changed, load, write

ANGLES = (-6, -4, -2, 0, 2, 4, 6, 8)
LUMPY = (0.3, 0.5, -0.1, 0.4, 0.1, 0.2, 0.1, 0.3)
HEAD = "# invented\nreynolds,angle_deg,lift,drag,moment,suction\n"
GOOD = HEAD + "".join(
    f"{reynolds},{angle},{0.1 * (angle + 2):.2f},{0.01 * (1e5 / reynolds) ** 0.5 + 0.0001 * angle**2:.5f},-0.05,0.9\n"
    for reynolds in (50000, 200000)
    for angle in ANGLES
)
FOIL = "area: 50 cm^2, aspect_ratio: 6}"
PORT, AFT = f"y: -17 cm, {FOIL}", f"x: -40 cm, {FOIL}"


def on(foil: str, text: str) -> tuple[str, str]:
    """The change of a craft file that gives one foil's section."""
    return (foil, foil.replace("}", f", section: {{{text}}}}}"))


def problems(folder: Path, campaign: Changes = (), craft: Changes = ()) -> tuple[Problem, ...]:
    path = write(folder, campaign, craft)
    with pytest.raises(CampaignError) as error:
        load_campaign(path)
    return error.value.problems


# A polar's file


class Wrong(NamedTuple):
    """One piece of a good polar exchanged, where that shows (line, column, address), and words of the message."""

    old: str
    new: str
    line: int
    column: int
    address: str
    words: str


WRONG = {
    "no moment": Wrong(",moment", "", 2, 0, "moment", "found no such column, wanted the columns reynolds, angle_deg"),
    "column misspelled": Wrong(",lift", ",lyft", 2, 3, "", "found the heading 'lyft', wanted one of the columns, as lift"),
    "column twice": Wrong("suction", "suction,lift", 2, 7, "lift", "every column once"),
    "semicolons": Wrong("reynolds,angle_deg", "reynolds;angle_deg", 2, 1, "", "cells are separated by commas"),
    "text for a number": Wrong("50000,0,0.20", "50000,0,much", 6, 3, "lift", "found 'much', wanted a lift coefficient"),
    "empty cell": Wrong("50000,0,0.20", "50000,0,", 6, 3, "lift", "found an empty cell, wanted a lift coefficient"),
    "not a number": Wrong("50000,0,0.20", "50000,0,nan", 6, 3, "lift", "found 'nan', wanted a lift coefficient"),
    "infinite": Wrong("50000,0,0.20", "50000,0,inf", 6, 3, "lift", "found 'inf', wanted a lift coefficient"),
    "decimal comma": Wrong("50000,0,0.20", "50000,0,0,20", 6, 0, "", "found 7 cells (a decimal comma?), wanted 6 cells"),
    "cell missing": Wrong("50000,0,0.20,", "50000,0,", 6, 0, "", "found 5 cells, wanted 6 cells"),
    "no drag": Wrong("50000,0,0.20,0.01414", "50000,0,0.20,0", 6, 4, "drag", "a drag coefficient of more than 0"),
    "negative drag": Wrong("50000,0,0.20,0.01414", "50000,0,0.20,-0.01", 6, 4, "drag", "found '-0.01', wanted a drag"),
    "Reynolds number of nothing": Wrong("50000,0,", "0,0,", 6, 1, "reynolds", "a Reynolds number from 1e3"),
    "angle twice": Wrong(
        "50000,2,", "50000,0,", 7, 0, "angle_deg", "found 0 after 0 at a Reynolds number of 50000, wanted every"
    ),
    "angles not in order": Wrong("50000,2,", "50000,-3,", 7, 0, "angle_deg", "found -3 after 0 at a Reynolds number of 50000"),
    "open quote": Wrong("50000,0,", '50000,"0,', 18, 0, "", "found a mistake"),
}


@pytest.mark.parametrize("wrong", WRONG.values(), ids=WRONG)
def test_a_wrong_polar_is_refused_at_its_place(wrong: Wrong, tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(changed(GOOD, ((wrong.old, wrong.new),)), encoding="utf-8")
    with pytest.raises(CampaignError) as error:
        read_polar(path)
    told = [problem for problem in error.value.problems if wrong.words in str(problem)]
    assert told, str(error.value)
    assert (told[0].file, told[0].line, told[0].column, told[0].address) == (str(path), wrong.line, wrong.column, wrong.address)


def rows(text: str) -> list[str]:
    return text.splitlines(keepends=True)


TABLES = {
    "nothing": ("", 1, "found no such column, wanted the columns"),
    "comments only": ("# a\n# b\n", 1, "found no such column"),
    "headings only": (HEAD, 2, "found none only, wanted at least 2 Reynolds numbers"),
    "one Reynolds number": ("".join(rows(GOOD)[:10]), 2, "found one only, wanted at least 2 Reynolds numbers"),
    "few angles": ("".join(rows(GOOD)[:15]), 15, "found 5 angles at a Reynolds number of 200000, wanted at least 6"),
    "lift that never rises through zero": (
        GOOD.replace("-2,0.00", "-2,0.01").replace("-4,-0.20", "-4,0.005").replace("-6,-0.40", "-6,0.003"),
        3,
        "found lift from 0.003 to 1 that never rises through zero at a Reynolds number of 50000",
    ),
    "radians": (
        HEAD + "".join(f"{r},{a / 60},{0.1 * (a + 2):.2f},0.01,0,1\n" for r in (5e4, 2e5) for a in ANGLES),
        3,
        "found no angle of 0.4 or more: radians?, wanted angles in degrees",
    ),
    "a lift too steep": (
        HEAD + "".join(f"{r},{a},{0.4 * (a + 2):.2f},0.01,0,1\n" for r in (5e4, 2e5) for a in (-5, -4, -3, -2, -1, 0, 1, 2)),
        2,
        f"found a lift slope of 22.9 per radian, wanted one between 0 and 15; a thin section has {2 * math.pi:.2f}: are",
    ),
    "a section that hardly lifts": (
        HEAD + "".join(f"{r},{a},{0.01 * (a + 2):.3f},0.01,0,1\n" for r in (5e4, 2e5) for a in ANGLES),
        2,
        "found a largest lift of 0.1 before lift first falls, wanted at least 0.2",
    ),
    "stalls everywhere": (
        HEAD + "".join(f"{r},{a},{lift},0.01,0,1\n" for r in (5e4, 2e5) for a, lift in zip(ANGLES, LUMPY, strict=True)),
        2,
        "found fewer than 4 angles between the stalls at a Reynolds number of 50000, wanted a polar whose lift rises",
    ),
    "too many rows": (HEAD + "1e5,1,0,0.01,0,0\n" * (MOST_ROWS + 1), MOST_ROWS + 3, f"found more than {MOST_ROWS} rows"),
}


@pytest.mark.parametrize(("text", "line", "words"), TABLES.values(), ids=TABLES)
def test_a_table_that_is_no_polar_is_refused(text: str, line: int, words: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CampaignError) as error:
        read_polar(path)
    told = [problem for problem in error.value.problems if words in str(problem)]
    assert told, str(error.value)
    assert told[0].line == line


def test_every_mistake_of_a_polar_at_once(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(changed(GOOD, (("50000,0,0.20", "50000,0,x"), ("200000,4,0.60", "200000,4,y"))), encoding="utf-8")
    with pytest.raises(CampaignError) as error:
        read_polar(path)
    assert [(problem.line, problem.found) for problem in error.value.problems] == [(6, "'x'"), (16, "'y'")]


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text("#" * (LARGEST_POLAR + 1), encoding="utf-8")
    with pytest.raises(CampaignError, match="a file over 2 MB"):
        read_polar(path)


def test_columns_in_any_order_blank_lines_and_comments(tmp_path: Path) -> None:
    order = [5, 1, 0, 3, 2, 4]
    lines = [line.split(",") for line in GOOD.splitlines()[1:]]
    turned = "\n\n# told once more\n".join(",".join(cells[place] for place in order) for cells in lines)
    for name, text in (("mine.csv", GOOD), ("other.csv", turned)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert read_polar(tmp_path / "other.csv").section == read_polar(tmp_path / "mine.csv").section


# A craft with polars


def test_a_craft_carries_its_polars(tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text(GOOD, encoding="utf-8")
    campaign = load(tmp_path, craft=(on(PORT, "polar: mine.csv"), on(AFT, "polar: naca-2412")))
    craft = campaign.craft
    assert [*craft.polars] == ["mine.csv", "naca-2412"]
    mine = section_of(craft, craft.foils["port"])
    assert mine == read_polar(tmp_path / "mine.csv").section
    assert np.degrees(mine.zero_lift_angle) == pytest.approx(np.full(5, -2.0), abs=1e-6)
    assert section_of(craft, craft.foils["starboard"]).lift_slope == (5.97,) * 5
    assert campaign.polar_texts == {"mine.csv": GOOD}
    assert replace_values(craft, {"struts.height": 0.2}).polars == craft.polars


def test_a_polar_is_a_factor(tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text(GOOD, encoding="utf-8")
    levels = "foils.*.section.polar: [naca-0009, mine.csv, naca-4412]"
    campaign = load(tmp_path, ("rangefinders.layout: [bow, over-foils]", levels))
    assert [*campaign.craft.polars] == ["naca-0009", "mine.csv", "naca-4412"]
    designs = lay_out(campaign)
    slopes = set()
    for design in (0, *range(1, len(designs), 7)):
        craft = craft_of(campaign, designs.loc[design])
        polar = designs.loc[design, "foils.*.section.polar"]
        section = section_of(craft, craft.foils["aft"])
        assert section == (craft.polars[polar] if design else section_of(campaign.craft, campaign.craft.foils["aft"]))
        slopes.add(section.lift_slope)
    assert len(slopes) == 4  # the base craft's numbers, and three polars


def test_flights_depend_on_what_a_polar_holds_and_not_on_its_words(tmp_path: Path) -> None:
    contents = []
    for text in (GOOD, GOOD.replace("invented", "from a friend"), GOOD.replace("-0.05,", "-0.06,")):
        (tmp_path / "mine.csv").write_text(text, encoding="utf-8")
        campaign = load(tmp_path, craft=(on(PORT, "polar: mine.csv"),))
        contents.append(flown_content(campaign, lay_out(campaign).iloc[:3]))
    assert list(differences(contents[0], contents[1])) == []
    assert [line.split(":")[0] for line in differences(contents[0], contents[2])] == ["craft.polars.mine.csv"]


def test_results_keep_the_polars_of_the_builder(tmp_path: Path) -> None:
    home, results = tmp_path / "home", tmp_path / "results"
    home.mkdir()
    results.mkdir()
    (home / "mine.csv").write_text(GOOD, encoding="utf-8")
    campaign = load(home, craft=(on(PORT, "polar: mine.csv"), on(AFT, "polar: naca-0012")))
    begin(results, campaign, lay_out(campaign).iloc[:3], list_conditions(campaign))
    (home / "mine.csv").unlink()
    assert [path.name for path in (results / "polars").iterdir()] == ["mine.csv"]
    assert load_stored_campaign(results) == campaign


NAMES = {
    "unknown": ("naca-2421", "found 'naca-2421', wanted a shipped polar, as naca-2412"),
    "not there": ("mine.csv", "found 'mine.csv', where there is no such file, wanted a CSV file of a polar"),
    "above": ("../mine.csv", "found '../mine.csv', wanted the name of a shipped polar, as naca-2412, or of a CSV beside"),
    "absolute": ("/etc/passwd", "found '/etc/passwd', wanted the name of a shipped polar"),
    "of another folder": ("polars\\\\mine.csv", "wanted the name of a shipped polar"),
    "hidden": (".csv", "wanted the name of a shipped polar"),
    "a number": ("12", "wanted text (in quotes, if it looks like a number)"),
}


@pytest.mark.parametrize(("name", "words"), NAMES.values(), ids=NAMES)
def test_a_name_that_leads_to_no_polar(name: str, words: str, tmp_path: Path) -> None:
    quoted = f'"{name}"' if "\\" in name else name
    (problem,) = problems(tmp_path, craft=(on(AFT, f"polar: {quoted}"),))
    assert (Path(problem.file).name, problem.line, problem.address) == ("tender.yaml", 8, "foils.aft.section.polar")
    assert words in str(problem)


def test_a_level_that_leads_to_no_polar(tmp_path: Path) -> None:
    levels = "foils.*.section.polar: [naca-0009, naca-1, ../x.csv]"
    found = problems(tmp_path, (("rangefinders.layout: [bow, over-foils]", levels),))
    assert [(problem.line, problem.address) for problem in found] == [(8, "factors.foils.*.section.polar[2]")]
    found = problems(tmp_path, (("rangefinders.layout: [bow, over-foils]", levels.replace("../x.csv", "x.csv")),))
    assert [problem.address for problem in found] == [f"factors.foils.*.section.polar[{place}]" for place in (1, 2)]


def test_what_is_wrong_in_a_polar_is_told_with_the_rest(tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text(GOOD.replace("50000,0,0.20", "50000,0,x"), encoding="utf-8")
    found = problems(tmp_path, (("settle: 5 s", "settle: 50 s"),), (on(AFT, "polar: mine.csv"),))
    assert [(Path(problem.file).name, problem.line) for problem in found] == [("chop.yaml", 20), ("mine.csv", 6)]


# A polar decides all


def test_what_is_wrong_with_a_polar_of_three_foils_is_told_once(tmp_path: Path) -> None:
    everywhere = tuple(on(foil, "polar: mine.csv") for foil in (PORT, f"y: 17 cm, {FOIL}", AFT))
    (missing,) = problems(tmp_path, craft=everywhere)
    assert missing.address == "foils.port.section.polar"
    (tmp_path / "mine.csv").write_text(GOOD.replace("50000,-6", "50000,x", 1), encoding="utf-8")
    (cell,) = problems(tmp_path, craft=everywhere)
    assert (Path(cell.file).name, cell.line) == ("mine.csv", 3)
    misspelt = problems(tmp_path, craft=tuple(on(foil, "polar: naca-2421") for foil in (PORT, AFT)))
    assert [each.address for each in misspelt] == ["foils.port.section.polar", "foils.aft.section.polar"]


def test_numbers_beside_a_polar(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, craft=(on(AFT, "polar: naca-0012, moment: -0.1, lift_max: 1"),))
    assert problem.address == "foils.aft.section"
    assert (problem.found, problem.wanted) == (
        "lift_max and moment beside polar",
        "either a polar or numbers: the polar decides them all",
    )


def test_zero_lift_angle_beside_a_polar(tmp_path: Path) -> None:
    both = AFT.replace("}", ", zero_lift_angle: -2 deg, section: {polar: naca-0012}}")
    (problem,) = problems(tmp_path, craft=((AFT, both),))
    assert problem.address == "foils.aft.zero_lift_angle"
    assert "which decides it" in problem.wanted


@pytest.mark.parametrize(
    "factor",
    ["foils.aft.section.lift_max: [0.9, 1.1]", "foils.*.zero_lift_angle: [-1 deg, -2 deg]"],
)
def test_a_factor_on_a_number_that_a_polar_decides(factor: str, tmp_path: Path) -> None:
    found = problems(tmp_path, (("rangefinders.layout: [bow, over-foils]", factor),), (on(AFT, "polar: naca-0012"),))
    assert {problem.address for problem in found} == {f"factors.{factor.split(':')[0]}"}
    assert "which decides them" in found[0].wanted


def test_a_tolerance_of_a_number_that_a_polar_decides(tmp_path: Path) -> None:
    tolerance = "replicates: 4\n  faults: [none, {tolerance: {foils.*.section.drag_min: 1.2}}]"
    (problem,) = problems(tmp_path, (("replicates: 4", tolerance),), (on(AFT, "polar: naca-0012"),))
    assert problem.address == "conditions.faults[1].tolerance.foils.*.section.drag_min"
    assert "which decides them" in problem.wanted


def test_a_factor_of_polars_over_numbers_of_the_craft_file(tmp_path: Path) -> None:
    levels = "foils.aft.section.polar: [naca-0009, naca-0012]"
    change = (("rangefinders.layout: [bow, over-foils]", levels),)
    (problem,) = problems(tmp_path, change, ((AFT, AFT.replace("}", ", zero_lift_angle: -2 deg, section: {moment: 0}}")),))
    assert problem.address == "factors.foils.aft.section.polar"
    assert problem.found == "foils.aft.section.polar, while the craft file gives moment and zero_lift_angle"


def test_the_polars_themselves_are_no_key_of_a_craft_file(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, craft=(("name: Tender", "name: Tender\npolars: {}"),))
    assert (problem.line, problem.address) == (2, "polars")
    assert "foils.NAME.section.polar names a polar" in problem.wanted


def test_a_polar_that_does_not_reach_is_told(tmp_path: Path) -> None:
    """Chords of 24.5 to 34.6 mm by the factor, 2 to 4.4 m/s with the map, in water of 1.05e-6 m2/s."""
    (tmp_path / "mine.csv").write_text(GOOD.replace("200000,", "80000,"), encoding="utf-8")
    warnings = load(tmp_path, craft=(on(AFT, "polar: mine.csv"),)).warnings
    (told,) = (warning for warning in warnings if "polar" in warning)
    assert told.startswith(
        "the polar mine.csv covers Reynolds numbers of 50,000 to 80,000; foil aft may fly at 46,000 to 140,000, and"
    )
    assert not [warning for warning in load(tmp_path, craft=(on(AFT, "polar: naca-0012"),)).warnings if "polar" in warning]


@settings(max_examples=100, deadline=None)
@given(
    noise=st.lists(st.lists(st.floats(-0.5, 0.5), min_size=7, max_size=9), min_size=2, max_size=3),
    rise=st.floats(0.02, 1.0),
    below=st.integers(0, 6),
    step=st.floats(0.5, 10.0),
    drag=st.floats(1e-5, 1.0),
)
def test_any_table_is_refused_or_makes_a_section(
    noise: list[list[float]], rise: float, below: int, step: float, drag: float
) -> None:
    """Whatever a table holds, its builder is told what is wrong, or every number of the section is finite and has its sign."""
    text = HEAD + "".join(
        f"{1e5 * (place + 1)},{step * (row - 3)},{rise * (row - below) + off},{drag * (1 + abs(off))},{off},{off**2}\n"
        for place, group in enumerate(noise)
        for row, off in enumerate(group)
    )
    with TemporaryDirectory() as folder:
        path = Path(folder) / "mine.csv"
        path.write_text(text, encoding="utf-8")
        try:
            section = read_polar(path).section
        except CampaignError:
            return
    for numbers in section[:8]:
        assert np.isfinite(numbers).all()
    assert min(*section.lift_slope, *section.lift_max) > 0.0
    assert min(*section.drag_rise, *section.drag_steep) >= 0.0


@settings(max_examples=60, deadline=None)
@given(text=st.text(max_size=300))
def test_any_text_is_refused(text: str) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "mine.csv"
        path.write_text(HEAD + text, encoding="utf-8", errors="replace")
        with pytest.raises(CampaignError):
            read_polar(path)

"""Charts with the keyboard alone: marks are gone through, said and opened; brushes have fields."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import expect

from sweep.report.display import design_table
from sweep.results.store import Results
from tests.browser.conftest import Opener, first, write


def test_arrows_go_through_the_marks_and_enter_opens_one(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html")
    chart, said = page.locator("#scores"), page.locator("#said-of-mark")
    page.get_by_role("link", name="These numbers as CSV").first.focus()
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "scores":
            break
    expect(chart).to_be_focused()
    expect(said).to_contain_text("Arrow keys")
    order = [str(design) for design in told.standings.sort_values("place")["design"].dropna().astype(int)]
    page.keyboard.press("ArrowDown")
    expect(said).to_contain_text(re.compile(rf"^design\s*{order[0]}"))
    expect(page.locator("#at-mark")).to_be_in_viewport()
    page.keyboard.press("ArrowDown")
    expect(said).to_contain_text(re.compile(rf"^design\s*{order[1]}"))
    page.keyboard.press("ArrowUp")
    expect(said).to_contain_text(re.compile(rf"^design\s*{order[0]}"))
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text(order[0])


def test_what_is_said_leaves_with_the_focus(site: Path, visit: Opener) -> None:
    page = visit(site / "index.html")
    page.locator("#choices").focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#said-of-mark")).to_contain_text("standing")
    page.keyboard.press("Tab")
    expect(page.locator("#said-of-mark")).to_be_hidden()
    expect(page.locator("#at-mark")).to_be_hidden()


def test_scores_are_chosen_by_numbers(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html")
    _, table = design_table(told)
    scores = np.sort(table["score"][np.isfinite(table["score"])])
    middle = float(scores[len(scores) // 2 - 1] + scores[len(scores) // 2]) / 2
    page.locator(".boxes").get_by_label("to", exact=True).fill(str(middle))
    expect(page.locator("#choices-said")).to_contain_text(f"Chosen: {(scores <= middle).sum()} of {len(scores)}")
    page.locator(".boxes").get_by_label("to", exact=True).fill("")
    expect(page.locator("#choices-said")).to_contain_text(f"Chosen: {len(scores)} of {len(scores)}")


def test_a_brush_of_explore_has_fields(site: Path, told: Results, visit: Opener) -> None:
    """Along numbers and along levels; what cannot be is said."""
    page = visit(site / "explore.html")
    columns, table = design_table(told)
    layout = next(column.key for column in columns if "across bow" in column.levels)
    low, high = float(table["score"].min()), float(table["score"].max())
    middle, everyone = round((low + high) / 2, 3), len(table)
    page.get_by_label("to", exact=True).fill(str(middle))
    page.get_by_role("button", name="Choose", exact=True).click()
    below = int((table["score"] <= middle).sum())
    expect(page.locator("#chosen-said")).to_contain_text(f"{below} of {everyone} designs chosen")
    page.get_by_label("Choose by").select_option(layout)
    page.get_by_label("from", exact=True).fill("across bow")
    page.get_by_label("to", exact=True).fill("across bow")
    page.get_by_role("button", name="Choose", exact=True).click()
    both = int(((table["score"] <= middle) & (table[layout] == "across bow")).sum())
    assert 0 < both < below
    expect(page.locator("#chosen-said")).to_contain_text(f"{both} of {everyone} designs chosen")
    page.get_by_label("from", exact=True).fill("nowhere")
    page.get_by_role("button", name="Choose", exact=True).click()
    expect(page.locator("#chosen-said")).to_have_text("No design lies between these.")


@pytest.mark.usefixtures("without_design_pages")
def test_where_an_axis_ends_short_nothing_beyond_is_chosen_by_number(told: Results, visit: Opener, tmp_path: Path) -> None:
    """Designs further out stand at its end: up to there they are among the chosen, beyond it they cannot be told apart."""
    scores = told.standings["score"].mask(told.standings["score"].rank() > len(told.standings) - 3, 900.0)
    page = visit(write(dataclasses.replace(told, standings=told.standings.assign(score=scores)), tmp_path) / "explore.html")
    everyone = len(told.designs)
    for field in ("from", "to"):
        page.get_by_label(field, exact=True).fill("500")
        page.get_by_role("button", name="Choose", exact=True).click()
        expect(page.locator("#chosen-said")).to_contain_text("This axis ends at")
        page.get_by_label(field, exact=True).fill("")
    page.get_by_label("from", exact=True).fill("0")
    page.get_by_role("button", name="Choose", exact=True).click()
    expect(page.locator("#chosen-said")).to_contain_text(f"{everyone} of {everyone} designs chosen")
    expect(page.get_by_text(re.compile("At the end of an axis stand designs that are further out: 3 over "))).to_be_visible()


def test_a_press_on_a_panel_tells_the_values_of_its_moment(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / f"design-{first(told)}.html")
    panel = page.locator("#panel-attitude svg")
    panel.scroll_into_view_if_needed()
    box = panel.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 0.6 * box["width"], box["y"] + box["height"] / 2)
    moment = float(page.locator("#moment").input_value())
    assert 4.0 < moment < 14.0
    expect(page.locator("#moment-said")).to_contain_text(re.compile(r"pitch -?\d+\.\d deg"))
    row = page.evaluate(
        "at => foilsweep.rows('ride').filter(row => row.condition === 0)"
        ".reduce((best, row) => Math.abs(row.time - at) < Math.abs(best.time - at) ? row : best)",
        moment,
    )
    expect(page.locator("#moment-said")).to_contain_text(f"pitch {row['pitch']:.1f} deg".replace("-0.0", "-0.0"))


def test_differences_are_bars(site: Path, told: Results, visit: Opener) -> None:
    """Each as long as the difference is beside that of all designs; the first design has none."""
    page = visit(site / "compare.html")
    one, worst = first(told), int(told.standings.sort_values("score")["design"].iloc[-1])
    page.get_by_label("First").select_option(str(one))
    page.get_by_label("Second").select_option(str(worst))
    scores = told.standings.set_index("design")["score"]
    row = page.locator("#numbers tbody tr", has=page.get_by_role("rowheader", name="score", exact=True))
    bars = row.locator("td").nth(1).locator("rect")
    share = (scores[worst] - scores[one]) / (scores.max() - scores.min())
    assert abs(float(bars.get_attribute("width") or 0) - 50 * share) < 0.5
    assert row.locator("td").nth(0).locator("rect").count() == 0

"""The chart of all designs by level: boxes and a brush choose, a sentence counts, a stroke leads to its page."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from sweep.report.display import design_table
from sweep.report.pages import choosing
from sweep.results.store import Results
from tests.browser.conftest import Opener, marks, write


def counted(page: Page) -> tuple[int, int]:
    found = re.match(r"Chosen: (\d+|none) of (\d+)", page.locator("#choices-said").inner_text())
    assert found
    return 0 if found[1] == "none" else int(found[1]), int(found[2])


def test_a_box_leaves_its_level_out_and_nothing_else(site: Path, told: Results, visit: Opener) -> None:
    """With the keyboard; and the strokes that are left are those of the sentence."""
    page = visit(site / "index.html")
    columns, table = design_table(told)
    scored = table[np.isfinite(table["score"])]
    factors = [column for column in columns if column.role == "factor"]
    at, column = next((at, column) for at, column in enumerate(factors) if 1 < len(column.levels) < 6)
    assert counted(page) == (len(scored), len(scored))
    box = page.locator(f'.boxes input[data-factor="{at}"][data-place="0"]')
    box.focus()
    page.keyboard.press("Space")
    left = scored[scored[column.key] != column.levels[0]]
    expect(page.locator("#choices-said")).to_contain_text(f"Chosen: {len(left)} of {len(scored)}")
    drawn = page.evaluate("foilsweep.views.choices.view.signal('left_out')")
    assert {int(design) for design in drawn} == set(scored["design"]) - set(left["design"])
    for place in range(1, len(column.levels)):
        page.locator(f'.boxes input[data-factor="{at}"][data-place="{place}"]').uncheck()
    expect(page.locator("#choices-said")).to_have_text(f"Chosen: none of {len(scored)}.")


def test_a_brush_keeps_the_scores_under_it(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html", width=1280)
    _, table = design_table(told)
    scores = table["score"][np.isfinite(table["score"])]
    strokes = sum(marks(page, "choices").values())
    drawing = page.locator("#choices svg")
    drawing.scroll_into_view_if_needed()
    plot = drawing.bounding_box()
    assert plot is not None
    middle = plot["y"] + plot["height"] / 2
    page.mouse.move(plot["x"] + plot["width"] - 12, middle)
    page.mouse.down()
    page.mouse.move(plot["x"] + plot["width"] * 0.55, middle, steps=5)
    page.mouse.up()
    expect(page.locator("#choices-said")).not_to_contain_text(f"Chosen: {len(scores)} of")
    chosen, whole = counted(page)
    assert 0 <= chosen < whole == len(scores)
    assert sum(marks(page, "choices").values()) <= strokes


@pytest.mark.usefixtures("without_design_pages")
def test_all_are_counted_where_some_are_drawn(
    told: Results, visit: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(choosing, "MOST_DRAWN", 20)
    page = visit(write(told, tmp_path) / "index.html")
    columns, table = design_table(told)
    scored = table[np.isfinite(table["score"])]
    assert counted(page) == (len(scored), len(scored))
    assert len({row["design"] for row in page.evaluate("foilsweep.rows('choices')")}) < len(scored)
    column = next(column for column in columns if column.role == "factor")
    page.locator('.boxes input[data-factor="0"][data-place="0"]').uncheck()
    left = len(scored[scored[column.key] != column.levels[0]])
    expect(page.locator("#choices-said")).to_contain_text(f"Chosen: {left} of {len(scored)}")


def test_the_sentence_leads_to_pages(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html")
    page.locator("#choices-said a").first.click()
    page.wait_for_url("**/design-*.html")

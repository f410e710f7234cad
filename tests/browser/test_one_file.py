"""The one file to send, opened by itself: it draws, chooses, and leads to its cards, with no request and no complaint."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from sweep.report.one_file import one_file
from sweep.report.publishing import render
from sweep.results.store import Results
from tests.browser.conftest import Opener, first, marks
from tests.browser.test_axe import run_axe


@pytest.fixture(scope="module")
def alone(told: Results, tmp_path_factory: pytest.TempPathFactory) -> Path:
    page = tmp_path_factory.mktemp("sent") / "boat.html"
    page.write_text(one_file(render(told)), encoding="utf-8")
    return page


@pytest.mark.parametrize("width", [360, 1280])
def test_it_draws_within_the_screen(alone: Path, visit: Opener, width: int) -> None:
    page = visit(alone, width=width)
    assert sum(marks(page, "choices").values()) > 0
    assert sum(marks(page, "scores").values()) > 0
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert run_axe(page) == []


def test_a_choice_leads_to_its_card(alone: Path, told: Results, visit: Opener) -> None:
    page = visit(alone)
    page.locator("#choices-said a").first.click()
    expect(page).to_have_url(re.compile(rf"#card-{first(told)}$"))
    expect(page.locator(f"#card-{first(told)} h2").first).to_have_text("Card for the water")

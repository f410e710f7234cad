"""The one file to send, opened by itself: it draws, chooses, and leads to its cards, with no request and no complaint."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from sweep.report.one_file import one_file
from sweep.results.store import Results
from tests.browser.conftest import Opener, first, marks
from tests.browser.test_axe import run_axe


@pytest.fixture(scope="module")
def alone(site: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    page = tmp_path_factory.mktemp("sent") / "boat.html"
    files = {path.relative_to(site).as_posix(): path for path in site.rglob("*") if path.is_file()}
    page.write_text(one_file({name: path.read_text(encoding="utf-8") for name, path in files.items()}), encoding="utf-8")
    return page


def test_it_draws_within_the_screen(alone: Path, visit: Opener) -> None:
    page = visit(alone, width=360)
    assert run_axe(page) == []
    for width in (360, 1280):
        page.set_viewport_size({"width": width, "height": 900})
        assert sum(marks(page, "choices").values()) > 0
        assert sum(marks(page, "scores").values()) > 0
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_choice_leads_to_its_card(alone: Path, told: Results, visit: Opener) -> None:
    page = visit(alone)
    page.locator("#choices-said a").first.click()
    expect(page).to_have_url(re.compile(rf"#card-{first(told)}$"))
    expect(page.locator(f"#card-{first(told)} h2").first).to_have_text("Card for the water")

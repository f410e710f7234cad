"""The page of a single flight in a real browser: drawn, within the screen, and silent."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from sweep.report.single_flight import choose, fly_chosen, write_flight
from tests.browser.conftest import Opener, marks
from tests.flying.test_flights import campaign


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("flight")
    chosen = choose(campaign(), 3, "chop, following, 4 m/s", 0)
    write_flight(campaign(), chosen, fly_chosen(campaign(), chosen, 50.0), folder)
    return folder / "index.html"


def test_a_flight_draws_within_the_screen(page: Path, visit: Opener) -> None:
    opened = visit(page, width=360)
    assert opened.evaluate("document.documentElement.scrollWidth <= innerWidth")
    opened.set_viewport_size({"width": 1280, "height": 900})
    assert opened.evaluate("document.documentElement.scrollWidth <= innerWidth")
    plots = opened.locator(".plot").all()
    assert len(plots) >= 5
    for plot in plots:
        assert marks(opened, plot.get_attribute("id") or "")["line"] > 0


def test_the_shown_time_is_chosen(page: Path, visit: Opener) -> None:
    opened = visit(page)
    opened.locator("#length").select_option("2")
    expect(opened.locator("#window-said")).to_have_text("0.0 to 2.0 s")


def test_the_cautions_are_a_step_away(page: Path, visit: Opener) -> None:
    visit(page).get_by_role("link", name="Cautions", exact=True).click()

"""Long tables lie folded: short pages on a phone, and all of it within reach of a key, an address and paper."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from sweep.results.store import Results
from tests.browser.conftest import Opener, path_of
from tests.browser.test_site import follow


def test_a_fold_opens_by_key_and_is_in_the_address(site: Path, visit: Opener) -> None:
    page = visit(site / "sure.html", width=360)
    first = page.locator("#every-check tbody th").first
    expect(first).to_be_hidden()
    page.locator("#every-check > summary").press("Enter")
    expect(first).to_be_visible()
    assert page.url.endswith("#every-check")
    again = visit(site / "cautions.html")
    again.goto(page.url)
    expect(again.locator("#every-check tbody th").first).to_be_visible()
    expect(again.locator("#not-checked dt").first).to_be_hidden()


@pytest.mark.parametrize("name", ["index", "builds"])
def test_folds_of_a_phone_stand_open_on_a_desk(site: Path, name: str, visit: Opener) -> None:
    for width, opened in ((360, 0), (1280, 1)):
        page = visit(site / f"{name}.html", width=width)
        folds = page.locator("details[data-narrow]")
        assert folds.count() >= 1
        assert all(fold.evaluate("fold => fold.open") == bool(opened) for fold in folds.all())


def test_a_word_leads_to_its_meaning(site: Path, visit: Opener) -> None:
    page = visit(site / "matters.html", width=360)
    meaning = page.locator("#word-score + dd")
    expect(meaning).to_be_hidden()
    page.locator("a.term[href='#word-score']").click()
    expect(meaning).to_be_in_viewport()
    page.go_back()
    assert "#" not in page.url


def test_paper_shows_what_is_folded(site: Path, visit: Opener) -> None:
    page = visit(site / "sure.html")
    pages = page.pdf(format="A4").count(b"/Type /Page\n")
    page.evaluate("for (const fold of document.querySelectorAll('details')) fold.remove()")
    assert page.pdf(format="A4").count(b"/Type /Page\n") < pages - 5
    other = visit(site / "sure.html")
    other.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(other.locator("#every-check tbody th").first).to_be_visible()
    other.evaluate("dispatchEvent(new Event('afterprint'))")
    expect(other.locator("#every-check tbody th").first).to_be_hidden()


def test_an_address_with_choices_keeps_them_when_a_fold_opens(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "cautions.html", width=360)
    follow(page, f"{path_of(site, told, 'design').as_uri()}#condition=1")
    page.locator("#numbers > summary").click()
    assert page.url.endswith("#condition=1")


def test_no_table_of_a_card_reaches_into_the_next_column(site: Path, told: Results, visit: Opener) -> None:
    page = visit(path_of(site, told, "card"))
    wide = """[...document.querySelectorAll('.card section')].flatMap(section => [...section.querySelectorAll('td, th')]
        .filter(cell => cell.getBoundingClientRect().right > section.getBoundingClientRect().right + 1)
        .map(cell => cell.textContent))"""
    assert page.evaluate(wide) == []

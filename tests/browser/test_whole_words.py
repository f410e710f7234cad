"""Names and numbers stay whole in the narrow tables of the card and of the first page, whatever stands beside them."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweep.results.store import Results
from tests.browser.conftest import Opener, path_of

LINES = """
  () => [...document.querySelectorAll(".card table:not(.set) tbody th")].filter(th => th.checkVisibility()).flatMap(th => {
    const lines = (cell, said, word) => {
      cell.textContent = said;
      const range = document.createRange(), at = said.indexOf(word);
      range.setStart(cell.firstChild, at);
      range.setEnd(cell.firstChild, at + word.length);
      return new Set([...range.getClientRects()].map(box => Math.round(box.top))).size;
    };
    const cells = [...th.parentElement.querySelectorAll("td")], number = "under 12.5 /h (0.5 to 25.4), 3 of 20";
    return [lines(th, "chop, quartering, 4 m/s", "quartering,"), ...cells.map(td => lines(td, number, "12.5"))];
  })
"""
LONG = "Gesamtunterwassertragflaecheninhaltsmass"
LENGTHEN = f"names => document.querySelectorAll(names).forEach(name => {{ name.textContent = 'foil {LONG}, deg'; }})"


@pytest.mark.parametrize("width", [390, 320])
def test_no_name_of_a_heading_and_no_number_breaks_within_its_word(
    site: Path, told: Results, visit: Opener, width: int
) -> None:
    page = visit(path_of(site, told, "card"), width=width)
    found = page.evaluate(LINES)
    assert len(found) > 10
    assert set(found) == {1}
    page.evaluate(LENGTHEN, ".card thead .number")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("width", [390, 320])
def test_every_candidate_stands_within_the_screen(site: Path, visit: Opener, width: int) -> None:
    """The boat as it is among them, the last of four."""
    page = visit(site / "index.html", width=width)
    page.evaluate(LENGTHEN, ".candidates tbody th")
    assert page.locator(".candidates th[scope=col]").count() >= 3
    ends = "[...document.querySelectorAll('.candidates :is(th, td)')].map(each => each.getBoundingClientRect().right)"
    assert page.evaluate(f"Math.max(...{ends}) <= innerWidth")


def test_legends_and_titles_stand_within_the_narrowest_chart(site: Path, visit: Opener) -> None:
    page = visit(site / "index.html", width=320)
    outside = """
      () => [...document.querySelectorAll(".plot svg")].flatMap(svg => [...svg.querySelectorAll("text")]
        .filter(text => text.textContent && text.getBoundingClientRect().right > svg.getBoundingClientRect().right + 2)
        .map(text => text.textContent))
    """
    assert page.evaluate(outside) == []

"""The names of headings stay whole in the card's narrow tables, whatever stands beside them."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweep.results.store import Results
from tests.browser.conftest import Opener, path_of

LINES = """
  () => [...document.querySelectorAll(".card table:not(.set) tbody th")].filter(th => th.checkVisibility()).map(th => {
    th.textContent = "chop, quartering, 4 m/s";
    for (const td of th.parentElement.querySelectorAll("td")) td.textContent = "under 12.5 /h (0.5 to 25.4), 3 of 20";
    const range = document.createRange(), at = "chop, ".length;
    range.setStart(th.firstChild, at);
    range.setEnd(th.firstChild, at + "quartering,".length);
    return new Set([...range.getClientRects()].map(box => Math.round(box.top))).size;
  })
"""


@pytest.mark.parametrize("width", [390, 320])
def test_no_name_of_a_heading_breaks_within_its_word(site: Path, told: Results, visit: Opener, width: int) -> None:
    page = visit(path_of(site, told, "card"), width=width)
    found = page.evaluate(LINES)
    assert len(found) > 10
    assert set(found) == {1}
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")

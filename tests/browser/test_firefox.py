"""The pages in Firefox, as `test_site` has them in Chromium: drawn, within the screen, on paper, by hand and by key."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from websockets.sync.client import connect

from sweep.report.display import design_table
from sweep.results.store import Results
from tests.browser import firefox
from tests.browser.conftest import MARKS, first, path_of
from tests.browser.firefox import Firefox
from tests.browser.test_site import PAGES, WALK

ENTER, END = "\ue007", "\ue010"
A4 = 703  # CSS pixels between its margins
OVER = "document.documentElement.scrollWidth - innerWidth"


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    if not firefox.COMMAND.exists():
        told = f"no browser at {firefox.COMMAND}: install Debian's firefox-esr to test the pages in it too"
        (pytest.fail if os.environ.get("CI") else pytest.skip)(told)
    started, address = firefox.start(tmp_path_factory.mktemp("profile"))
    try:
        with connect(address, max_size=None, open_timeout=60) as line:
            yield Firefox(line)
    finally:
        started.terminate()
        started.wait(timeout=60)


@pytest.fixture
def tab(opened: Firefox) -> Iterator[Firefox]:
    """As a desk's: light, wide, with scripts; at the end it must have heard nothing."""
    opened.resize(1280)
    opened.colours(dark=False)
    opened.scripts(on=True)
    opened.heard.clear()
    yield opened
    assert opened.heard == []


@pytest.mark.parametrize("name", PAGES)
def test_every_page_is_drawn_within_every_screen(site: Path, told: Results, tab: Firefox, name: str) -> None:
    """At 200 % of 1280 pixels, 400 % of them (WCAG 2.2, 1.4.10), in the dark, and as it is printed."""
    tab.open(path_of(site, told, name))
    light = tab.evaluate("getComputedStyle(document.body).backgroundColor")
    for chart in tab.evaluate("[...document.querySelectorAll('.plot')].map(plot => plot.id)"):
        assert sum(tab.evaluate(f"({MARKS})({chart!r})").values()) > 0
    for width, dots in ((1280, 1.0), (640, 2.0), (320, 4.0)):
        tab.resize(width, dots=dots)
        assert tab.evaluate(OVER) <= 0
        outside = (
            "[...document.querySelectorAll('.plot svg')].filter(svg => svg.getBoundingClientRect().right > innerWidth + 1)"
        )
        assert tab.until(f"{outside}.length === 0")
    tab.colours(dark=True)
    assert tab.until(f"getComputedStyle(document.body).backgroundColor !== {light!r}")
    tab.resize(A4)
    tab.paper(on=True)
    assert tab.evaluate(OVER) <= 0
    assert tab.evaluate("getComputedStyle(document.querySelector('nav')).display") == "none"
    tab.paper(on=False)


def test_paper_shows_what_is_folded(site: Path, tab: Firefox) -> None:
    tab.resize(320)
    tab.open(site / "sure.html")
    shut = "[...document.querySelectorAll('.fold')].filter(fold => !fold.open).length"
    assert tab.evaluate(shut) > 0
    tab.evaluate(f"void addEventListener('beforeprint', () => setTimeout(() => {{ window.shut = {shut}; }}))")
    pdf = tab.printed()
    assert pdf.startswith(b"%PDF-")
    assert len(pdf) > 50_000
    assert tab.evaluate(shut) > 0


def test_without_scripts_the_words_stand_and_nothing_runs_out(site: Path, told: Results, tab: Firefox) -> None:
    tab.scripts(on=False)
    for name in PAGES:
        tab.resize(320)
        tab.open(path_of(site, told, name), ready=False)
        assert tab.evaluate("document.querySelector('h1').innerText.length") > 0
        assert tab.evaluate(OVER) <= 0, name
        if tab.evaluate("document.querySelectorAll('.plot').length"):
            assert "need JavaScript" in tab.evaluate("document.querySelector('noscript').innerText"), name


def counted(tab: Firefox) -> int:
    found = re.match(r"Chosen: (\d+|none) of", tab.evaluate("document.getElementById('choices-said').textContent"))
    assert found
    return 0 if found[1] == "none" else int(found[1])


def test_boxes_and_a_brush_choose(site: Path, told: Results, tab: Firefox) -> None:
    tab.open(site / "index.html")
    columns, table = design_table(told)
    scored = table[np.isfinite(table["score"])]
    column = next(column for column in columns if column.role == "factor")  # whose boxes stand first
    assert counted(tab) == len(scored)
    tab.evaluate("void document.querySelector('.boxes input').focus()")
    tab.press(" ")
    left = len(scored[scored[column.key] != column.levels[0]])
    tab.until(f"document.getElementById('choices-said').textContent.includes('Chosen: {left} of')")
    x, y = tab.place("#choices svg")
    width = tab.evaluate("document.querySelector('#choices svg').getBoundingClientRect().width")
    tab.drag((x + width / 2 - 12, y), (x + width / 4, y), (x, y))
    tab.until(f"!document.getElementById('choices-said').textContent.includes('Chosen: {left} of')")
    assert 0 <= counted(tab) < left


def test_values_stand_under_the_pointer(site: Path, told: Results, tab: Firefox) -> None:
    tab.open(site / "index.html")
    tab.hover(*tab.place("#scores svg .mark-symbol.role-mark path"))
    tab.until("document.querySelector('#vg-tooltip-element.visible')?.textContent.includes('score')")


def test_a_brush_over_one_view_chooses_in_all(site: Path, told: Results, tab: Firefox) -> None:
    tab.open(site / "explore.html")
    everyone = len(told.designs)
    tab.place("#explore")
    box = tab.evaluate(
        f"""(() => {{ {WALK}
          holder.scrollIntoView({{ block: "end" }});
          const {{ mark, x, y }} = seek("over_score_brush_bg"), at = holder.getBoundingClientRect();
          return [at.x + x, at.y + y + mark.group.height / 2, mark.group.width];
        }})()"""
    )
    left, height, wide = box
    tab.drag((left + 1, height), (left + wide / 4, height), (left + wide / 2, height))
    said = "document.getElementById('chosen-said').textContent"
    tab.until(f"/^[0-9]+ of/.test({said}) && !{said}.startsWith('{everyone} of')")
    tab.until("location.hash.includes('score=')")
    tab.drag(tab.place("#clear"))
    tab.until(f"{said}.startsWith('{everyone} of')")


def test_buttons_and_headings_work(site: Path, told: Results, tab: Firefox) -> None:
    tab.open(site / "index.html")
    tab.drag(tab.place("#more"))
    tab.until("document.querySelectorAll('[data-table] tbody tr').length === 50")
    tab.evaluate("void document.querySelectorAll('[data-table] thead button')[1].focus()")
    tab.press(ENTER)
    tab.until("document.querySelectorAll('[data-table] th')[1].getAttribute('aria-sort') === 'ascending'")
    tab.open(site / f"design-{first(told)}.html")
    tab.drag(tab.place("#play"))
    tab.until("document.getElementById('play').textContent === 'Stop'")
    tab.drag(tab.place("#play"))
    tab.until("document.getElementById('play').textContent === 'Play'")
    before = tab.evaluate("document.getElementById('boat').getAttribute('transform')")
    tab.evaluate("void document.getElementById('moment').focus()")
    tab.press(END)
    tab.until(f"document.getElementById('boat').getAttribute('transform') !== {before!r}")


def test_the_watch_would_hear(site: Path, tab: Firefox) -> None:
    tab.open(site / "cautions.html")
    tab.evaluate("void console.error('so it is heard')")
    tab.evaluate("void fetch('http://127.0.0.1:9/').catch(() => {})")

    def heard(_: object) -> bool:
        wanted = ("so it is heard", "forbidden: http://127.0.0.1:9", "Content-Security-Policy")
        return all(said in " ".join(tab.heard) for said in wanted)

    tab.until("true", heard)
    tab.heard.clear()

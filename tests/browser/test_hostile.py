"""Names of a campaign and of logs that are script, markup, quotes, turned text or endless words stay words on every page."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from playwright.sync_api import Page, expect

from sweep.report.embed import TURNING
from sweep.report.single_flight import choose, fly_chosen, write_flight
from sweep.results.store import Results
from sweep.results.tables import EVENT
from sweep.words.plain_text import FORMULA
from tests.browser.conftest import Opener, path_of, write
from tests.browser.test_site import PAGES
from tests.flying.test_flights import campaign
from tests.site_results import former_of, log_account, results

MARKUP = "</script><img src=x onerror=alert(1)>\"'`{{ 7*7 }}"
TURNED = "\u202eabc\u2066 \u05d0\u05d1\u05d2"
NAME = f"={TURNED}{MARKUP}{'W' * 50}"
SHOWN = "".join("\ufffd" if sign in TURNING else sign for sign in NAME)
NUMBER = re.compile(r"-?[0-9.]+(e[+-]?[0-9]+)?")
FORBIDDEN = "main img, main b, [onerror], [onmouseover], iframe, object, main script:not([type='application/json'])"


def hostile(folder: Path, name: str = NAME) -> Results:
    """The made-up results with this name wherever a campaign or its craft may have one; of designs whose cards are flown."""
    told = results(folder, leaders=1, title=name, label=name)
    craft = told.campaign.craft.model_copy(update={"name": name[:80]})
    texts = {"craft_text": f"name: {name}\n{told.campaign.craft_text}", "polar_texts": {name: name}, "warnings": (name,)}
    conditions = told.conditions.assign(name=[f"{name} {at}" for at in told.conditions["condition"]])
    renamed = dict(zip(told.conditions["name"], conditions["name"], strict=True))
    return replace(
        told,
        campaign=told.campaign.model_copy(update={"craft": craft, **texts}),
        conditions=conditions,
        limits=told.limits.assign(condition=told.limits["condition"].replace(renamed)),
        standings=told.standings.assign(reason=[f"{name}: {reason}" for reason in told.standings["reason"]]),
        troubles=pd.DataFrame(
            [(design, 0, 0, "touchdown", 1.0, 1.5, "ventilation", name) for design in told.leaders], columns=EVENT
        ),
    )


@pytest.fixture(scope="module")
def nasty(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Results]:
    told = hostile(tmp_path_factory.mktemp("hostile"))
    return write(told, tmp_path_factory.mktemp("site"), log_account(NAME), former_of(told)), told


def plain(page: Page) -> None:
    """Nothing came in as an element, nothing stands out sideways, and the name is there to be read."""
    assert page.locator(FORBIDDEN).count() == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= page.evaluate("innerWidth")
    assert page.locator("header .campaign").text_content() == SHOWN
    assert not set(TURNING) & set(page.evaluate("document.documentElement.textContent"))


def test_names_stay_words(nasty: tuple[Path, Results], visit: Opener) -> None:
    """On every page, narrow, and as it is printed."""
    site, told = nasty
    for each in PAGES:
        page = visit(path_of(site, told, each), width=360)
        plain(page)
        page.emulate_media(media="print")
        page.set_viewport_size({"width": 703, "height": 1000})  # A4 within its margins
        plain(page)
        page.context.close()


def test_what_went_wrong_is_among_the_words(nasty: tuple[Path, Results], visit: Opener) -> None:
    """The hostile words of the design's page have come as far as its section of causes, and on into the table to take away."""
    site, told = nasty
    row = visit(path_of(site, told, "design")).locator("section[aria-labelledby=troubles] tbody tr").first
    expect(row.locator("th")).to_contain_text(SHOWN)
    expect(row.locator(".meaning")).to_have_text(SHOWN)


def test_the_page_of_a_single_flight_keeps_names_as_words(tmp_path: Path, visit: Opener) -> None:
    chosen = choose(campaign(), 3, "0", 0)
    chosen = chosen._replace(condition=replace(chosen.condition, name=NAME))
    named = campaign().model_copy(update={"title": NAME, "craft": campaign().craft.model_copy(update={"name": NAME[:80]})})
    write_flight(named, chosen, fly_chosen(named, chosen, 20.0), tmp_path)
    for each in ("index", "cautions"):
        plain(visit(tmp_path / f"{each}.html", width=360))


def test_what_is_said_of_a_point_stays_words(nasty: tuple[Path, Results], visit: Opener) -> None:
    site, _ = nasty
    page = visit(site / "explore.html")
    page.locator("#explore svg .chosen_marks path").first.hover(force=True)
    tip = page.locator("#vg-tooltip-element")
    expect(tip).to_have_class(re.compile("visible"))
    expect(tip).to_contain_text(SHOWN)
    assert tip.locator("img, b").count() == 0


def test_no_table_starts_a_formula(nasty: tuple[Path, Results]) -> None:
    for path in (nasty[0] / "data").glob("*.csv"):
        for row in csv.reader(path.open(encoding="utf-8")):
            assert not [cell for cell in row if cell.startswith(FORMULA) and not NUMBER.fullmatch(cell)], path.name

"""Every page says of the base craft, gains, scores, seas, speeds and touchdowns what the results say, wherever it says it."""

from __future__ import annotations

import csv
import html
import io
import re
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal

import pytest
from altair.utils.schemapi import debug_mode

from sweep.campaign.conditions import list_conditions
from sweep.insight.ranking import ranked
from sweep.report.publishing import render
from sweep.results.store import Results
from tests.site_results import results

NUMBER = r"(-?\d+(?:\.\d+)?)"
INTERVAL = rf"(?: \({NUMBER} to {NUMBER}\))?"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"), title="Courier", label="foil-area")


@pytest.fixture(scope="module")
def pages(told: Results) -> dict[str, str]:
    """The visible words of every page; between two elements stands a bar."""
    with debug_mode(False):
        files = render(told)
    return {name: visible(text) for name, text in files.items() if name.endswith(".html")} | {
        name: text for name, text in files.items() if name.endswith(".csv")
    }


def visible(page: str) -> str:
    shown = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s*\|[\s|]*", "|", html.unescape(re.sub(r"<[^>]+>", "|", shown)))


def is_rounded(printed: str, truth: float) -> bool:
    """Whether the printed number is the true one, rounded to its own last digit."""
    half = 0.5 * 10.0 ** int(Decimal(printed).as_tuple().exponent)
    return abs(float(printed) - truth) <= half * (1.0 + 1e-6)


def claims(told: Results, name: str, page: str) -> Iterator[tuple[str, str, float]]:
    """What is claimed, as printed, and the truth."""
    rows = told.standings.set_index("design")
    own = int(name.removesuffix(".html").rsplit("-", 1)[-1]) if re.fullmatch(r"(design|card)-\d+\.html", name) else None
    for design, gain in re.findall(rf"Design (\d+) is {NUMBER} better than the base craft", page):
        yield "gain", gain, rows.gain[int(design)]
    for design, gain, least in re.findall(
        rf"Design (\d+) is surely better than the base craft: by {NUMBER}[^.]*?by at least {NUMBER}", page
    ):
        yield "gain", gain, rows.gain[int(design)]
        yield "least gain", least, rows.gain_sure[int(design)]
    for gain, low, high in re.findall(rf"Its score is {NUMBER}{INTERVAL} better than the base craft's", page) if own else []:
        yield "gain", gain, rows.gain[own]
        if low:
            yield "gain, low", low, rows.gain_low[own]
            yield "gain, high", high, rows.gain_high[own]
    for score, low, high in re.findall(rf"its score is {NUMBER}{INTERVAL}\.", page) if own is not None else []:
        yield "score", score, rows.score[own]
        yield "score, low", low, rows.score_low[own]
        yield "score, high", high, rows.score_high[own]
    for label, score, low, _, _ in re.findall(rf"\|(base craft \(0\)|\d+)\|{NUMBER}{INTERVAL}\|{NUMBER}", page):
        if name == "index.html" and low:
            yield "score", score, rows.score[0 if label.startswith("base") else int(label)]


def test_gains_and_scores_are_the_same_on_every_page(told: Results, pages: dict[str, str]) -> None:
    """Each is a rounding of one number; the first design's gain stands on many pages, every design's on its own."""
    found: Counter[str] = Counter()
    wrong = []
    for name, page in pages.items():
        if name.endswith(".html"):
            for what, printed, truth in claims(told, name, page):
                found[f"{what} {name}"] += 1
                if not is_rounded(printed, truth):
                    wrong.append((name, what, printed, truth))
    assert not wrong
    first = int(ranked(told.standings).iloc[0]["design"])
    own = (f"gain design-{first}.html", f"gain card-{first}.html")
    for place in (*own, "gain index.html", "gain sure.html", "score index.html", "score design-0.html"):
        assert found[place], place


def test_seas_and_speeds_are_those_of_the_campaign_on_every_page(told: Results, pages: dict[str, str]) -> None:
    seas = {sea.name: sea for sea in told.campaign.seas}
    names = {condition.name for condition in list_conditions(told.campaign)}
    spoken = 0
    for name, page in pages.items():
        for sea, height, period in re.findall(rf"({'|'.join(seas)}) \({NUMBER} cm, {NUMBER} s\)", page):
            assert is_rounded(height, 100.0 * seas[sea].height), name
            assert is_rounded(period, seas[sea].period), name
            spoken += 1
        for condition in re.findall(rf"\b(?:{'|'.join(seas)}), (?:head|following), {NUMBER} m/s", page):
            assert is_rounded(condition, 4.0), name
        if name != "sure.html":  # which tells of measured crafts too
            assert {*re.findall(rf"\b(?:{'|'.join(seas)}), \w+, [\d.]+ m/s", page)} <= names, name
    assert spoken >= 2


def test_touchdowns_are_the_same_on_card_page_and_table(told: Results, pages: dict[str, str]) -> None:
    """Of every condition: on the design's card, on its page, and in the CSV of its conditions."""
    compared = 0
    for design in (int(name[5:-5]) for name in pages if re.fullmatch(r"card-\d+\.html", name)):
        table = list(csv.reader(io.StringIO(pages[f"data/conditions-{design}.csv"])))
        (column,) = (place for place, heading in enumerate(table[0]) if heading.startswith("touchdowns"))
        names = [condition.name for condition in list_conditions(told.campaign)]
        for row in table[1:]:
            (condition,) = (name for name in names if name in row)
            card = pages[f"card-{design}.html"]
            stands = re.search(rf"\|{re.escape(condition)}\|{NUMBER} cm\|{NUMBER} cm\|{NUMBER} /min", card)
            assert stands is not None
            assert is_rounded(stands.group(3), float(row[column])), (design, condition)
            compared += 1
    assert compared >= 8

"""Every page says of the base craft, gains, scores, seas, speeds, touchdowns and outings what the results say."""

from __future__ import annotations

import csv
import html
import io
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pandas as pd
import pytest
from altair.utils.schemapi import debug_mode
from scipy import stats

from sweep.campaign.conditions import list_conditions
from sweep.insight.ranking import ranked
from sweep.report import publishing
from sweep.results.store import Results
from tests.site_results import plain, results

OF_OUTINGS = ("index.html", "rides.html")
NUMBER = r"(-?\d+(?:\.\d+)?)"
INTERVAL = rf"(?: \({NUMBER} to {NUMBER}\))?"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return results(tmp_path_factory.mktemp("campaign"), leaders=2, title="Courier", label="foil-area")


@pytest.fixture(scope="module")
def pages(told: Results) -> dict[str, str]:
    """The visible words of every page; between two elements stands a bar."""
    return read(told)


def read(told: Results, only: Sequence[str] = ()) -> dict[str, str]:
    with debug_mode(False), pytest.MonkeyPatch.context() as patch:
        if only:
            patch.setattr(publishing, "PAGES", [page for page in publishing.PAGES if page.file in only])
        files = publishing.render(told)
    return {name: visible(text) for name, text in files.items() if name.endswith(".html")} | {
        name: text for name, text in files.items() if name.endswith(".csv")
    }


def went_out(told: Results, outings: int = 20) -> Results:
    """With so many outings of each leader, half in each sea; the leader at place p fails in the first p + 1 of them."""
    rows = [
        {
            "design": design, "outing": at, "sea": ("ripple", "chop")[at % 2], "heading_name": "head", "speed": 4.0,
            "status": 0, "clean": int(at > place), "first_failure": "" if at > place else "touchdown in a start",
            "at_risk": 595.0 if at > place else 12.0, "path": 2300.0, "energy": 23_000.0,
        }
        for at in range(outings)
        for place, design in enumerate(told.leaders)
    ]  # fmt: skip
    return replace(told, outings=pd.DataFrame(rows))


def visible(page: str) -> str:
    shown = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", plain(page), flags=re.DOTALL)
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


def test_outings_are_counted_alike_on_map_card_page_and_standings(told: Results) -> None:
    """Clean ones of those flown, with the interval that scipy computes, rounded outwards; on each page."""
    out = went_out(told)
    pages = read(out, OF_OUTINGS)
    clean = out.outings.groupby("design")["clean"].sum()
    for design, good in clean.items():
        ends = stats.binomtest(int(good), 20).proportion_ci(0.95, method="exact")
        share = f"{good} of 20 ({np.floor(100.0 * ends.low):.0f} to {np.ceil(100.0 * ends.high):.0f} %)"
        assert f"Clean outings: {share}" in pages[f"card-{design}.html"], design
        assert f"Clean outings: {share}." in pages[f"design-{design}.html"], design
        assert f"Clean outings: {share}|" in pages["rides.html"], design
    first = int(ranked(out.standings).iloc[0]["design"])
    listed = re.findall(r"\|(base craft \(0\)|\d+)\|[^|]*\|[^|]*\|(\d+ of 20 \([^)]*\)|not shown)\|", pages["index.html"])
    told_there = {0 if name.startswith("base") else int(name): share for name, share in listed}
    assert {design for design, share in told_there.items() if share != "not shown"} == set(clean.index)
    assert all(share.startswith(f"{clean[design]} of 20 (") for design, share in told_there.items() if design in clean.index)
    assert f"Clean outings of design {first}: {clean[first]} of 20 (" in pages["rides.html"]


@pytest.mark.parametrize("outings", [0, 9])
def test_too_few_outings_show_nothing_anywhere(told: Results, pages: dict[str, str], outings: int) -> None:
    found = read(went_out(told, outings)) if outings else pages
    for name, page in found.items():
        if name.endswith(".html"):
            assert not re.search(rf"\d of {outings} \(\d+ to \d+ %\)", page), name
    for design in told.leaders:
        assert "Clean outings: not shown" in found[f"card-{design}.html"]
        assert "Clean outings: not shown" in found[f"design-{design}.html"]
    assert "Clean outings: not shown" in found["rides.html"]
    assert "clean outings|ten minutes from rest, counted|not shown" in found["index.html"]


def test_map_and_card_count_the_same_short_flights(told: Results, pages: dict[str, str]) -> None:
    """Up to which waves all were clean, and how many; no page has a column or a row for a speed without a trim."""
    compared = 0
    for design in told.leaders:
        mine = told.rides[told.rides["design"] == design]
        card = pages[f"card-{design}.html"]
        without = mine.groupby("speed")["flights"].sum().loc[lambda flights: flights == 0].index
        for heading, there in mine.groupby("heading_name"):
            cells = []
            for speed, column in there.groupby("speed"):
                if speed in without:
                    continue
                whole = column.sort_values("height")
                whole = whole[(whole["clean"] == whole["flights"]).cummin()]
                assert len(whole), "the made-up map has clean flights in its lowest waves"
                cells.append(f"{100.0 * whole['height'].max():.3g} ({whole['clean'].sum()} of {whole['flights'].sum()})")
                compared += 1
            assert f"|{heading}|{'|'.join(cells)}|" in card, (design, heading)
        assert all(f"no trim at {speed:g} m/s" in pages["rides.html"] for speed in without)
    assert compared > 20


def test_no_page_makes_a_promise_of_short_flights(told: Results, pages: dict[str, str]) -> None:
    """Neither a share that is enough nor failures an hour follow from flights of some seconds."""
    for name, page in pages.items():
        if name.endswith(".html"):
            assert not re.search(r"in ten\b|failures an hour|failures, /h", page), name
    for name in ("rides.html", "card-0.html", "index.html"):
        assert "promise nothing of an outing" in pages[name], name

"""Whether real pages contradict their results or each other: `python -m tests.benchmarks.contradictions RESULTS ...`.

RESULTS: results folders with their sites. The pages are read as they lie on the disk. Gains, scores, counts of flights and of
clean flights, touchdowns, outings, seas, headings and speeds that they print are held against the folder's flights and tables,
as `tests/report/test_contradictions.py` does for made-up results. It prints how many of each it found: none of a kind means
that it was not asked. Exits with 1 where one contradicts.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from sweep.campaign.conditions import list_conditions
from sweep.results.store import Results, load_results
from tests.report.test_contradictions import NUMBER, claims, is_rounded, visible

Found = tuple[str, str, bool]
"""What was read, as printed, and whether it is so."""


def gains(told: Results, pages: dict[str, str]) -> Iterator[Found]:
    """Gains and scores, wherever a page says one."""
    for name, page in pages.items():
        for what, printed, truth in claims(told, name, page):
            yield what, f"{name}: {what} {printed}, by the table {truth:.6g}", is_rounded(printed, truth)


def base_scores(told: Results, pages: dict[str, str]) -> Iterator[Found]:
    """The base craft's score in the question of how good it is, in the list of leaders and on its own page."""
    truth = float(told.standings.set_index("design").score[0])
    pattern = rf"\|base craft \(0\)\|{NUMBER} \(|base craft comes to place[^.]*; its score is {NUMBER}|its score is {NUMBER} \("
    for name in ("index.html", "design-0.html"):
        for groups in re.findall(pattern if name != "index.html" else pattern.partition("|its")[0], pages.get(name, "")):
            printed = next(each for each in groups if each)
            yield "base craft's score", f"{name}: base craft {printed}, by the table {truth:.6g}", is_rounded(printed, truth)


def planned(told: Results, pages: dict[str, str]) -> Iterator[Found]:
    """Seas with height and period, and conditions by their names, on every page but those that tell of measured crafts."""
    seas = {sea.name: sea for sea in told.campaign.seas}
    names = {condition.name for condition in list_conditions(told.campaign)}
    any_sea = "|".join(re.escape(name) for name in sorted(seas, key=len, reverse=True))
    headings = "head|following|quartering|beam|bow"
    for name, page in pages.items():
        for sea, height, period in re.findall(rf"\b({any_sea}) \({NUMBER} cm, {NUMBER} s\)", page):
            at = seas[sea]
            right = is_rounded(height, 100.0 * at.height) and is_rounded(period, at.period)
            yield "sea", f"{name}: {sea} ({height} cm, {period} s)", right
        if name != "sure.html":
            for condition in re.findall(rf"\b(?:{any_sea}), (?:{headings}), [\d.]+ m/s", page):
                yield "condition", f"{name}: {condition}", any(each.startswith(condition) for each in names)


def expected(told: Results, pages: dict[str, str], tables: dict[str, str]) -> Iterator[Found]:
    """Touchdowns and numbers of flights of each condition: card, CSV and the rows of the flights."""
    flown = told.flights.groupby(["design", "condition"])
    rates, counts = 60.0 * flown["touchdowns"].mean(), flown.size()
    conditions = [condition.name for condition in list_conditions(told.campaign)]
    for design in (int(name[5:-5]) for name in pages if re.fullmatch(r"card-\d+\.html", name)):
        card = pages[f"card-{design}.html"]
        rows = re.findall(rf"\|({'|'.join(map(re.escape, conditions))})\|[^|]*\|[^|]*\|{NUMBER} /min\|(\d+)(?=\|)", card)
        for condition, rate, many in rows:
            at = conditions.index(condition)
            where = f"card-{design}.html, {condition}: {rate} /min in {many} flights"
            yield "touchdowns, flights", where, is_rounded(rate, rates[design, at])
            yield "number of flights", where, int(many) == counts[design, at]
        table = tables.get(f"conditions-{design}.csv")
        for row in csv.DictReader(io.StringIO(table)) if table else ():
            truth = rates[design, int(row["condition"])]
            for column in (name for name in row if name.startswith("touchdowns")):
                where = f"conditions-{design}.csv, {row['name']}: {row[column]} /min, by the flights {truth:.6g}"
                yield "touchdowns, CSV", where, abs(float(row[column]) - truth) <= 1e-3 * max(abs(truth), 1e-9)


def outings(told: Results, pages: dict[str, str]) -> Iterator[Found]:
    """Clean outings of a design: counted alike on its card, its page and the map's page, as many as flew."""
    flown = told.outings
    counts = flown.groupby("design")["clean"].agg(["sum", "size"]) if len(flown) else None
    for design in (int(name[5:-5]) for name in pages if re.fullmatch(r"card-\d+\.html", name)):
        for name in (f"card-{design}.html", f"design-{design}.html"):
            for told_there in re.findall(r"Clean outings: (\d+) of (\d+) \(", pages.get(name, "")):
                right = counts is not None and (counts["sum"][design], counts["size"][design]) == tuple(map(int, told_there))
                yield "outings", f"{name}: {' of '.join(told_there)} outings", right


def clean_flights(told: Results, pages: dict[str, str]) -> Iterator[Found]:
    """Sentences and tables of the map: up to which waves all flights were clean, and how many those were."""
    rides = told.rides if len(told.rides) else pd.DataFrame(columns=["design", "speed", "heading_name"])
    for (design, speed, heading), there in rides.groupby(["design", "speed", "heading_name"]):
        column = there.sort_values("height")
        whole = column[(column["clean"] == column["flights"]).cummin() & (column["flights"] > 0)]
        called = rf"Design {design}" if design else r"The base craft \(design 0\)"
        for name in ("rides.html", f"design-{design}.html", f"card-{design}.html", "index.html"):
            page = pages.get(name, "")
            for sentence in re.findall(rf"{called} at {speed:g} m/s: ([^.]*(?:\.\d[^.]*)*)", page):
                for many, top in re.findall(rf"all (\d+) clean up to {NUMBER} cm in {heading} seas", sentence):
                    right = len(whole) > 0 and int(many) == whole["flights"].sum()
                    right = right and is_rounded(top, 100.0 * whole["height"].max())
                    yield "clean flights", f"{name}: design {design}, {speed:g} m/s, {heading}: {many} up to {top} cm", right


def clean_cells(told: Results, pages: dict[str, str]) -> Iterator[Found]:
    """The card's row of each heading: up to which waves all were clean at each speed, and how many flights that were."""
    flown = told.rides[told.rides["flights"] > 0] if len(told.rides) else pd.DataFrame(columns=["design", "heading_name"])
    for (design, heading), there in flown.groupby(["design", "heading_name"]):
        name = f"card-{design}.html"
        rows = re.findall(rf"\|{heading}((?:\|{NUMBER} \(\d+ of \d+\))+)\|", pages.get(name, ""))
        for row in (each[0] for each in rows):
            cells = re.findall(rf"{NUMBER} \((\d+) of (\d+)\)", row)
            columns = [column.sort_values("height") for _, column in there.groupby("speed")]
            yield "speeds of the card's map", f"{name}, {heading}: {len(cells)} speeds", len(cells) == len(columns)
            for (top, good, many), column in zip(cells, columns, strict=False):
                whole = column[(column["clean"] == column["flights"]).cummin()]
                right = (int(good), int(many)) == (whole["clean"].sum(), whole["flights"].sum())
                right = right and is_rounded(top, 100.0 * whole["height"].max())
                yield "cells of the card's map", f"{name}, {heading}: {top} ({good} of {many})", right


def found(folder: Path) -> list[Found]:
    """All that was read of one site."""
    told, site = load_results(folder), folder / "site"
    pages = {path.name: visible(path.read_text(encoding="utf-8")) for path in sorted(site.glob("*.html"))}
    tables = {path.name: path.read_text(encoding="utf-8") for path in sorted((site / "data").glob("conditions-*.csv"))}
    return [
        *gains(told, pages),
        *base_scores(told, pages),
        *planned(told, pages),
        *expected(told, pages, tables),
        *outings(told, pages),
        *clean_flights(told, pages),
        *clean_cells(told, pages),
    ]


def main() -> None:
    """Ask every site."""
    contradicted = 0
    for folder in map(Path, sys.argv[1:]):
        all_found = found(folder)
        counts = Counter(what for what, _, _ in all_found)
        print(f"{folder.name}: {len(all_found)} claims; " + ", ".join(f"{what} {count}" for what, count in counts.items()))
        wrong = list(dict.fromkeys(where for _, where, right in all_found if not right))
        contradicted += len(wrong)
        for where in wrong:
            print(f"  CONTRADICTS: {where}")
    print(f"{contradicted} contradictions")
    sys.exit(1 if contradicted else 0)


if __name__ == "__main__":
    main()

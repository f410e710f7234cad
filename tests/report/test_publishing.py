"""The site as text: whole, the same every time, closed to the network, and safe whatever a campaign file says."""

from __future__ import annotations

import dataclasses
import functools
import io
import json
import os
import re
import subprocess
import sys
import threading
import zipfile
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import Campaign
from sweep.campaign.craft import Craft
from sweep.insight.ranking import ranked
from sweep.preflight.first_runs import NoRuns
from sweep.report import embed, publishing
from sweep.report.embed import Files
from sweep.report.pages import card, standings
from sweep.report.pages.frame import POLICY
from sweep.report.publishing import publish, render
from sweep.results import partial
from sweep.results.lock import locked
from sweep.results.plain_files import StoreError
from sweep.results.site_folder import WRITTEN, write_site
from sweep.results.store import Results
from sweep.words.numbers import interval, number
from tests.site_results import HOSTILE_LABEL, HOSTILE_TITLE, results

HELD = "data:application/zip;base64,"
"""A file that lies in the page itself."""


@pytest.fixture(scope="module")
def told(told_of_one: Results) -> Results:
    """With one leader beside the base craft: each has a page, and first runs that are flown for its card."""
    return told_of_one


@pytest.fixture(scope="module")
def site(site_of_one: Files) -> Files:
    return site_of_one


@pytest.fixture(scope="module")
def bare(told: Results) -> Files:
    """Without leaders, of a run that has ended."""
    ended = dataclasses.replace(told.manifest, finished="2021-05-06T07:08:09+00:00")
    return render(dataclasses.replace(told, leaders={}, manifest=ended))


def html(files: Files) -> dict[str, str]:
    return {name: text for name, text in files.items() if name.endswith(".html")}


def test_there_is_a_page_for_every_question_and_every_leader(site: Files, told: Results) -> None:
    leaders = {f"{page}-{design}.html" for design in told.leaders for page in ("design", "card")}
    names = ("index", "builds", "explore", "matters", "tradeoffs", "compare", "rides", "sure", "cautions", "words")
    assert set(html(site)) == {f"{name}.html" for name in names} | leaders


class Elements(HTMLParser):
    """Every element of a page with its attributes, and the text outside of scripts."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if not self.found or self.found[-1][0] != "script":
            self.words.append(data)


def test_pages_hold_no_script_or_style_of_their_own(site: Files) -> None:
    for name, page in html(site).items():
        for tag, attributes in Elements(page).found:
            assert not any(attribute.startswith("on") or attribute == "style" for attribute in attributes), name
            assert tag != "style"
            if tag == "script":
                assert attributes.get("src") or attributes.get("type") == "application/json", name


def test_every_page_closes_itself_to_the_network(site: Files) -> None:
    for name, page in html(site).items():
        metas = [attributes for tag, attributes in Elements(page).found if tag == "meta"]
        policy = next(meta["content"] for meta in metas if meta.get("http-equiv") == "Content-Security-Policy")
        assert policy == POLICY
        for tag, attributes in Elements(page).found:
            for link in (attributes.get("href"), attributes.get("src")):
                outside = link is not None and not link.startswith(HELD) and re.match(r"[a-z]+:|//", link)
                assert not outside, f"{name}: <{tag}> leads to {link}"
    assert "unsafe" not in POLICY
    assert POLICY.startswith("default-src 'none'")


def test_words_of_the_campaign_come_out_as_text(site: Files) -> None:
    for name, page in html(site).items():
        elements = Elements(page)
        assert HOSTILE_TITLE in "".join(elements.words), name
        assert "alert" not in {attribute for _, attributes in elements.found for attribute in attributes}
        assert not any(tag == "b" for tag, _ in elements.found)
    for name, text in site.items():
        if not name.endswith((".csv", ".yaml")) and name != "parts/vega.js":
            assert "<script>alert" not in text, name
            assert "<b onmouseover" not in text, name
    assert "49" not in Elements(site["cautions.html"]).words[0], "the title is no template"
    designs = pd.read_csv(io.StringIO(site["data/designs.csv"]))
    assert f"{HOSTILE_LABEL}, cm²" in designs


def test_what_a_spreadsheet_would_calculate_is_quoted() -> None:
    texts = ["=1+1", "+cmd", "-2+3", "@SUM(A1)", "\tcmd", "-cmd\r1", "-2.5e-3", "+4", "bow", ""]
    table = pd.DataFrame({"=1+cmd": texts, "number": -1.0, "key": texts})
    found = pd.read_csv(
        io.StringIO(embed.as_csv("any", table, {"key": "@heading"})["data/any.csv"], newline=""),
        keep_default_na=False,
        dtype=str,
    )
    assert list(found) == ["'=1+cmd", "number", "'@heading"]
    assert (
        found["'=1+cmd"].tolist()
        == found["'@heading"].tolist()
        == [f"'{text}".replace("\r", " ") for text in texts[:6]] + texts[6:]
    )
    assert set(found["number"]) == {"-1.0"}


def test_nothing_turns_the_text_beside_it() -> None:
    assert embed.straight("a\u202eb") == "a\ufffdb"
    assert json.loads(embed.as_json({"x": "a\u2066b\\u202e"})) == {"x": "a\ufffdb\\u202e"}


def test_the_same_results_give_the_same_bytes(site: Files, tmp_path: Path) -> None:
    """In another process: neither the order of hashing nor the time of day gets in, nor whether charts are checked."""
    made = (
        "import json, sys; from pathlib import Path; from altair.utils import schemapi;"
        "from sweep.report.publishing import render; from tests.site_results import results;"
        "schemapi.DEBUG_MODE = False;"
        "json.dump(render(results(Path(sys.argv[1]), leaders=1)), sys.stdout)"
    )
    root = Path(publishing.__file__).parents[2]
    environment = {**os.environ, "PYTHONHASHSEED": "1", "PYTHONPATH": str(root)}
    command = [sys.executable, "-c", made, str(tmp_path)]
    ran = subprocess.run(command, stdout=subprocess.PIPE, text=True, env=environment, check=True)
    assert json.loads(ran.stdout) == site


def test_what_cards_fly_is_flown_once(told: Results, monkeypatch: pytest.MonkeyPatch) -> None:
    flown: list[str] = []

    def fly(campaign: Campaign, craft: Craft) -> NoRuns:
        flown.append(threading.current_thread().name)
        return NoRuns((4.0,), None)

    monkeypatch.setattr(publishing, "PAGES", ())
    monkeypatch.setattr(card, "first_runs", fly)
    monkeypatch.setattr(card, "_first_runs", functools.lru_cache(card._first_runs.__wrapped__))
    render(told)
    assert len(flown) == len(told.leaders)
    assert threading.main_thread().name not in flown, "cards wait for the pages"


def test_data_scripts_hold_what_the_tables_hold(site: Files, told: Results) -> None:
    text = site["data/designs.js"]
    columns = json.loads(text[text.index("= {", text.index("data[")) + 2 : text.rindex(";")])
    order = [*ranked(told.standings)["design"], *told.standings.loc[told.standings["verdict"] == "broken", "design"]]
    assert columns["design"][: len(order)] == order
    scores = told.standings.set_index("design")["score"]
    np.testing.assert_allclose(columns["score"], scores.loc[columns["design"]], rtol=5e-4)
    areas = told.designs[HOSTILE_LABEL].loc[columns["design"]]
    np.testing.assert_allclose(columns["f_foil_b_onmouseover_alert_2_area_b"], 1e4 * areas, rtol=5e-4)
    assert None in columns["place"], "refused designs have no place"


def test_steps_add_up_to_the_numbers(site: Files, told: Results) -> None:
    text, design = site[f"data/ride-{next(iter(told.leaders))}.js"], next(iter(told.leaders))
    held = json.loads(text[text.index("= {", text.index("data[")) + 2 : text.rindex(";")])
    csv = pd.read_csv(io.StringIO(site[f"data/ride-{design}.csv"]))
    for name, heading in (("condition", "condition"), ("time", "time, s"), ("pitch", "pitch, deg"), ("power", "power, W")):
        found = np.cumsum(held[name]["by"]) / held[name]["of"]
        assert found.tolist() == csv[heading].iloc[: len(found)].tolist(), name


def test_steps_leave_out_what_is_not_known() -> None:
    made = embed.data_script("t", pd.DataFrame({"x": [1.25, np.nan, -0.5, 3.0]}), stepped=True)["data/t.js"]
    assert '{"x":{"of":100,"by":[125,null,-175,350]}}' in made


@pytest.mark.usefixtures("without_design_pages")
def test_the_first_page_is_light(told: Results, monkeypatch: pytest.MonkeyPatch) -> None:
    """site.md: under 1.5 MB besides the chart library; the long table carries two thousand rows at most, so scale these up."""
    monkeypatch.setattr(standings, "MOST_IN_TABLE", 30)
    files = render(told)
    per_row = len(files["data/designs.js"]) / 30
    fixed = sum(
        len(files[name]) for name in ("index.html", "data/leaders.js", "parts/style.css", "parts/charts.js", "parts/table.js")
    )
    assert fixed + 2000 * per_row < 1.5e6
    assert "The first 30 of 61 designs" in files["index.html"]
    assert len(pd.read_csv(io.StringIO(files["data/designs.csv"]))) == 61


def test_every_number_of_a_csv_file_has_its_unit(site: Files, told: Results) -> None:
    design = next(iter(told.leaders))
    assert "ride height error, cm" in pd.read_csv(io.StringIO(site[f"data/conditions-{design}.csv"]))
    assert "keel_height, cm" in pd.read_csv(io.StringIO(site[f"data/ride-{design}.csv"]))
    limits = pd.read_csv(io.StringIO(site["data/limits.csv"]))
    assert dict(zip(limits["response"], limits["unit"], strict=True)) == {"touchdowns": "/min", "upsets": "% of flights"}
    kept = limits[limits["verdict"] == "kept"].groupby("response")["high"].max()
    assert 0.9 < kept["touchdowns"] <= 6.0, "6 /min is the limit; none in 192 s leaves up to 0.94"
    assert 10.0 < kept["upsets"] <= 40.0, "40 % is the limit; none of twelve leaves up to 22"


def test_the_first_page_leads_to_what_to_build_and_what_to_set(site: Files, bare: Files, told: Results) -> None:
    first = told.standings.iloc[0]["design"]
    lead = site["index.html"].partition('class="lead"')[2].partition("</div>")[0]
    for page in (f"design-{first}.html", f"card-{first}.html", "sure.html"):
        assert f'href="{page}"' in lead
    assert "To build it" in site["index.html"]
    assert "To build it" not in bare["index.html"]


def test_every_leader_has_its_numbers_with_units(site: Files, told: Results) -> None:
    design = next(iter(told.leaders))
    words = re.sub(r"\s+", " ", " ".join(Elements(site[f"design-{design}.html"]).words))
    area = 1e4 * told.designs.loc[design, HOSTILE_LABEL]
    assert f"{area:g} cm²" in words
    assert f"{100 * told.campaign.craft.control.ride_height:g} cm" in words, "the wanted ride height of the craft file"
    assert "deg/cm" in words


def test_the_first_table_is_of_the_first_designs_and_the_base_craft(site: Files, told: Results) -> None:
    """Best first, the base craft last where it is none of them; each with its score, its interval and its gain."""
    words = re.sub(r"\s+", " ", " ".join(Elements(site["index.html"]).words))
    table = words.partition("The first designs and the base craft: score, gain, cost, and the choice")[2]
    first = ranked(told.standings).head(3)
    at = [
        table.index(f" {row.design} {number(row.score)}{interval(row.score_low, row.score_high)}") for row in first.itertuples()
    ]
    assert at == sorted(at)
    assert at[-1] < table.index("base craft (0)")


def test_files_of_the_campaign_are_shown(site: Files, told: Results) -> None:
    words = "".join(Elements(site["sure.html"]).words)
    assert told.campaign.campaign_text.strip() in words
    assert told.campaign.craft_text.strip() in words


def test_the_date_is_that_of_the_run(site: Files, bare: Files) -> None:
    assert "2020-01-02" in "".join(Elements(site["index.html"]).words)
    assert "2021-05-06" in bare["cautions.html"]


def test_results_without_leaders_or_intervals_make_a_site(tmp_path: Path) -> None:
    files = render(results(tmp_path, leaders=0, replicates=1, areas=2))
    assert "no interval can be given" in files["index.html"]
    assert not any(name.startswith("design-") for name in files)
    assert "NaN" not in "".join(text for name, text in files.items() if name.startswith("data/") and name.endswith(".js"))


def test_the_site_is_written_whole_in_place_of_the_old_one(
    told: Results, site: Files, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(partial, "load_so_far", lambda folder: (told, []))
    monkeypatch.setattr(publishing, "render", lambda *_: site)
    write_site(tmp_path, {"stale.html": "old"})
    (tmp_path / "site" / "boat.jpg").write_text("a photograph")
    assert publish(tmp_path) == tmp_path / "site"
    written = {
        path.relative_to(tmp_path / "site").as_posix(): path.read_text(encoding="utf-8")
        for path in (tmp_path / "site").rglob("*")
        if path.is_file() and path.name not in (WRITTEN, "preview.png")
    }
    assert (tmp_path / "site" / publishing.PREVIEW).read_bytes().startswith(b"\x89PNG")
    assert written == site | {"boat.jpg": "a photograph"}
    assert sorted(path.name for path in tmp_path.iterdir()) == [".lock", "site"]


def test_no_site_is_written_into_a_folder_in_use(tmp_path: Path) -> None:
    with locked(tmp_path), pytest.raises(StoreError, match="in use by"):
        publish(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [".lock"]


def test_a_packed_site_is_never_left_out_of_date(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    told = results(tmp_path, leaders=0, areas=2)
    monkeypatch.setattr(partial, "load_so_far", lambda folder: (told, []))
    monkeypatch.setattr(publishing, "render", lambda *_: {"index.html": "new"})
    publish(tmp_path)
    assert not (tmp_path / "site.zip").exists()
    (tmp_path / "site.zip").write_bytes(b"old")
    publish(tmp_path)
    with zipfile.ZipFile(tmp_path / "site.zip") as packed:
        first, second = packed.namelist()
        assert packed.read(first) == b"new"
        assert second.endswith(publishing.PREVIEW)


def test_one_file_is_written_when_asked_for_and_never_left_out_of_date(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    told = results(tmp_path, leaders=0, areas=2)
    monkeypatch.setattr(partial, "load_so_far", lambda folder: (told, []))
    monkeypatch.setattr(publishing, "render", lambda *_: {"index.html": "new"})
    monkeypatch.setattr(publishing, "one_file", lambda files: f"alone: {files['index.html']}")
    publish(tmp_path)
    assert not (tmp_path / "site.html").exists()
    publish(tmp_path, alone=True)
    assert (tmp_path / "site.html").read_text() == "alone: new"
    (tmp_path / "site.html").write_text("old")
    publish(tmp_path)
    assert (tmp_path / "site.html").read_text() == "alone: new"


def test_a_site_that_cannot_be_made_leaves_the_old_one(told: Results, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(partial, "load_so_far", lambda folder: (told, []))

    def fail(*_: object) -> Files:
        raise RuntimeError("no")

    monkeypatch.setattr(publishing, "render", fail)
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "index.html").write_text("old")
    with pytest.raises(RuntimeError):
        publish(tmp_path)
    assert (tmp_path / "site" / "index.html").read_text() == "old"


def test_the_chart_library_is_one_closed_script() -> None:
    library = embed.chart_library()
    assert library.startswith("(function () {")
    assert library.endswith("})();\n")
    assert "window.vegaEmbed=" in library


def test_the_chart_library_is_packed_once_for_all_and_again_if_it_is_damaged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed: list[str] = []
    monkeypatch.setattr(embed, "cache_folder", lambda: str(tmp_path / "code"))
    monkeypatch.setattr(embed, "_packed", lambda version: packed.append(version) or "(function () {\u00e9})();\n")
    make = embed.chart_library.__wrapped__
    assert make() == make() == "(function () {\u00e9})();\n"
    assert len(packed) == 1
    (kept,) = tmp_path.iterdir()
    kept.write_bytes(kept.read_bytes()[:-3])
    assert make() == "(function () {\u00e9})();\n"
    assert make() == "(function () {\u00e9})();\n"
    assert len(packed) == 2
    monkeypatch.setattr(embed, "cache_folder", lambda: None)
    make()
    assert len(packed) == 3


def test_sources_are_found_and_complete() -> None:
    names = {path.name for path in publishing.sources().iterdir()}
    assert {"templates", "parts"} <= names
    assert not any(path.name.endswith(".py") for path in publishing.sources().iterdir())


def test_json_in_a_page_cannot_end_its_script() -> None:
    text = embed.as_json({"x": "</script><!--", "y": "\u2028"})
    assert "<" not in text
    assert "\u2028" not in text
    assert json.loads(text) == {"x": "</script><!--", "y": "\u2028"}


def test_what_is_not_known_is_not_a_number_in_no_script() -> None:
    table = pd.DataFrame({"a": [1.0, float("nan"), 2.5], "b": [1, 2, 3], "c": ["x", "", "<"]})
    assert embed.data_script("t", table) == {
        "data/t.js": '(window.foilsweep ??= { data: {} }).data["t"] = {"a":[1,null,2.5],"b":[1,2,3],"c":["x","","\\u003c"]};\n'
    }


def test_a_page_is_added_in_the_files_that_the_guide_lists() -> None:
    root = Path(__file__).parents[2]
    section = (root / "DEVELOPERS.md").read_text(encoding="utf-8").partition("\n### One more page\n")[2].partition("\n#")[0]
    listed = re.findall(r"^- `([^`]+)`: ", section, re.MULTILINE)
    kept = [
        path for folder in ("sweep", "site") for path in (root / folder).rglob("*") if path.suffix in (".py", ".html", ".js")
    ]
    of_it = re.compile(r"\bformer\.(html|make)\b")
    found = [path for path in kept if path.stem == "former" or of_it.search(path.read_text(encoding="utf-8"))]
    assert sorted(listed) == sorted(path.relative_to(root).as_posix() for path in found)

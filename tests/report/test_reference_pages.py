"""The reference as pages: every key stands in them, every link leads somewhere, and nothing comes from a network."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path

import pytest

from sweep import cli
from sweep.reference.keys import FILES, RESPONSE, list_keys
from sweep.report.reference_pages import anchor, page_of, reference


class Reader(HTMLParser):
    """Anchors, links and texts of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.anchors: list[str] = []
        self.links: list[str] = []
        self.taken: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name == "id":
                self.anchors.append(value or "")
            elif name == "href" and tag == "a":
                self.links.append(value or "")
            elif name in ("href", "src"):
                self.taken.append(value or "")


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    return reference()


def test_every_key_stands_in_its_page(pages: dict[str, str]) -> None:
    anchors = {name: Reader(text).anchors for name, text in pages.items() if name.endswith(".html")}
    for key in list_keys():
        assert anchor(key) in anchors[f"{page_of(key)}.html"], (key.file, key.address)
    for name, found in anchors.items():
        assert [each for each, times in Counter(found).items() if times > 1] == [], name
    assert {f"{file}.html" for file in (*FILES, RESPONSE)} <= set(pages)


def test_every_link_leads_somewhere_and_nothing_to_a_network(pages: dict[str, str]) -> None:
    read = {name: Reader(text) for name, text in pages.items() if name.endswith(".html")}
    for name, page in read.items():
        assert set(page.taken) <= {"style.css", "find.js"}
        for link in page.links:
            to, _, at = link.partition("#")
            assert (to or name) in read, link
            assert not at or at in read[to or name].anchors, (name, link)
    assert sum(len(page.links) for page in read.values()) > len(list_keys())
    assert not any("//" in text for name, text in pages.items() if name != "find.js")


def test_a_meaning_links_the_keys_that_it_names(pages: dict[str, str]) -> None:
    assert '<a href="craft.html#foils.*.aspect_ratio">aspect_ratio</a>: kept when the area changes' in pages["craft.html"]


def test_a_row_tells_the_value_its_bounds_and_an_example(pages: dict[str, str]) -> None:
    (row,) = re.findall(r'<tr>[^\n]*id="rangefinders.latency"[^\n]*', pages["craft.html"])
    for said in ("age of a reading", "a time, in s, ms or min; 0.06 s by default; from 0 s, at most 0.3 s", "latency: 30 ms"):
        assert said in row
    (row,) = re.findall(r'<tr>[^\n]*id="touchdowns"[^\n]*', pages["response.html"])
    assert "limits: {touchdowns: " in row
    assert 'id="score.touchdowns.scale"' in row


def test_the_command_writes_them_and_keeps_what_is_not_theirs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "reference"
    for _ in range(2):
        assert cli.main(["explain", "--pages", str(folder)]) == 0
        assert capsys.readouterr().out == f"Reference: {folder / 'index.html'}\n"
    assert {path.name for path in folder.iterdir()} == set(reference())
    (folder / "index.html").write_text("somebody's page")
    assert cli.main(["explain", "--pages", str(folder)]) == cli.WRONG_INPUT
    assert "index.html is no page of the reference; wanted another folder" in capsys.readouterr().err
    assert (folder / "index.html").read_text() == "somebody's page"
    assert cli.main(["explain", "--pages", str(folder / "index.html")]) == cli.WRONG_INPUT
    assert "wanted a folder, or a name that is free" in capsys.readouterr().err

"""The first page as one file: nothing outside is needed or linked, and nothing inside is lost."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser

import pytest

from sweep.report.embed import Files
from sweep.report.one_file import one_file
from sweep.results.store import Results

MOST_BYTES = 2_000_000


@pytest.fixture(scope="module")
def told(told_of_one: Results) -> Results:
    return told_of_one


@pytest.fixture(scope="module")
def site(site_of_one: Files) -> Files:
    return site_of_one


class Found(HTMLParser):
    """Elements and attributes of a page, outside its scripts."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_it_needs_and_links_nothing_outside(site: Files) -> None:
    elements = Found(one_file(site)).found
    ids = {attributes["id"] for _, attributes in elements if "id" in attributes}
    for tag, attributes in elements:
        assert "src" not in attributes
        assert tag != "link"
        if "href" in attributes and not str(attributes["href"]).startswith("data:application/zip;base64,"):
            assert str(attributes["href"]).startswith("#")
            assert str(attributes["href"])[1:] in ids


def test_it_has_each_card_and_the_cautions_and_no_name_twice(site: Files, told: Results) -> None:
    elements = Found(one_file(site)).found
    counts = Counter(attributes["id"] for _, attributes in elements if "id" in attributes)
    assert not [name for name, count in counts.items() if count > 1]
    assert {"cautions", *(f"card-{design}" for design in told.leaders)} <= counts.keys()
    assert sum(tag == "h1" for tag, _ in elements) == 1
    for _, attributes in elements:
        for name in ("aria-labelledby", "aria-describedby", "for"):
            assert all(each in counts for each in (attributes.get(name) or "").split())


def test_every_word_of_a_card_is_in_it(site: Files, told: Results) -> None:
    design = next(iter(told.leaders))
    body = re.sub(r"<[^>]+>", " ", site[f"card-{design}.html"].partition("<main")[2].partition("</main>")[0])
    whole = " ".join(re.sub(r"<[^>]+>", " ", one_file(site)).split())
    for line in filter(None, (" ".join(line.split()) for line in body.splitlines()[1:])):
        assert line.removesuffix(" The page of this design") in whole


def test_data_lead_to_cards_inside_or_nowhere(site: Files, told: Results) -> None:
    page = one_file(site)
    assert not re.search(r'"(design|card)-\d+\.html"', page)
    for design in told.leaders:
        assert f'"#card-{design}"' in page


def test_the_same_site_gives_the_same_bytes_and_few_enough(site: Files) -> None:
    assert one_file(site) == one_file(dict(reversed(site.items())))
    assert len(one_file(site).encode()) < MOST_BYTES

"""The words of the pages: each that a page says is explained on that page, without a pointer, and all on one page."""

from __future__ import annotations

import re

import pytest

from sweep.model.onboard.choices import LAWS
from sweep.report.pages import words
from sweep.words.factors import level_name


@pytest.fixture(scope="module")
def site(site_of_one: dict[str, str]) -> dict[str, str]:
    return site_of_one


def test_each_word_that_a_page_says_is_explained_on_it(site: dict[str, str]) -> None:
    for name, page in site.items():
        if not name.endswith(".html"):
            continue
        told = re.search(r'<details class="fold on-screen" id="words">.*?</details>', page, re.DOTALL)
        assert told is not None, name
        rest = words.UNSEEN.sub(" ", page.replace(told[0], "")).lower()
        explained = {term.lower() for term in re.findall(r'<dt id="word-[a-z-]+">(.*?)</dt>', told[0])}
        assert explained == {word.term.lower() for word in words.WORDS if words.FORMS[word].search(rest)}, name
        assert words.MARK not in page


def test_a_word_leads_to_its_meaning_where_it_first_stands(site: dict[str, str]) -> None:
    for name, page in site.items():
        if not name.endswith(".html"):
            continue
        links = re.findall(r'<a class="term" href="#(word-[a-z-]+)">([^<]+)</a>', page)
        assert len(links) == len({anchor for anchor, _ in links}), name
        for anchor, text in links:
            assert f'<dt id="{anchor}">' in page, (name, anchor)
            assert text.lower().replace(" ", "-").startswith(anchor.removeprefix("word-")), (name, anchor, text)
    assert '<a class="term" href="#word-score">' in site["matters.html"]


@pytest.mark.parametrize(
    "text", ["to build it", "area of each foil", "the following runs", "it is spread over", "Front, from ahead"]
)
def test_what_means_something_else_is_no_word(text: str) -> None:
    assert words.met(f"<p>{text}</p>") == []
    assert words.explained(f"<p>{text}</p>{words.MARK}") == f"<p>{text}</p>"


def test_no_word_is_a_link_within_what_is_pressed_or_typed() -> None:
    page = f"<h2>Score</h2><p><a href='x'>score</a> <kbd>score</kbd></p><svg><text>score</text></svg>{words.MARK}"
    assert 'class="term"' not in words.explained(page)
    assert words.explained(f"<p>a Score and scores</p>{words.MARK}").count('class="term"') == 1


def test_the_page_of_words_has_them_all_once(site: dict[str, str]) -> None:
    terms = [word.term for word in words.WORDS]
    assert len(set(terms)) == len(terms) > 30
    for word in words.WORDS:
        assert f"<dt>{word.term}</dt><dd>{word.meaning}</dd>" in site["words.html"]
    assert "<code>control.<wbr>height.<wbr>proportional</code>" in site["words.html"]


def test_every_control_law_has_its_words() -> None:
    assert {level_name(law) for law in LAWS} <= {word.term for word in words.WORDS}

"""The words of the pages: each that a page says is explained on that page, without a pointer, and all on one page."""

from __future__ import annotations

import re

import pytest
from altair.utils.schemapi import debug_mode

from sweep.model.onboard.choices import LAWS
from sweep.report.pages import words
from sweep.report.publishing import render
from sweep.words.factors import level_name
from tests.site_results import results


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    with debug_mode(False):
        return render(results(tmp_path_factory.mktemp("campaign"), leaders=1))


def test_each_word_that_a_page_says_is_explained_on_it(site: dict[str, str]) -> None:
    for name, page in site.items():
        if not name.endswith(".html"):
            continue
        told = re.search(r'<details class="fold on-screen" id="words">.*?</details>', page, re.DOTALL)
        assert told is not None, name
        rest = words.UNSEEN.sub(" ", page.replace(told[0], "")).lower()
        explained = {term.lower() for term in re.findall(r"<dt>(.*?)</dt>", told[0])}
        assert explained == {word.term.lower() for word in words.WORDS if words.FORMS[word].search(rest)}, name
        assert words.MARK not in page


def test_the_page_of_words_has_them_all_once(site: dict[str, str]) -> None:
    terms = [word.term for word in words.WORDS]
    assert len(set(terms)) == len(terms) > 30
    for word in words.WORDS:
        assert f"<dt>{word.term}</dt><dd>{word.meaning}</dd>" in site["words.html"]
    assert "<code>control.<wbr>height.<wbr>proportional</code>" in site["words.html"]


def test_every_control_law_has_its_words() -> None:
    assert {level_name(law) for law in LAWS} <= {word.term for word in words.WORDS}

"""The table of usual units against a library of units, and what it spares."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.text.dimensions import KINDS
from sweep.words import units
from sweep.words.units import parsed, unit
from sweep.words.usual_units import FACTORS, OFFSETS

USUAL = [text for factors in FACTORS.values() for text in factors]
CAMPAIGNS = sorted((Path(__file__).parents[2] / "configs").glob("*.yaml"))


@pytest.fixture
def no_library(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    def refuse() -> None:
        raise AssertionError("the library of units was asked")

    monkeypatch.setattr(units, "_registry", refuse)
    unit.cache_clear()
    yield
    unit.cache_clear()


@pytest.mark.parametrize("text", USUAL)
def test_a_usual_unit_is_what_the_library_says(text: str) -> None:
    assert units._USUAL[text] == parsed(text)


def test_every_offset_is_of_a_usual_unit_and_every_text_stands_once() -> None:
    assert {*OFFSETS} < {*USUAL}
    assert len({*USUAL}) == len(USUAL)


def test_every_unit_that_a_message_names_is_usual() -> None:
    assert {text for kind in KINDS for text in kind.units} <= {*USUAL}


@pytest.mark.parametrize("path", CAMPAIGNS, ids=lambda path: path.stem)
@pytest.mark.usefixtures("no_library")
def test_a_shipped_campaign_is_read_without_the_library(path: Path) -> None:
    assert load_campaign(path).title

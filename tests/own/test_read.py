"""Gains by the card, set into a controller that somebody wrote who had the card alone: the same flights."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from sweep.model.compiled import LANES
from sweep.model.quantities import FLEW, RESPONSE_NAMES
from sweep.own.compiling import library
from sweep.own.library import load
from sweep.report.pages.ready_made import ready_made
from tests.model.crafts import WATER, block_of, fleet_of, jonswap
from tests.own.laws import NAME, SPEED, flown, needs_compiler, with_code
from tests.own.read import DATA, controller, craft_of_card

BLOCKS = [block_of(jonswap(math.pi, 0.06, seed=number), 12.0, 4.0, number) for number in range(LANES)]
JUDGED = ("ride_height_error", "level_height_error", "vertical_acceleration", "pitch_rms", "roll_rms", "power_mean")
MOST = 1.7
"""Times what a nudge of 1e-9 rad does (judgement)."""
FIGURE = re.compile(r"-?\d+(?:\.\d+)?")


def spread(text: str) -> dict[str, float]:
    """By how much the flights of a controller differ from the built-in law's, over what a nudge of its start does."""
    craft = craft_of_card()
    built_in, own = (fleet_of([each] * LANES, SPEED) for each in (craft, with_code(craft, text)))
    assert own.structure.own is not None
    load(own.structure.own, library(own.structure.own, text, NAME))
    one, other, nudged = flown(built_in, BLOCKS), flown(own, BLOCKS), flown(built_in, BLOCKS, 1e-9)
    assert (one[0] == FLEW).all()
    assert (other[0] == FLEW).all()
    columns = [RESPONSE_NAMES.index(name) for name in JUDGED]
    apart, usual = (np.sqrt(np.mean((table[1] - one[1])[:, columns] ** 2, axis=0)) for table in (other, nudged))
    return dict(zip(JUDGED, apart / usual, strict=True))


@needs_compiler
def test_the_flights_are_those_of_the_built_in_law() -> None:
    found = spread(controller())
    assert {name: ratio for name, ratio in found.items() if ratio > MOST} == {}


@needs_compiler
@pytest.mark.parametrize(("read", "misread"), [("#define LAG 9", "#define LAG 8"), ("ROLL_RATE_P 0.06f", "ROLL_RATE_P 0.062f")])
def test_a_number_that_is_misread_is_seen(read: str, misread: str) -> None:
    """As the card had it before a first reader was asked, an age a tick short; and a gain that is a thirtieth off."""
    text = controller()
    assert read in text
    assert max(spread(text.replace(read, misread)).values()) > MOST


def test_the_card_that_was_read_is_the_card_of_today() -> None:
    """Number by number, whatever its words are."""
    told = ready_made(craft_of_card(), WATER, [SPEED])
    assert told is not None
    cells = [cell for rows in (told.gains, told.mixer, told.others) for row in rows for cell in row[1:]]
    card = (DATA / "card.txt").read_text(encoding="utf-8").split("For a controller that you bought")[1]
    was = [cell for line in card.splitlines() if line.startswith("| ") for cell in line.split("|")[2:]]
    assert len(cells) > 100
    assert figures(cells) == figures([cell for cell in was if not cell.strip().startswith("at ")])


def figures(cells: list[str]) -> list[str]:
    """All numbers in some cells."""
    return FIGURE.findall(" ".join(cells))

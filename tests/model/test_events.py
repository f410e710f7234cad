"""The thresholds of events are those that MODEL.md states, and that the sentences tell."""

from __future__ import annotations

from math import degrees
from pathlib import Path

import pytest

import sweep.model
from sweep.insight.events import KINDS
from sweep.model import events
from sweep.model.quantities import RESPONSE, STATUS_SENTENCES

MODEL = (Path(sweep.model.__file__).parent / "MODEL.md").read_text(encoding="utf-8").replace("\n", " ")
HALF = 0.5


@pytest.mark.parametrize(
    "said",
    [
        f"multiplied by sqrt(longest hull / {events.REFERENCE_LENGTH:g} m)",
        f"Foilborne: load under {100 * events.LIGHT_LOAD:g} % for {events.LIGHT_TIME:g} s",
        f"loss of flight: over {100 * events.HEAVY_LOAD:g} % for {events.HEAVY_TIME:g} s",
        f"a new one after {events.DRY_TIME:g} s dry",
        f"lick: it lasted under {events.LICK_TIME:g} s and stayed under {100 * events.LICK_LOAD:g} % of the weight",
        f"a tip under half a chord for {1e3 * events.OUT_TIME:g} ms; the event ends after {events.DEEP_TIME:g} s deeper",
        f"Upset: |roll| > {degrees(events.UPSET_ROLL):.0f} deg or |pitch| > {degrees(events.UPSET_PITCH):.0f} deg",
        f"mean station depth over the hull's depth for {events.UNDER_TIME:g} s",
        f"Plunge: mean keel depth > 0 for {events.PLUNGE_TIME:g} s while foilborne",
        f"Heading lost, while foilborne: over {degrees(events.LOST_HEADING):.0f} degrees off the course",
        f"at {100 * events.RUDDER_LIMIT:g} % of its limit, less half the backlash, for {events.RUDDER_TIME:g} s",
    ],
)
def test_model_md_states_the_thresholds(said: str) -> None:
    assert said in MODEL


def test_what_is_called_half_is_half() -> None:
    """MODEL.md says so in a word; there is none for another share."""
    assert events.OUT_DEPTH == HALF
    assert events.in_words(HALF) == "half"
    with pytest.raises(KeyError):
        events.in_words(0.4)


def test_sentences_tell_the_thresholds() -> None:
    """As they read with today's numbers."""
    assert RESPONSE["foil_outs"].meaning == "foil out: a tip under half a chord deep for 50 ms"
    assert RESPONSE["licks"].meaning == "touchdowns under 0.1 s and under 5 % of the weight"
    assert RESPONSE["headings_lost"].meaning == "heading over 20 degrees off, or rudder at its limit for 0.5 s"
    assert RESPONSE["lost_flights"].meaning == "losses of flight: the hull carries over half the weight for 1 s"
    assert "upset: rolled past 35 degrees or pitched past 45" in STATUS_SENTENCES
    assert "went under: the deck was under water for half a second" in STATUS_SENTENCES
    assert KINDS["foil out"] == "a foil's tip came under half a chord deep"

"""Names of factors for people: no address is left, and a campaign's own name is kept."""

from __future__ import annotations

import pytest

from sweep.words.factors import factor_name


@pytest.mark.parametrize(
    ("label", "name"),
    [
        ("struts.height", "strut height"),
        ("foils.*.area", "foil area"),
        ("foils.aft.area", "aft foil area"),
        ("foils.front-port.flap.chord_share", "front port foil flap chord share"),
        ("rangefinders.latency", "rangefinder latency"),
        ("control.height.proportional", "height gain"),
        ("control.pitch.derivative", "pitch rate gain"),
        ("control.law", "control law"),
        ("body.mass", "body mass"),
        ("propulsor.propeller.pitch_ratio", "propeller pitch ratio"),
        ("propulsor.diameter", "propulsor diameter"),
        ("foil-pair", "foil pair"),
    ],
)
def test_an_address_becomes_words(label: str, name: str) -> None:
    assert factor_name(label) == name

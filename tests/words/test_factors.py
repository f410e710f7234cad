"""Names of factors for people: no address is left, and a campaign's own name is kept."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from sweep.campaign.addresses import leaves
from sweep.words.factors import factor_name, is_address, level_name


@pytest.mark.parametrize(
    ("label", "name"),
    [
        ("struts.height", "strut height"),
        ("foils.*.area", "area of each foil"),
        ("foils.*.aspect_ratio", "foil aspect ratio"),
        ("foils.aft.area", "aft foil area"),
        ("foils.front-port.flap.chord_share", "front port foil flap chord share"),
        ("rangefinders.latency", "rangefinder latency"),
        ("control.height.proportional", "height gain"),
        ("control.pitch.derivative", "pitch rate gain"),
        ("control.law", "control law"),
        ("control.cascade.pitch.angle.proportional", "cascade pitch angle gain"),
        ("control.cascade.roll.rate.derivative", "cascade roll rate derivative gain"),
        ("body.mass", "body mass"),
        ("propulsor.propeller.pitch_ratio", "propeller pitch ratio"),
        ("propulsor.diameter", "propulsor diameter"),
        ("struts.ventilation.angle", "strut ventilation angle"),
        ("rangefinders.each.sonar.x", "sonar rangefinder distance forward"),
        ("steering.rudders.*.price", "price of each rudder"),
        ("control.preview", "share of water ahead answered"),
        ("foil-pair", "foil pair"),
        ("v1.2 of the foil", "v1.2 of the foil"),
    ],
)
def test_an_address_becomes_words(label: str, name: str) -> None:
    assert factor_name(label) == name


CRAFTS = sorted((Path(__file__).parent.parent.parent / "configs" / "craft").glob("*.yaml"))


@pytest.mark.parametrize("craft", CRAFTS, ids=lambda path: path.stem)
def test_every_address_of_a_craft_has_words_of_its_own(craft: Path) -> None:
    """Two that a reader could not tell apart would have him build the wrong one."""
    description: Any = YAML(typ="safe", pure=True).load(craft.read_text(encoding="utf-8"))
    names = {address: factor_name(address) for address in leaves(description)}
    assert len(names) > 80
    assert len(set(names.values())) == len(names)
    assert not [name for name in names.values() if any(sign in name for sign in "._*-")]


def test_what_is_an_address() -> None:
    assert is_address("foils.*.area")
    assert is_address("foils.front-port.flap")
    assert not any(map(is_address, ("foil area", "foil-area", "v1.2 of the foil", "Foils.x", "mass")))


def test_levels_in_words() -> None:
    assert level_name("level-and-height") == "level and height"
    assert level_name("naca-63-412") == "naca-63-412"

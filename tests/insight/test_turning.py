"""The cause rules on starts and turns: a few planted flights, and made-up records."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.insight.causes import UNCLEAR, name_cause
from tests.insight.plants import BOATS, craft_of_boat
from tests.insight.test_causes import TIME, record
from tests.insight.turn_plants import named_along, turn_plants

CHOSEN = {
    "a tall load, a weak roll loop": 0,
    "all the bank of a hasty turn": 0,
    "a hasty turn, a weak height loop": 0,
    "the drive fails as it turns": 1,
}
"""Kind -> which strength, in block 5, along the first turn."""


@pytest.mark.parametrize("kind", CHOSEN)
def test_planted_causes_of_a_turn_are_named(kind: str) -> None:
    along = [each for each in turn_plants("courier") if each.plant.kind == kind][CHOSEN[kind]]
    found = named_along("courier", along, 5)
    assert found is not None
    assert found[0] == along.plant.cause, found[1]


TURN = np.clip(TIME - 4.0, 0.0, 1.0)
"""A wanted heading that changes from 4 to 5 s, rad; the event is at 5.9 s."""
CRAFT = craft_of_boat("courier")
RIDE = CRAFT.control.ride_height


def named(**changes: object) -> tuple[str, str]:
    """What the rules say of a made-up record, 5.9 s into it."""
    return name_cause(record(**changes), 5.9, CRAFT, BOATS["courier"].speed)


def late(value: float, before: float) -> np.ndarray:
    """From 5 s on."""
    return np.where(TIME > 5.0, value, before)


@pytest.mark.parametrize(
    ("changes", "cause", "said"),
    [
        ({}, "in a turn", "the turn of 4.0 to 5.0 s had begun 1.9 s before"),
        ({"roll": late(-0.3, 0.0), "submergence": late(0.02, 0.1)}, "rolled out of a turn", "17 deg out of the turn of 4.0"),
        ({"roll": late(0.3, 0.0), "submergence": late(0.02, 0.1)}, "banked too far into a turn", "lifts the outer tip"),
        ({"speed": late(3.2, 4.0)}, "speed lost in a turn", "the speed fell from 4.0 to 3.2 m/s"),
        (
            {"keel_height": late(0.6, 1.0) * RIDE, "ride_height": late(0.6, 1.0) * RIDE},
            "sank in a turn",
            "cm lower than before",
        ),
        (
            {"keel_height": late(1.4, 1.0) * RIDE, "ride_height": late(1.4, 1.0) * RIDE},
            "rose in a turn",
            "cm higher than before",
        ),
        ({"ride_height": late(0.6, 1.0) * RIDE}, "in a turn", "nothing else stands out"),
    ],
    ids=["nothing", "out", "into", "slow", "sank", "rose", "a wave"],
)
def test_each_rule_of_turns_reads_what_it_says(changes: dict[str, np.ndarray], cause: str, said: str) -> None:
    """To starboard, and with the roll the other way to port."""
    for side in (1.0, -1.0):
        mirrored = changes | ({"roll": side * changes["roll"]} if "roll" in changes else {})
        found = named(wanted_heading=side * TURN, **mirrored)
        assert found[0] == cause, found[1]
        assert said in found[1]


def test_a_turn_that_is_over_for_long_is_no_cause() -> None:
    assert named(wanted_heading=np.clip(TIME - 2.0, 0.0, 1.0))[0] == UNCLEAR


@pytest.mark.parametrize(("light", "said"), [(4.2, "0.7 s before, and made"), (3.0, "1.9 s before, and made")])
def test_a_start_is_told_and_what_was_before_it_is_not_looked_at(light: float, said: str) -> None:
    """Afloat to 3 s; foilborne one second after it is light: the reading that stood still afloat is no drop-out."""
    afloat = np.less(TIME, 3.0)
    seen = np.where(afloat, 0.0, RIDE + 0.003 * np.sin(90.0 * TIME))
    found = named(hull_load=np.where(np.less(TIME, light), 1.0, 0.0), stopped=afloat.astype(float), sensed_height=seen)
    assert found[0] == "start"
    assert said in found[1]

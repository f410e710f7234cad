"""How far gains may shrink and grow: against the craft itself with so many times its gains, and against flights."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.shares import TOGETHER, TRIED, Scaled, gain_groups, share_spans
from sweep.linear.table import stability_table
from sweep.linear.ticks import eigenvalues
from sweep.model.history import RECORDED
from sweep.model.pack.fleet import build_fleets
from tests.linear.crafts import courier, shipped
from tests.linear.test_ticks import MOTION, released
from tests.model.crafts import WATER, changed

LOOPS = {"height": ("proportional", "integral", "derivative"), "pitch": ("proportional", "integral", "derivative")}
LOOPS |= {"roll": ("proportional", "integral", "derivative"), "heading": ("proportional", "derivative")}


def linear(craft: object, speed: float) -> LinearCraft:
    ((_, fleet),) = build_fleets([craft], WATER, speed)
    (found,) = linearise(fleet)
    assert found is not None
    return found


def with_gains(craft: object, share: float, *loops: str) -> object:
    values = {}
    for loop in loops:
        for part in LOOPS[loop]:
            values[f"control.{loop}.{part}"] = share * getattr(getattr(craft.control, loop), part)
    return changed(craft, values)


@pytest.mark.parametrize(("name", "speed"), [("courier", 4.0), ("classroom", 3.0), ("surveyor", 6.0)])
@pytest.mark.parametrize("share", [0.4, 1.3])
def test_a_share_of_a_loop_is_a_craft_with_such_gains(name: str, speed: float, share: float) -> None:
    """Every group of gains, scaled in the matrix and in the craft file, has the same slowest mode."""
    craft = shipped(name)
    whole = linear(craft, speed)
    for group, rows in gain_groups(whole).items():
        loops = LOOPS if group == TOGETHER else [group]
        known = eigenvalues(linear(with_gains(craft, share, *loops), speed))[0].real
        found = Scaled(whole, rows).growth(np.array([share]))[0]
        assert found == pytest.approx(known, abs=2e-3), group


def test_ends_part_what_fades_from_what_grows() -> None:
    whole = linear(courier(), 4.0)
    for group, span in share_spans(whole).items():
        assert span is not None
        loop = Scaled(whole, gain_groups(whole)[group])
        low, high = span
        assert low == TRIED[0] or (loop.stable(1.01 * low) and not loop.stable(0.95 * low)), group
        assert high == TRIED[-1] or (loop.stable(0.99 * high) and not loop.stable(1.05 * high)), group


def test_half_of_every_gain_of_the_classroom_craft_is_none() -> None:
    """At 3 m/s, its campaign's speed: the least share lies between a half and the whole, and flights agree on both sides."""
    craft = shipped("classroom")
    low, high = stability_table(craft, WATER, [3.0])[0].shares[TOGETHER]
    assert 0.6 < low < 0.95
    assert high > 1.2
    push = np.zeros(10)
    push[MOTION.index("phi")] = 0.002
    for share, grows in ((0.85 * low, True), (1.1 * low, False)):
        step, flown = released(with_gains(craft, share, *LOOPS), 3.0, push, 8.0)
        roll = np.abs(flown[:, RECORDED.index("roll")])
        assert (roll[round(6.0 / step) :].max() > roll[: round(2.0 / step)].max()) == grows, share


def test_a_law_that_holds_nothing_has_no_span() -> None:
    """The courier with each foil on its own and one rangefinder at its bow: no share of anything steadies it."""
    assert set(share_spans(linear(courier("each-foil"), 4.0)).values()) == {None}

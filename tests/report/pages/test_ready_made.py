"""The numbers for controllers that are bought: who knows nothing but the card sets the loops of the flights."""

from __future__ import annotations

import math
import re
from itertools import pairwise

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.report.pages.ready_made import ReadyMade, ready_made
from tests.model.crafts import CASCADED, WATER, changed, courier
from tests.model.test_cascade import commanded, craft_of, turning
from tests.own.laws import with_code
from tests.second.cascade import Tick, commands

FIGURE = re.compile(r"-?[0-9]+(?:\.[0-9]+)?(?:e-?[0-9]+)?")


def card(craft: Craft) -> ReadyMade:
    """The section of a craft that flies."""
    found = ready_made(craft, WATER, [3.0, 4.0])
    assert found is not None
    return found


def figure(rows: list[tuple[str, ...]], name: str, column: int = 1) -> float:
    """The number in the cell of a row."""
    (row,) = (row for row in rows if row[0] == name)
    return float(FIGURE.findall(row[column])[0])


def set_by(told: ReadyMade, axis: str) -> tuple[dict[str, float], dict[str, float]]:
    """Both loops of a cascaded controller that works in degrees, as somebody sets them who reads the card; here in rad."""

    def of(loop: str, what: str) -> float:
        return figure(told.gains, f"{axis} {loop} loop, {what}")

    angle = {
        "proportional": of("angle", "proportional"),
        "limit": math.radians(of("angle", "largest rate asked")),
        "filter": of("angle", "low-pass on the angle wanted"),
    }
    rate = {name: of("rate", name) for name in ("proportional", "integral", "derivative")}
    rate |= {"limit": math.radians(of("rate", "largest command and integral")), "filter": of("rate", "low-pass on the gyro")}
    return angle, rate


def test_a_cascaded_controller_set_by_the_card_commands_what_was_flown() -> None:
    """To the three digits of the card, through a turn in waves."""
    craft = craft_of(control__bank_share=1.0)
    told, ticks = card(craft), turning(craft)
    found = commanded(craft, ticks)[:-1, 1]
    given = [
        Tick(tick.commanded.bank, -after.before[at.ROLL_ESTIMATE], tick.given.gyro[0], bool(after.before[at.FLYING]))
        for tick, after in pairwise(ticks)
    ]
    second = np.array([*commands(*set_by(told, "roll"), 1.0 / craft.control.rate, given)])
    assert np.abs(found).max() > 0.01
    assert np.abs(second - found).max() < 0.005 * np.abs(found).max()


def test_shares_and_pulses_are_of_the_travel() -> None:
    """The courier's foils turn 9 deg either way: a command of 0.8 deg a degree is 8.89 % of it a degree, or 44.4 us."""
    gains = card(courier()).gains
    assert figure(gains, "roll, proportional") == pytest.approx(0.8)
    assert figure(gains, "roll, proportional", 2) == pytest.approx(100.0 * 0.8 / 9.0, rel=1e-3)
    assert figure(gains, "roll, proportional", 3) == pytest.approx(500.0 * 0.8 / 9.0, rel=2e-3)
    assert figure(gains, "height, proportional", 3) == pytest.approx(500.0 * 0.4 / 9.0, rel=2e-3)
    assert figure(gains, "heading, proportional", 2) == pytest.approx(100.0 / 10.0)
    assert figure(gains, "the same roll as an angle loop around a rate loop of its derivative") == pytest.approx(16.0)


def test_the_mixer_and_the_stand_of_the_foils_are_the_models() -> None:
    told, craft = card(courier()), courier()
    row = {each[0]: each[1:] for each in told.mixer}
    assert [*row] == [*craft.foils, "throttle"]
    assert told.mixer_headings[3:] == ["at 3 m/s", "at 4 m/s"]
    port, starboard = (float(row[name][2]) for name in ("port", "starboard"))
    assert port == -starboard != 0.0


EVERY = {
    "control.gate": 0.02, "control.median": 3, "control.preview": 0.4, "control.scheduled_at": 4.0, "control.pitch_share": 1.0,
}  # fmt: skip


@pytest.mark.parametrize("law", [{"control.law": "level-and-height"}, {"control.law": "fused-height"}, CASCADED])
def test_every_number_that_changes_the_loop_is_there(law: dict[str, object]) -> None:
    """Each change of a setting changes what the section says."""
    craft = changed(courier(), law | EVERY)
    changes = {
        "control.rate": 50.0, "control.delay": 0.02, "control.ride_height": 0.1, "control.pitch_trim": 0.01,
        "control.height.proportional": 1.0, "control.height.integral": 0.3, "control.height.derivative": 0.1,
        "control.height.limit": 0.08, "control.heading.proportional": 0.5, "control.heading.derivative": 0.1,
        "control.heading.limit": 0.1, "control.speed.proportional": 0.2, "control.speed.integral": 0.2,
        "control.scheduled_at": 3.0, "control.median": 4, "control.gate": 0.03, "control.turn_rate": 1.0,
        "control.bank_share": 0.5, "control.preview": 0.6, "control.throttle_share": 0.1, "control.pitch_share": 1.5,
        "inertial.levelling_time": 3.0, "rangefinders.x": 0.3, "rangefinders.latency": 0.09, "servos.travel": 0.2,
        "steering.servo.travel": 0.2,
    }  # fmt: skip
    changes |= {"control.corner": 3.0} if craft.control.traits.fuses else {"control.height.smoothing": 0.05}
    axes = [f"control.cascade.{axis}" for axis in ("pitch", "roll")] if craft.control.traits.cascades else []
    for axis in axes or ["control.pitch", "control.roll"]:
        keys = ("rate.proportional", "rate.integral", "rate.derivative", "rate.limit", "rate.filter", "angle.proportional",
                "angle.limit", "angle.filter") if axes else ("proportional", "integral", "derivative", "limit")  # fmt: skip
        changes |= {f"{axis}.{key}": 0.09 for key in keys}
    said = card(craft)
    assert [address for address, value in changes.items() if card(changed(craft, {address: value})) == said] == []


def test_code_of_the_builders_own_has_none() -> None:
    assert ready_made(with_code(courier(), ""), WATER, [4.0]) is None
    assert ready_made(courier(), WATER, [0.5]) is None

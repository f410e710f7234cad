"""The cascaded law: beside the second model, beside the law that it is without filters and limits, and in closed loop."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from sweep.campaign.craft import Cascade, Craft
from sweep.campaign.text.problems import CampaignError
from sweep.export.flown import FlownTick, fly_ticks, without_quanta
from sweep.model import layout as at
from sweep.model.onboard.faults import COLUMNS, TURN
from tests.model.crafts import CASCADED, block_of, changed, courier, fleet_of, jonswap
from tests.second.cascade import Tick, commands

BLOCK = block_of(jonswap(math.pi, 0.03), 4.0, 1.0)
TIGHT = {
    "control.cascade.pitch.angle.limit": 0.08, "control.cascade.roll.angle.limit": 0.1,
    "control.cascade.pitch.rate.limit": 0.01, "control.cascade.roll.rate.limit": 0.012,
}  # fmt: skip
"""Limits that are reached."""


def craft_of(**values: Any) -> Craft:
    """The courier under cascaded loops."""
    return changed(changed(courier(), CASCADED), {address.replace("__", "."): value for address, value in values.items()})


def turning(craft: Craft) -> list[FlownTick]:
    """The ticks of a flight that turns and banks."""
    faults = np.zeros((1, COLUMNS))
    faults[0, :5] = [TURN, -1.0, 1.5, math.inf, 0.6]
    fleet = without_quanta(fleet_of(craft))
    assert fleet.feasible.all()
    return list(fly_ticks(fleet, BLOCK._replace(faults=faults)))


def commanded(craft: Craft, ticks: list[FlownTick]) -> np.ndarray:
    """Pitch and roll commands that the foils' angles had in them, (ticks, 2), by the mixer and the trim (M15.13)."""
    row = fleet_of(craft).parameters[0]
    mix = np.array([row[at.FOIL.mix.slots(i * at.FOIL.width)] for i in range(len(craft.foils))])
    found = np.linalg.lstsq(mix, np.array([tick.commanded.foils for tick in ticks]).T, rcond=None)[0].T
    return np.asarray(found[:, 1:] - [row[at.TRIM.pitch], 0.0])


@pytest.mark.parametrize("limits", [{}, TIGHT], ids=["free", "at its limits"])
def test_the_commands_are_those_of_the_second_model(limits: dict[str, float]) -> None:
    craft = changed(craft_of(control__pitch_share=1.5, control__bank_share=1.0, servos__travel=0.6), limits)
    control, ticks = craft.control, turning(craft)
    after = [tick.before for tick in ticks[1:]]
    given = {
        "pitch": [
            Tick(
                min(max(control.pitch_share * (control.ride_height - slots[at.HEIGHT_ESTIMATE]), -0.09), 0.09),
                control.pitch_trim - slots[at.PITCH_ESTIMATE],
                tick.given.gyro[1],
                bool(slots[at.FLYING]),
            )
            for tick, slots in zip(ticks, after, strict=False)
        ],
        "roll": [
            Tick(tick.commanded.bank, -slots[at.ROLL_ESTIMATE], tick.given.gyro[0], bool(slots[at.FLYING]))
            for tick, slots in zip(ticks, after, strict=False)
        ],
    }
    assert control.cascade is not None
    axes = {"pitch": control.cascade.pitch, "roll": control.cascade.roll}
    second = [
        [*commands(axis.angle.model_dump(), axis.rate.model_dump(), 1.0 / control.rate, given[name])]
        for name, axis in axes.items()
    ]
    found = commanded(craft, ticks)[:-1]
    assert np.abs(found - np.array(second).T).max() < 3e-7
    largest = np.abs(found).max(axis=0)
    wanted = [TIGHT[f"control.cascade.{name}.rate.limit"] for name in axes] if limits else [0.003, 0.01]
    assert (largest == pytest.approx(wanted)) if limits else (largest > wanted).all()


def test_without_filters_limits_and_integrals_it_is_the_law_of_one_loop() -> None:
    """K_p (K_a e - w) is K e - K' w: with K = K_a K_p and K' = K_p the law `fused-height` commands the same."""
    outer, inner = {"pitch": 9.0, "roll": 7.0}, {"pitch": 0.07, "roll": 0.06}
    plain = {f"control.{axis}.proportional": outer[axis] * inner[axis] for axis in outer}
    plain |= {f"control.{axis}.derivative": inner[axis] for axis in inner} | {"control.law": "fused-height"}
    axes = {axis: {"angle": {"proportional": outer[axis], "limit": 50.0, "filter": 1000.0},
                   "rate": {"proportional": inner[axis], "filter": 1000.0}} for axis in outer}  # fmt: skip
    cascade = Cascade.model_validate(axes, context={"si": True})
    one, other = (changed(courier(), values) for values in (plain, CASCADED | {"control.cascade": cascade}))
    fleets = [without_quanta(fleet_of(craft)) for craft in (one, other)]
    for axis in (at.PITCH_CASCADE, at.ROLL_CASCADE):
        fleets[1].parameters[:, [axis.angle_lag, axis.lag]] = 0.0
    first, second = (np.array([tick.commanded.foils for tick in fly_ticks(fleet, BLOCK)]) for fleet in fleets)
    assert np.ptp(first, axis=0).max() > 0.01
    assert np.abs(first - second).max() < 1e-9


def test_a_filter_leaves_of_its_corner_what_the_textbook_says() -> None:
    """By the corner of a first-order low-pass: 1 / sqrt(2), ticks being many to a period."""
    rate, period = {"proportional": 1.0, "integral": 0.0, "derivative": 0.0, "limit": 9.0, "filter": 5.0}, 1e-4
    swing = np.sin(2.0 * math.pi * 5.0 * np.arange(20000) * period)
    angle = {"proportional": 0.0, "limit": 1.0, "filter": 10.0}
    answer = np.array([*commands(angle, rate, period, (Tick(0.0, 0.0, each, False) for each in swing))])
    assert np.abs(answer[10000:]).max() == pytest.approx(1.0 / math.sqrt(2.0), rel=2e-3)


def test_a_cascade_needs_its_gains() -> None:
    with pytest.raises((CampaignError, ValueError), match="cascade beside it"):
        changed(courier(), {"control.law": "cascaded"})

"""The margin function on loops whose margins are known, and on the courier's own loops beside python-control's."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, pi
from typing import Any

import control
import numpy as np
import pytest

from sweep.linear.frequency import loop_gains
from sweep.linear.margins import Margins, margins
from sweep.linear.table import loop_margins
from tests.linear.crafts import linear
from tests.references import Table, reference

GRID = np.geomspace(1e-2, 1e2, 400)


def of_loop(gain: float, roots: Sequence[float]) -> Margins:
    """Margins of gain / product of (s + root)."""
    return margins(lambda frequency: gain / np.prod([1j * frequency + root for root in roots], axis=0), GRID)


def rows(table: str) -> tuple[Table, list[dict[str, Any]]]:
    found = reference("loop_margins", table)
    return found, found.rows


def test_textbook_loops() -> None:
    table, loops = rows("margins")
    for row in loops:
        found = of_loop(row["gain"], row["denominator roots"])
        ours = [
            found.gain,
            found.gain_frequency,
            np.degrees(found.phase),
            found.phase_frequency,
            found.delay,
            found.sensitivity,
        ]
        names = ["gain margin", "gain frequency", "phase margin", "phase frequency", "delay margin", "sensitivity"]
        assert ours == pytest.approx([row[name] for name in names], rel=table.tolerance), row["loop"]
        assert found.least_gain == 0.0


def test_a_loop_with_too_much_gain_says_how_little_it_could_bear() -> None:
    table, ((row),) = rows("unstable")
    found = of_loop(row["gain"], row["denominator roots"])
    assert (found.gain, found.least_gain) == (inf, pytest.approx(row["gain margin"], rel=table.tolerance))
    assert np.degrees(found.phase) == pytest.approx(row["phase margin"], rel=table.tolerance)
    assert found.phase_frequency == pytest.approx(row["phase frequency"], rel=table.tolerance)


def test_a_second_order_loop_bears_any_gain() -> None:
    table, ((row),) = rows("no_gain_margin")
    found = of_loop(row["gain"], row["denominator roots"])
    assert (found.gain, found.least_gain) == (inf, 0.0)
    ours = [np.degrees(found.phase), found.phase_frequency, found.delay, found.sensitivity]
    names = ["phase margin", "phase frequency", "delay margin", "sensitivity"]
    assert ours == pytest.approx([row[name] for name in names], rel=table.tolerance)


def test_ultimate_gain_and_period() -> None:
    table, loops = rows("ultimate")
    for row in loops:
        found = of_loop(row["gain"], row["denominator roots"])
        assert found.gain == pytest.approx(row["ultimate gain"], rel=table.tolerance)
        assert 2 * pi / found.gain_frequency == pytest.approx(row["ultimate period"], rel=table.tolerance)


def test_phase_margin_follows_damping() -> None:
    table, loops = rows("second_order")
    for row in loops:
        found = of_loop(1.0, [0.0, 2.0 * row["damping"]])
        assert np.degrees(found.phase) == pytest.approx(row["phase margin"], rel=table.tolerance)


@pytest.mark.parametrize("law", ["level-and-height", "fused-height"])
def test_the_couriers_loops_as_python_control_has_them(law: str) -> None:
    """python-control interpolates a response given as numbers: hence 1 %."""
    craft = linear(law, 4.0)
    grid = np.geomspace(0.05, 0.95 * pi / craft.period, 3000)
    gains = loop_gains(craft, grid)
    for index, (name, ours) in enumerate(loop_margins(craft).items()):
        response = control.FrequencyResponseData(gains[:, index], grid, smooth=True)
        gain, phase, _, gain_frequency, phase_frequency, _ = control.stability_margins(response)
        assert [ours.gain, ours.gain_frequency] == pytest.approx([gain, gain_frequency], rel=0.01), name
        assert [np.degrees(ours.phase), ours.phase_frequency] == pytest.approx([phase, phase_frequency], rel=0.01), name

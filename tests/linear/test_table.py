"""The table of stability over speed: what it says of the shipped craft, beside flights and its own parts."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.linear.margins import Margins
from sweep.linear.table import damping, stability_table, stable_spans
from sweep.model.history import RECORDED
from tests.linear.crafts import courier, shipped
from tests.linear.test_ticks import MOTION, released
from tests.model.crafts import WATER


def test_a_speed_without_a_trim_is_a_row_that_says_so() -> None:
    slow, cruise = stability_table(courier(), WATER, [1.0, 4.0])
    assert (slow.trims, slow.stable, slow.margins, slow.eigenvalues.size) == (False, False, {}, 0)
    assert (cruise.trims, cruise.stable) == (True, True)
    assert set(cruise.margins) == {"height", "pitch", "roll", "heading"}


def test_a_row_holds_together() -> None:
    """Slowest and least damped are of the eigenvalues; stable or not is in their signs and in the margins."""
    for row in stability_table(courier("fused-height"), WATER, [3.0, 5.0, 7.0]):
        assert row.slowest.rate.real == row.eigenvalues.real.max()
        swings = [mode for mode in row.eigenvalues if 0.0 < mode.imag < 157.0]
        assert damping(row.least_damped.rate) == min(damping(mode) for mode in swings)
        assert row.stable == (row.eigenvalues.real.max() < 0.0)
        assert all(margins.gain > 1.0 and margins.delay > 0.0 and margins.sensitivity > 1.0 for margins in row.margins.values())


def test_the_couriers_pitch_loop_runs_out_of_margin_with_speed() -> None:
    """By reason: with fixed gains the foils' force grows with the square of the speed."""
    rows = stability_table(courier(), WATER, [3.0, 4.0, 5.0, 6.0, 7.0])
    gains = np.array([row.margins["pitch"].gain for row in rows])
    assert np.all(np.diff(gains) < 0.0)
    assert gains[-1] == pytest.approx(1.07, abs=0.1)
    assert isinstance(rows[0].margins["pitch"], Margins)


def test_the_speed_limit_of_flights() -> None:
    """A push of 0.2 deg in calm water fades in 12 s under the linear limit and grows over it, 0.15 m/s either side."""
    craft = shipped("courier")
    ((_, limit),) = stable_spans(craft, WATER, [4.0, 6.0, 7.0, 8.0])
    push = np.zeros(10)
    push[MOTION.index("theta")] = 0.0035
    for speed, grows in ((limit - 0.15, False), (limit + 0.15, True)):
        step, flown = released(craft, speed, push, 12.0)
        pitch = np.abs(np.diff(flown[:, RECORDED.index("pitch")], 2))
        early, late = pitch[round(1.0 / step) : round(2.0 / step)].max(), pitch[round(10.0 / step) :].max()
        assert (late > early) == grows, speed


def test_the_lowest_stable_speed_of_flights() -> None:
    """The same at the other end: without an inertial unit a push grows under it, and fades over it."""
    craft = shipped("classroom")
    ((low, _),) = stable_spans(craft, WATER, [2.0, 2.5, 3.0, 3.5])
    push = np.zeros(10)
    push[MOTION.index("phi")] = 0.002
    for speed, grows in ((low - 0.15, True), (low + 0.15, False)):
        step, flown = released(craft, speed, push, 8.0)
        roll = np.abs(flown[:, RECORDED.index("roll")])
        early, late = roll[: round(2.0 / step)].max(), roll[round(6.0 / step) :].max()
        assert (late > early) == grows, speed


def test_spans_that_are_whole_or_not_there() -> None:
    assert stable_spans(courier(), WATER, [3.0, 4.0, 5.0]) == ((3.0, 5.0),)
    assert stable_spans(courier(), WATER, [8.0, 8.1]) == ()
    assert stable_spans(courier(), WATER, [0.5, 1.0]) == ()


def test_two_spans_with_a_gap() -> None:
    """Told growths: stable, growing, stable. Each end lies within the neighbours that differ."""
    told = {3.0: -0.1, 4.0: -0.1, 8.0: 0.1, 8.05: -0.1, 8.08: -0.1}
    first, second = stable_spans(courier(), WATER, sorted(told), told)
    assert first == (3.0, pytest.approx(7.5, abs=0.1))
    assert second == (pytest.approx(8.025), 8.08)


def test_gains_that_follow_the_dynamic_pressure_do_not_run_out() -> None:
    """Scheduled at 4 m/s the courier is stable at 7.75 m/s, where it is not with fixed gains."""
    fixed, scheduled = (stability_table(craft, WATER, [7.75])[0] for craft in (courier(), courier(control__scheduled_at=4.0)))
    assert (fixed.stable, scheduled.stable) == (False, True)


def test_other_laws_and_other_layouts() -> None:
    """One foil ahead and two rangefinders; each foil on its own: loops by name, stable where they were drawn to fly."""
    (surveyor,) = stability_table(shipped("surveyor"), WATER, [6.0])
    (classroom,) = stability_table(shipped("classroom"), WATER, [4.0])
    assert surveyor.stable
    assert classroom.stable
    assert list(classroom.margins) == ["foil 1", "foil 2", "foil 3", "heading"]
    assert classroom.margins["foil 1"].gain == pytest.approx(classroom.margins["foil 2"].gain)

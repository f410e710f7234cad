"""What to fly next, and what times adrift tell."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest

from sweep.logs.read.channels import Series
from sweep.logs.read.mapping import load_mapping
from sweep.logs.read.runs import Run
from sweep.logs.report.sentences import plan_lines
from sweep.logs.sea.judge import judge, pooled_sea
from sweep.logs.sea.passes import ADRIFT, ENCOUNTERS, plan_passes
from tests.logs.made import GRAVITY, write_day
from tests.logs.test_sea import theirs
from tests.model.crafts import courier


def test_passes_go_out_and_back_with_each_in_turn() -> None:
    plan = plan_passes("soft", "firm", 4.0, 1.1, 5.0)
    order = [step.split(":")[0] for step in plan.steps if "straight" in step]
    assert order == ["soft", "firm", "firm", "soft"]
    assert "adrift" in plan.steps[0]
    assert "adrift" in plan.steps[-1]
    assert not plan.hidden
    assert plan.pass_length >= 45.0
    assert plan.minutes == pytest.approx((2 * ADRIFT + 4 * (2 * plan.pass_length + 40.0)) / 60.0)
    assert "Local rules" in plan_lines(plan)[-1]


def test_long_waves_take_long_passes_and_hide_from_astern() -> None:
    """2.5 s at 4 m/s over 5 m: met every 1.2 s from ahead, 50 of them in a minute; from astern they keep up."""
    plan = plan_passes("soft", "firm", 4.0, 2.5, 20.0)
    omega = 2 * pi / 2.5
    met = (omega + omega**2 * 4.0 / 9.81) / (2 * pi)
    assert plan.pass_length == pytest.approx(ENCOUNTERS / met, rel=0.02)
    assert plan.hidden


def test_two_minutes_adrift_tell_the_sea(tmp_path: Path) -> None:
    """A craft that lies on the water rises with it: its rangefinder sees next to nothing, its accelerometer all."""
    omega, density, hs, tp = theirs(0.06, 1.4, count=1500)
    random = np.random.default_rng(4)
    amplitude = np.sqrt(density * np.gradient(omega) * random.exponential(2.0, len(omega)))
    phase = random.uniform(0.0, 2 * pi, len(omega))
    tick = np.arange(0.0, 130.0, 0.01)
    rising = sum(-a * w**2 * np.cos(w * tick + p) for a, w, p in zip(amplitude, omega, phase, strict=True))
    ping = np.arange(0.0, 129.9, 0.05)
    record = {
        "range": Series(ping + courier().rangefinders.latency, 0.05 + 0.003 * random.standard_normal(len(ping))),
        "pitch": Series(tick, np.zeros_like(tick)),
        "force_z": Series(tick, -GRAVITY - rising + 0.1 * random.standard_normal(len(tick))),
    }
    run = Run("adrift", "pass.csv", "as it is", 0.0, 130.0, 0.1, None, 0.0, record)
    found = judge(run, load_mapping(write_day(tmp_path)))
    assert found.measures == {}
    sea = pooled_sea([found])
    assert sea is not None
    assert sea.verdict == "measured"
    assert sea.height.low <= hs <= sea.height.high
    assert sea.period.value == pytest.approx(tp, rel=0.1)

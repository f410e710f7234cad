"""Losses of readings in bursts: against the closed forms of a chain of two states, and the second model's chain."""

from __future__ import annotations

from math import radians, sin, sqrt
from typing import Any

import numpy as np
import pytest

from sweep.model import layout as at
from sweep.model.flight import fly
from sweep.model.onboard.sensors import loses
from tests.model.crafts import Bench, calm, changed, courier, fleet_of, response
from tests.second import sensors as second

RATE = 50.0


def chain(
    values: dict[str, Any], count: int = 0, draws: np.ndarray | None = None, true: float = 0.1, tilt: float = 0.0
) -> np.ndarray:
    """Which of some readings are lost, of a rangefinder at a height and tilt that stay."""
    bench = Bench(changed(courier(), {"rangefinders.rate": RATE} | values))
    bench.put(at.RANGE_TURN, 0.0)
    bench.put(at.RANGE_DOWN, float(np.cos(tilt)))
    uniforms = np.random.default_rng(5).random(count) if draws is None else draws
    return np.array([loses(bench.flat, 0, true, draw) for draw in uniforms])


def runs(lost: np.ndarray) -> np.ndarray:
    """Lengths of the losses that begin and end within."""
    edges = np.flatnonzero(np.diff(lost.astype(int)))
    starts, ends = edges[np.diff(lost.astype(int))[edges] > 0], edges[np.diff(lost.astype(int))[edges] < 0]
    ends = ends[ends > starts[0]]
    return ends - starts[: len(ends)]


@pytest.mark.parametrize(("share", "burst"), [(0.05, 0.2), (0.2, 0.5), (0.5, 0.1)])
def test_share_length_and_memory_are_those_of_the_closed_forms(share: float, burst: float) -> None:
    """Gilbert 1960, Elliott 1963: the share is p / (p + r), runs have the mean 1 / r, the correlation is (1 - p - r)^lag.

    p: probability of the first loss, r: of its end. Bounds: four standard deviations, of shares with the chain's own memory.
    """
    lost = chain({"rangefinders.dropout": share, "rangefinders.burst": burst}, 120_000)
    length = burst * RATE
    ends, begins = 1.0 / length, share / (length * (1.0 - share))
    memory = 1.0 - ends - begins
    spread = sqrt(share * (1.0 - share) / len(lost) * (1.0 + memory) / (1.0 - memory))
    assert abs(lost.mean() - share) < 4.0 * spread
    told = runs(lost)
    assert abs(told.mean() - length) < 4.0 * sqrt(length * (length - 1.0) / len(told))
    assert np.mean(told > length) == pytest.approx((1.0 - ends) ** np.floor(length), abs=4.0 * 0.5 / sqrt(len(told)))
    off = lost - lost.mean()
    for lag in (1, 3):
        assert np.mean(off[lag:] * off[:-lag]) / np.var(lost) == pytest.approx(memory**lag, abs=0.05)


def test_without_bursts_each_is_lost_by_itself() -> None:
    draws = np.random.default_rng(6).random(5000)
    assert (chain({"rangefinders.dropout": 0.3}, draws=draws) == (draws < 0.3)).all()


@pytest.mark.parametrize("tilt", [0.0, 0.3, 0.6])
@pytest.mark.parametrize("true", [0.0, 0.02, 0.3])
def test_tilt_and_spray_lose_more(tilt: float, true: float) -> None:
    """Both by themselves: the shares that are not lost multiply."""
    lost = chain(
        {"rangefinders.dropout": 0.1, "rangefinders.tilt_loss": 0.4, "rangefinders.spray_loss": 0.6},
        20_000,
        true=true,
        tilt=tilt,
    )
    near = max(1.0 - true * np.cos(tilt) / 0.05, 0.0)
    kept = 0.9 * (1.0 - 0.4 * min((sin(tilt) / sin(0.52)) ** 2, 1.0)) * (1.0 - 0.6 * near)
    assert abs(lost.mean() - (1.0 - kept)) < 4.0 * sqrt(kept * (1.0 - kept) / len(lost)) + 1e-9


def test_the_second_model_loses_the_same_readings() -> None:
    draw = np.random.default_rng(8)
    for _ in range(6):
        values = {
            "dropout": draw.uniform(0.0, 0.5), "burst": draw.choice([0.0, 0.05, 0.4]), "tilt_loss": draw.uniform(0.0, 0.5),
            "spray_loss": draw.uniform(0.0, 0.5), "spray_height": draw.uniform(0.02, 0.2),
        }  # fmt: skip
        draws, true, tilt = draw.random(400), draw.uniform(0.0, 0.2), draw.uniform(0.0, 0.5)
        own = {f"rangefinders.{name}": value for name, value in values.items()}
        wanted = second.lost(values | {"tilt_limit": 0.52}, RATE, draws, true * np.cos(tilt), tilt)
        assert (chain(own, draws=draws, true=true, tilt=tilt) == wanted).all()


def test_flown_a_share_is_lost_whatever_its_bursts() -> None:
    """Counted over 300 s; the mean over a few flights within four standard deviations of the chain's share."""
    values = {
        "rangefinders.dropout": 0.1,
        "rangefinders.rate": RATE,
        "rangefinders.burst": 0.1,
        "rangefinders.tilt_limit": radians(60.0),
    }
    found = response(fly(fleet_of(changed(courier(), values)), calm(303.0, settle=3.0)), "rangefinder_faults")[0] / RATE
    memory = 1.0 - 1.0 / 5.0 - 0.1 / (5.0 * 0.9)
    assert abs(found - 0.1) < 4.0 * sqrt(0.1 * 0.9 / (300.0 * RATE) * (1.0 + memory) / (1.0 - memory))

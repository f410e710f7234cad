"""What runs cannot tell of bearing and speed is said, with the periods that hang on it; what they can tell is not."""

from __future__ import annotations

from math import pi, radians
from pathlib import Path

import numpy as np
import pytest

from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import judge_day
from sweep.logs.report.sentences import trust_sentences
from sweep.logs.sea.spectrum import Encounter, Noise, encounter_of
from sweep.logs.sea.surface import Surface
from sweep.logs.sea.trust import bearing_on_trust, speed_on_trust
from tests.logs.foreign import Logger, Sea, log_of, sample, waves_met, write_foreign

SEA, SPEED, RATE, LENGTH = (0.05, 1.1), 4.0, 20.0, 240.0
CHANCE = 0.02


def met(seed: int, degrees: float, said: float) -> Encounter:
    """What a run at an angle to the waves met, by the waves of another model, if it is said to go at another."""
    amplitude, phase, frequency, _ = waves_met(Sea(*SEA, seed), SPEED, radians(degrees))
    time = np.arange(0.0, LENGTH, 1.0 / RATE)
    water = sample(((amplitude * np.exp(1j * phase))[:, None], frequency), time)[:, 0]
    surface = Surface(water - water.mean(), np.ones(len(time), dtype=bool), RATE, 0, 0)
    return encounter_of(surface, SPEED, radians(said), 20.0, Noise(1e-4, 1e-4, 100.0), 0.25)


def test_runs_of_one_way_tell_neither() -> None:
    """Into the waves: what another angle or speed would make of them is the same spectrum with another period."""
    runs = [met(1, 180.0, 180.0)]
    bearing, speed = bearing_on_trust(runs, CHANCE), speed_on_trust(runs, CHANCE)
    assert bearing is not None
    assert bearing.high >= radians(45.0)
    assert speed is not None
    assert speed.low < 0.9
    assert speed.high > 1.1


@pytest.mark.parametrize("off", [40.0, -40.0])
def test_the_right_period_is_in_the_range_of_a_bearing_that_is_wrong(off: float) -> None:
    found = bearing_on_trust([met(1, 180.0, 180.0 + off), met(2, 0.0, off)], CHANCE)
    assert found is not None
    assert found.low <= radians(-off) <= found.high
    assert found.shortest <= 1.02 * SEA[1]
    assert found.longest >= 0.98 * SEA[1]


def test_runs_out_back_and_across_tell_the_bearing() -> None:
    """Long runs of four ways: no other bearing explains them within chance."""
    runs = [met(seed, way, way) for seed, way in enumerate((180.0, 0.0, 90.0, 60.0), 1)]
    found = bearing_on_trust(runs, CHANCE)
    assert found is None or max(-found.low, found.high) <= pi / 6.0


def test_the_day_says_what_it_takes_on_trust(tmp_path: Path) -> None:
    day = judge_day(load_mapping(write_foreign(tmp_path, [log_of(Sea(*SEA, 3), SPEED, pi, 45.0, Logger())])))
    bearing, speed, last = trust_sentences(day)
    assert bearing.startswith("The waves' bearing of 0 deg is taken on trust: these runs fit ")
    assert "times the speed logged as well, with a peak period of " in speed
    assert last == "The height hangs on neither."

"""Legs of a recorded flight, and a stop among its events: against a record whose numbers are known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from sweep.insight.events import foilborne
from sweep.insight.legs import COLUMNS, legs_of

STEP = 0.02


def record() -> pd.DataFrame:
    """Two seconds before the course, four at 5 m/s with 60 W, three of a stop at 8 W, one on at 4 m/s with 60 W."""
    time = np.arange(0.0, 10.0, STEP)
    leg = np.digitize(time + 1e-9, [2.0, 6.0, 9.0]).astype(float)
    speed, power = (np.array(values)[leg.astype(int)] for values in ([4.0, 5.0, 0.0, 4.0], [50.0, 60.0, 8.0, 60.0]))
    return pd.DataFrame({"time": time, "leg": leg, "stopped": (leg == 2.0) * 1.0, "speed": speed, "power": power})


def test_every_leg_has_its_own_path_and_energy() -> None:
    legs = legs_of(record(), shortest=0.9)
    assert list(legs) == list(COLUMNS)
    assert legs["leg"].tolist() == [1, 2, 3]
    assert legs["stopped"].tolist() == [False, True, False]
    assert legs["begins"].to_numpy() == pytest.approx([2.0, 6.0, 9.0])
    assert legs["lasts"].to_numpy() == pytest.approx([4.0, 3.0, 1.0])
    assert legs["path"].to_numpy() == pytest.approx([20.0, 0.0, 4.0])
    assert legs["energy"].to_numpy() == pytest.approx([240.0, 24.0, 60.0])
    assert legs["energy_per_metre"].to_numpy() == pytest.approx([12.0, np.nan, 15.0], nan_ok=True)


def test_a_flight_along_no_course_has_no_legs() -> None:
    assert legs_of(record().assign(leg=0.0), shortest=0.9).empty


def test_a_craft_that_is_told_to_lie_afloat_does_not_fly_until_it_has_taken_off_again() -> None:
    """Though its foils carry it for a while yet; a second under the light load after that, it does."""
    time = np.arange(0.0, 8.0, STEP)
    stopped = (time >= 3.0) & (time < 5.0)
    flying = foilborne(time, np.zeros(len(time)), 1.0, stopped)
    assert flying[time < 3.0].all()
    assert not flying[(time >= 3.0) & (time < 5.9)].any()
    assert flying[time >= 6.1].all()

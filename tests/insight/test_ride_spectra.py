"""Spectra of rides whose waves are known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from sweep.insight.ride_spectra import HIGHEST_HZ, ride_spectra


def ride(seconds: float, condition: int = 0) -> pd.DataFrame:
    time = np.arange(0.0, seconds, 0.02)
    surface = 3.0 * np.sin(2.0 * np.pi * 1.0 * time)
    return pd.DataFrame(
        {"condition": condition, "time": time, "surface": surface, "ride_height": 10.0 - 0.5 * surface, "pitch": 0.0 * time}
    )


def test_the_area_under_a_spectrum_is_the_variance() -> None:
    """A sine of amplitude a has the variance a^2 / 2, whatever the window does."""
    table = ride_spectra(ride(60.0), 4.0)
    width = table["frequency"].diff().median()
    assert (table["surface"].sum() * width) == pytest.approx(4.5, rel=0.01)
    assert (table["ride_height"].sum() * width) == pytest.approx(4.5 / 4.0, rel=0.01), "its mean is left out"
    assert table.loc[table["surface"].idxmax(), "frequency"] == pytest.approx(1.0)
    assert table["pitch"].max() == pytest.approx(0.0)
    assert table["frequency"].min() > 0.0
    assert table["frequency"].max() <= HIGHEST_HZ


def test_a_flight_that_ended_early_has_no_spectrum() -> None:
    table = ride_spectra(pd.concat([ride(30.0), ride(9.0, condition=1)]), 4.0)
    assert set(table["condition"]) == {0}
    assert ride_spectra(ride(9.0), 4.0).empty

"""Spectra of a leader's recorded flights: of the surface that it met, of its ride height, and of its pitch."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.signal import welch

SPECTRA = ("surface", "ride_height", "pitch")
SEGMENT_S = 8.0
"""Length of a segment: an eighth of a hertz apart, with half a dozen segments in half a minute (judgement)."""
HIGHEST_HZ = 4.0
"""Highest frequency that is drawn (judgement)."""


def ride_spectra(history: pd.DataFrame, settle: float) -> pd.DataFrame:
    """Variance density over the frequency of encounter, one row a condition and frequency.

    history: condition, time (s, evenly spaced) and those of `SPECTRA` that are known, in shown units; settle: s, left out.
    Welch's method (IEEE Transactions on Audio and Electroacoustics 15, 1967, 70-73) with Hann windows that overlap by half.
    Columns: condition, frequency (Hz), then the densities (unit^2/Hz). A flight shorter than a segment after settling has none.
    """
    names = [name for name in SPECTRA if name in history]
    parts = [pd.DataFrame(columns=["condition", "frequency", *names], dtype=float)]
    for condition, flight in history[history["time"] >= settle].groupby("condition"):
        step = float(np.median(np.diff(flight["time"]))) if len(flight) > 1 else np.inf
        if len(flight) * step < SEGMENT_S:
            continue
        values = flight[names].to_numpy(dtype=np.float64)
        hertz, density = welch(values, fs=1.0 / step, nperseg=round(SEGMENT_S / step), axis=0)
        kept = (hertz > 0.0) & (hertz <= HIGHEST_HZ)
        parts.append(pd.DataFrame(density[kept], columns=names).assign(condition=condition, frequency=hertz[kept]))
    table = pd.concat([part for part in parts if len(part)] or parts, ignore_index=True)
    return table[["condition", "frequency", *names]].astype({"condition": int})

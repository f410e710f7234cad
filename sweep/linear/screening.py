"""Designs that need not be flown at all: their trim or their linear companion rules them out before a race.

Only what is safe is ruled out. A design without a trim at a speed of the campaign cannot be flown there. One whose linear
closed loop grows by `GROWTH` at a speed leaves its trim within a second or two, whatever the water does. A stable design may
still fail in a big sea. The ride that the linear companion forecasts rules nothing out: it orders designs too roughly.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import joblib
import numpy as np
import pandas as pd

from sweep.campaign.designs import crafts_of
from sweep.campaign.draws import water_of
from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.ticks import eigenvalues
from sweep.model.pack.fleet import build_fleets
from sweep.words.numbers import with_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sweep.campaign.campaign import Campaign

GROWTH = 1.0
"""1/s, of the fastest mode. Of 512 designs spread over all that the overnight campaign may choose, 139 grow faster at one of
its speeds. The best of these came at 17 % of the order by score. At 0 /s it would be 194, and the best at 11 %."""

AT_A_TIME = 64
"""Designs that one worker takes at a time (judgement)."""


def screen(campaign: Campaign, designs: pd.DataFrame, workers: int | None = None) -> dict[int, str]:
    """The designs that are ruled out, each with the reason; workers: threads, all processors by default."""
    parts = [designs.iloc[first : first + AT_A_TIME] for first in range(0, len(designs), AT_A_TIME)]
    speeds = sorted(set(campaign.speeds))
    jobs = [(part, speed) for part in parts for speed in speeds]
    parallel = joblib.Parallel(n_jobs=workers or joblib.cpu_count(), backend="threading")
    found = parallel(joblib.delayed(growth)(campaign, part, speed) for part, speed in jobs)
    ruled: dict[int, str] = {}
    for (part, speed), rates in zip(jobs, found, strict=True):
        at = with_unit(speed, "m/s")
        for design, rate in zip(part.index.tolist(), rates.tolist(), strict=True):
            if np.isnan(rate):
                ruled.setdefault(design, f"Could not be flown: no trim at {at}.")
            elif rate > GROWTH:
                ruled.setdefault(design, f"Was not flown: unstable at {at}, growing {rate:.2g} times e a second.")
    return dict(sorted(ruled.items()))


def growth(campaign: Campaign, designs: pd.DataFrame, speed: float) -> NDArray[np.float64]:
    """Rate (1/s) of each design's fastest-growing or slowest-fading mode at a speed (m/s), (designs,); NaN without a trim."""
    crafts = list(crafts_of(campaign, designs))
    rates = np.full(len(crafts), np.nan)
    for places, fleet in build_fleets(crafts, water_of(campaign), speed):
        unknown = np.where(fleet.feasible, -np.inf, np.nan)  # of code of the builder's own, which rules nothing out
        rates[places] = [_fastest(linear) for linear in linearise(fleet)] if fleet.structure.own is None else unknown
    return rates


def _fastest(linear: LinearCraft | None) -> float:
    return np.nan if linear is None else float(eigenvalues(linear)[0].real)

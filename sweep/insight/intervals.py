"""Intervals for a mean over conditions, from few replicates in each.

Conditions are strata, replicates are drawn within them, and the variances of the strata differ: the standard error adds
them up and its degrees of freedom follow Satterthwaite (Biometrics Bulletin 2, 1946, 110-114).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import scipy
from numpy.typing import NDArray

Array = NDArray[np.float64]

CONFIDENCE = 0.95
"""Of every interval, bound and verdict (common practice, no source)."""
TAIL = (1.0 - CONFIDENCE) / 2.0
"""Chance that is left outside at each end of an interval."""
CONFIDENCE_SAID = f"{100.0 * CONFIDENCE:g} %"
SHARED_FROM = 10
"""Fewest designs whose spreads can inform each other (judgement)."""
CURVED_FROM = 60
"""Fewest designs that tell how a trend bends, not only that it rises (judgement: a bend that few designs show at two replicates
takes their chance for a rule)."""


class Estimate(NamedTuple):
    """A mean over conditions, its standard error and the error's degrees of freedom; each (designs,)."""

    mean: Array
    error: Array
    freedom: Array

    def half_width(self, tail: float) -> Array:
        """Half an interval's width that leaves `tail` outside at each end; NaN where the error is not known, (designs,)."""
        quantile = -scipy.special.stdtrit(self.freedom, tail)
        return np.asarray(np.where(self.error == 0.0, 0.0, quantile * self.error), dtype=np.float64)


def estimate(values: Array, share_spreads: bool = False) -> Estimate:
    """Estimate the mean over conditions of every design.

    values: (designs, conditions, replicates), NaN where nothing was flown. With fewer than two replicates in some condition
    nothing is known of the error: it is NaN, and so is the mean without any there.
    share_spreads: let the designs' variances inform each other, condition by condition (`moderated`).
    """
    counts = np.isfinite(values).sum(axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        means = np.nansum(values, axis=2) / counts
        freedom = np.maximum(counts - 1.0, 0.0)
        variances = np.nansum((values - means[:, :, None]) ** 2, axis=2) / np.where(freedom > 0.0, freedom, np.nan)
        if share_spreads and len(values) >= SHARED_FROM and np.isfinite(variances).any():
            variances, freedom = moderated(variances, freedom, np.abs(means))
        parts = variances / (counts * counts.shape[1] ** 2)
        variance = parts.sum(axis=1)
        combined = variance**2 / (parts**2 / freedom).sum(axis=1)
    known = np.where(variance > 0.0, combined, np.inf)
    return Estimate(means.mean(axis=1), np.sqrt(variance), np.where(np.isnan(variance), np.nan, known))


def moderated(variances: Array, freedom: Array, sizes: Array) -> tuple[Array, Array]:
    """Draw the designs' variances towards what is usual in their condition at their size, as far as they are alike.

    variances: (designs, conditions), NaN where not known; freedom: degrees of freedom of each; sizes: what the variances go
    with, such as how far apart two designs are. Returns variances and degrees of freedom of the same shape. A scaled inverse
    chi-squared prior is fitted by the moments of the log variances (Smyth 2004, Statistical Applications in Genetics and
    Molecular Biology 3, article 3, section 6.2), about a trend in the log of the size (as Law et al. 2014, Genome Biology 15,
    R29, and Sartor et al. 2006, BMC Bioinformatics 7, 538, let it follow the level; cited from memory).
    """
    drawn, total = variances.copy(), freedom.copy()
    for condition in range(variances.shape[1]):
        rows = np.flatnonzero((freedom[:, condition] > 0.0) & np.isfinite(variances[:, condition]))
        if len(rows) >= SHARED_FROM:
            drawn[rows, condition], total[rows, condition] = _drawn(
                variances[rows, condition], freedom[rows, condition], sizes[rows, condition]
            )
    return drawn, total


def _drawn(variances: Array, freedom: Array, sizes: Array) -> tuple[Array, Array]:
    """As `moderated`, of one condition, (designs,)."""
    usual = np.median(variances[variances > 0.0]) if variances.any() else 1.0
    logs = np.log(np.maximum(variances, 1e-5 * usual)) - scipy.special.digamma(freedom / 2.0) + np.log(freedom / 2.0)
    trend, taken = _trend(np.log(sizes + np.median(sizes) + 1e-9), logs)
    by_chance = _trigamma(freedom / 2.0)
    # A quarter of a standard error more than was seen: too wide a prior makes intervals wide, too narrow a one wrong.
    spare = 0.25 * math.sqrt((6.0 * scipy.special.zeta(4.0, freedom / 2.0) + 2.0 * by_chance**2).mean() / len(logs))
    excess = ((logs - trend) ** 2).sum() / (len(logs) - taken) - by_chance.mean() + spare
    prior = 2.0 * _trigamma_inverse(float(excess))
    centre = np.exp(trend + scipy.special.digamma(prior / 2.0) - np.log(prior / 2.0))
    return (prior * centre + freedom * variances) / (prior + freedom), prior + freedom


def _trend(across: Array, values: Array) -> tuple[Array, int]:
    """A least-squares line, or parabola where many designs tell it, and how many numbers it took."""
    spread = across.std()
    if not spread > 1e-9:
        return np.full(len(values), values.mean()), 1
    powers = np.vander((across - across.mean()) / spread, 3 if len(values) >= CURVED_FROM else 2)
    directions = np.linalg.qr(powers)[0]
    return np.asarray(directions @ (directions.T @ values)), powers.shape[1]


def _trigamma(x: Array | float) -> Array:
    """Of x > 0; scipy's `polygamma` says the same, and takes forty times as long for one number."""
    return np.asarray(scipy.special.zeta(2.0, x))


def _trigamma_inverse(value: float) -> float:
    """The x whose trigamma is `value`, by Newton's method (Smyth 2004, appendix); no more than a million."""
    if value < 1e-6:
        return 1e6
    x = 0.5 + 1.0 / value
    for _ in range(20):
        trigamma = float(_trigamma(x))
        step = trigamma * (1.0 - trigamma / value) / (-2.0 * float(scipy.special.zeta(3.0, x)))
        if x + step == x:
            break
        x += step
    return x

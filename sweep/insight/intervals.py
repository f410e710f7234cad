"""Intervals for a mean over conditions, from few replicates in each.

Conditions are strata, replicates are drawn within them, and the variances of the strata differ: the standard error adds
them up and its degrees of freedom follow Satterthwaite (Biometrics Bulletin 2, 1946, 110-114).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import digamma, polygamma, stdtrit

Array = NDArray[np.float64]

CONFIDENCE = 0.95
"""Of every interval, bound and verdict (common practice, no source)."""
TAIL = (1.0 - CONFIDENCE) / 2.0
"""Chance that is left outside at each end of an interval."""
CONFIDENCE_SAID = f"{100.0 * CONFIDENCE:g} %"
SHARED_FROM = 10
"""Fewest designs whose spreads can inform each other (judgement)."""


class Estimate(NamedTuple):
    """A mean over conditions, its standard error and the error's degrees of freedom; each (designs,)."""

    mean: Array
    error: Array
    freedom: Array

    def half_width(self, tail: float) -> Array:
        """Half an interval's width that leaves `tail` outside at each end; NaN where the error is not known, (designs,)."""
        quantile = -stdtrit(self.freedom, tail)
        return np.asarray(np.where(self.error == 0.0, 0.0, quantile * self.error), dtype=np.float64)


def estimate(values: Array, share_spreads: bool = False) -> Estimate:
    """Estimate the mean over conditions of every design.

    values: (designs, conditions, replicates). With one replicate nothing is known of the error: it is NaN.
    share_spreads: let the designs' variances inform each other, condition by condition (`moderated`).
    """
    conditions, replicates = values.shape[1:]
    mean = values.mean(axis=2).mean(axis=1)
    if replicates < 2:
        unknown = np.full(len(values), np.nan)
        return Estimate(mean, unknown, unknown)
    variances, freedom = values.var(axis=2, ddof=1), np.full(conditions, replicates - 1.0)
    if share_spreads and len(values) >= SHARED_FROM:
        variances, freedom = moderated(variances, replicates - 1.0)
    parts = variances / (replicates * conditions**2)
    variance = parts.sum(axis=1)
    with np.errstate(invalid="ignore"):
        combined = variance**2 / (parts**2 / freedom).sum(axis=1)
    return Estimate(mean, np.sqrt(variance), np.where(variance > 0.0, combined, np.inf))


def moderated(variances: Array, freedom: float) -> tuple[Array, Array]:
    """Draw the designs' variances towards what is usual in their condition, as far as they are alike.

    variances: (designs, conditions), each with `freedom` degrees of freedom. Returns variances of the same shape and the
    degrees of freedom that they then have, (conditions,). A scaled inverse chi-squared prior is fitted by the moments of
    the log variances (Smyth 2004, Statistical Applications in Genetics and Molecular Biology 3, article 3, section 6.2).
    """
    usual = np.nanmedian(np.where(variances > 0.0, variances, np.nan), axis=0) if variances.any() else np.ones(1)
    logs = np.log(np.maximum(variances, 1e-5 * np.nan_to_num(usual, nan=1.0))) - digamma(freedom / 2) + np.log(freedom / 2)
    excess = logs.var(axis=0, ddof=1) - polygamma(1, freedom / 2)
    prior = 2.0 * np.array([_trigamma_inverse(each) for each in excess])
    centre = np.exp(logs.mean(axis=0) + digamma(prior / 2) - np.log(prior / 2))
    return (prior * centre + freedom * variances) / (prior + freedom), prior + freedom


def _trigamma_inverse(value: float) -> float:
    """The x whose trigamma is `value`, by Newton's method (Smyth 2004, appendix); no more than a million."""
    if value < 1e-6:
        return 1e6
    x = 0.5 + 1.0 / value
    for _ in range(20):
        trigamma = polygamma(1, x)
        x += trigamma * (1.0 - trigamma / value) / polygamma(2, x)
    return float(x)

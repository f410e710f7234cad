"""Counted outings: against the binomial and the Poisson distribution, and published intervals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from sweep.insight.outings import COLUMNS, FEWEST, by_kind, count_outings


def outings(clean: int, flown: int, risk: float = 595.0) -> pd.DataFrame:
    """So many outings, the clean ones first."""
    good = np.arange(flown) < clean
    rows = {
        "design": 3, "outing": np.arange(flown), "sea": np.where(np.arange(flown) % 2, "chop", "swell"), "heading_name": "head",
        "speed": 4.0, "status": 0, "clean": good.astype(int), "first_failure": np.where(good, "", "broach in a turn"),
        "at_risk": np.where(good, 595.0, risk), "path": 2300.0, "energy": 23_000.0,
    }  # fmt: skip
    return pd.DataFrame(rows)[list(COLUMNS)]


def test_the_share_has_its_exact_interval() -> None:
    """17 of 20: 62.1 to 96.8 % (Clopper & Pearson 1934; scipy computes it independently)."""
    found = count_outings(outings(17, 20))
    exact = stats.binomtest(17, 20).proportion_ci(0.95, method="exact")
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high))
    assert (found.low, found.high) == pytest.approx((0.621, 0.968), abs=5e-4)


@pytest.mark.parametrize("clean", [0, 20])
def test_all_or_none_are_bounded(clean: int) -> None:
    """0.025^(1/20) = 83.2 %."""
    found = count_outings(outings(clean, 20))
    bound = 0.025 ** (1.0 / 20.0)
    assert (found.low, found.high) == pytest.approx((0.0, 1.0 - bound) if clean == 0 else (bound, 1.0))


def test_failures_an_hour_are_counted_until_the_first_of_each_outing() -> None:
    """Three failures in 17 whole outings and three of 100 s: Garwood 1936, by chi-square."""
    found = count_outings(outings(17, 20, risk=100.0))
    hours = (17 * 595.0 + 300.0) / 3600.0
    assert found.hours == pytest.approx(hours)
    assert found.rate * 3600.0 == pytest.approx(3.0 / hours)
    assert found.rate_low * 3600.0 == pytest.approx(stats.chi2.ppf(0.025, 6) / 2.0 / hours)
    assert found.rate_high * 3600.0 == pytest.approx(stats.chi2.ppf(0.975, 8) / 2.0 / hours)
    assert found.first == (("broach in a turn", 3),)
    assert found.per_metre == pytest.approx(10.0)


def test_too_few_show_nothing() -> None:
    assert not count_outings(outings(FEWEST - 1, FEWEST - 1)).shown
    assert count_outings(outings(FEWEST, FEWEST)).shown


def test_by_what_differs() -> None:
    found = by_kind(outings(17, 20))
    assert [(kind, name, some.flown) for kind, name, some in found] == [("sea", "swell", 10), ("sea", "chop", 10)]


def test_the_interval_holds_the_mean_chance_of_unlike_seas() -> None:
    """Half the outings with a chance of 0.98, half with 0.6: in at least 95 % of draws (Hoeffding 1956)."""
    draws = np.random.default_rng(2)
    clean = draws.binomial(10, 0.98, 4000) + draws.binomial(10, 0.6, 4000)
    ends = {count: count_outings(outings(count, 20)) for count in range(21)}
    held = np.mean([ends[count].low <= 0.79 <= ends[count].high for count in clean])
    assert held > 0.95

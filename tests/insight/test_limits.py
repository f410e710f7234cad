import math
from types import SimpleNamespace

import numpy as np
import pytest
from pandas.testing import assert_frame_equal
from scipy import stats

from sweep.insight.limits import POOLED, LimitCounts, flights_needed, judge, rate_bounds, share_bounds, verdicts
from sweep.model.quantities import FLEW, NO_TRIM
from tests.insight.test_scores import rows
from tests.references import reference

SCORED_TIME = 30.0
NAMES = ["calm", "chop", "wake"]


def limit(value, kind="rate"):
    return SimpleNamespace(value=value, kind=kind)


def flights(shape, **columns):
    """All flights of `shape`, flown well to the end unless a column says otherwise."""
    usual = {"status": FLEW, "time_foilborne": SCORED_TIME, "touchdowns": 0.0, "upsets": 0.0}
    return rows(shape).assign(**(usual | columns))


def judged(shape, limits, **columns):
    counts = LimitCounts(limits, *shape[:2])
    counts.add(flights(shape, **columns))
    table = judge(counts, SCORED_TIME)
    return table, verdicts(table, limits, NAMES, shape[0])


def pooled(table):
    return table[table["condition"] == POOLED].set_index("design")


def test_clopper_and_pearson_s_bounds():
    rows = [row for row in reference("statistics", "proportions").rows if row["method"] == "Clopper-Pearson"]
    hits, trials = (np.array([float(row[name]) for row in rows]) for name in ("successes", "trials"))
    low, high = share_bounds(hits, trials, 0.975)
    assert low == pytest.approx([row["low"] for row in rows], abs=1e-5)
    assert high == pytest.approx([row["high"] for row in rows], abs=1e-5)


def test_garwood_s_bounds():
    """0: 0 to 3.689; 1: 0.0253 to 5.572; 5: 1.623 to 11.668; 10: 4.795 to 18.390, two-sided 95 %, as in printed tables after
    Garwood 1936 (values from memory; scipy's chi-squared quantiles agree)."""
    low, high = rate_bounds(np.array([0.0, 1.0, 5.0, 10.0]), np.ones(4), 0.975)
    assert low == pytest.approx([0.0, 0.0253, 1.623, 4.795], abs=1e-3)
    assert high == pytest.approx([3.689, 5.572, 11.668, 18.390], abs=1e-3)


@pytest.mark.parametrize(("hits", "trials"), [(0, 5), (3, 7), (7, 7), (40, 1000)])
def test_share_bounds_are_those_of_an_exact_test(hits, trials):
    interval = stats.binomtest(hits, trials).proportion_ci(0.90, method="exact")
    low, high = share_bounds(np.array([float(hits)]), np.array([float(trials)]))
    assert (low[0], high[0]) == (pytest.approx(interval.low), pytest.approx(interval.high))


def test_a_rate_is_per_time_and_unbounded_without_any():
    low, high = rate_bounds(np.array([0.0, 6.0]), np.array([0.0, 120.0]))
    assert low[1] < 6.0 / 120.0 < high[1]
    assert (low[0], high[0]) == (0.0, math.inf)


def test_two_per_cent_takes_149_clean_flights():
    """ln 0.05 / ln 0.98 = 148.3."""
    assert flights_needed(0, 0.02) == 149
    assert share_bounds(np.array([0.0]), np.array([149.0]))[1] <= 0.02 < share_bounds(np.array([0.0]), np.array([148.0]))[1]


@pytest.mark.parametrize("hits", [1, 4])
def test_needed_flights_are_the_fewest(hits):
    needed = flights_needed(hits, 0.1)
    bounds = share_bounds(np.array([hits, hits], dtype=float), np.array([needed, needed - 1]))[1]
    assert bounds[0] <= 0.1 < bounds[1]


def test_no_number_of_flights_shows_a_share_of_nothing():
    table, summed = judged((1, 1, 4), {"upsets": limit(0.0, "share")})
    assert pooled(table)["verdict"].tolist() == ["not yet known"]
    assert table["more_flights"].isna().all()
    assert "no number of clean flights" in summed["reason"][0]


def test_an_upset_limit_has_three_verdicts_and_says_how_many_more():
    upsets = np.zeros((3, 1, 200))
    upsets[1, 0, :12] = 1.0
    upsets[2, 0, :2] = 1.0
    table, summed = judged((3, 1, 200), {"upsets": limit(0.02, "share")}, upsets=upsets.ravel())
    assert summed["verdict"].tolist() == ["kept", "broken", "not yet known"]
    assert pooled(table)["more_flights"].tolist() == [0.0, 0.0, flights_needed(2, 0.02) - 200]
    assert summed["reason"][0] == ""


def test_twelve_clean_flights_need_137_more():
    table, summed = judged((1, 3, 4), {"upsets": limit(0.02, "share")})
    assert pooled(table)["more_flights"].tolist() == [137.0]
    assert "137 more clean flights would tell" in summed["reason"][0]


def test_one_more_flight_is_one():
    """Of the 149 clean flights that show less than 2 %, 148 were flown; whatever is open asks for one flight at least."""
    table, summed = judged((1, 2, 74), {"upsets": limit(0.02, "share")})
    assert pooled(table)["more_flights"].tolist() == [1.0]
    assert "; 1 more clean flight would tell" in summed["reason"][0]


def test_event_counts_pool_over_conditions_and_the_worst_is_named():
    """60 touchdowns in 10 flights of 30 s of the wake alone: 12 a minute there, 4 a minute in all, by hand."""
    rates = np.zeros((1, 3, 10))
    rates[0, 2] = 6.0 / SCORED_TIME
    table, summed = judged((1, 3, 10), {"touchdowns": limit(1.0 / 60.0)}, touchdowns=rates.ravel())
    found = table.set_index("condition")
    assert found.loc[POOLED, "value"] * 60.0 == pytest.approx(4.0)
    assert found.loc[2, "value"] * 60.0 == pytest.approx(12.0)
    assert found["verdict"].tolist() == ["broken", "kept", "kept", "broken"]
    assert summed["reason"][0].startswith("Touchdowns: 4 /min against 1 /min allowed, at least 3.1")
    assert summed["reason"][0].endswith("most in wake, 12 /min.")


def test_the_time_that_was_flown_is_what_events_are_counted_in():
    """One touchdown in the three seconds before an upset is one touchdown in three seconds."""
    table, _ = judged((1, 1, 2), {"touchdowns": limit(1.0)}, time_foilborne=[3.0, 27.0], touchdowns=[1.0 / 3.0, 0.0])
    assert pooled(table)["value"].tolist() == pytest.approx([1.0 / 30.0])


def test_the_flights_asked_for_are_enough():
    """Flying as many more clean flights as were asked for keeps the limit; one fewer does not."""
    clean = {"touchdowns": limit(0.2 / 60.0)}
    table, _ = judged((1, 1, 3), clean)
    more = int(pooled(table)["more_flights"][0])
    assert judged((1, 1, 3 + more), clean)[1]["verdict"].tolist() == ["kept"]
    assert judged((1, 1, 2 + more), clean)[1]["verdict"].tolist() == ["not yet known"]


def test_what_could_not_start_has_broken_the_limit_and_says_where():
    status = np.full((2, 3, 2), FLEW)
    status[1, 1] = NO_TRIM
    lost = np.where(status == NO_TRIM, np.nan, 0.0).ravel()
    limits = {"touchdowns": limit(1.0), "upsets": limit(0.5, "share")}
    table, summed = judged(
        (2, 3, 2), limits, status=status.ravel(), touchdowns=lost, upsets=lost, time_foilborne=lost + SCORED_TIME
    )
    assert summed["verdict"].tolist() == ["kept", "broken"]
    assert summed["reason"][1] == "Could not be flown in chop."
    assert (
        table[table["verdict"] == "broken"].groupby("response", observed=True)["condition"].apply(list).tolist()
        == [[-1, 1]] * 2
    )


def test_without_limits_everything_is_kept():
    table, summed = judged((2, 1, 1), {})
    assert table.empty
    assert summed.to_dict("list") == {
        "verdict": ["kept"] * 2,
        "reason": [""] * 2,
        "doubtful": [False] * 2,
        "probable": [True] * 2,
    }


def test_parts_count_as_the_whole():
    """Flights that come in two parts, each with flights of every design, are judged as those that come at once."""
    limits, shape = {"touchdowns": limit(2.0 / 60.0), "upsets": limit(0.4, "share")}, (3, 2, 6)
    draws = np.random.default_rng(4)
    touchdowns = draws.integers(0, 3, 36) / SCORED_TIME
    rows = flights(shape, touchdowns=touchdowns, upsets=draws.integers(0, 2, 36) * 1.0)
    whole, parts = LimitCounts(limits, 3, 2), LimitCounts(limits, 3, 2)
    whole.add(rows)
    for part in (rows[::2], rows[1::2]):
        parts.add(part)
    assert_frame_equal(judge(parts, SCORED_TIME), judge(whole, SCORED_TIME))
    assert whole.events["touchdowns"].sum() == np.rint(touchdowns.sum() * SCORED_TIME)

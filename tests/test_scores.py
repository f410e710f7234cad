from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from sweep.scores import CAP, FLEW, NO_TRIM, NOT_A_NUMBER, failed_share, flight_scores, flown_share, in_blocks, mean_responses

UPSET = 1
SCORED_TIME = 20.0
SCORE = {
    "ride_height_error": SimpleNamespace(weight=1.0, scale=0.01),
    "pitch_rms": SimpleNamespace(weight=0.5, scale=0.02),
}


def flights(**columns):
    """One row a value; what is not given flew well to the end."""
    size = max(len(values) for values in columns.values())
    usual = {"status": FLEW, "time_foilborne": SCORED_TIME, "ride_height_error": 0.01, "pitch_rms": 0.02}
    return pd.DataFrame({name: columns.get(name, [value] * size) for name, value in usual.items()})


def scores(**columns):
    return flight_scores(flights(**columns), SCORE, SCORED_TIME).tolist()


def test_a_flight_at_its_scales_scores_one():
    assert scores(ride_height_error=[0.01]) == [1.0]


def test_responses_are_weighted():
    """(1.0 x 2 + 0.5 x 1) / 1.5 by hand."""
    assert scores(ride_height_error=[0.02]) == pytest.approx([2.5 / 1.5])


def test_no_response_counts_more_than_the_cap():
    assert scores(ride_height_error=[0.1, 5.0, np.inf]) == pytest.approx([(CAP + 0.5) / 1.5] * 3)


def test_a_missing_response_counts_as_the_cap():
    assert scores(ride_height_error=[np.nan]) == pytest.approx([(CAP + 0.5) / 1.5])


def test_time_that_an_early_end_took_away_counts_as_the_cap():
    """Three good seconds of twenty: 0.15 x 1 + 0.85 x 10 by hand."""
    assert scores(status=[UPSET], time_foilborne=[3.0]) == pytest.approx([0.15 + 0.85 * CAP])


def test_flights_without_numbers_score_the_cap():
    assert scores(status=[NO_TRIM, NOT_A_NUMBER], time_foilborne=[np.nan, 12.0]) == [CAP, CAP]


def test_a_boat_that_upsets_at_once_never_beats_one_that_flies_badly_to_the_end():
    upset, rough = scores(status=[UPSET, FLEW], time_foilborne=[3.0, SCORED_TIME], ride_height_error=[0.0, 0.08])
    assert upset > rough


def test_a_whole_flight_is_whole_whatever_its_clock_says():
    assert flown_share(flights(time_foilborne=[SCORED_TIME - 0.01]), SCORED_TIME).tolist() == [1.0]


def rows(shape):
    axes = pd.MultiIndex.from_product([range(size) for size in shape], names=["design", "condition", "replicate"])
    return axes.to_frame(index=False)


def test_values_find_their_block_in_any_order():
    shape = (3, 2, 4)
    table = rows(shape)
    values = np.arange(24.0)
    order = np.random.default_rng(1).permutation(24)
    laid = in_blocks(table.loc[order], values[order], shape)
    assert (laid == values.reshape(shape)).all()


@pytest.mark.parametrize("chosen", [list(range(23)), [*range(23), 0]], ids=["missing", "twice"])
def test_holes_and_doubles_are_refused(chosen):
    with pytest.raises(ValueError, match="do not fill"):
        in_blocks(rows((3, 2, 4)).loc[chosen], np.zeros(len(chosen)), (3, 2, 4))


def test_failed_flights_are_those_that_did_not_fly_to_the_end():
    assert failed_share(np.array([[[FLEW, UPSET], [NO_TRIM, FLEW]]], dtype=np.int8)).tolist() == [0.5]


def test_means_are_over_the_flights_that_have_the_response():
    table = rows((2, 1, 2)).assign(pitch_rms=[0.1, np.nan, np.nan, np.nan])
    means = mean_responses(table, ["pitch_rms"], 2)
    assert means["pitch_rms"][0] == 0.1
    assert np.isnan(means["pitch_rms"][1])

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.flying.flights import fly_crafts
from sweep.insight.scores import CAP, ScoreTally, Scoring, flight_scores, flown_share, told_afloat
from sweep.model.quantities import AGROUND, FLEW, NO_TRIM, NOT_A_NUMBER

CONFIGS = Path(__file__).parents[2] / "configs"
UPSET = 1
STOPPING = f"""
title: It stops
craft: {CONFIGS}/craft/courier.yaml
factors: {{struts.height: [20 cm, 22 cm]}}
conditions:
  seas: {{calm: {{kind: flat}}}}
  headings: [head]
  speeds: [4 m/s]
  courses: {{straight: [], stopping: [{{time: 6 s}}, {{stop: 4 s}}, {{time: 8 s}}]}}
flight: {{length: 30 s, settle: 5 s}}
"""
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


def test_a_boat_that_touches_ground_is_as_bad_as_one_that_upsets():
    """At once it is the worst there is, as what gave no numbers; later it pays for all that it did not fly."""
    both = scores(status=[AGROUND, UPSET], time_foilborne=[3.0, 3.0])
    assert both[0] == both[1] == pytest.approx(0.15 + 0.85 * CAP)
    assert scores(status=[AGROUND], time_foilborne=[0.0], ride_height_error=[np.nan], pitch_rms=[np.nan])[0] == CAP


def test_a_boat_that_upsets_at_once_never_beats_one_that_flies_badly_to_the_end():
    upset, rough = scores(status=[UPSET, FLEW], time_foilborne=[3.0, SCORED_TIME], ride_height_error=[0.0, 0.08])
    assert upset > rough


def test_no_share_of_capped_time_is_rounded_to_more_than_the_cap():
    """After every number of steps of 5 ms."""
    times = np.arange(1, 4000) * 0.005
    found = np.array(scores(time_foilborne=times, ride_height_error=1e3 + 0.0 * times, pitch_rms=1e3 + 0.0 * times))
    assert (found <= CAP).all()
    assert found == pytest.approx(CAP)


def test_a_whole_flight_is_whole_whatever_its_clock_says():
    assert flown_share(flights(time_foilborne=[SCORED_TIME - 0.01]), SCORED_TIME).tolist() == [1.0]


def rows(shape):
    axes = pd.MultiIndex.from_product([range(size) for size in shape], names=["design", "condition", "replicate"])
    return axes.to_frame(index=False)


def tally(shape, *parts):
    """The tally of flights of `shape`, each scoring its number in that order, added as these parts of the rows."""
    found = ScoreTally(Scoring({"pitch_rms": SimpleNamespace(weight=1.0, scale=1.0)}, SCORED_TIME), shape, ["pitch_rms"])
    table = rows(shape).assign(status=FLEW, time_foilborne=SCORED_TIME)
    table["pitch_rms"] = np.arange(len(table)) / 10.0
    for part in parts:
        found.add(table.loc[part])
    return found


def test_scores_find_their_block_in_any_order_and_any_parts():
    order = np.random.default_rng(1).permutation(24)
    found = tally((3, 2, 4), order[:5], order[5:])
    np.testing.assert_allclose(found.scores, np.arange(24.0).reshape(3, 2, 4) / 10.0)
    assert found.missing() == 0


def test_holes_are_counted_and_doubles_refused():
    assert tally((3, 2, 4), range(23)).missing() == 1
    with pytest.raises(ValueError, match="twice"):
        tally((3, 2, 4), range(23), [0])


def test_failed_flights_are_those_that_did_not_fly_to_the_end():
    found = ScoreTally(Scoring(SCORE, SCORED_TIME), (1, 2, 2))
    found.add(rows((1, 2, 2)).join(flights(status=[FLEW, UPSET, NO_TRIM, FLEW])))
    assert found.failures().share().tolist() == [0.5]


def test_means_are_over_the_flights_that_have_the_response():
    table = rows((2, 1, 2)).join(flights(pitch_rms=[0.1, np.nan, np.nan, np.nan]))
    found = ScoreTally(Scoring(SCORE, SCORED_TIME), (2, 1, 2), ["pitch_rms"])
    for part in (table[:1], table[1:]):
        found.add(part)
    assert found.means()["pitch_rms"][0] == 0.1
    assert np.isnan(found.means()["pitch_rms"][1])


def test_the_time_until_a_take_off_counts_as_the_cap():
    """From rest, foilborne for fifteen of twenty scored seconds: 0.75 x 1 + 0.25 x 10 by hand."""
    assert scores(time_foilborne=[15.0]) == pytest.approx([0.75 + 0.25 * CAP])


def test_lying_afloat_as_told_is_no_time_lost():
    """Of a course with stops: what of them lies in the scored time; a path takes as long as at its wanted speed."""
    legs = [
        (8.0, 0.0, 0.0, 0.0, 4.0, 0.0),
        (5.0, 0.0, 0.0, 0.0, 0.0, 1.0),
        (0.0, 20.0, 0.0, 0.0, 4.0, 0.0),
        (4.0, 0.0, 0.0, 0.0, 0.0, 1.0),
    ]
    assert told_afloat(legs, 40.0) == pytest.approx(9.0)
    assert told_afloat(legs, 20.0) == pytest.approx(7.0), "the second stop begins after 18 s"
    assert told_afloat(legs, 10.0) == pytest.approx(2.0)
    assert told_afloat(legs[:1], 10.0) == told_afloat((), 10.0) == 0.0


def test_a_boat_that_stops_as_told_scores_what_it_loses_by_taking_off_again(tmp_path):
    """The flight that stops for 4 s loses under the take-off's 5 s, not those and the stop's."""
    path = tmp_path / "stops.yaml"
    path.write_text(STOPPING, encoding="utf-8")
    campaign = load_campaign(path)
    rows = fly_crafts(campaign, [campaign.craft], list_conditions(campaign), [0])
    scoring = Scoring.of(campaign)
    assert scoring.afloat is not None
    times = scoring.scored_time - scoring.afloat
    assert times.tolist() == [25.0, 21.0]
    straight, stopped = flown_share(rows, times)
    assert straight == 1.0
    lost = times[1] * (1.0 - stopped)
    assert 0.5 < lost < 5.0
    assert rows["time_foilborne"].iloc[1] == pytest.approx(21.0 - lost)

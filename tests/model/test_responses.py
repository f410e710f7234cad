"""How sums become responses: each sum counts in one, and what a flight starts with is no result."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.quantities import BINS, FLEW, HISTOGRAM, RESPONSE_NAMES, SUM, UPSET, Readings
from sweep.model.responses import Counted, responses
from sweep.model.stepping.observe import EVENT, start_histograms, start_sums
from tests.model.crafts import courier, fleet_of

STEP, SETTLE, STEPS, ALOFT = 0.005, 1.0, 400.0, 300.0


def made_up() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Sums, histograms and readings of one flight in which everything happened."""
    sums = np.full((1, len(SUM) + len(EVENT)), 3.0)
    sums[0, SUM.status] = FLEW
    sums[0, [SUM.steps, SUM.foilborne_steps]] = STEPS, ALOFT
    sums[0, [SUM.speed, SUM.power]] = 4.0 * STEPS, 50.0 * STEPS
    sums[0, [SUM.roll_peak, SUM.lean_peak]] = 0.2
    histograms = np.zeros((len(HISTOGRAM), 1, BINS), dtype=np.int32)
    histograms[:, 0, 200:260] = 5
    return sums, histograms, np.full((1, len(Readings._fields)), 8.0)


def told(sums: np.ndarray, histograms: np.ndarray, readings: np.ndarray) -> tuple[float, dict[str, float]]:
    """Status and responses."""
    parameters = fleet_of(courier()).parameters[:1].copy()
    parameters[0, at.BATTERY] = 1e5
    status, table = responses(Counted(parameters, sums, histograms, readings), STEP, SETTLE, True)
    return float(status[0]), dict(zip(RESPONSE_NAMES, table[0].tolist(), strict=True))


def changed_by(one: dict[str, float], other: dict[str, float]) -> set[str]:
    return {name for name in one if one[name] != other[name]}


def test_everything_that_happened_is_told() -> None:
    status, found = told(*made_up())
    assert status == FLEW
    assert np.isfinite(list(found.values())).all()
    assert found["touchdowns"] == pytest.approx(3.0 / (ALOFT * STEP))
    assert found["speed_mean"] == pytest.approx(4.0)
    assert found["energy_per_metre"] == pytest.approx(50.0 / 4.0)
    assert found["blind_readings"] == pytest.approx((8.0 - 3.0) / (STEPS * STEP))
    assert found["take_off_time"] == pytest.approx(3.0 - SETTLE)


@pytest.mark.parametrize("name", SUM._fields)
def test_every_sum_becomes_a_response(name: str) -> None:
    sums, histograms, readings = made_up()
    before = told(sums, histograms, readings)[1]
    other = {"status": UPSET, "bent_most": 0.5}  # the others: a little more
    sums[0, getattr(SUM, name)] = other.get(name, 1.02 * sums[0, getattr(SUM, name)])
    changed = changed_by(before, told(sums, histograms, readings)[1])
    assert changed
    if name in RESPONSE_NAMES:
        assert name in changed


@pytest.mark.parametrize("name", HISTOGRAM._fields)
def test_every_histogram_becomes_a_response(name: str) -> None:
    sums, histograms, readings = made_up()
    before = told(sums, histograms, readings)[1]
    histograms[getattr(HISTOGRAM, name), 0] = np.roll(histograms[getattr(HISTOGRAM, name), 0], 20)
    assert len(changed_by(before, told(sums, histograms, readings)[1])) == 1


def test_clocks_of_events_change_no_response() -> None:
    sums, histograms, readings = made_up()
    before = told(sums, histograms, readings)[1]
    sums[0, list(EVENT)] = 7.0
    assert changed_by(before, told(sums, histograms, readings)[1]) == set()


def test_places_are_each_of_one_sum() -> None:
    places = [*SUM, *EVENT]
    assert places == list(range(len(places)))
    assert len({*SUM._fields} & {*RESPONSE_NAMES}) > 10


@pytest.mark.parametrize("from_rest", [False, True])
def test_a_flight_that_never_was_scored_has_no_responses_but_its_counts(from_rest: bool) -> None:
    sums = start_sums(from_rest)
    assert sums.shape == (LANES, len(SUM) + len(EVENT))
    assert sums[0, EVENT.foilborne] == (not from_rest)
    parameters = np.repeat(fleet_of(courier()).parameters[:1], LANES, axis=0)
    none = np.zeros((LANES, len(Readings._fields)))
    status, table = responses(Counted(parameters, sums, start_histograms(), none), STEP, SETTLE, from_rest)
    found = dict(zip(RESPONSE_NAMES, table[0].tolist(), strict=True))
    assert status[0] == FLEW
    known = {name for name, value in found.items() if np.isfinite(value)}
    counts = {"time_foilborne", "time_flown", "lost_flights", "upsets", "encounters", "take_offs", "overloads", "bends"}
    assert known == counts | {"before_touchdown", "before_broach", "before_loss"}
    assert all(found[name] == 0.0 for name in known)

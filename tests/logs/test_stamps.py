"""Readings that stand at a log's next row are later there than they came: flights of a fit are logged alike."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from sweep.logs.compare.bands import SIGNALS, measured_bands
from sweep.logs.fit.craft_fit import FLIGHTS, begin, limits_of
from sweep.logs.fit.features import Fitting, difference, foretold
from sweep.logs.fit.numbers import NUMBERS
from sweep.logs.fit.stamps import row_step, stamped
from sweep.logs.read.channels import Series
from sweep.model.physics.spectra import Spectrum
from tests.logs.made import DEPTH, flown
from tests.model.crafts import WATER, courier

ROWS = np.arange(0.0, 10.0, 0.01)


def record_of(readings: np.ndarray) -> dict[str, Series]:
    return {"force_z": Series(ROWS, np.full_like(ROWS, -9.8)), "range": Series(readings, np.arange(float(len(readings))))}


def test_rows_are_known_by_the_readings_that_stand_at_them() -> None:
    assert row_step(record_of(ROWS[3::5])) == pytest.approx(0.01)
    assert row_step(record_of(np.arange(0.0512, 9.0, 0.05))) == 0.0  # a file with times of its own


def test_a_reading_stands_at_the_first_row_after_it_came() -> None:
    found = stamped(record_of(np.array([0.0612, 0.1100, 0.1690])), 0.01, 0.0)["range"]
    assert found.time == pytest.approx([0.07, 0.11, 0.17])
    assert list(found.value) == [0.0, 1.0, 2.0]
    shifted = stamped(record_of(np.array([0.0612])), 0.01, 0.25)["range"]
    assert shifted.time == pytest.approx([0.0625])


def test_of_two_readings_at_one_row_the_later_is_left() -> None:
    found = stamped(record_of(np.array([0.012, 0.031, 0.034, 0.052])), 0.04, 0.0)["range"]
    assert found.time == pytest.approx([0.04, 0.08])
    assert list(found.value) == [2.0, 3.0]


def test_a_wait_for_the_row_turns_the_range_alone() -> None:
    """By the frequency times the wait, here 7 ms of every reading: a delay's own phase."""
    log = flown(0.0, 0.05, 1.1).log
    wait = 0.007
    late = stamped(log, 0.0, 0.0, wait)
    ours, theirs = (measured_bands(each, courier()) for each in (log, late))
    for signal in SIGNALS:
        place = SIGNALS.index(signal)
        turned = np.angle(theirs.ratio[place] * ours.ratio[place].conj())
        for band in np.flatnonzero(np.isfinite(turned)):
            some = ours.band == band
            middle = float(ours.frequency[some] @ ours.power[some] / ours.power[some].sum())
            assert turned[band] == pytest.approx(-2.0 * pi * middle * wait if signal == "range" else 0.0, abs=0.02)


def test_where_the_mapping_says_how_late_the_log_is_a_latency_turns_only_what_the_code_does() -> None:
    log = flown(0.0, 0.05, 1.1).log
    said = Fitting(log, Spectrum(0.05, 1.1, 3.3), 4.0, 0.0, DEPTH, 70.0, late=0.1)
    assert said.alike(log, courier(), 0.3)["range"].time - log["range"].time == pytest.approx(
        0.1 - courier().rangefinders.latency
    )
    bands = [measured_bands(log, courier())]
    unsaid, then = (foretold([courier()], WATER, [each], bands) for each in (said._replace(late=None), said))
    off = difference(then, unsaid)[0]
    turned = off.reshape(-1)[: 2 * len(SIGNALS) * 9].reshape(2, len(SIGNALS), 9)
    assert np.nanmax(np.abs(turned[:, 1:])) < 1e-9
    assert np.nanmax(np.abs(turned[0])) < 0.02
    assert np.nanmax(turned[1, 0]) < -0.1


def test_flights_are_of_crafts_that_the_logs_leave_possible() -> None:
    """About the fit so far, within its limits, and no two alike."""
    log = flown(0.0, 0.05, 1.1).log
    names = ("lift", "range_lag")
    search = begin(courier(), WATER, [Fitting(log, Spectrum(0.05, 1.1, 3.3), 4.0, 0.0, DEPTH, 70.0)], names)
    crafts = search.flyers()
    lifts = [craft.foils["aft"].section.lift_slope / courier().foils["aft"].section.lift_slope for craft in crafts]
    low, high = (NUMBERS["lift"].start(courier()) + each[0] * NUMBERS["lift"].step for each in limits_of(courier(), names))
    assert len(set(lifts)) == FLIGHTS
    assert np.mean(lifts) == pytest.approx(1.0, abs=0.01)
    assert low <= min(lifts) < max(lifts) <= high

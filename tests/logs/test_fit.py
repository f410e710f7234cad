"""A fit finds what was planted, inside its intervals; the whole study is `python -m tests.benchmarks.log_fits`."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from sweep.linear.craft import linearise
from sweep.logs.compare.bands import measured_bands, predicted_bands
from sweep.logs.fit.craft_fit import (
    FLIGHTS,
    Fitted,
    Result,
    Search,
    _doubt_of,
    _of_one_day,
    built,
    limits_of,
    with_witness,
)
from sweep.logs.fit.features import Fitting, features, foretold
from sweep.logs.fit.numbers import NUMBERS, changed, values_of
from sweep.logs.report.sentences import fit_rows, fit_sentences
from sweep.model.physics.spectra import Spectrum
from tests.benchmarks.log_fits import fitted
from tests.logs.made import DEPTH, flown
from tests.model.crafts import COURIER_FILE, WATER, courier, fleet_of


@pytest.mark.parametrize("heading", [pi, 0.0])
def test_the_linear_companion_agrees_with_a_flight_s_log(heading: float) -> None:
    """Ratios of range, pitch and foil angle to the acceleration, where the waves are: 25 % and 15 degrees in the median."""
    record = flown(heading, 0.05, 1.1).log
    (linear,) = linearise(fleet_of(courier(), 4.0))
    assert linear is not None
    bands = measured_bands(record, courier())
    ratio = predicted_bands(linear, courier(), bands, heading, DEPTH, courier().rangefinders.latency)
    both = np.isfinite(bands.ratio) & np.isfinite(ratio)
    assert both.sum() >= 9
    off = bands.ratio[both] / ratio[both]
    assert np.median(np.abs(np.log(np.abs(off)))) < 0.25
    assert np.degrees(np.median(np.abs(np.angle(off)))) < 15.0


def test_lag_noise_and_mounting_are_found() -> None:
    """Planted 80 ms, 4 mm and 12 mm, where the craft file says 60 ms, 3 mm and 0; one pass of 50 s into the waves, witnessed.

    So short a pass tells lag and mounting from the file's; of the noise it says no more than an interval that holds the truth.
    """
    planted = {"range_lag": 0.08, "range_noise": 0.004, "height_offset": 0.012}
    result = fitted(3, planted, headings=(pi,), length=50.0)
    for each in result.numbers:
        assert each.identified, each
        assert each.low <= planted[each.name] <= each.high, each
    for each in (each for each in result.numbers if each.name != "range_noise"):
        assert not each.low <= each.before <= each.high
    assert any("control code, too" in sentence for sentence in fit_sentences(result))


def test_without_a_witness_the_mounting_is_not_told() -> None:
    """Its own rangefinder holds the craft where it thinks right, wherever it is mounted."""
    assert np.isnan(features(flown().log, courier())[-1])
    assert features(with_witness(flown()), courier())[-1] == pytest.approx(0.0, abs=0.3)
    alone = Fitted("height_offset", 0.0, 0.0, -np.inf, np.inf, False)
    said = fit_sentences(Result((alone,), (), 1.0, 60, courier()))
    assert any("log a witness" in sentence for sentence in said)
    assert fit_rows(Result((alone,), (), 1.0, 60, courier()))[0][2:4] == ("not known", "anything")


def test_a_latency_has_no_step_where_clocks_drift() -> None:
    """With clocks in step a reading that comes after a tick of the control code waits for the next: 10 ms at once."""
    run = Fitting(flown().log, Spectrum(0.05, 1.1, 3.3), 4.0, pi, DEPTH, 70.0)
    crafts = [changed(courier(), ["range_lag"], [lag]) for lag in (0.0598, 0.0602)]
    bands = [measured_bands(flown().log, courier())]
    drifting, in_step = (foretold(crafts, WATER, [run], bands, drifting) for drifting in (True, False))
    assert np.nanmax(np.abs(drifting[1] - drifting[0])) < 0.05
    assert np.nanmax(np.abs(in_step[1] - in_step[0])) > 0.1
    middle = [changed(courier(), ["range_lag"], [0.055])]
    assert foretold(middle, WATER, [run], bands, True) == pytest.approx(foretold(middle, WATER, [run], bands), nan_ok=True)


@pytest.mark.parametrize("file", sorted(COURIER_FILE.parent.glob("*.yaml")), ids=lambda file: file.stem)
def test_a_search_tries_only_crafts_that_there_are(file: Path) -> None:
    """A rangefinder that a search took to be mounted above the wanted ride height once ended a fit."""
    craft = Craft.model_validate(read_document(file).plain())
    for ends in limits_of(craft, list(NUMBERS)):
        assert built(craft, list(NUMBERS), ends).control.ride_height > 0.0
    assert all(low < number.start(craft) < high for number in NUMBERS.values() for low, high in [number.limits(craft)])


def test_a_slow_code_and_a_late_rangefinder_are_searched() -> None:
    """Half a tick after the latest latency there is no craft file any more, but an age of a reading there is."""
    slow = replace_values(courier(), {"control.rate": 12.5, "rangefinders.rate": 12.5})
    latest = changed(slow, ["range_lag"], [NUMBERS["range_lag"].most])
    run = Fitting(flown().log, Spectrum(0.05, 1.1, 3.3), 4.0, pi, DEPTH, 70.0)
    assert np.isfinite(foretold([latest], WATER, [run], [measured_bands(flown().log, slow)], drifting=True)).any()


def test_the_chance_of_a_day_is_as_large_as_new_days_scatter() -> None:
    """Days of made-up chance, unlike from feature to feature, without a model: what a fit is off has the size foretold.

    Weights that a flyer's own strays had set foretold a quarter less of the squares.
    """
    random, names, squares, foretold_squares = np.random.default_rng(5), ("lift", "drag"), [], []
    for _ in range(300):
        scatter, slopes = random.uniform(0.05, 0.3, 120), 0.1 * random.standard_normal((120, 2))
        strays = scatter * random.standard_normal((FLIGHTS, 120))
        strays, beyond = strays - strays.mean(axis=0), strays.mean(axis=0)
        doubt = _doubt_of(np.sqrt((strays**2).sum(axis=0) / (FLIGHTS - 1) * (1.0 + 1.0 / FLIGHTS)))
        nothing = np.zeros(120)
        search = Search(courier(), names, WATER, (), (), nothing, np.zeros(2), nothing, doubt, strays)
        weighed = slopes / doubt[:, None]
        off = search.known(weighed) @ weighed.T @ ((scatter * random.standard_normal(120) - beyond) / doubt)
        squares.append(off**2)
        foretold_squares.append(np.diag(_of_one_day(search, weighed)))
    assert 0.85 < np.sum(squares) / np.sum(foretold_squares) < 1.1


def test_a_craft_with_other_numbers() -> None:
    other = changed(courier(), ["lift", "servo_delay"], [0.9, 0.03])
    assert other.control.delay == 0.03
    assert other.foils["port"].section.lift_slope == pytest.approx(0.9 * courier().foils["port"].section.lift_slope)
    assert len(values_of(courier(), ["lift"], [0.9])) == 3
    assert all(number.least < number.start(courier()) < number.most for number in NUMBERS.values())

"""The sea told from the craft's own sensors, against seas that are known: flown, and synthesised from wavespectra's spectra."""

from __future__ import annotations

from math import cos, pi, radians

import numpy as np
import pytest
import xarray as xr
from wavespectra.construct.frequency import jonswap as their_jonswap

from sweep.logs.sea.judge import noise_of, pooled_sea, sea_of_record
from sweep.logs.sea.sea_state import SeaEstimate, estimate_sea
from sweep.logs.sea.spectrum import Encounter, encounter_of, met, multitaper
from sweep.logs.sea.surface import measured_surface
from tests.logs.made import DEPTH, flown, judged, synthesised
from tests.model.crafts import courier

WITHIN = 0.10
LATE = courier().rangefinders.latency


def theirs(height: float, period: float, count: int = 700) -> tuple[np.ndarray, np.ndarray, float, float]:
    """Frequencies (rad/s), density (m2 s), height and period of a JONSWAP sea, all of it wavespectra's."""
    hertz = np.linspace(0.4, 6.0, count) / period
    spectrum = their_jonswap(freq=xr.DataArray(hertz, dims="freq", coords={"freq": hertz}), fp=1 / period, gamma=3.3, hs=height)
    return 2 * pi * hertz, spectrum.to_numpy() / (2 * pi), float(spectrum.spec.hs()), float(spectrum.spec.tp())


def told(record: dict, speed: float, heading: float) -> SeaEstimate:
    found = sea_of_record(record, courier(), speed, heading, DEPTH, LATE)
    assert found is not None
    return found


def peak_met(period: float, speed: float, heading: float) -> float:
    return float(met(np.array([2 * pi / period]), speed, heading, DEPTH)[0])


def test_met_is_the_published_encounter_frequency() -> None:
    """checks.md 1.4 (deep water): 3 m/s, 1 s: head 2.9215 Hz, following -0.9215 Hz."""
    assert peak_met(1.0, 3.0, pi) == pytest.approx(2.9215, rel=2e-3)
    assert peak_met(1.0, 3.0, 0.0) == pytest.approx(0.9215, rel=5e-3)


@pytest.mark.parametrize(
    ("height", "period", "heading", "speed"),
    [
        (0.05, 1.1, 180, 4.0), (0.03, 0.8, 180, 5.0), (0.10, 2.0, 180, 3.2), (0.05, 1.1, 135, 4.0), (0.08, 1.6, 135, 5.0),
        (0.05, 1.1, 90, 4.0), (0.10, 2.0, 90, 3.2), (0.03, 0.8, 45, 5.0), (0.05, 1.1, 0, 4.0), (0.03, 0.8, 0, 3.2),
    ],
)  # fmt: skip
def test_a_gaussian_sea_of_their_spectrum(height: float, period: float, heading: int, speed: float) -> None:
    """Ten minutes: height within 10 % of wavespectra's hs, period within 10 % of its tp; the record's own height is random."""
    omega, density, hs, tp = theirs(height, period)
    found = told(synthesised(omega, density, speed, radians(heading), 600.0, seed=heading + 1), speed, radians(heading))
    assert found.verdict == "measured"
    assert found.height.value == pytest.approx(hs, rel=WITHIN)
    assert found.period.value == pytest.approx(tp, rel=WITHIN)


@pytest.mark.parametrize(("heading", "speed"), [(pi, 4.0), (0.0, 4.0)])
def test_a_sea_that_the_courier_flew_in(heading: float, speed: float) -> None:
    """Five minutes of flight: height and period of the drawn sea within 10 %."""
    found = told(flown(heading, 0.05, 1.1, 310.0, speed).log, speed, heading)
    assert found.verdict == "measured"
    assert found.height.value == pytest.approx(0.05, rel=WITHIN)
    assert found.period.value == pytest.approx(1.1, rel=WITHIN)


def test_a_following_sea_that_goes_along_is_not_told() -> None:
    """Met at 0.06 Hz: inside the band where nothing is told; the height is what showed, at least."""
    omega, density, hs, _ = theirs(0.08, 1.8)
    heading, speed = radians(45), 4.0
    assert cos(heading) > 0.1
    assert peak_met(1.8, speed, heading) < 0.45
    found = told(synthesised(omega, density, speed, heading, 300.0, seed=5), speed, heading)
    assert found.verdict == "hidden"
    assert found.height.low < hs
    assert found.height.high == np.inf


def test_short_head_seas_fold_and_their_height_survives() -> None:
    omega, density, hs, _ = theirs(0.04, 0.65)
    found = told(synthesised(omega, density, 5.0, pi, 300.0, seed=2), 5.0, pi)
    assert found.folds > 0.2
    assert found.height.value == pytest.approx(hs, rel=WITHIN)


def test_calm_water_is_calm() -> None:
    omega, density, *_ = theirs(0.001, 1.0)
    found = told(synthesised(omega, density, 4.0, pi, 120.0, seed=1), 4.0, pi)
    assert found.verdict == "calm"
    assert found.height.high < 0.02


def test_intervals_cover_and_shrink_with_the_record() -> None:
    """Of 40 Gaussian records the 95 % intervals hold the truth in at least 34 (binomial: fewer has a chance of 0.3 %).

    So many components that a minute does not tell them apart: else the sea is not Gaussian.
    """
    omega, density, hs, tp = theirs(0.05, 1.1, count=3000)
    inside, widths = np.zeros(2), {}
    for length, count in ((60.0, 40), (240.0, 3)):
        spans = []
        for seed in range(count):
            found = told(synthesised(omega, density, 4.0, pi, length, seed=100 + seed), 4.0, pi)
            spans.append([np.log(each.high / each.low) for each in (found.height, found.period)])
            if length == 60.0:
                inside += [found.height.low <= hs <= found.height.high, found.period.low <= tp <= found.period.high]
        widths[length] = np.mean(spans, axis=0)
    assert (inside >= 34).all(), inside
    assert (widths[240.0] < 0.7 * widths[60.0]).all(), widths


def test_short_passes_pool() -> None:
    """Six passes of 50 s at two speeds, into the waves and back, tell more together than each alone."""
    omega, density, hs, tp = theirs(0.05, 1.1)
    runs: list[Encounter] = []
    for seed, (speed, heading) in enumerate([(4.0, pi), (4.0, 0.0), (5.0, pi)] * 2):
        record = synthesised(omega, density, speed, heading, 50.0, seed=seed)
        surface = measured_surface(record, courier(), LATE)
        runs.append(encounter_of(surface, speed, heading, DEPTH, noise_of(courier(), record), 0.3))
    found, alone = estimate_sea(runs), estimate_sea(runs[:1])
    assert found.height.value == pytest.approx(hs, rel=WITHIN)
    assert found.period.value == pytest.approx(tp, rel=WITHIN)
    assert found.height.high / found.height.low < alone.height.high / alone.height.low


def test_the_variance_is_kept_when_readings_are_missing() -> None:
    """Against the plain variance, and a tenth of the readings lost: the missing ones weigh nothing."""
    random = np.random.default_rng(0)
    time = np.arange(0.0, 200.0, 0.05)
    values = np.sin(2 * pi * 1.3 * time) + 0.5 * np.sin(2 * pi * 2.7 * time + 1)
    frequency, density = multitaper(values, np.ones(len(values), dtype=bool), 20.0)
    assert density.sum() * frequency[0] == pytest.approx(values.var(), rel=0.02)
    known = random.random(len(values)) > 0.1
    _, gappy = multitaper(np.where(known, values, 0.0), known, 20.0)
    assert gappy.sum() * frequency[0] == pytest.approx(values.var(), rel=0.03)


def test_lost_and_wrong_readings_hardly_move_the_estimate(tmp_path) -> None:
    clean = told(flown().log, 4.0, pi)
    random = np.random.default_rng(1)
    reading = flown().log["range"]
    value = reading.value.copy()
    value[150:1300:150] += 0.3
    kept = (random.random(len(value)) > 0.05) | (value > 0.25)
    record = flown().log | {"range": type(reading)(reading.time[kept], value[kept])}
    surface = measured_surface(record, courier(), LATE)
    assert surface.glitches == 8
    assert surface.gaps > 30
    found = told(record, 4.0, pi)
    assert found.height.value == pytest.approx(clean.height.value, rel=0.06)
    assert found.period.value == pytest.approx(clean.period.value, rel=0.06)


def test_a_day_pools_its_runs(tmp_path) -> None:
    day = judged(tmp_path)
    (run,) = day.runs
    assert run.kind == "flying"
    assert abs(run.waves) == pytest.approx(pi, abs=0.05)
    found = pooled_sea(day.runs)
    assert found is not None
    assert found.height.value == pytest.approx(0.05, rel=0.15)

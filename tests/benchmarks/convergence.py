"""How far results depend on what is not physics: the step, strips a foil, waves a sea, length and number of flights.

    python -m tests.benchmarks.convergence

The courier at 4 m/s in a JONSWAP sea of 4 cm and 1 s. The tables go where the page How sure finds them.
"""

from __future__ import annotations

from functools import cache
from math import log2, pi, sqrt

import numpy as np
from scipy.stats import t as student

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.craft import Craft
from sweep.model.block import Block, make_block
from sweep.model.flight import fly, fly_record
from sweep.model.history import RECORDED
from sweep.model.onboard.noise import NoiseTables
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.water import fresh_water
from sweep.model.physics.waves import draw_components
from sweep.model.quantities import RESPONSE, RESPONSE_NAMES
from tests.benchmarks.evidence import write
from tests.benchmarks.kernel import DEMO

SEA = Spectrum(0.04, 1.0, 3.3)
SPEED, DEPTH, SETTLE = 4.0, 4.0, 5.0
HEADING = pi / 4  # quartering: everything moves
SHOWN = ("ride_height_error", "level_height_deviation", "pitch_rms", "roll_rms", "vertical_acceleration", "power_mean")
REPLICATES = 16
TITLES = ["ride-height error", "rise and fall", "pitch", "roll", "vertical acceleration", "power"]


@cache
def campaign() -> Campaign:
    """The demo, for its craft."""
    return load_campaign(DEMO)


def block(replicate: int, length: float, components: int = 32, quiet: bool = False) -> Block:
    """A sea and its noise, or none."""
    sea = draw_components(SEA, HEADING, DEPTH, np.random.default_rng([replicate, 5]), components)
    made = make_block(sea, 0, "convergence", replicate, length + SETTLE, SETTLE)
    if not quiet:
        return made
    nothing = NoiseTables(*(np.zeros_like(table) for table in made.noise))
    return made._replace(noise=nothing._replace(range_uniform=np.ones_like(made.noise.range_uniform)))


def craft(quiet: bool = False) -> Craft:
    """The courier; quiet: without quanta."""
    found = campaign().craft
    if not quiet:
        return found
    servos = found.servos.model_copy(update={"quantum": 0.0})
    ranges = found.rangefinders.model_copy(update={"resolution": 0.0})
    steering = found.steering.model_copy(update={"servo": found.steering.servo.model_copy(update={"quantum": 0.0})})
    return found.model_copy(update={"servos": servos, "rangefinders": ranges, "steering": steering})


def responses(given: Block, quiet: bool = False, strips: int = 2, step: float | None = None) -> np.ndarray:
    """Those that are shown, in the units that people read."""
    ((_, fleet),) = build_fleets([craft(quiet)], fresh_water(288.15, DEPTH), SPEED, strips, step)
    flown = fly(fleet, given).responses[0]
    return np.array([flown[RESPONSE_NAMES.index(name)] * RESPONSE[name].scale for name in SHOWN])


def units() -> list[str]:
    """Headings of the responses."""
    return [f"{title}, {RESPONSE[name].unit}" for title, name in zip(TITLES, SHOWN, strict=True)]


def step_table() -> dict[str, object]:
    """Four seas without noise at four steps; the order by the spread of pitch in the last three."""
    steps = (0.01, 0.005, 0.0025, 0.00125)
    means = {
        step: np.mean([responses(block(i, 20.0, quiet=True), True, step=step) for i in range(4)], axis=0) for step in steps
    }
    rows = [[f"{1000 * step:g} ms", *means[step].tolist()] for step in steps]
    spread = np.array([_spread_of_pitch(step) for step in steps[1:]])
    first, second = np.diff(spread)
    return {
        "caption": "Time step",
        "note": f"Without noise, mean of four flights. Flights take 5 ms or less. Order of the scheme: 2; observed: "
        f"{log2(first / second):.2f}, by the spread of pitch at 5, 2.5 and 1.25 ms.",
        "headings": ["step", *units()],
        "rows": rows,
        "worst_percent": _worst(means[0.005], means[0.00125]),
        "observed_order": float(log2(first / second)),
    }


def _spread_of_pitch(step: float) -> float:
    ((_, fleet),) = build_fleets([craft(True)], fresh_water(288.15, DEPTH), SPEED, 2, step)
    record = fly_record(fleet, block(0, 8.0, quiet=True), 1000.0)[0]
    late = record[:, RECORDED.index("time")] > SETTLE
    return float(record[late, RECORDED.index("pitch")].std())


def _worst(one: np.ndarray, other: np.ndarray) -> float:
    return float(100.0 * np.abs(one / other - 1.0).max())


def strip_table() -> dict[str, object]:
    """Four seas without noise."""
    counts = (2, 4, 8)
    means = {n: np.mean([responses(block(i, 20.0, quiet=True), True, strips=n) for i in range(4)], axis=0) for n in counts}
    return {
        "caption": "Strips of a foil",
        "note": "Without noise, mean of four flights. Flights take two.",
        "headings": ["strips", *units()],
        "rows": [[str(n), *means[n].tolist()] for n in counts],
        "worst_percent": _worst(means[2], means[8]),
    }


def component_table() -> dict[str, object]:
    """Means over replicates, with the standard error of the ride-height error."""
    rows, errors = [], {}
    for count in (16, 32, 64, 128):
        found = np.array([responses(block(i, 30.0, count)) for i in range(REPLICATES)])
        errors[count] = (found[:, 0].mean(), found[:, 0].std(ddof=1) / sqrt(REPLICATES))
        rows.append([str(count), *found.mean(axis=0).tolist(), float(errors[count][1])])
    apart = (errors[32][0] - errors[128][0]) / sqrt(errors[32][1] ** 2 + errors[128][1] ** 2)
    return {
        "caption": "Number of waves in a sea",
        "note": f"Mean of {REPLICATES} flights of 30 s, other waves in each. Flights take 32: they differ from 128 by "
        f"{apart:+.1f} standard errors in the ride-height error.",
        "headings": ["waves", *units(), "standard error of the first"],
        "rows": rows,
        "apart_in_errors": float(apart),
    }


def length_table() -> dict[str, object]:
    """How much one flight differs from the next, by its length."""
    rows = []
    for length in (15.0, 30.0, 60.0, 120.0):
        found = np.array([responses(block(100 + i, length)) for i in range(REPLICATES)])[:, 0]
        rows.append(
            [f"{length:g} s", float(found.mean()), float(found.std(ddof=1)), float(100 * found.std(ddof=1) / found.mean())]
        )
    return {
        "caption": "Length of a flight",
        "note": f"Ride-height error of {REPLICATES} flights, by their scored time. From 30 s on they scatter about as "
        "much however long they are: something is drawn once a flight (see the next table). Length tells of rare events, "
        "replicates of the mean.",
        "headings": ["length", "mean, cm", "standard deviation, cm", "of the mean, %"],
        "rows": rows,
    }


def scatter_table() -> dict[str, object]:
    """What makes one long flight differ from the next: the first block of `length_table`, a part of it from the others."""
    blocks = [block(100 + i, 120.0) for i in range(REPLICATES)]
    first = blocks[0].noise
    made = {
        "all": blocks,
        "waves alone": [each._replace(noise=first) for each in blocks],
        "the sensors' biases alone": [blocks[0]._replace(noise=_with_biases(first, each.noise)) for each in blocks],
        "the sensors' noise alone": [blocks[0]._replace(noise=_with_biases(each.noise, first)) for each in blocks],
    }
    rows = []
    for title, changed in made.items():
        found = np.array([responses(each) for each in changed])[:, 0]
        rows.append([title, float(found.mean()), float(found.std(ddof=1)), float(100 * found.std(ddof=1) / found.mean())])
    return {
        "caption": "What long flights differ by",
        "note": f"Ride-height error of {REPLICATES} flights of 120 s. In the first row all that is drawn by chance is drawn "
        "again for each; below it one thing is, and the others stay: the frequencies and phases of the waves, the biases of "
        "gyros and accelerometers, or the noise from reading to reading.",
        "headings": ["drawn anew in each flight", "mean, cm", "standard deviation, cm", "of the mean, %"],
        "rows": rows,
    }


def _with_biases(noise: NoiseTables, biased: NoiseTables) -> NoiseTables:
    return noise._replace(gyro_bias=biased.gyro_bias, accelerometer_bias=biased.accelerometer_bias)


def replicate_table() -> dict[str, object]:
    """Of 64 flights by twos, fours ...: the mean half width of Student's interval, and how often it holds the mean of all."""
    values = np.array([responses(block(200 + i, 20.0)) for i in range(64)])[:, 0]
    rows = []
    for count in (2, 4, 8, 16):
        groups = values.reshape(-1, count)
        half = student.ppf(0.975, count - 1) * groups.std(axis=1, ddof=1) / sqrt(count)
        held = np.abs(groups.mean(axis=1) - values.mean()) <= half
        rows.append(
            [str(count), float(np.mean(half)), float(100 * np.mean(half) / values.mean()), f"{held.sum()} of {len(held)}"]
        )
    return {
        "caption": "Number of flights",
        "note": "64 flights of 20 s in groups: half of a 95 % interval of the ride-height error, and how many intervals hold "
        "the mean of all 64.",
        "headings": ["replicates", "half of the interval, cm", "of the mean, %", "hold the mean"],
        "rows": rows,
    }


def main() -> None:
    """Make all tables."""
    tables = {
        "step": step_table(), "strips": strip_table(), "components": component_table(), "length": length_table(),
        "scatter": scatter_table(), "replicates": replicate_table(),
    }  # fmt: skip
    print(write("convergence", "python -m tests.benchmarks.convergence", tables).read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()

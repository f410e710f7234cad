"""What the model expects a craft to measure in a sea: flights through drawn seas near it, and a surface fitted to them.

The surface is log y = a + b log(height) + c log(period) + d log(height)^2, for each set of passes with one heading and speed.
Height and period are estimated from each flight's own log, by the same code as for logs from the water. So the flights' scatter
about the surface is that of one pass, with the error of its sea included.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.logs.compare.simulated_log import LONGEST_FLIGHT, SEED, SETTLE, Flown, fly_aboard
from sweep.logs.sea.judge import sea_of_record
from sweep.logs.sea.measure import measures
from sweep.model.block import make_block
from sweep.model.compiled import LANES
from sweep.model.onboard.noise import generator
from sweep.model.physics.spectra import Floats, Spectrum
from sweep.model.physics.water import Water
from sweep.model.physics.waves import Sea, draw_components, random_amplitudes

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

FLIGHTS = 24
"""Of the model through drawn seas, for one surface (judgement)."""
LEAST_FLIGHTS = 8
"""Of them, that last to their end: twice the coefficients of the surface (judgement)."""
LINES = 128  # of a flight's sea (measured: of 32 the acceleration's surface was wrong in slope, and scattered twice as much)
SPREAD = (0.35, 0.12)  # of log height and log period, at least, about the middle (judgement)


class Case(NamedTuple):
    """How passes go: speed m/s, waves rad (between their way and the craft's), depth m, length of a pass s."""

    speed: float
    waves: float
    depth: float
    length: float


class Expected(NamedTuple):
    """The surface of every measure.

    middle: log height (m) and log period (s); by measure: coefficients (4,), their covariance, scatter of one pass (of the
    logarithm). true: mean ratio of true to sensed ride height error (m/m). lost: share of flights that ended early.
    """

    middle: tuple[float, float]
    coefficients: dict[str, Floats]
    covariance: dict[str, Floats]
    scatter: dict[str, float]
    true: float
    lost: float

    def value(self, name: str, height: Floats | float, period: Floats | float) -> Floats:
        """The measure in seas of these heights (m) and periods (s)."""
        found: Floats = np.exp(self.terms(height, period) @ self.coefficients[name])
        return found

    def slope(self, name: str, height: float, period: float) -> float:
        """Relative change per relative change of the height, there."""
        step = 1e-3
        up, down = (float(self.value(name, height * math.exp(s), period)[0]) for s in (step, -step))
        return (math.log(up) - math.log(down)) / (2.0 * step)

    def doubt(self, name: str, height: float, period: float) -> float:
        """Standard error of the logarithm of `value`."""
        terms = self.terms(height, period)[0]
        return float(np.sqrt(terms @ self.covariance[name] @ terms))

    def terms(self, height: Floats | Sequence[float] | float, period: Floats | Sequence[float] | float) -> Floats:
        """(seas, 4): the terms of the coefficients."""
        h = np.log(np.atleast_1d(height)) - self.middle[0]
        t = np.log(np.atleast_1d(period)) - self.middle[1]
        return np.column_stack([np.ones_like(h), h, t, h**2])


def expect(
    craft: Craft,
    water: Water,
    case: Case,
    seas: Sequence[Spectrum],
    flights: int = FLIGHTS,
    progress: Callable[[int], None] = lambda flights: None,
) -> Expected:
    """What passes of this craft measure in seas that span these. Raises ValueError if it has no trim at this speed."""
    heights, periods = (np.log([getattr(sea, name) for sea in seas]) for name in ("significant_height", "peak_period"))
    middle = (float(np.mean([heights.min(), heights.max()])), float(np.mean([periods.min(), periods.max()])))
    reach = [max(0.5 * float(np.ptp(each)) + 0.1, least) for each, least in zip((heights, periods), SPREAD, strict=True)]
    gamma = float(np.median([sea.gamma for sea in seas]))
    around = [
        [(2.0 * _halton(i + 1, base) - 1.0) * far for base, far in zip((2, 3), reach, strict=True)] for i in range(flights)
    ]
    wanted = [Spectrum(math.exp(middle[0] + h), math.exp(middle[1] + t), gamma) for h, t in around]
    flown: list[_Flight] = []
    for first in range(0, flights, LANES):
        some = range(first, min(first + LANES, flights))
        flown += _passes(craft, water, case, [wanted[i] for i in some], first)
        progress(len(some))
    if len(flown) < LEAST_FLIGHTS:
        raise ValueError(f"{len(flown)} of {flights} flights of the model lasted: too few to expect anything of")
    places = np.array([flight.place for flight in flown]) - middle
    true = float(np.mean([flight.true for flight in flown]))
    return _fitted(middle, places, [flight.measures for flight in flown], true, 1.0 - len(flown) / flights)


def _halton(index: int, base: int) -> float:
    share, found = 1.0, 0.0
    while index:
        share /= base
        found += share * (index % base)
        index //= base
    return found


class _Flight(NamedTuple):
    measures: dict[str, float]
    place: tuple[float, float]  # log height and log period by the flight's own log, or as drawn
    true: float


def _passes(craft: Craft, water: Water, case: Case, seas: Sequence[Spectrum], first: int) -> list[_Flight]:
    """A pass in each of these seas, side by side, numbered from `first`; those that ended early are left out."""
    length = min(case.length, LONGEST_FLIGHT) + SETTLE
    content = f"expected {case.speed:.6g} {case.waves:.6g}"
    drawn, blocks = [], []
    for number, sea in enumerate(seas, first):
        draws = generator(SEED, content, number, "sea")
        drawn.append(random_amplitudes(draw_components(sea, case.waves, case.depth, draws, LINES), draws))
        blocks.append(make_block(drawn[-1], SEED, content, number, length, SETTLE))
    flights = fly_aboard([craft] * len(seas), water, blocks, case.speed)
    return [
        _measured(flown, craft, case, sea, height_of(waves))
        for flown, sea, waves in zip(flights, seas, drawn, strict=True)
        if flown.log and not flown.ended
    ]


def height_of(waves: Sea) -> float:
    """Significant height of a drawn sea, m."""
    return 4.0 * math.sqrt(0.5 * float(waves.amplitude @ waves.amplitude))


def _measured(flown: Flown, craft: Craft, case: Case, sea: Spectrum, height: float) -> _Flight:
    found = measures(flown.log, craft)
    off = flown.truth["ride_height"] - craft.control.ride_height
    told = sea_of_record(flown.log, craft, case.speed, case.waves, case.depth, craft.rangefinders.first("latency"))
    place = (height, sea.peak_period)
    if told is not None and told.verdict == "measured":
        place = (told.height.value, told.period.value)
    return _Flight(found, (math.log(place[0]), math.log(place[1])), float(np.sqrt(np.mean(off**2))) / found["sensed_error"])


def _fitted(
    middle: tuple[float, float], places: Floats, rows: Sequence[Mapping[str, float]], true: float, lost: float
) -> Expected:
    h, t = places.T
    terms = np.column_stack([np.ones_like(h), h, t, h**2])
    inverse = np.linalg.pinv(terms.T @ terms)
    coefficients, covariance, scatter = {}, {}, {}
    for name in rows[0]:
        values = np.log([max(row[name], 1e-9) for row in rows])
        coefficients[name] = inverse @ terms.T @ values
        off = values - terms @ coefficients[name]
        scatter[name] = float(np.sqrt(off @ off / max(len(values) - 4, 1)))
        covariance[name] = inverse * scatter[name] ** 2
    return Expected(middle, coefficients, covariance, scatter, true, lost)


def as_witness(expected: Expected) -> Expected:
    """The same, with the true ride height error in place of the witness's."""
    shifted = expected.coefficients["sensed_error"].copy()
    shifted[0] += math.log(expected.true)
    return expected._replace(
        coefficients={**expected.coefficients, "witness_error": shifted},
        covariance={**expected.covariance, "witness_error": expected.covariance["sensed_error"]},
        scatter={**expected.scatter, "witness_error": expected.scatter["sensed_error"]},
    )

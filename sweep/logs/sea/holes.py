"""Heave across holes in the accelerations.

What the craft did in a hole nobody knows; after it, its velocity and its place are off by some step each, and the double
integration spreads the steps over seconds. The rangefinder saw the water meanwhile, whose elevation is a process with a
spectrum of its own: the steps are those that leave such a process most likely, beside what a hole of that length can do. The
water is taken as autoregressive, its coefficients by Yule and Walker's equations from the elevation itself, in rounds
(expectation and maximisation: Dempster, Laird & Rubin, Journal of the Royal Statistical Society B 39, 1977, 1-38, from memory).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from scipy.linalg import solve_toeplitz
from scipy.sparse import csr_array, diags_array, hstack, vstack
from scipy.sparse.linalg import splu

from sweep.logs.read.channels import Series
from sweep.model.physics.spectra import Floats

WIDE = 1.5
"""Times the usual step between accelerations, beyond which it is a hole (judgement)."""
LEAST_STEP = 0.003
"""m/s: a hole that can do no more is left alone (judgement)."""
BENDS = 0.04
"""s, over which the bend of an acceleration is taken, so that it is not its noise (judgement)."""
MOST = 1.0
"""Holes a second whose steps are told (judgement); the smaller ones beyond are left in, and counted as unsure."""
SHORTEST = 5.0
"""s of readings, and as many for each step of the process's memory, without which no step is told (judgement)."""
LONG = 0.1
"""s: in a hole so long the place of the craft is not known by a straight line through its accelerations (judgement)."""
MEMORY = 8
"""Order of the water's process (judgement): two crests and troughs of a spectrum."""
ROUNDS, DRAWS = 4, 12
"""Of the process and the steps in turn, and of the steps that an unsure one might as well be (judgement)."""
REACH = 12.0
"""s, after which a step is forgotten: three periods of the slowest that is kept."""


class Holes(NamedTuple):
    """Middles and lengths (s) of holes, and how large the steps of velocity (m/s) and place (m) over them may be; (holes,)."""

    middle: Floats
    length: Floats
    velocity: Floats
    place: Floats


class Bridge(NamedTuple):
    """What to add to the heave at the readings, m, (readings,); and draws of what parts it from the true one then.

    lacks: what the likeliest steps lack of the true ones, which is unlike them; left: of holes whose steps are left in; both m,
    (readings, DRAWS).
    """

    heave: Floats
    lacks: Floats
    left: Floats

    @property
    def off(self) -> Floats:
        """What it may be off by, (readings, DRAWS)."""
        return self.lacks + self.left


def holes_of(acceleration: Series) -> Holes:
    """The holes of a record of accelerations (m/s2), and what may hide in them by how the rest of it swings."""
    steps = np.diff(acceleration.time)
    usual = float(np.median(steps))
    wide = np.flatnonzero(steps > WIDE * usual)
    before, length = acceleration.time[wide], steps[wide]
    lag = max(round(BENDS / usual), 1)
    even = acceleration.at(np.arange(acceleration.time[0], acceleration.time[-1], usual))
    bends = (even[2 * lag :] - 2.0 * even[lag:-lag] + even[: -2 * lag]) / (lag * usual) ** 2
    size, bend = float(np.std(even)), float(np.sqrt(np.mean(bends**2))) if len(bends) else 0.0
    off = np.minimum(bend * length**2 / 12.0, size)  # of the mean acceleration, by a straight line through the hole
    some = off * length > LEAST_STEP
    off, length = off[some], length[some]
    return Holes(before[some] + 0.5 * length, length, off * length, off * length**2 / 4.0)


def inside_of(holes: Holes, time: Floats) -> np.ndarray:
    """Which times (s) lie in a hole so long that the heave there is not known."""
    found = np.zeros(len(time), dtype=bool)
    for middle, length in zip(holes.middle, holes.length, strict=True):
        if length > LONG:
            found |= np.abs(time - middle) < 0.5 * length
    return found


def step_responses(gap: float, passed: Floats, count: int) -> tuple[Floats, Floats, Floats]:
    """Times (s), and the displacement after a step of velocity and of place of 1 at the time 0, as the integration has it.

    gap: s between the ticks of the record, of which there are `count`; passed: by its filter, at the frequencies.
    """
    turning = 2j * np.pi * np.fft.rfftfreq(count, gap)
    turning[0] = 1.0
    found = np.array([np.fft.fftshift(np.fft.irfft(passed / power / gap, count)) for power in (turning**2, turning)])
    return np.asarray((np.arange(count) - count // 2) * gap), found[0], found[1]


def bridge(water: Series, rate: float, holes: Holes, responses: tuple[Floats, Floats, Floats]) -> Bridge:
    """The steps over the holes, as heave at the readings of the water.

    water: elevation (m) by the readings, with the heave as it is; rate: Hz of the readings. Returns what the heave lacks:
    nothing, where there are too few readings to tell, with all that the holes may do left as unsure.
    """
    largest = np.argsort(-holes.velocity, kind="stable")
    span = float(water.time[-1] - water.time[0])
    most = round(MOST * span) if span > SHORTEST and len(water.time) > SHORTEST * MEMORY else 0
    told, left_in = (Holes(*(each[some] for each in holes)) for some in (np.sort(largest[:most]), largest[most:]))
    heave, lacks, left = (np.zeros((len(water.time), some)) for some in (1, DRAWS, DRAWS))
    if len(told.middle):
        heave, lacks = _told(water, rate, _columns(water.time, told, responses), _prior(told))
    if len(left_in.middle):
        chance = np.random.default_rng(1).standard_normal((2 * len(left_in.middle), DRAWS))
        left = np.asarray(_columns(water.time, left_in, responses) @ (_prior(left_in)[:, None] * chance))
    return Bridge(heave[:, 0], lacks, left)


def _told(water: Series, rate: float, steps: csr_array, prior: Floats) -> tuple[Floats, Floats]:
    """Heave by the likeliest steps, (readings, 1), and by draws of what they lack, (readings, DRAWS)."""
    tick, first = np.unique(np.round((water.time - water.time[0]) * rate).astype(int), return_index=True)
    values, seen = (water.value - water.value.mean())[first], steps[first]
    sizes, draws = np.zeros((len(prior), 1)), np.zeros((len(prior), 1))
    for order in (0, *(ROUNDS - 1) * (MEMORY,)):
        process, noise = _process(values[:, None] + seen @ (sizes + draws), tick, order)
        sizes, draws = _most_likely((values, tick), seen, prior, process, noise)
    return np.asarray(steps @ sizes), np.asarray(steps @ draws)


def _prior(holes: Holes) -> Floats:
    """Standard deviations of the steps, of velocity and then of place."""
    return np.concatenate([holes.velocity, holes.place])


def _columns(time: Floats, holes: Holes, responses: tuple[Floats, Floats, Floats]) -> csr_array:
    """(readings, 2 holes): displacement at each reading by a step of 1 over each hole, of velocity and then of place."""
    after, velocity, place = responses
    first, last = (np.searchsorted(time, holes.middle + sign * REACH) for sign in (-1.0, 1.0))
    row = np.concatenate([np.arange(*each) for each in zip(first, last, strict=True)])
    column = np.repeat(np.arange(len(first)), last - first)
    off = time[row] - holes.middle[column]
    parts = [csr_array((np.interp(off, after, each), (row, column)), (len(time), len(first))) for each in (velocity, place)]
    return csr_array(hstack(parts))


def _process(left: Floats, tick: np.ndarray, order: int) -> tuple[Floats, float]:
    """Coefficients of the process that the elevation is, (order,), and the variance of what is new at a tick, m2.

    left: (readings, draws). Ticks without a reading have no part.
    """
    count = int(tick[-1]) + 1
    grid, known = np.zeros((count, left.shape[1])), np.zeros(count)
    grid[tick], known[tick] = left - left.mean(axis=0), 1.0
    lags = range(order + 1)
    pairs = np.array([known[: count - lag] @ known[lag:] for lag in lags])
    products = np.array([(grid[: count - lag] * grid[lag:]).sum() for lag in lags]) / left.shape[1]
    covariance = products / np.maximum(pairs, 1.0)
    covariance[0] *= 1.0 + 1e-3  # a little white noise keeps the equations sound
    if order == 0:
        return np.zeros(0), float(covariance[0])
    process: Floats = solve_toeplitz(covariance[:-1], covariance[1:])
    return process, float(max(covariance[0] - process @ covariance[1:], 1e-3 * covariance[0]))


def _most_likely(
    water: tuple[Floats, np.ndarray], steps: csr_array, prior: Floats, process: Floats, noise: float
) -> tuple[Floats, Floats]:
    """The likeliest sizes of the steps (steps, 1), and draws about them (steps, DRAWS).

    Water that no reading saw is found beside them. prior: standard deviations of the sizes.
    """
    (values, tick), known = water, steps.shape[1]
    count = int(tick[-1]) + 1
    unseen = np.setdiff1d(np.arange(count), tick)
    new = _new(process, noise, count)
    seen_new, unseen_new = csr_array(new[:, tick]), csr_array(new[:, unseen])
    asked = csr_array(hstack([seen_new @ steps, unseen_new]))
    doubts = csr_array(hstack([diags_array(1.0 / prior), csr_array((known, len(unseen)))]))
    rows = csr_array(vstack([asked, doubts]))
    solved = splu((rows.T @ rows).tocsc())
    wanted = -rows.T @ np.concatenate([seen_new @ values, np.zeros(known)])
    inverse = solved.solve(np.eye(rows.shape[1], known))[:known]
    random = np.random.default_rng(0)
    root = np.linalg.cholesky(0.5 * (inverse + inverse.T) + 1e-12 * np.diag(np.diag(inverse)))
    return solved.solve(wanted)[:known, None], np.asarray(root @ random.standard_normal((known, DRAWS)))


def _new(process: Floats, noise: float, count: int) -> csr_array:
    """(ticks with a whole memory, ticks): what is new at a tick, by its own size, of the elevation at it and those before."""
    first = np.arange(count - len(process))
    offsets, weights = np.arange(len(process), -1, -1), np.concatenate([-process[::-1], [1.0]]) / math.sqrt(noise)
    columns = (first[:, None] + len(process) - offsets).ravel()
    return csr_array((np.tile(weights, len(first)), (np.repeat(first, len(offsets)), columns)), (len(first), count))

"""What a fit leaves open: draws of its numbers, with their correlations, which a campaign takes as unknowns."""

from __future__ import annotations

import numpy as np
from scipy.stats import t as student

from sweep.insight.intervals import CONFIDENCE
from sweep.logs.compare.simulated_log import SEED
from sweep.logs.fit.craft_fit import FLIGHTS, Result
from sweep.logs.fit.numbers import NUMBERS
from sweep.model.onboard.noise import generator
from sweep.model.physics.spectra import Floats
from sweep.words.units import in_unit

ROWS = 400
"""Draws that are written (judgement)."""


def draws(result: Result) -> dict[str, Floats]:
    """Draws of the numbers that the logs show, by heading: an address with its unit, or with % of what the fitted craft has.

    Student's, as the intervals of the fit are, several numbers together (Kotz & Nadarajah, Multivariate t Distributions, 2004),
    each widened by the number's own floor, which is what the model leaves out. Those beyond the limits of a fit are left out.
    Nothing where the logs show none of them.
    """
    if not result.covariance.size:
        return {}
    at = [place for place, number in enumerate(result.numbers) if number.identified]
    if not at:
        return {}
    names = [result.numbers[place].name for place in at]
    values = np.array([result.numbers[place].value for place in at])
    freedom = FLIGHTS - 1
    floors = np.array([NUMBERS[name].floor for name in names]) / student.ppf(0.5 + 0.5 * CONFIDENCE, freedom)
    scale = result.covariance[np.ix_(at, at)] + np.diag(floors**2)
    random = generator(SEED, "posterior", 0, "fit")
    tails = np.sqrt(freedom / random.chisquare(freedom, (4 * ROWS, 1)))
    rows = values + random.multivariate_normal(np.zeros(len(at)), scale, 4 * ROWS, method="eigh") * tails
    limits = np.array([NUMBERS[name].limits(result.craft) for name in names]).reshape(-1, 2)
    rows = rows[((rows >= limits[:, 0]) & (rows <= limits[:, 1])).all(axis=1)][:ROWS]
    return {_heading(name): rows[:, place] * _shown(name, values[place]) for place, name in enumerate(names)}


def _heading(name: str) -> str:
    number = NUMBERS[name]
    return f"{number.addresses[0]} ({'%' if number.factor else number.unit})"


def _shown(name: str, fitted: float) -> float:
    """What a drawn number is multiplied by, to be written."""
    return 100.0 / fitted if NUMBERS[name].factor else in_unit(1.0, NUMBERS[name].unit)

"""The shipped courier does what it was drawn for: it trims, it flies the chop, and its gains earn their keep.

Bars and numbers of replicates were set before the flights were run. Flights are 30 s, of which 5 s settle; JONSWAP seas of
significant height 4 cm and peak period 1.0 s at 4 m/s, a sea and noise of its own for every replicate.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.craft import Craft
from sweep.campaign.scoring import DEFAULT_SCORE
from sweep.insight.scores import flight_scores
from sweep.model import layout as at
from sweep.model.pack.fleet import Fleet
from sweep.model.quantities import RESPONSE_NAMES
from tests.model.crafts import (
    HEADINGS,
    Bench,
    Floats,
    block_of,
    changed,
    courier,
    fleet_of,
    jonswap,
    replicates,
)

REPLICATES = 10
LENGTH, SETTLE = 30.0, 5.0
SPEEDS = np.arange(2.5, 8.01, 0.25)

# The comparison of gains: ten pairs of flights a heading; over both headings together the slack gains score at least a quarter
# worse, and in each heading the mean difference of the pairs is more than three of its standard errors.
LEAST_RATIO = 1.25
STANDARD_ERRORS = 3.0


def slack(craft: Craft) -> Craft:
    """A tenth of the height loop's gains."""
    height = craft.control.height
    gains = ("proportional", "integral", "derivative")
    return changed(craft, {f"control.height.{name}": 0.1 * getattr(height, name) for name in gains})


@cache
def both() -> Fleet:
    """The courier and its slack twin."""
    return fleet_of([courier(), slack(courier())])


@cache
def flights(heading: str) -> dict[str, Floats]:
    """Responses and status, (replicates, 2): shipped, slack."""
    seas = [jonswap(HEADINGS[heading], seed=100 + number) for number in range(REPLICATES)]
    return replicates(both(), [block_of(sea, LENGTH, SETTLE, replicate=number) for number, sea in enumerate(seas)])


def scores(heading: str) -> Floats:
    """Default score of every flight, (replicates, 2)."""
    flown = flights(heading)
    table = pd.DataFrame({name: flown[name].ravel() for name in ("status", *RESPONSE_NAMES)})
    return flight_scores(table, DEFAULT_SCORE, LENGTH - SETTLE).reshape(REPLICATES, 2)


def test_it_trims_from_take_off_to_eight_metres_a_second() -> None:
    """Within thrust and travel at every quarter of a metre a second; at the lower end the aft foil is near its travel."""
    craft = courier()
    for speed in SPEEDS:
        bench = Bench(craft, float(speed))
        angles = [bench.get(bench.foil(number) + at.FOIL.servo.angle) for number in range(3)]
        assert bench.fleet.feasible[0], f"no trim at {speed} m/s"
        assert np.abs(angles).max() <= craft.servos.travel
        assert 0.0 < bench.fleet.trim[0, 2] < 1.0


@pytest.mark.parametrize("heading", ["head", "following"])
def test_every_replicate_stays_foilborne_within_the_window(heading: str) -> None:
    flown = flights(heading)
    assert np.all(flown["status"][:, 0] == 0)
    assert flown["time_flown"][:, 0] == pytest.approx([LENGTH - SETTLE] * REPLICATES)
    assert flown["time_foilborne"][:, 0] == pytest.approx([LENGTH - SETTLE] * REPLICATES)
    assert flown["outside_window"][:, 0].tolist() == [0.0] * REPLICATES
    assert flown["lost_flights"][:, 0].sum() == flown["upsets"][:, 0].sum() == 0.0
    assert flown["touchdowns"][:, 0].sum() == flown["broaches"][:, 0].sum() == 0.0
    assert flown["encounters"].min() >= 50.0


def test_in_head_seas_it_keeps_its_level() -> None:
    """Standard deviation against the calm level under 0.8 cm in every replicate."""
    assert flights("head")["level_height_deviation"][:, 0].max() < 0.008


def test_the_shipped_gains_are_clearly_better_than_slack_ones() -> None:
    pairs = {heading: scores(heading) for heading in ("head", "following")}
    pooled = np.concatenate(list(pairs.values())).mean(axis=0)
    assert pooled[1] > LEAST_RATIO * pooled[0], f"shipped {pooled[0]:.3f}, slack {pooled[1]:.3f}"
    for heading, both_scores in pairs.items():
        gain = both_scores[:, 1] - both_scores[:, 0]
        error = gain.std(ddof=1) / np.sqrt(REPLICATES)
        assert gain.mean() > STANDARD_ERRORS * error, f"{heading}: {gain.mean():.3f} +- {error:.3f}"

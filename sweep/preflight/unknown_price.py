"""What it costs that something of the boat is not known, before it is flown."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from typing import TYPE_CHECKING

import joblib
import scipy

from sweep.campaign.designs import crafts_of
from sweep.flying.packing import RangeFleets
from sweep.flying.progress import duration
from sweep.insight.by_draw import draws_in
from sweep.insight.hanging import LEAST_DRAWS
from sweep.insight.intervals import TAIL
from sweep.model.compiled import LANES
from sweep.words.numbers import count, number
from sweep.words.phrases import listed

if TYPE_CHECKING:
    import pandas as pd

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.conditions import Condition

FEWEST_DRAWS = 8
"""Draws to plan (judgement): with fewer, Student's factor makes intervals wide by itself."""


def unknown_sentences(campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> list[str]:
    """What is drawn, what that takes, and how many replicates to plan; nothing if all is known."""
    unknowns = campaign.unknowns
    if unknowns is None:
        return []
    draws = draws_in(campaign.replicates, unknowns)
    each = listed([f"{unknown.label} ({unknown.said()})" for unknown in unknowns.each], "and")
    pairs = (
        f", a draw for every {unknowns.waves} of them: settings are chosen by one, and judged by another"
        if unknowns.waves > 1
        else ""
    )
    packing = pack_seconds(campaign, designs, conditions) * draws / joblib.cpu_count()
    told = [
        f"Not known of the boat, and drawn with the replicates: {each}. {count(draws, 'draw', 'draws').capitalize()} in "
        f"{count(campaign.replicates, 'replicate', 'replicates')}{pairs}. All designs meet the same draws, and each design is "
        f"made ready anew for each draw: about {duration(max(packing, 1.0))} more here.",
        "Intervals follow from how the draws differ, not the flights. How much wider they get is not known before.",
    ]
    if draws < FEWEST_DRAWS:
        now = f"it is {number(_factor(draws), 2)}" if draws > 1 else "there is none"
        told.append(
            f"In doubt: {count(draws, 'draw', 'draws')}. Plan {FEWEST_DRAWS} at least, which is “replicates: "
            f"{FEWEST_DRAWS * unknowns.waves}”: an interval is then {number(_factor(FEWEST_DRAWS), 2)} standard errors either "
            f"way; with {draws} {now}. What to measure first takes {LEAST_DRAWS} draws."
        )
    return told


def _factor(draws: int) -> float:
    """Student's factor of an interval over so many draws."""
    return -float(scipy.special.stdtrit(draws - 1.0, TAIL))


def pack_seconds(campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> float:
    """Seconds of one processor in which all designs are packed for one draw, by a few of them at one speed."""
    some = list(crafts_of(campaign, designs.iloc[:LANES]))
    begun = time.thread_time()
    RangeFleets(campaign, some, some).at(conditions[0].speeds, conditions[0].fault, 0)
    needs = len({(each.speeds, each.fault.times) for each in conditions})
    return (time.thread_time() - begun) * math.ceil(len(designs) / len(some)) * needs

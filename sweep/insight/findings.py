"""Results beyond the standings: builds and their settings, and what matters."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.insight.builds import find_builds
from sweep.insight.by_draw import by_draw
from sweep.insight.failing import Failures
from sweep.insight.hanging import hangs_on
from sweep.insight.intervals import Array
from sweep.insight.matters import failing, what_matters, without_holes
from sweep.insight.rank import judged
from sweep.model.quantities import FLEW, RESPONSE, RESPONSE_NAMES

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

SCORE = "score"
FAILING = "failing"
"""The share of flights that end early or do not start, as a response of all designs."""
MOST_SUMS = 16_000_000
"""Sums of responses by design and condition that are held at once, ten numbers each (judgement): about a gigabyte."""


class Findings(NamedTuple):
    """Tables as the results folder keeps them.

    builds, settings: see `sweep.insight.builds`; effects, levels: see `sweep.insight.effects` and `levels`, with the column
    response before them: 'score' or the name of a response (SI), among designs that fly; `FAILING`, where some do not, among
    all; hanging: see `sweep.insight.hanging`.
    """

    builds: pd.DataFrame
    settings: pd.DataFrame
    effects: pd.DataFrame
    levels: pd.DataFrame
    hanging: pd.DataFrame


def find(
    campaign: Campaign,
    designs: pd.DataFrame,
    scores: Array,
    verdicts: Sequence[str],
    values: Callable[[str], Array],
    failures: Failures | None = None,
) -> Findings:
    """Builds from the scores, effects on them and on each response that the campaign judges by; what the choice hangs on.

    scores, values(response or 'status'): (designs, conditions, replicates), scores as `Scoring.scores` has them, NaN where
    nothing was flown, values as they were flown; of the scores
    only those of the campaign's own replicates compare all designs. verdicts: of the limits, (designs,); failures: of the
    designs; by these scores' flights if not given.
    """
    every, scores, unknowns = scores, scores[:, :, : campaign.replicates], campaign.unknowns
    season = np.array(campaign.season)[:, None] if campaign.season else 1.0
    boats = find_builds(campaign.factors, designs, scores, verdicts, failures, unknowns)
    flown = np.isfinite(scores)
    failed = np.where(flown, values("status") != FLEW, np.nan)
    flies = ~failing(failures.share() if failures else _mean_known(failed))
    found = {SCORE: what_matters(campaign, designs, by_draw(scores, unknowns), flies)}
    for name in judged(campaign):
        known = without_holes(np.where(flies[:, None, None], values(name), np.nan))
        found[name] = what_matters(campaign, designs, by_draw(np.where(flown, season * known, np.nan), unknowns), flies)
    if flown.any() and not flies[1:].all():
        every_design = np.where(flown.any(axis=(1, 2), keepdims=True), failed, 1.0)
        found[FAILING] = what_matters(campaign, designs, by_draw(season * every_design, unknowns))
    effects, levels = (_stacked({name: each[at] for name, each in found.items()}) for at in (0, 1))
    hanging = hangs_on(campaign, every, np.asarray(verdicts) != "broken", boats)
    return Findings(boats.table, boats.settings, effects, levels, hanging)


def _mean_known(values: Array) -> Array:
    """The mean over what is known of each design, NaN where nothing is, (designs,)."""
    counts = np.isfinite(values).sum(axis=(1, 2))
    with np.errstate(invalid="ignore"):
        return np.asarray(np.nansum(values, axis=(1, 2)) / np.where(counts > 0, counts, np.nan))


def _stacked(tables: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """The tables one below the other, each with its name before its rows."""
    parts = [table.assign(response=name) for name, table in tables.items() if len(table)]
    stacked = (
        pd.concat(parts, ignore_index=True) if parts else next(iter(tables.values())).assign(response=pd.Series(dtype=str))
    )
    return stacked[["response", *(column for column in stacked if column != "response")]]


def gathered(parts: Iterable[pd.DataFrame], name: str, shape: tuple[int, int, int]) -> Array:
    """One response of all flights, (designs, conditions, replicates), NaN where there is none.

    parts: rows with design, condition, replicate and the response.
    """
    values = np.full(shape, np.nan)
    for rows in parts:
        place = tuple(rows[key].to_numpy() for key in ("design", "condition", "replicate"))
        values[place] = rows[name].to_numpy(dtype=np.float64)
    return values


def mean_responses(parts: Iterable[pd.DataFrame], designs: int, season: Sequence[float] = ()) -> pd.DataFrame:
    """Mean of every response over the flights of each design that have it, SI; NaN where none has. Index: design.

    parts: rows with design, condition and all responses; season: how much each condition counts; alike where empty.
    """
    totals, counts = np.zeros((designs, len(RESPONSE_NAMES))), np.zeros((designs, len(RESPONSE_NAMES)))
    for rows in parts:
        values = rows[list(RESPONSE_NAMES)].to_numpy(dtype=np.float64)
        often = np.array(season)[rows["condition"].to_numpy()][:, None] if season else 1.0
        np.add.at(totals, rows["design"].to_numpy(), often * np.nan_to_num(values))
        np.add.at(counts, rows["design"].to_numpy(), often * ~np.isnan(values))
    with np.errstate(invalid="ignore"):
        means = pd.DataFrame(totals / counts, columns=list(RESPONSE_NAMES))
    means.index.name = "design"
    return means


def shared_responses(
    parts: Callable[[Sequence[str]], Iterable[pd.DataFrame]],
    best: int,
    shape: tuple[int, int, int],
    season: Sequence[float] = (),
) -> pd.DataFrame:
    """As `mean_responses` where designs have unlike blocks: the best's mean over conditions, and how far each is from it.

    The distance is over the blocks that both have, condition by condition; a design that shares none, or has all blocks of the
    best, has its own mean over conditions. No mean leaves the range of its response. parts: makes rows with design, condition,
    replicate and the responses of these names; shape: designs, conditions, replicates; season: how much each condition counts.
    """
    often = np.array(season or [1.0] * shape[1])[:, None]
    some = max(MOST_SUMS // (shape[0] * shape[1]), 1)
    names = [list(RESPONSE_NAMES[at : at + some]) for at in range(0, len(RESPONSE_NAMES), some)]
    found = pd.concat([_shared(partial(parts, each), best, shape, often, each) for each in names], axis=1)
    found.index.name = "design"
    return found


def _shared(
    parts: Callable[[], Iterable[pd.DataFrame]], best: int, shape: tuple[int, int, int], often: Array, names: list[str]
) -> pd.DataFrame:
    """As `shared_responses`, of some responses; often: how much each condition counts, (conditions, 1)."""
    reference = np.full((*shape[1:], len(names)), np.nan)
    for rows in parts():
        own = rows[rows["design"] == best]
        reference[own["condition"].to_numpy(), own["replicate"].to_numpy()] = own[names].to_numpy(dtype=np.float64)
    sums = np.zeros((2, shape[0], shape[1], len(names)))  # of a design's own values, and of its distances
    counts = np.zeros_like(sums)
    for rows in parts():
        place = rows["design"].to_numpy(), rows["condition"].to_numpy()
        values = rows[names].to_numpy(dtype=np.float64)
        for at, each in enumerate((values, values - reference[place[1], rows["replicate"].to_numpy()])):
            np.add.at(sums[at], place, np.nan_to_num(each))
            np.add.at(counts[at], place, ~np.isnan(each))
    with np.errstate(invalid="ignore", divide="ignore"):
        means = sums / counts
        held = (often * (counts > 0)).sum(axis=2)
        own, apart = np.nansum(often * means, axis=2) / held
        whole = counts[1] >= np.isfinite(reference).sum(axis=1)
    told = np.where(whole.all(axis=1) | ~np.isfinite(apart), own, own[best] + apart)
    low, high = np.array([(RESPONSE[name].low, RESPONSE[name].high) for name in names]).T
    return pd.DataFrame(np.clip(told, low, high), columns=names)  # a distance from the best may lead off the scale

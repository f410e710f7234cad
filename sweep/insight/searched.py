"""Standings after a search: the finalists by their final, all other designs by the rounds that they flew.

The flights of the final chose no finalist, so that its scores do not flatter. A design that did not come into the final is
told by how far it was, block by block, from those finalists that flew its round beside it and had come before, or else from the
base craft; that distance is laid on their scores in the final, condition by condition. What a few flights of a round tell is
rough: those may be the best that the final cannot tell from its best. By how much a design outside it may be better is told by
all rounds together (`narrowing`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.plan import SEARCH_ROUNDS
from sweep.campaign.search_plan import FIRST_SEARCHED
from sweep.insight.failing import Failures
from sweep.insight.intervals import CONFIDENCE, TAIL, Array, Estimate, estimate
from sweep.insight.race import BASE
from sweep.insight.ranking import Places, intervals
from sweep.insight.search import Round
from sweep.insight.uneven import uneven_estimate
from sweep.model.quantities import RESPONSE

LEFT_OUT = "and not into the final."
"""How the remark of a design that a round flew and no final ends."""


class Flown(NamedTuple):
    """Scores, or a response, of a search: final (finalists, conditions, replicates), the base craft first; rounds (designs,
    conditions, searched replicates); NaN where nothing was flown."""

    final: Array
    rounds: Array


class Others(NamedTuple):
    """The designs outside the final: numbers; verdicts, one row a design of all; failures, of all in the rounds; least: by how
    much the best of them is behind the best of the final at least, as far as all rounds together tell, NaN if they do not.
    """

    numbers: Places
    verdicts: pd.DataFrame
    failures: Failures
    least: float


def rounds_of(scores: Array) -> list[Round]:
    """The rounds of a search from the scores in its searched replicates, (designs, conditions, replicates), the base craft
    first: the numbers of the others among its points.
    """
    found = []
    for at in range(SEARCH_ROUNDS):
        flown = np.isfinite(scores[1:, :, at])
        designs = np.flatnonzero(flown.any(axis=1))
        if len(designs):
            sums = np.nansum(scores[1 + designs, :, at], axis=1)
            found.append(Round(designs, sums / flown[designs].sum(axis=1)))
    return found


def split(flights: pd.DataFrame, finalists: Places) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Rows of the final and what followed it, and rows of the rounds, whose replicates count from 0."""
    searched = flights["replicate"] >= FIRST_SEARCHED
    rounds = flights[searched]
    own = flights[~searched & flights["design"].isin(finalists)]
    return own, rounds.assign(replicate=rounds["replicate"] - FIRST_SEARCHED)


def links(rounds: Array, finalists: Places) -> list[Places]:
    """For each searched replicate the finalists that tell its designs, by their place in the final.

    They flew it, and had come before it, so that it did not choose them; the base craft where there is none.
    """
    flown = np.asarray(np.isfinite(rounds).any(axis=1))
    came = flown.argmax(axis=1)
    found = []
    for at in range(rounds.shape[2]):
        some = np.flatnonzero(flown[finalists, at] & (came[finalists] < at))
        some = some[some != BASE]
        found.append(some if len(some) else np.array([BASE]))
    return found


def apart(flown: Flown, finalists: Places, linked: list[Places]) -> tuple[Array, Array]:
    """How far each design was from those that tell it, as `rounds`, and these in the final, (conditions, searched replicates).

    Of those that tell, each is told by the others.
    """
    found, level = np.full_like(flown.rounds, np.nan), np.full(flown.rounds.shape[1:], np.nan)
    with np.errstate(invalid="ignore"):
        own = np.nansum(flown.final, axis=2) / np.isfinite(flown.final).sum(axis=2)
    for at, some in enumerate(linked):
        values, count = flown.rounds[finalists[some], :, at], len(some)
        total = values.sum(axis=0)
        found[:, :, at] = flown.rounds[:, :, at] - total / count
        found[finalists[some], :, at] = values - (total - values) / (count - 1) if count > 1 else np.nan
        level[:, at] = own[some].mean(axis=0)
    return found, level


def join(final: pd.DataFrame, finalists: Places, scores: Flown, values: Mapping[str, Flown], others: Others) -> pd.DataFrame:
    """The standings of all designs from those of the final.

    final: `ranking.standings` or its like, of the finalists by their own numbers. The others stand behind the finalists that
    broke no limit, by their score.
    """
    linked = links(scores.rounds, finalists)
    best = int(np.flatnonzero(finalists == int(final["design"].iloc[0]))[0])
    told = _told(scores, finalists, linked, others, best)
    for name, flown in values.items():
        far, level = apart(flown, finalists, linked)
        means = uneven_estimate(far + level).mean[others.numbers]
        told[name] = np.clip(means, RESPONSE[name].low, RESPONSE[name].high)
    return _in_order(final, told, others)


def _told(scores: Flown, finalists: Places, linked: list[Places], others: Others, best: int) -> pd.DataFrame:
    """Scores, gains and intervals of the designs outside the final, one row each in the order of their numbers."""
    numbers = others.numbers
    far, level = apart(scores, finalists, linked)
    own = _estimate(far, level, linked, numbers)
    came = np.isfinite(scores.rounds).any(axis=1).argmax(axis=1)[numbers]
    base, first = scores.final[:1], scores.final[best][None]
    of = [scores.final[some].mean(axis=0)[None] for some in linked]  # what tells each searched replicate
    tells = {name: [estimate(each) for each in arrays] for name, arrays in _told_by(of, base, first).items()}
    score = np.maximum(uneven_estimate(far + level).mean[numbers], 0.0)
    base_score = float(estimate(base).mean[0])

    def reach(name: str, tail: float) -> Array:
        """Two intervals of half the risk each: their widths add up whatever one error has to do with the other."""
        widths = np.array([found.half_width(tail / 2.0)[0] for found in tells[name]])
        return np.asarray(own.half_width(tail / 2.0) + np.nan_to_num(widths)[came])

    gain, joint = base_score - score, (1.0 - CONFIDENCE) / max(len(numbers), 1)
    failures = Failures(others.failures.failed[numbers], others.failures.flights[numbers], others.failures.points)
    table = intervals(score, reach("score", TAIL), gain, reach("gain", TAIL), gain - reach("gain", joint), failures)
    table["gain_sure"] = np.minimum(gain - reach("gain", joint), table["gain_low"])
    behind, wide = score - float(estimate(first).mean[0]), reach("behind", joint)
    flown = np.isfinite(scores.rounds).sum(axis=(1, 2))[numbers]
    return table.assign(
        design=numbers,
        behind_low=np.fmax(np.minimum(behind - wide, 0.0), others.least),
        behind_high=np.maximum(behind + wide, 0.0),
        may_be_best=False,
        above_low=0.0,
        above_high=np.inf,
        riding_high=np.inf,
        failing_high=np.nan,
        good_enough=False,
        flights=flown,
        failed=failures.share(),
        reason=[_outside(each) for each in came.tolist()],
    )


def _told_by(of: list[Array], base: Array, first: Array) -> dict[str, list[Array]]:
    """What the errors of those that tell are in: their score, the base craft's distance from it, and its from the best."""
    return {"score": of, "gain": [base - each for each in of], "behind": [each - first for each in of]}


def _estimate(far: Array, level: Array, linked: list[Places], numbers: Places) -> Estimate:
    """The mean distance of some designs from those that tell them.

    A design flies a condition once or twice, which tells little of how it varies. That is therefore taken from all designs that
    met the condition more than once, those that were carried on: apart for rounds that finalists tell and for those that the
    base craft tells, which waves trouble otherwise. Where some condition is missing, the spread over conditions counts.
    """
    found, total = uneven_estimate(far[numbers]), np.isfinite(far[numbers]).sum(axis=2)
    by_base = np.array([some[0] == BASE for some in linked])
    told, freedom, spreads = far + level, np.zeros(far.shape[1]), []
    for rounds in (by_base, ~by_base):
        counts = np.isfinite(far[:, :, rounds]).sum(axis=2)
        with np.errstate(divide="ignore", invalid="ignore"):
            means = np.nansum(told[:, :, rounds], axis=2) / counts
            squares = np.nansum((told[:, :, rounds] - means[:, :, None]) ** 2, axis=2)[1:].sum(axis=0)
            freed = np.maximum(counts - 1, 0)[1:].sum(axis=0)
            spreads.append((counts[numbers], squares / freed))
        freedom += freed
    usual = np.fmax(spreads[0][1], spreads[1][1])  # where one kind of rounds tells nothing
    variance = sum(counts * np.where(np.isfinite(spread), spread, usual) for counts, spread in spreads)
    with np.errstate(divide="ignore", invalid="ignore"):
        error = np.sqrt((variance / total**2).sum(axis=1)) / far.shape[1]
    whole = (total > 0).all(axis=1) & np.isfinite(usual).all()
    known = max(float(freedom.min()) / 2.0, 1.0)
    return Estimate(found.mean, np.where(whole, error, found.error), np.where(whole, known, found.freedom))


def _outside(came: int) -> str:
    """When a design came that is not in the final, in words; came: its first searched replicate."""
    if came >= SEARCH_ROUNDS:
        return "Flew only to try an end of a range."
    return f"Came in round {came + 1} of the search, {LEFT_OUT}"


def _in_order(final: pd.DataFrame, told: pd.DataFrame, others: Others) -> pd.DataFrame:
    """All designs by place: finalists, the others by score, and behind them those that broke a limit."""
    own = others.verdicts.iloc[others.numbers].reset_index(drop=True)
    told = told.assign(
        verdict=own["verdict"],
        reason=[f"{limit} {came}".strip() for limit, came in zip(own["reason"], told["reason"], strict=True)],
    )
    broken = (told["verdict"] == "broken").to_numpy()
    order = np.lexsort((told["design"], told["score"], broken))
    told, broken = told.iloc[order].reset_index(drop=True), broken[order]
    told.loc[broken, ["behind_low", "behind_high"]] = np.nan
    first, last = final[final["place"].notna()], final[final["place"].isna()]
    ranked = len(first) + int((~broken).sum())
    places = {
        "place": len(first) + 1 + np.arange(len(told)),
        "place_low": np.where(told["behind_low"] > 0.0, 2, 1),
        "place_high": ranked,
    }
    for name, numbers in places.items():
        told[name] = pd.Series(numbers, index=told.index, dtype="Int64").where(~broken)
    better = [int((told["behind_low"] < max(each, 0.0)).sum()) for each in first["behind_high"].fillna(np.inf)]
    first = first.assign(place_high=first["place_high"] + np.array(better, dtype=np.int64))
    parts = [part for part in (first, told[~broken], last, told[broken]) if len(part)]
    table = pd.concat(parts, ignore_index=True).astype(dict.fromkeys(("place", "place_low", "place_high"), "Int64"))
    return table.astype(dict.fromkeys(("may_be_best", "good_enough"), bool))[list(final.columns)]

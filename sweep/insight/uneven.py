"""Means over conditions, and their intervals, where some designs have flown fewer blocks than others.

Designs that dropped out of a race, or did not fly on with the leading ones, flew the first blocks of those that did, so that
two designs always share the blocks of the one that flew less. Scores come as (designs, conditions, replicates) with NaN where
nothing was flown. Whatever is compared is compared over shared blocks: easy waves make nobody look good.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from sweep.insight.failing import Failing, Failures
from sweep.insight.good_enough import ONE_LOOK, Flags, Margin, share_of_best, unknown_shares
from sweep.insight.intervals import CONFIDENCE, SHARED_FROM, TAIL, Array, Estimate, estimate, moderated
from sweep.insight.ranking import RANK_COLUMNS, SKEW, Places, holding_the_place, intervals, places, room, with_choice
from sweep.insight.scores import CAP
from sweep.model.quantities import RESPONSE


def uneven_estimate(values: Array) -> Estimate:
    """Estimate the mean over conditions of every design from the blocks that it has, (designs, conditions, replicates).

    Where every condition has two blocks or more, conditions are strata (see `intervals`). Where it has fewer, nothing is known
    of the missing conditions but what the flown ones say: its blocks are then a plain sample, and their spread from condition
    to condition is part of the error. With less than two blocks the error is NaN.
    """
    counts = np.isfinite(values).sum(axis=2)
    sums, held = np.nansum(values, axis=2), counts > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        means = sums / counts
        mean = np.nansum(means, axis=1) / held.sum(axis=1)
        spread = np.nansum((values - means[:, :, None]) ** 2, axis=2) / (counts - 1)
        error, freedom = _stratified(spread / counts, counts - 1.0)
        plain_error, plain_freedom = _plain(values)
    whole = (counts >= 2).all(axis=1)
    return Estimate(mean, np.where(whole, error, plain_error), np.where(whole, freedom, plain_freedom))


def _stratified(parts: Array, freedom: Array) -> tuple[Array, Array]:
    """Standard error and Satterthwaite's degrees of freedom; parts: variance of each condition's mean."""
    conditions = parts.shape[1]
    variance = parts.sum(axis=1)
    combined = variance**2 / (parts**2 / freedom).sum(axis=1)
    return np.sqrt(variance) / conditions, np.where(variance > 0.0, combined, np.inf)


def _plain(values: Array) -> tuple[Array, Array]:
    blocks = values.reshape(len(values), -1)
    count = np.isfinite(blocks).sum(axis=1)
    mean = np.nansum(blocks, axis=1) / count
    variance = np.nansum((blocks - mean[:, None]) ** 2, axis=1) / (count - 1)
    known = count >= 2
    return np.where(known, np.sqrt(variance / count), np.nan), np.where(known, count - 1.0, np.nan)


def behind(scores: Array, best: int, share_spreads: bool = False) -> Estimate:
    """Each design's score less that of the best, paired in the blocks that both have flown, (designs,).

    share_spreads: let the spreads of the designs inform each other, as `intervals.moderated` does.
    """
    apart = scores - scores[best]
    found = uneven_estimate(apart)
    if not share_spreads:
        return found
    strata = estimate(apart, share_spreads=True)
    error, freedom = _plain_together(apart)
    whole = np.isfinite(strata.error)
    return Estimate(found.mean, np.where(whole, strata.error, error), np.where(whole, strata.freedom, freedom))


def _plain_together(apart: Array) -> tuple[Array, Array]:
    """As `_plain`, the spreads of the designs drawn together."""
    blocks = apart.reshape(len(apart), -1)
    counts = np.isfinite(blocks).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        error, freedom = _plain(apart)
    rows = np.flatnonzero((counts > 1) & (error > 0.0))
    if len(rows) >= SHARED_FROM:
        means = np.nanmean(blocks[rows], axis=1)
        variance, freed = moderated(counts[rows, None] * error[rows, None] ** 2, freedom[rows, None], np.abs(means)[:, None])
        error[rows], freedom[rows] = np.sqrt(variance[:, 0] / counts[rows]), freed[:, 0]
    return error, freedom


def shared_means(values: Array, reference: int) -> Array:
    """Mean over conditions of each design's values, fit to be compared, (designs,).

    values: (designs, conditions, replicates), NaN where there is none. A design with blocks of the reference missing is told by
    the reference's mean and its distance from it in the blocks that both have.
    """
    lacking = (np.isfinite(values[reference]) & ~np.isfinite(values)).any(axis=(1, 2))
    with np.errstate(invalid="ignore"):
        own, apart = uneven_estimate(values).mean, uneven_estimate(values - values[reference]).mean
    return np.where(lacking & np.isfinite(apart), own[reference] + apart, own)


def reference(scores: Array, first: int) -> int:
    """The design whose means and blocks tell those of the others: the first, or the base craft where the first has not flown as
    much.
    """
    return first if np.isfinite(scores[first]).sum() >= np.isfinite(scores[0]).sum() else 0


def rank_uneven(
    scores: Array,
    broken: Flags,
    dropped: Flags,
    doubtful: Flags | None = None,
    failures: Failures | None = None,
    margin: Margin = ONE_LOOK,
) -> pd.DataFrame:
    """Places after a race, or where leading designs flew on, with the columns of `ranking.rank`; what the intervals promise is
    the same, with unlike numbers of blocks behind.

    scores: as above; design 0, the base craft, has every block that any has. broken: limits; dropped: out of the race before
    its end; doubtful, failures: as for `rank`; (designs,). The best is the best of those that stayed and flew most, or one that
    is surely better than that one, as where limits that have changed since did not let it fly on. Every design is compared with
    the best in the blocks that both have: Hsu's intervals with Bonferroni's bound over all of them. Those may be the best that
    stayed and whose interval reaches zero. A design that lacks blocks is told by the score of the best of those that flew most
    and its distance from that one, so that easy blocks do not make it look good; the two errors then add up.
    """
    doubtful = np.zeros(len(scores), dtype=np.bool_) if doubtful is None else doubtful & ~broken
    stayed = ~(broken | dropped)
    eligible = stayed & ~doubtful if (stayed & ~doubtful).any() else stayed
    longest = _best(scores, eligible, broken)
    best = _overtaken(scores, longest, eligible)
    told = _told(scores, longest, failures)
    # Who dropped out is told by few blocks: it stands where its score would be with a standard error more, but never first.
    worse = told["score"] + np.where(dropped, np.nan_to_num(behind(scores, best).error, nan=np.inf), 0.0)
    order = np.lexsort((np.arange(len(scores)), told["score"], worse, doubtful, np.arange(len(scores)) != best, broken))
    rows = np.flatnonzero(~broken)
    table = pd.DataFrame({"design": order})
    table["place"] = pd.Series(np.arange(1, len(order) + 1), dtype="Int64").where(~broken[order])
    failing = failures and failures.failing(told["score"].to_numpy())
    compared = _compared(scores, best, rows, stayed, margin.looks, failing).reindex(order).reset_index(drop=True)
    clean, above = failures and failures.without(scores), unknown_shares(len(scores))
    if eligible.any():
        above = share_of_best(scores, eligible, [margin.share], margin.looks, failing, clean)
    told = told.assign(above_low=above.low, above_high=above.high, riding_high=above.riding)
    told.loc[broken, ["above_low", "above_high", "riding_high"]] = np.nan
    table = pd.concat([table, compared, told.reindex(order).reset_index(drop=True)], axis=1)
    return holding_the_place(table)[list(RANK_COLUMNS)]


def _best(scores: Array, stayed: Flags, broken: Flags) -> int:
    """The design of the best mean among those that stayed; if none did, among the unbroken, or all."""
    mean = uneven_estimate(scores).mean
    most = np.isfinite(scores).sum(axis=(1, 2))
    some = next(flags for flags in (stayed, ~broken, np.ones(len(scores), dtype=bool)) if flags.any())
    rows = np.flatnonzero(some)
    rows = rows[most[rows] == most[rows].max()]
    return int(rows[mean[rows].argmin()])


def _overtaken(scores: Array, best: int, stayed: Flags) -> int:
    """The design that is better than the best of those that flew most, surely so in the blocks that both have; or that one."""
    found = behind(scores, best, share_spreads=True)
    reach = found.half_width((1.0 - CONFIDENCE) / max(int(stayed.sum()) - 1, 1))
    better = np.where(stayed & (found.mean + reach < 0.0), found.mean, 0.0)
    return int(better.argmin()) if better.min() < 0.0 else best


def _compared(
    scores: Array, best: int, rows: Places, stayed: Flags, looks: int, failing: Failing | None = None
) -> pd.DataFrame:
    """The ranked designs against the best of them; one row a design, empty for the others.

    As `ranking.behind_best` has it, distances leave room for skew and for failures that have not shown.
    """
    others = rows[rows != best]
    found = behind(scores, best, share_spreads=True)
    found = Estimate(*(each[others] for each in found))
    risk = (1.0 - CONFIDENCE) / (looks * max(len(others), 1))
    reach, wider = found.half_width(risk), found.half_width(risk / 2.0)
    table = pd.DataFrame(index=range(len(scores)), columns=["behind_low", "behind_high"], dtype=float)
    hidden, unlucky = room(failing, len(scores), risk)
    least = found.mean - np.hypot(reach, np.hypot(hidden[best], unlucky[others]))
    most = found.mean + np.hypot(SKEW * reach, np.hypot(hidden[others], unlucky[best]))
    table.loc[others, "behind_low"] = np.minimum(least, 0.0)
    table.loc[others, "behind_high"] = np.maximum(most, 0.0)
    near = stayed[others] & np.isfinite(reach)
    table.loc[best] = (
        min(-float(most[near].min(initial=np.inf)), 0.0) if near.any() else np.nan,
        max(-float(least[near].min(initial=np.inf)), 0.0) if near.any() else np.nan,
    )
    level = pd.Series(False, index=table.index)
    level[others] = stayed[others] & ~(found.mean - reach > 0.0)
    level[best] = bool(stayed[best])
    low, high = places(
        np.append(np.nan_to_num(found.mean - wider, nan=-np.inf), 0.0),
        np.append(np.nan_to_num(found.mean + wider, nan=np.inf), 0.0),
    )
    ranked = [*others, best]
    table["may_be_best"] = level
    table["place_low"] = pd.Series(low, index=ranked, dtype="Int64").reindex(table.index)
    table["place_high"] = pd.Series(high, index=ranked, dtype="Int64").reindex(table.index)
    return table


def _told(scores: Array, best: int, failures: Failures | None) -> pd.DataFrame:
    """Score and gain of every design with their intervals, as `ranking.own_intervals` has them."""
    own, apart = uneven_estimate(scores), behind(scores, best)
    whole = (np.isfinite(scores) | ~np.isfinite(scores[best])).all(axis=(1, 2))
    mean = np.where(whole, own.mean, np.clip(own.mean[best] + apart.mean, 0.0, CAP))
    # Two intervals of half the risk each: their widths add up whatever one error has to do with the other.
    width = np.where(whole, own.half_width(TAIL), own.half_width(TAIL / 2.0)[best] + apart.half_width(TAIL / 2.0))
    gain, joint = uneven_estimate(scores[:1] - scores), (1.0 - CONFIDENCE) / max(len(scores) - 1, 1)
    return intervals(mean, width, gain.mean, gain.half_width(TAIL), gain.half_width(joint), failures)


def uneven_standings(
    scores: Array,
    verdicts: pd.DataFrame,
    dropped: pd.DataFrame,
    failures: Failures,
    values: Mapping[str, Array],
    margin: Margin = ONE_LOOK,
) -> pd.DataFrame:
    """The standings after a race, or where leading designs flew on, as `ranking.standings` has them; flights: of each design.

    values: response name -> of every flight, SI, as scores; the means are those over shared blocks, in the range of each.
    dropped: `race.DROPPED`. Who was screened out is refused; who dropped out has the reason for a remark.
    """
    out = dropped.set_index("design")
    screened = out.index[out["why"] == "screened"]
    verdicts = verdicts.copy()
    verdicts.loc[screened, "verdict"] = "broken"
    verdicts.loc[screened, "reason"] = out.loc[screened, "reason"]
    told = out.index[verdicts.loc[out.index, "verdict"].ne("broken")]
    verdicts.loc[told, "reason"] = [drop_words(row) for _, row in out.loc[told].iterrows()]
    gone = np.zeros(len(scores), dtype=np.bool_)
    gone[out.index] = True
    broken, doubtful = (verdicts["verdict"] == "broken").to_numpy(), verdicts["doubtful"].to_numpy()
    table = rank_uneven(scores, broken, gone, doubtful, failures, margin)
    designs = table["design"].to_numpy()
    for column in ("verdict", "reason"):
        table[column] = verdicts[column].to_numpy()[designs]
    table = with_choice(table, scores, verdicts, failures, margin.share)
    table["flights"] = np.isfinite(scores).sum(axis=(1, 2))[designs]
    table["failed"] = failures.share()[designs]
    by = reference(scores, int(designs[0]))
    means = {name: np.clip(shared_means(each, by), RESPONSE[name].low, RESPONSE[name].high) for name, each in values.items()}
    return table.assign(**{name: each[designs] for name, each in means.items()})


def drop_words(row: pd.Series) -> str:
    """'Dropped out in round 2 after 4 flights, in the worse half: 0.31 behind the best then (0.12 to 0.5).'"""
    flights = "a flight" if row["blocks"] == 1 else f"{row['blocks']} flights"
    known = np.isfinite(row["low"])
    span = f" ({row['low']:.2g} to {row['high']:.2g})" if known else ""
    why = {
        "behind": "surely behind",
        "halved": "in the worse half" + (", which is no proof" if not known or row["low"] <= 0.0 else ""),
        "limit": "a limit surely broken",
    }[row["why"]]
    return f"Dropped out in round {row['round']} after {flights}, {why}: {row['behind']:.2g}{span} behind the best then."

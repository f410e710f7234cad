"""How often what ranking says with confidence is true, on flights whose truth is known, after sweeps and after races.

python -m tests.benchmarks.groups cut FOLDER [CUTS]
    cuts every truth of a folder into campaigns of few replicates, ranks each, and says how often the truth is in the intervals;
python -m tests.benchmarks.groups race FOLDER [RACES]
    races on every truth, in another order of its replicates each time, and says likewise what holds afterwards.
python -m tests.benchmarks.groups search SEEDS FLIGHTS CRAFT,...
    searches over nine factors of crafts of `tests.benchmarks.search`, says whether its final held the best of the finalists,
    and whether a design that it left out is better by more than it says.

A truth is what `python -m tests.benchmarks.advice fly` keeps. Campaigns cut from one truth share their boats: a truth is one
cluster, and what all of them tell together has the binomial interval of so many trials as there are truths. The truth's own
chance is in no interval; it is small beside that of a cut with far fewer replicates, and part of it is the same.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.campaign import Campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.plan import CARRIED
from sweep.campaign.search_plan import axes_of, final_blocks, purse_of, round_blocks
from sweep.insight.at_leader import beside_leader, neighbours
from sweep.insight.builds import find_builds
from sweep.insight.failing import FailureCounts, Failures
from sweep.insight.good_enough import Margin, may_be_best, promised
from sweep.insight.limits import LimitCounts, judge, share_bounds, verdicts
from sweep.insight.narrowing import best_left_out
from sweep.insight.race import Purse, Race
from sweep.insight.rank import within as within_of
from sweep.insight.ranking import standings
from sweep.insight.search import Search
from sweep.insight.uneven import uneven_estimate, uneven_standings
from sweep.model.quantities import FLEW
from tests.benchmarks.advice import Truth, judged, load
from tests.benchmarks.search import FIRST_FRESH, campaign_of, flights_of, scores_of, with_seed

Array = NDArray[np.float64]
REPLICATES = (2, 3, 4, 8)
ROUNDING = 1e-6
LOOKED, JUDGED, NEAREST = 3, 20, 24
"""Replicates of a condition by which designs outside a final are looked at, and judged, and how many of them are."""
RACED, PURSES = 8, (0.05, 0.1, 0.25)
"""Replicates of a race, at most, and the shares of all flights that it may fly."""
JOINT = ("behind", "places", "best held", "promise kept", "failures within", "one choice changed")
"""What is promised of a whole campaign: true or not; the others are shares of designs whose interval holds the truth."""


def within(low: Array, true: Array, high: Array) -> NDArray[np.bool_]:
    """Whether each interval holds the truth; one that is not given holds it."""
    return np.asarray(~(low > true + ROUNDING) & ~(high < true - ROUNDING))


def failures_of(some: Truth) -> Failures:
    """What failed in these flights."""
    counts = FailureCounts(*some.scores.shape[:2])
    counts.add(tuple(np.indices(some.scores.shape).reshape(3, -1)), (some.status != FLEW).ravel(), some.scores.ravel())
    return counts.failures()


def ranked(some: Truth, own: pd.DataFrame) -> pd.DataFrame:
    """The standings of these flights, a row a design, by design; own: their verdicts."""
    failures, share = failures_of(some), within_of(some.campaign, some.scores.mean(axis=(1, 2)))
    return standings(some.scores, own, failures.share(), {}, failures, share).set_index("design").sort_index()


def held(table: pd.DataFrame, truth: Truth, sound: NDArray[np.bool_]) -> dict[str, float]:
    """Which sentences of standings are true; table: a row a design, by design; sound: keeps its limits in truth."""
    true = truth.scores.mean(axis=(1, 2))
    told: dict[str, float] = {}
    for name, exact in (("score", true), ("gain", true[0] - true)):
        low, high = (table[f"{name}_{end}"].to_numpy(float) for end in ("low", "high"))
        known = np.isfinite(low) & (np.arange(len(low)) > 0 if name == "gain" else True)
        told[name] = float(within(low, exact, high)[known].mean()) if known.any() else np.nan
    first = int(np.where(table["place"].notna(), table["place"].to_numpy(float, na_value=np.nan), np.inf).argmin())
    least = table["gain_sure"].to_numpy(float)
    told["gain sure"] = float(not least[first] > true[0] - true[first] + ROUNDING)
    told["gain sure all"] = float(not (least > true[0] - true + ROUNDING).any())
    told["surely better"] = float(least[first] > 0.0)
    rows = np.flatnonzero(table["place"].notna())
    own = np.argsort(np.argsort(true[rows], kind="stable"), kind="stable") + 1.0
    low, high = (table[f"place_{end}"].to_numpy(float, na_value=np.nan)[rows] for end in ("low", "high"))
    told["places"] = float(within(low, own, high).all())
    told["place"] = float(within(low, own, high).mean())
    best = int(np.where(sound, true, np.inf).argmin()) if sound.any() else int(true.argmin())
    told["best held"] = float(table["may_be_best"].to_numpy()[best])
    told["may be best"] = float(table["may_be_best"].sum())
    good = np.flatnonzero(table["good_enough"])
    told["good enough"] = float(len(good))
    if len(good):
        share, bounds = promised(table.iloc[good]), table["failing_high"].to_numpy(float)[good]
        riding = bool(np.isfinite(bounds).any())
        near = (truth.clean if riding else true) <= (1.0 + share) * true[best] + ROUNDING
        told["share"], told["unless it fails"], told["promise kept"] = share, float(riding), float(near[good].all())
        told["found"] = float((sound & near)[good].sum() / max((sound & near).sum(), 1))
        told["over"] = float((~sound)[good].mean())
        if riding:
            told["failures within"] = float(((truth.status != FLEW).mean(axis=(1, 2))[good] <= bounds).all())
    told["regret"] = true[first] / true[best] - 1.0
    told["first over"] = float(not sound[first])
    return told


def behind_held(table: pd.DataFrame, true: Array, doubtful: NDArray[np.bool_]) -> float:
    """Whether what all designs are behind the best of the others is in their intervals; NaN where nothing is told."""
    low, high = (table[f"behind_{end}"].to_numpy(float) for end in ("low", "high"))
    rows = np.flatnonzero(table["place"].notna() & np.isfinite(low))
    if not len(rows):
        return np.nan
    ranked_rows = np.flatnonzero(table["place"].notna())
    sound = ranked_rows[~doubtful[ranked_rows]] if not doubtful[ranked_rows].all() else ranked_rows
    gaps = np.array([true[row] - true[sound[sound != row]].min(initial=np.inf) for row in rows])
    return float(within(low[rows], gaps, high[rows]).all())


def neighbours_held(table: pd.DataFrame, cut: Truth, true: Array) -> dict[str, float]:
    """Of the designs that differ from the first in one choice: whether all truly lose what they surely do, and how many do."""
    first = int(np.where(table["place"].notna(), table["place"].to_numpy(float, na_value=np.nan), np.inf).argmin())
    beside = list(neighbours(cut.designs, list(cut.campaign.factors), first)) if first else []
    if not beside:
        return {}
    found = beside_leader(cut.scores[[first, *beside]], len(true))
    held = ~(found["least"].to_numpy() > true[beside] - true[first] + ROUNDING)
    return {"one choice changed": float(held.all()), "surely costs": float((found["least"] > 0.0).mean())}


def builds_held(cut: Truth, true: Array, verdicts: list[str]) -> dict[str, float]:
    """Of the builds at their own best settings: how many of the intervals hold what the chosen settings truly score."""
    found = find_builds(cut.campaign.factors, cut.designs, cut.scores, verdicts, failures_of(cut)).table
    if found.empty:
        return {}
    table = found.set_index("build").sort_index()
    chosen = true[table["design"].to_numpy(int)]
    told = {}
    for name, truth in (("score", chosen), ("gain", true[0] - chosen)):
        low, high = (table[f"{name}_{end}"].to_numpy(float) for end in ("low", "high"))
        known = np.isfinite(low) & (table.index.to_numpy() > 0)
        told[f"build {name}"] = float(within(low, truth, high)[known].mean()) if known.any() else np.nan
    rows = np.flatnonzero(table["place"].notna())
    told["build best held"] = float(table["may_be_best"].iloc[rows[chosen[rows].argmin()]])
    return told


def cuts(truth: Truth, replicates: int, most: int) -> Iterator[Truth]:
    """The truth in campaigns of so many replicates."""
    for at in range(min(truth.scores.shape[2] // replicates, most)):
        yield truth.some(slice(at * replicates, (at + 1) * replicates))


def follow(truth: Truth, cut: Truth, sound: NDArray[np.bool_]) -> dict[str, float]:
    """What one small campaign says, held against the truth."""
    true, own = truth.scores.mean(axis=(1, 2)), judged(cut)
    table = ranked(cut, own)
    told = held(table, truth, sound)
    told["behind"] = behind_held(table, true, own["doubtful"].to_numpy())
    told |= neighbours_held(table, cut, true)
    return told | builds_held(cut, true, own["verdict"].tolist())


def of_cuts(folder: Path, most: int) -> None:
    """A line for every truth and number of replicates, and one for all truths."""
    whole: dict[int, list[pd.Series]] = {replicates: [] for replicates in REPLICATES}
    for path in sorted(folder.glob("*.npz")):
        truth = load(path)
        sound = ~judged(truth)["doubtful"].to_numpy()
        print(f"{path.stem}: {len(sound)} designs, {truth.scores.shape[2]} replicates, {int((~sound).sum())} over a limit")
        for replicates in REPLICATES:
            rows = [follow(truth, cut, sound) for cut in cuts(truth, replicates, most)]
            table = pd.DataFrame(rows)
            whole[replicates].append(table.mean())
            print(f"  {replicates} replicates, {len(rows)} cuts: {said(table.mean())}", flush=True)
    for replicates, parts in whole.items():
        print(f"all truths, {replicates} replicates: {together(parts)}")


def race_on(truth: Truth, seed: int, share: float) -> tuple[Race, pd.DataFrame]:
    """A race for a share of all flights, over the truth's replicates in another order, and its standings by design."""
    designs, conditions, replicates = truth.scores.shape
    draws, most = np.random.default_rng(seed), min(RACED, replicates)
    order = np.stack([draws.permutation(replicates)[:most] for _ in range(conditions)])
    campaign, names = _with_seed(truth.campaign, seed, most), [str(each) for each in range(conditions)]
    length = campaign.flight.length
    race = Race(campaign, designs, names, Purse(share * designs * conditions * most * length, length))
    failed, limits = FailureCounts(designs, conditions), LimitCounts(campaign.limits, designs, conditions, evens=True)
    while heat := race.next_heat():
        design = np.repeat(heat.designs, len(heat.blocks))
        condition, replicate = np.tile(np.array(heat.blocks).T, len(heat.designs))
        at = design, condition, order[condition, replicate]
        rows = pd.DataFrame({"design": design, "condition": condition, "replicate": replicate, "status": truth.status[at]})
        rows = rows.assign(time_foilborne=truth.foilborne[at], **{name: each[at] for name, each in truth.limits.items()})
        race.take(heat, rows, truth.scores[at])
        failed.add((design, condition), truth.status[at] != FLEW, truth.scores[at])
        limits.add(rows)
    own = verdicts(judge(limits, campaign.flight.scored), campaign.limits, names, designs)
    margin = Margin(within_of(campaign, uneven_estimate(race.scores).mean))
    table = uneven_standings(race.scores, own, race.dropped(), failed.failures(evens=True), {}, margin)
    table = table.set_index("design").sort_index()
    return race, table.assign(doubtful=own["doubtful"].to_numpy())


def searched(campaign: Campaign) -> dict[str, float]:
    """A search, flown as a run flies it, held against many flights of all that it may have left out; shares of a true score."""
    conditions, axes = len(list_conditions(campaign)), axes_of(campaign)
    found, purse = Search(axes, campaign.plan.seed), purse_of(campaign, conditions, flights_of(campaign))
    for number, size in enumerate(purse.sizes):
        carried, points = np.sort(found.best(CARRIED)), found.next_points(size)
        flown = np.concatenate((found.points[carried], points))
        scores = scores_of(campaign, flown, list(round_blocks(campaign, conditions, number)))
        found.add(points, carried, scores[1:].mean(axis=1))
    finalists = np.sort(found.best(purse.finalists))
    final = scores_of(campaign, found.points[finalists], list(final_blocks(campaign, conditions)))[1:]
    final = final.reshape(len(finalists), conditions, -1)
    group = may_be_best(final, np.ones(len(finalists), dtype=np.bool_))
    least, first = best_left_out(found.points, found.rounds, axes, finalists, final), final.mean(axis=(1, 2)).argmin()
    true, outside = _truly(campaign, found.points, finalists)
    return {
        "designs": float(len(found.points)),
        "finalists": float(len(finalists)),
        "best of the final held": float(group[true.argmin()]),
        "may be the best": float(group.sum()),
        "regret in the final": float(true[first] / true.min() - 1.0),
        "left out a better one": float(outside < true[first]),
        "by": float(1.0 - outside / true[first]),
        "by at most, said": float(-least / true[first]),
        "bound held": float(outside - true[first] >= least),
    }


def _truly(campaign: Campaign, points: Array, finalists: NDArray[np.int64]) -> tuple[Array, float]:
    """What finalists truly score, and the best of the others: all fly some fresh waves, the nearest of them many others."""
    conditions, others = len(list_conditions(campaign)), np.setdiff1d(np.arange(len(points)), finalists)
    few, many = (
        [(condition, FIRST_FRESH + replicate) for condition in range(conditions) for replicate in range(*span)]
        for span in ((0, LOOKED), (LOOKED, LOOKED + JUDGED))
    )
    near = others[np.argsort(scores_of(campaign, points[others], few)[1:].mean(axis=1))[:NEAREST]]
    true = scores_of(campaign, points[np.concatenate((finalists, near))], many)[1:].mean(axis=1)
    return true[: len(finalists)], float(true[len(finalists) :].min())


def of_searches(seeds: int, flights: int, crafts: list[str]) -> None:
    """A line for every search, and one for each craft."""
    with tempfile.TemporaryDirectory() as place:
        for craft in crafts:
            campaign, rows = campaign_of(craft, Path(place)), []
            for seed in range(1, seeds + 1):
                rows.append(searched(with_seed(campaign, seed, flights)))
                print(f"  {craft}, seed {seed}, {flights} flights: {said(pd.Series(rows[-1]))}", flush=True)
            print(f"{craft}, {seeds} searches of {flights} flights: {said(pd.DataFrame(rows).mean())}", flush=True)


def _with_seed(campaign: Campaign, seed: int, replicates: int) -> Campaign:
    flight = campaign.flight.model_copy(update={"seed": seed})
    return campaign.model_copy(update={"replicates": replicates, "flight": flight})


def of_races(folder: Path, races: int) -> None:
    """A line for every truth and purse. halved: how often the best was; lost: how likely that was said to be."""
    for path in sorted(folder.glob("*.npz")):
        truth = load(path)
        sound, true = ~judged(truth)["doubtful"].to_numpy(), truth.scores.mean(axis=(1, 2))
        best = int(np.where(sound, true, np.inf).argmin())
        for share in PURSES:
            rows = []
            for seed in range(races):
                race, table = race_on(truth, seed, share)
                why = race.dropped().set_index("design")["why"].get(best, "")
                lost = 1.0 - float(np.prod(1.0 - race.rounds()["lost"].fillna(1.0)))
                near = {"behind": behind_held(table, true, table["doubtful"].to_numpy())}
                rows.append(
                    held(table, truth, sound)
                    | near
                    | {"halved": float(why == "halved"), "lost": lost, "spent": _spent(race, share)}
                )
            print(
                f"{path.stem}, {100.0 * share:g} % of the flights, {races} races: {said(pd.DataFrame(rows).mean())}", flush=True
            )


def _spent(race: Race, share: float) -> float:
    """The share of the purse that was spent."""
    return float(race.rounds()["flights"].sum() / (share * race.scores.size))


def said(means: pd.Series) -> str:
    """The means, one after another."""
    return ", ".join(f"{name} {value:.3g}" for name, value in means.items() if np.isfinite(value))


def together(parts: list[pd.Series]) -> str:
    """What all truths tell of what should hold in 95 %: the mean, and the interval of a share in so many trials as truths."""
    table = pd.DataFrame(parts)
    lines = []
    for name in [*JOINT, "score", "gain", "gain sure", "build score", "build gain", "build best held"]:
        if name in table and (known := table[name].dropna()).size:
            low, high = share_bounds(np.array([known.sum()]), np.array([float(known.size)]))
            lines.append(f"{name} {known.mean():.3f} ({low[0]:.2f} to {high[0]:.2f} by {known.size} truths)")
    return "; ".join(lines)


if __name__ == "__main__":
    many = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    if sys.argv[1] == "search":
        of_searches(int(sys.argv[2]), int(sys.argv[3]), sys.argv[4].split(","))
    elif sys.argv[1] == "race":
        of_races(Path(sys.argv[2]), many or 200)
    else:
        of_cuts(Path(sys.argv[2]), many or 16)

"""Builds, each at its own best settings: which boat to build, how wide its good settings are, what a mis-set gain costs.

To choose a setting and to judge it by the same flights flatters (the winner's curse), and flatters those builds most that
tried most settings. So the choice for a replicate is made on all the other replicates, over all conditions, and only then
scored on it (leave one out: Stone, Journal of the Royal Statistical Society B 36, 1974, 111-147). That errs to the cautious
side: each choice rests on one replicate less than there are. The choices share most of their flights, which the intervals
do not know.

Where something of the boat is not known, settings are chosen anew in each draw of it, as a builder tunes the boat that he has:
the choice for a replicate is made on the others of the same draw. Draws then share no flights.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.insight.by_draw import by_draw
from sweep.insight.failing import Failures
from sweep.insight.good_enough import USUAL, Flags
from sweep.insight.intervals import TAIL, Array, estimate
from sweep.insight.ranking import Places, rank

if TYPE_CHECKING:
    from sweep.campaign.factors import Factor
    from sweep.campaign.unknowns import Unknowns

GOOD_WITHIN = 1.25
"""A setting is good if it broke no limit and scores at most this much of the build's best (judgement)."""

BUILD_COLUMNS = (
    "build", "design", "place", "place_low", "place_high", "score", "score_low", "score_high", "gain", "gain_low", "gain_high",
    "gain_sure", "may_be_best", "above_high", "good_enough", "verdict", "score_seen", "settings", "good",
)  # fmt: skip
SETTING_COLUMNS = ("build", "factor", "design", "good_from", "good_to", "cost", "cost_low", "cost_high")
"""design: at the build's best settings; good_from, good_to: the designs at the ends of the good stretch along the factor."""


class Layout(NamedTuple):
    """Which design is which build at which settings.

    build: 0 for the base craft as it stands, then from 1 in the order of the design table, (designs,). places: the place of
    each set factor's value among its values, -1 for the base craft, (designs, set factors). labels: of the set factors;
    ordered: whether their values have an order, so that one may be a step off.
    """

    build: Places
    places: NDArray[np.int64]
    labels: tuple[str, ...]
    ordered: tuple[bool, ...]


class Builds(NamedTuple):
    """What is known of builds: `table` has `BUILD_COLUMNS`, a row a build; `settings` has `SETTING_COLUMNS`.

    Where something of the boat is not known: own, scores of builds at settings chosen anew in each draw, (builds, draws);
    designs: each at its best settings; possible: whether any of its settings broke no limit.
    """

    table: pd.DataFrame
    settings: pd.DataFrame
    own: Array = np.zeros((0, 0))
    designs: Places = np.zeros(0, dtype=np.int64)
    possible: Flags = np.zeros(0, dtype=np.bool_)


def lay_builds(factors: Mapping[str, Factor], designs: pd.DataFrame) -> Layout | None:
    """The builds of a design table; None if half of them or more have one setting only, which is then no choice of theirs."""
    built = [label for label, factor in factors.items() if factor.kind == "built"]
    labels = tuple(label for label, factor in factors.items() if factor.kind == "set")
    chosen = designs.iloc[1:]
    build = np.zeros(len(designs), dtype=np.int64)
    build[1:] = 1 if not built else 1 + chosen.groupby(built, sort=False, dropna=False).ngroup().to_numpy()
    if not labels or len(chosen) < 2 or np.median(np.bincount(build[1:])[1:]) < 2:
        return None
    places = np.full((len(designs), len(labels)), -1, dtype=np.int64)
    for at, label in enumerate(labels):
        places[1:, at] = pd.factorize(chosen[label], sort=pd.api.types.is_numeric_dtype(chosen[label]))[0]
    ordered = tuple(pd.api.types.is_numeric_dtype(chosen[label]) for label in labels)
    return Layout(build, places, labels, ordered)


def find_builds(
    factors: Mapping[str, Factor],
    designs: pd.DataFrame,
    scores: Array,
    verdicts: Sequence[str],
    failures: Failures | None = None,
    unknowns: Unknowns | None = None,
) -> Builds:
    """The standings of builds at their own best settings, the base craft among them as it stands.

    scores: (designs, conditions, replicates), NaN where a flight is missing, as after a race: only replicates that the base
    craft flew whole are looked at, and a design that did not is no setting to choose. verdicts: of the limits, (designs,);
    failures: of the designs, what may not have shown yet. Both tables are empty where `lay_builds` finds none, or no such
    replicate is left.
    """
    layout = lay_builds(factors, designs)
    scores = scores[:, :, np.isfinite(scores[0]).all(axis=0)]
    if layout is None or not scores.shape[2]:
        return Builds(pd.DataFrame(columns=list(BUILD_COLUMNS)), pd.DataFrame(columns=list(SETTING_COLUMNS)))
    allowed = (np.asarray(verdicts) != "broken") & np.isfinite(scores).all(axis=(1, 2))
    order = np.argsort(layout.build, kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(layout.build[order])) + 1)
    flown = [(int(layout.build[group[0]]), group) for group in groups if np.isfinite(scores[group]).all(axis=(1, 2)).any()]
    waves = unknowns.waves if unknowns and unknowns.shared >= scores.shape[2] else scores.shape[2]
    found = [(number, _own_best(scores[group], allowed[group], layout.places[group], waves)) for number, group in flown]
    held_out = by_draw(np.stack([each.held_out for _, each in found]), unknowns)
    chosen = np.array([group[each.best] for (_, each), (_, group) in zip(found, flown, strict=True)])
    impossible = ~np.array([each.possible for _, each in found])
    table = rank(held_out, impossible, failures=failures and failures.some(chosen)).rename(columns={"design": "row"})
    about = pd.DataFrame(
        {
            "build": number,
            "design": int(group[each.best]),
            "verdict": str(verdicts[int(group[each.best])]),
            "score_seen": float(scores[group[each.best]].mean()),
            "settings": len(group),
            "good": int(each.good.sum()),
        }
        for (number, each), (_, group) in zip(found, flown, strict=True)
    )
    table = table.join(about, on="row").assign(good_enough=(table["above_high"] <= USUAL) & table["place"].notna())[
        list(BUILD_COLUMNS)
    ]
    settings = _settings(layout, flown, [each for _, each in found], unknowns)
    return Builds(table, settings, held_out[:, 0], chosen, ~impossible) if unknowns else Builds(table, settings)


class _Own(NamedTuple):
    """One build.

    best: its best setting by all flights; held_out: scores of the settings chosen without the replicate that they are scored
    on, (conditions, replicates); costs: of each set factor one step off those, likewise, NaN where there is no step; good: its
    good settings; reach: those at the ends of the good stretch along each factor; possible: whether any broke no limit.
    """

    best: int
    held_out: Array
    costs: Array
    good: Flags
    reach: NDArray[np.int64]
    possible: bool


def _own_best(scores: Array, allowed: Flags, places: NDArray[np.int64], waves: int) -> _Own:
    """One build's settings: scores (settings, conditions, replicates), places (settings, set factors).

    waves: so many replicates in a row share what is known of the boat; a setting is chosen for each by the others of them.
    """
    means = scores.mean(axis=1)
    open_to = allowed if allowed.any() else np.isfinite(means).all(axis=1)
    replicates, alike = means.shape[1], means.reshape(len(means), -1, waves)
    others = (alike.sum(axis=2, keepdims=True) - alike) / max(waves - 1, 1) if waves > 1 else alike
    without = others.reshape(means.shape)
    chosen = np.where(open_to[:, None], without, np.inf).argmin(axis=0)
    overall = np.where(open_to, means.mean(axis=1), np.inf)
    best = int(overall.argmin())
    good = allowed & (overall <= GOOD_WITHIN * overall[best])
    at = {tuple(row): place for place, row in enumerate(places.tolist())}
    costs = np.stack([_cost(scores, places, at, chosen, factor) for factor in range(places.shape[1])])
    held = scores[chosen, :, np.arange(replicates)].T
    return _Own(best, held, costs, good, _good_reach(places, at, best, good), bool(allowed.any()))


def _cost(scores: Array, places: NDArray[np.int64], at: Mapping[tuple[int, ...], int], chosen: Places, factor: int) -> Array:
    """What the score rises by if a factor is one step off the chosen setting: the mean of both sides where there are two."""
    cost = np.full(scores.shape[1:], np.nan)
    for replicate, setting in enumerate(chosen):
        beside = [scores[place, :, replicate] for place in _steps_from(places[setting], at, factor)]
        if beside:
            cost[:, replicate] = np.mean(beside, axis=0) - scores[setting, :, replicate]
    return cost


def _steps_from(place: NDArray[np.int64], at: Mapping[tuple[int, ...], int], factor: int) -> list[int]:
    found = (at.get((*place[:factor].tolist(), int(place[factor]) + step, *place[factor + 1 :].tolist())) for step in (-1, 1))
    return [each for each in found if each is not None]


def _good_reach(places: NDArray[np.int64], at: Mapping[tuple[int, ...], int], best: int, good: Flags) -> NDArray[np.int64]:
    """Settings at the ends of the good stretch around the best along each factor, the others staying, (factors, 2)."""
    ends = np.full((places.shape[1], 2), best, dtype=np.int64)
    for factor in range(places.shape[1]):
        for side, step in enumerate((-1, 1)):
            here = places[best].copy()
            here[factor] += step
            while (setting := at.get(tuple(here.tolist()))) is not None and good[setting]:
                ends[factor, side] = setting
                here[factor] += step
    return ends


def _settings(
    layout: Layout, flown: Sequence[tuple[int, Places]], found: Sequence[_Own], unknowns: Unknowns | None
) -> pd.DataFrame:
    """Good stretch and cost of a step off, of every build and set factor; the base craft has one setting only."""
    boats = [(number, group, own) for (number, group), own in zip(flown, found, strict=True) if number > 0]
    parts = [_along(at, boats, unknowns) for at, ordered in enumerate(layout.ordered) if ordered and boats]
    labels = [label for label, ordered in zip(layout.labels, layout.ordered, strict=True) if ordered]
    named = [part.assign(factor=label)[list(SETTING_COLUMNS)] for label, part in zip(labels, parts, strict=False)]
    return pd.concat(named, ignore_index=True) if named else pd.DataFrame(columns=list(SETTING_COLUMNS))


def _along(factor: int, boats: Sequence[tuple[int, Places, _Own]], unknowns: Unknowns | None) -> pd.DataFrame:
    cost = estimate(by_draw(np.stack([own.costs[factor] for _, _, own in boats]), unknowns))
    half = cost.half_width(TAIL)
    columns = {
        "build": [number for number, _, _ in boats],
        "design": [int(group[own.best]) for _, group, own in boats],
        "good_from": [int(group[own.reach[factor, 0]]) for _, group, own in boats],
        "good_to": [int(group[own.reach[factor, 1]]) for _, group, own in boats],
    }
    return pd.DataFrame(columns).assign(cost=cost.mean, cost_low=cost.mean - half, cost_high=cost.mean + half)

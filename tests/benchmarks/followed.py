"""Every sentence of advice that the pages print of a small campaign, taken literally in the truth that it was cut from.

Each sentence is read as a builder reads it: by its words (`sentence_checks`). What cannot be told from the scores of a truth is
flown in `flown_advice`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.conditions import condition_table, list_conditions
from sweep.insight.builds import find_builds
from sweep.insight.findings import FAILING, SCORE, _stacked
from sweep.insight.limits import judge
from sweep.insight.matters import failing, what_matters
from sweep.model.quantities import FLEW
from sweep.report import headline
from sweep.report.display import Column
from sweep.report.pages import builds, design, levels, matters, sure, tradeoffs
from sweep.results.manifest import Manifest
from sweep.results.store import Results
from tests.benchmarks.advice import Truth, counted, judged, ranked

Array = NDArray[np.float64]
PAGES = 3
"""Leading designs whose pages are read."""


class Case(NamedTuple):
    """A small campaign, and the truth. true: mean scores, (designs,); over: truly over a limit; best: the truly best design."""

    truth: Truth
    cut: Truth
    results: Results
    true: Array
    over: NDArray[np.bool_]
    best: int
    effects: pd.DataFrame
    levels: pd.DataFrame
    whole: pd.DataFrame

    def lost(self, one: int, of: int | None = None) -> float:
        """What a design scores more than the best, as a share of it."""
        least = self.true[self.best if of is None else of]
        return float(self.true[one] / least - 1.0)


def truly(truth: Truth) -> tuple[Array, NDArray[np.bool_], int, pd.DataFrame]:
    """Mean scores, which designs are over a limit, the best of the others, and the standings of all flights."""
    true, over = truth.scores.mean(axis=(1, 2)), judged(truth)["doubtful"].to_numpy()
    best = int(np.where(over, np.inf, true).argmin()) if not over.all() else int(true.argmin())
    return true, over, best, ranked(truth)


def case_of(truth: Truth, cut: Truth, known: tuple[Array, NDArray[np.bool_], int, pd.DataFrame]) -> Case:
    """A cut beside its truth; known: of `truly`."""
    flies = ~failing((cut.status != FLEW).mean(axis=(1, 2)))
    exact = what_matters(truth.campaign, truth.designs, truth.scores, flies)
    return Case(truth, cut, results_of(cut), *known[:3], exact.table, exact.levels, known[3])


def results_of(cut: Truth) -> Results:
    """The results folder of a small campaign, as far as its sentences read it."""
    shape = cut.scores.shape
    at = np.indices(shape).reshape(3, -1)
    names = ("design", "condition", "replicate")
    flights = pd.DataFrame(dict(zip(names, at, strict=True))).assign(status=cut.status.ravel().astype(int))
    flights = flights.assign(time_foilborne=cut.foilborne.ravel(), **{name: each.ravel() for name, each in cut.limits.items()})
    table, failed = ranked(cut), cut.status != FLEW
    campaign = cut.campaign.model_copy(update={"replicates": shape[2], "budget": None})
    verdicts = table.set_index("design")["verdict"].sort_index().tolist()
    boats = find_builds(campaign.factors, cut.designs, cut.scores, verdicts)
    flies = ~failing(failed.mean(axis=(1, 2)))
    found = {SCORE: what_matters(campaign, cut.designs, cut.scores, flies)}
    if not flies[1:].all():
        found[FAILING] = what_matters(campaign, cut.designs, failed.astype(float))
    first = dict.fromkeys(table["design"].head(PAGES).tolist(), pd.DataFrame())
    whole = {"started": "2020-01-01T00:00:00+00:00", "runs": (), "finished": None, "content": {}}
    return Results(
        campaign=campaign,
        designs=cut.designs,
        conditions=condition_table(list_conditions(campaign)),
        flights=flights.assign(ride_height_error=np.nan),  # type: ignore[arg-type]
        standings=table,
        limits=judge(counted(cut), campaign.flight.scored),
        leaders=first,
        builds=boats.table,
        settings=boats.settings,
        effects=_stacked({name: each.table for name, each in found.items()}),
        levels=_stacked({name: each.levels for name, each in found.items()}),
        manifest=Manifest(name=campaign.name, designs=shape[0], conditions=shape[1], replicates=shape[2], **whole),  # type: ignore[arg-type]
    )


def sentences_of(results: Results) -> Iterator[tuple[str, str]]:
    """Every sentence of advice with the page that prints it; those that say how the results came about are no advice."""
    yield from (("first page", each) for each in headline.result(results))
    if said := sure._best(results):
        yield "sure", said[0]
    for leader in results.leaders:
        yield from (("design", f"Design {leader}: {each}") for each in design.sentences(results, leader))
    if len(results.builds):
        yield from (("builds", each) for each in builds.sentences(results))
    yield from (("matters", each) for each in matters.sentences(results))
    yield from (("levels", each) for each in levels.level_sentences(results))
    table = results.standings[["design", "verdict", "score"]].merge(
        results.designs[["mass"]], left_on="design", right_index=True
    )
    columns = [Column("mass", "mass", "kg", "cost"), Column("score", "score", "", "standing")]
    if "price" in results.designs:
        table = table.merge(results.designs[["price"]], left_on="design", right_index=True)
        columns.append(Column("price", "price", "", "cost"))
    columns = [column for column in columns if table[column.key].nunique() > 1]
    yield from (
        ("trade-offs", each.said)
        for each in tradeoffs.front_sentences(columns, table, tradeoffs.fronts(columns, table)).values()
    )

"""The standings of a results folder, made from its flights and its campaign."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import pandas as pd

from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import lay_out
from sweep.campaign.plan import Search
from sweep.campaign.search_plan import FIRST_SEARCHED, searched_replicates
from sweep.insight.findings import find, gathered, mean_responses, shared_responses
from sweep.insight.rank import Ranked, rank_flights, rank_search, wanted_columns
from sweep.insight.scores import Array
from sweep.insight.searched import split
from sweep.insight.uneven import reference
from sweep.model.quantities import RESPONSE_NAMES
from sweep.results import store
from sweep.results.fingerprint import conditions_digest, decides, designs_digest
from sweep.results.journal import FINAL, JOURNAL, SETTLED, Journal, planned, read_journal
from sweep.results.lock import UnwritableError
from sweep.results.manifest import read_manifest
from sweep.words.numbers import grouped
from sweep.words.plain_text import csv_text

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.results.store import Results


RUN_AGAIN = "`foilsweep run` with its campaign flies them."


def rank(folder: str | Path) -> pd.DataFrame:
    """Rank the flights of a results folder again by the campaign file there, whose scores and limits may have changed.

    A folder that cannot be written is ranked too, and nothing is kept. Raises StoreError if flights are missing.
    """
    return rank_results(folder)[0].standings


def rank_results(folder: str | Path) -> tuple[Results, bool]:
    """As `rank`: all results of the folder with the new tables, and whether these were kept in it."""
    folder = Path(folder)
    campaign, _, keys = store.load_flown(folder)
    try:
        with store.locked(folder):
            rank_locked(folder)
            return store.load_results(folder), True
    except UnwritableError:
        for name, why in store.unsound_shards(folder, keys).items():
            raise store.StoreError(f"{folder / 'flights'}: {name} is {why}. {RUN_AGAIN}") from None
        return store.load_results(folder, _rank_tables(campaign, folder)[1]), False


def rank_locked(folder: Path) -> pd.DataFrame:
    """As `rank`, of a folder whose lock is held."""
    campaign, _, keys = store.load_flown(folder)
    expected = None if decides(campaign) else planned(read_manifest(folder), keys, read_journal(folder))
    _, aside = store.sound_shards(folder, keys, expected)
    if aside:
        told = ", ".join(f"{name} is {why}" for name, why in aside.items())
        raise store.StoreError(f"{folder / 'flights'}: {told}: set aside. {RUN_AGAIN}")
    return rank_folder(campaign, folder).standings


def is_ranked(folder: Path) -> bool:
    """Whether the standings of a folder, if it has any, were made from its campaign as it is and the flights that it has."""
    made = store.made_of(folder, "standings")
    return not (folder / "standings.parquet").exists() or made == store.ranked_from(folder, store.load_flown(folder)[0])


def rank_folder(campaign: Campaign, folder: Path) -> Ranked:
    """Rank what the folder holds, and write what comes of it there."""
    _rename(campaign, folder)
    ranked, tables = _rank_tables(campaign, folder)
    made_from = store.ranked_from(folder, campaign)
    store.write_whole(folder / "standings.csv", csv_text(ranked.standings).encode())
    for name, table in tables.items():  # the standings last: they say that the others are there
        store.write_table(folder, name, table, made_from)
    return ranked


def _rename(campaign: Campaign, folder: Path) -> None:
    """Give the tables that a run begins with the campaign's present names and prices."""
    if store.made_of(folder, "designs") != (made_from := designs_digest(campaign)):
        store.write_table(folder, "designs", with_costs(campaign, lay_out(campaign)).reset_index(), made_from)
    if store.made_of(folder, "conditions") != (made_from := conditions_digest(campaign)):
        store.write_table(folder, "conditions", condition_table(list_conditions(campaign)), made_from)


def _rank_tables(campaign: Campaign, folder: Path) -> tuple[Ranked, dict[str, pd.DataFrame]]:
    """The results of a folder's flights, and their tables by name; nothing is written."""
    names, manifest = [condition.name for condition in list_conditions(campaign)], read_manifest(folder)
    designs = manifest.designs
    searches, journal = isinstance(campaign.plan, Search), read_journal(folder)
    dropped = store.read_table(folder, "dropped") if campaign.budget and not searches else None
    settled = journal.of(SETTLED)
    flown = sum(decision.flights for decision in (journal.decisions if searches else settled))
    if not searches:
        whole = designs * len(names) * campaign.replicates
        flown += int(store.read_table(folder, "rounds")["flights"].sum()) if campaign.budget else whole
    more = 1 + max((block[1] for each in settled for block in each.blocks), default=-1) - campaign.replicates
    if (missing := flown - store.count_flights(folder)) < 0:
        raise store.StoreError(
            f"{folder}: holds {grouped(-missing)} flights that neither the campaign nor {JOURNAL} tells of. `foilsweep run` "
            "with its campaign sets it right."
        )
    if missing:
        raise store.StoreError(f"{folder}: {grouped(missing)} flights are missing. {RUN_AGAIN}")
    try:
        read = store.shards_reader(folder)
        parts = read(wanted_columns(campaign))
        if searches:
            ranked = rank_search(campaign, parts, names, designs, _finalists(journal), max(more, 0))
        else:
            ranked = rank_flights(campaign, parts, names, designs, dropped, max(more, 0))
    except ValueError as error:
        raise store.StoreError(f"{folder / 'flights'}: {error}. {RUN_AGAIN}") from error
    found = _findings(campaign, read, ranked, store.read_designs(folder, campaign, manifest))
    return ranked, found | {"limits": ranked.limits, "standings": ranked.standings}


Read: TypeAlias = Callable[[Sequence[str]], Iterable[pd.DataFrame]]
"""Gives some columns of the flights, part by part."""


def _finalists(journal: Journal) -> list[int]:
    """Who flew the final of a search; raises ValueError before that is decided."""
    final = journal.of(FINAL)
    if not final:
        raise ValueError("the search has not come to its final")
    return list(final[0].designs)


def _findings(campaign: Campaign, read: Read, ranked: Ranked, designs: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The results beyond the standings; responses are read one column at a time."""

    own = campaign.replicates  # effects and builds compare all designs, so by the blocks before any flew on

    def values(name: str) -> Array:
        parts = _settled_parts(campaign, read, ["design", "condition", "replicate", name])
        return gathered(parts, name, ranked.scores.shape)[:, :, :own]

    verdict = ranked.standings.set_index("design")["verdict"].sort_index()
    found = find(campaign, designs, ranked.scores, verdict.tolist(), values, ranked.failures)
    if np.isfinite(ranked.scores).all():
        means = mean_responses(read(["design", "condition", *RESPONSE_NAMES]), len(designs), campaign.season)
    else:
        means = _shared_responses(campaign, read, ranked)
    return found._asdict() | {"responses": means.reset_index()}


def _shared_responses(campaign: Campaign, read: Read, ranked: Ranked) -> pd.DataFrame:
    """As `mean_responses`, over shared blocks: every design beside the best, or the base craft."""
    by = reference(ranked.scores, int(ranked.standings["design"].iloc[0]))
    search, shape = isinstance(campaign.plan, Search), ranked.scores.shape

    def parts(names: Sequence[str]) -> Iterable[pd.DataFrame]:
        columns = ["design", "condition", "replicate", *names]
        return _side_by_side(read, columns, ranked) if search else read(columns)

    if search:  # the base craft has every block that any has
        by, shape = 0, (*shape[:2], shape[2] + searched_replicates(campaign))
    return shared_responses(parts, by, shape, campaign.season)


def _settled_parts(campaign: Campaign, read: Read, columns: list[str]) -> Iterator[pd.DataFrame]:
    """Rows of the folder but those of a search's rounds."""
    for part in read(columns):
        yield part[part["replicate"] < FIRST_SEARCHED] if isinstance(campaign.plan, Search) else part


def _side_by_side(read: Read, columns: list[str], ranked: Ranked) -> Iterator[pd.DataFrame]:
    """All rows of a search that its standings go by, those of the rounds in replicates after the others."""
    finalists = np.flatnonzero(np.isfinite(ranked.scores).any(axis=(1, 2)))
    for part in read(columns):
        own, rounds = split(part, finalists)
        outside = (rounds["design"] == 0) | ~rounds["design"].isin(finalists)
        yield pd.concat([own, rounds[outside].assign(replicate=rounds["replicate"] + ranked.scores.shape[2])])

"""The results folder: what a run leaves, each file whole or absent.

Files appear under their name only when they are complete and on the disk. The rows of flights lie in shards (`shards.py`). A
table carries the digest of what it was made from, and is read only beside that.
"""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.plan import Search
from sweep.campaign.search_plan import FIRST_SEARCHED, with_points
from sweep.results.atomic_files import as_parquet as as_parquet
from sweep.results.atomic_files import from_parquet as from_parquet
from sweep.results.atomic_files import made_from
from sweep.results.atomic_files import write_table as write_table
from sweep.results.atomic_files import write_whole as write_whole
from sweep.results.fingerprint import Keys, designs_flown, digest, ranking_digest
from sweep.results.form_check import LEADER, checked
from sweep.results.held_folder import check as check_held
from sweep.results.identity import ChangedCampaignError as ChangedCampaignError
from sweep.results.identity import check_flown
from sweep.results.journal import read_journal
from sweep.results.lock import locked as locked
from sweep.results.manifest import Json, Manifest, read_manifest, write_manifest
from sweep.results.plain_files import StoreError as StoreError
from sweep.results.plain_files import check_plain
from sweep.results.shards import MOST_HELD, listed_shards
from sweep.results.shards import SUMS as SUMS
from sweep.results.shards import add_shard as add_shard
from sweep.results.shards import count_flights as count_flights
from sweep.results.shards import drop_shards as drop_shards
from sweep.results.shards import is_of as is_of
from sweep.results.shards import list_in_order as list_in_order
from sweep.results.shards import read_flights as read_flights
from sweep.results.shards import read_shard as read_shard
from sweep.results.shards import read_shards as read_shards
from sweep.results.shards import shard_digest as shard_digest
from sweep.results.shards import shards_reader as shards_reader
from sweep.results.shards import sound_shards as sound_shards
from sweep.results.shards import unsound_shards as unsound_shards
from sweep.results.shards import whole_shards as whole_shards

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

RECORD = re.compile(r"design-(\d{1,9})")

GROWN = {"rides": "map", "tolerances": "tolerances", "outings": "outings"}
"""Tables that grow after the sweep, each with where the manifest keeps what it depends on."""
SEEN = ("outing_events", "outing_moments")
"""What failed first in outings, and the seconds around it."""
MADE_OF = {
    **GROWN,
    "changes": "changes",
    **dict.fromkeys(SEEN, "outings"),
    **dict.fromkeys(("troubles", "moments", "dropped", "rounds"), ""),
}
"""Tables that follow the flights, each with where the manifest keeps what it depends on beside them."""
FINDINGS = ("builds", "settings", "effects", "levels", "hanging", "responses")
OPTIONAL = (*GROWN, *SEEN, *FINDINGS, "rounds", "dropped", "changes", "troubles", "moments")
"""Optional tables of a folder."""


class Rows:
    """The flights of `Results`: a table, or the folder that holds them, which is read when they are first asked for."""

    def __get__(self, results: Results | None, owner: type) -> pd.DataFrame:
        """The table."""
        if results is None:
            raise AttributeError("there are no flights without results")
        if isinstance(vars(results)["flights"], Path):
            vars(results)["flights"] = read_flights(vars(results)["flights"])
        table: pd.DataFrame = vars(results)["flights"]
        return table

    def __set__(self, results: Results, rows: pd.DataFrame | Path) -> None:
        """Keep the table or the folder."""
        vars(results)["flights"] = rows


def _between(low: float, high: float) -> str:
    return f" ({low:.3g} to {high:.3g})" if pd.notna(low) and pd.notna(high) else ""


@dataclass(frozen=True, kw_only=True)
class Results:
    """All that a results folder holds; tables in SI, columns as in the contract of each table's maker."""

    campaign: Campaign
    designs: pd.DataFrame
    conditions: pd.DataFrame
    flights: Rows = Rows()
    standings: pd.DataFrame
    limits: pd.DataFrame
    leaders: dict[int, pd.DataFrame]
    rides: pd.DataFrame = field(default_factory=pd.DataFrame)
    rounds: pd.DataFrame = field(default_factory=pd.DataFrame)
    dropped: pd.DataFrame = field(default_factory=pd.DataFrame)
    tolerances: pd.DataFrame = field(default_factory=pd.DataFrame)
    outings: pd.DataFrame = field(default_factory=pd.DataFrame)
    outing_events: pd.DataFrame = field(default_factory=pd.DataFrame)
    outing_moments: pd.DataFrame = field(default_factory=pd.DataFrame)
    builds: pd.DataFrame = field(default_factory=pd.DataFrame)
    settings: pd.DataFrame = field(default_factory=pd.DataFrame)
    effects: pd.DataFrame = field(default_factory=pd.DataFrame)
    levels: pd.DataFrame = field(default_factory=pd.DataFrame)
    hanging: pd.DataFrame = field(default_factory=pd.DataFrame)
    responses: pd.DataFrame = field(default_factory=pd.DataFrame)
    changes: pd.DataFrame = field(default_factory=pd.DataFrame)
    troubles: pd.DataFrame = field(default_factory=pd.DataFrame)
    moments: pd.DataFrame = field(default_factory=pd.DataFrame)
    manifest: Manifest
    asked: dict[int, pd.DataFrame] = field(default_factory=dict, init=False, repr=False)
    """Flights of designs, kept once read: every section of a design's page reads them."""

    def __repr__(self) -> str:
        """One line, for a notebook: how many designs, and the first of them."""
        ranked = self.standings[self.standings["place"].notna()]
        first = "none is ranked"
        if len(ranked):
            best = ranked.iloc[0]
            first = f"first design {best['design']}, score {best['score']:.3g}{_between(best['score_low'], best['score_high'])}"
        return f"<Results of {self.campaign.title!r}: {len(self.designs)} designs, {len(self.conditions)} conditions; {first}>"

    def _repr_html_(self) -> str:
        """The same over the first rows of the standings."""
        return f"<p>{html.escape(repr(self)[1:-1])}</p>{self.standings.head().to_html(index=False, na_rep='')}"

    def _held(self) -> pd.DataFrame | Path:
        """All flights, or the folder that has them, where they are many."""
        held: pd.DataFrame | Path = vars(self)["flights"]
        return self.flights if isinstance(held, Path) and count_flights(held) <= MOST_HELD else held

    def flights_of(self, design: int) -> pd.DataFrame:
        """The flights of one design, without reading those of the others; of a finalist those from the final on."""
        held, known = self._held(), self.asked
        if design not in known:
            some = read_flights(held, design=design) if isinstance(held, Path) else held[held["design"] == design]
            known[design] = without_rounds(some).reset_index(drop=True)
        return known[design]

    def column(self, name: str) -> pd.Series:
        """One column of all flights, without reading the others."""
        held = self._held()
        return (read_flights(held, [name]) if isinstance(held, Path) else held)[name]


def without_rounds(flights: pd.DataFrame) -> pd.DataFrame:
    """The flights of a design that its printed score comes from: those of a search's rounds only where it has no others."""
    searched = flights["replicate"] >= FIRST_SEARCHED
    if searched.all():
        return flights.assign(replicate=flights["replicate"] - FIRST_SEARCHED) if len(flights) else flights
    return flights[~searched]


def write_leaders(folder: Path, histories: Mapping[int, pd.DataFrame], keys: Keys | None = None) -> None:
    """Keep the time histories of these designs, and of no others; keys: of the flights of the folder."""
    leaders = folder / "leaders"
    check_held(leaders)
    leaders.mkdir(exist_ok=True)
    for design, history in histories.items():
        write_table(leaders, f"design-{design}", history, keys.of_records(design) if keys else "")
    for path in leaders.glob("design-*.parquet"):
        if path.stem not in {f"design-{design}" for design in histories}:
            check_held(leaders)
            path.unlink()


def made_of(folder: Path, name: str) -> str:
    """The digest of what a table of the folder was made from; '' if it carries none, or is not there."""
    return made_from(folder / f"{name}.parquet")


def grown_digest(manifest: Manifest, key: str = "") -> str:
    """What a table is made from that follows the flights: their content, and what the manifest keeps of it under a key."""
    return digest([manifest.content, manifest.depends_on(key)])


def begin_grown(folder: Path, name: str, content: Json) -> pd.DataFrame:
    """The rows of a table of `GROWN` that the folder holds already of this content; those of another are dropped."""
    manifest, key = read_manifest(folder), GROWN[name]
    now = manifest.with_dependence(key, content)
    if manifest.depends_on(key) != content or made_of(folder, name) != grown_digest(now, key):
        drop_grown(folder, name)
        write_manifest(folder, now)
    return _table_if_there(folder, name)


def write_grown(folder: Path, name: str, table: pd.DataFrame) -> None:
    """Write a table of `MADE_OF`."""
    write_table(folder, name, table, grown_digest(read_manifest(folder), MADE_OF[name]))


def holds_changes(folder: Path, content: Json) -> bool:
    """Whether the folder holds the changes of this content; if not, those of another are dropped, and it is noted."""
    manifest = read_manifest(folder)
    now = manifest.with_dependence("changes", content)
    if manifest.changes == content and made_of(folder, "changes") == grown_digest(now, "changes"):
        return True
    drop_grown(folder, "changes")
    write_manifest(folder, now)
    return False


def drop_grown(folder: Path, name: str) -> None:
    """Delete a table, if there is one."""
    check_held(folder)
    (folder / f"{name}.parquet").unlink(missing_ok=True)


def _table_if_there(folder: Path, name: str) -> pd.DataFrame:
    return read_table(folder, name) if (folder / f"{name}.parquet").exists() else pd.DataFrame()


def read_table(folder: Path, name: str, counts: Mapping[str, int] | None = None) -> pd.DataFrame:
    """A table of the results folder; raises StoreError if it is not there, or holds what no run writes.

    counts: how many designs and conditions there are, as `form_check.checked` takes them.
    """
    path = folder / f"{name}.parquet"
    try:
        return checked(path, from_parquet(path), name, counts=counts)
    except FileNotFoundError:
        raise StoreError(f"{folder}: has no {name}.parquet; `foilsweep run` with its campaign makes it.") from None


def load_stored_campaign(folder: Path) -> Campaign:
    """The campaign as the folder keeps it; raises StoreError for no results folder, CampaignError for a wrong edit."""
    from sweep.campaign.campaign import load_campaign

    check_plain(folder)
    name, craft = read_manifest(folder).name, folder / "craft.yaml"
    campaign = load_campaign(
        folder / "campaign.yaml",
        craft=craft if craft.exists() else None,
        listed=folder / "listed.csv",
        polars=folder / "polars",
        name=name,
    )
    return searched_so_far(folder, campaign)


def searched_so_far(folder: Path, campaign: Campaign) -> Campaign:
    """The campaign with the designs that the search of a folder has decided on, of those that the folder is made for."""
    if not isinstance(campaign.plan, Search):
        return campaign
    return with_points(campaign, read_journal(folder).points[: read_manifest(folder).designs - 1])


def load_flown(folder: Path) -> tuple[Campaign, Manifest, Keys]:
    """The campaign of a folder, its manifest and the keys of its flights, all of one another.

    Raises ChangedCampaignError if what was flown has been edited, StoreError and CampaignError as `load_stored_campaign`.
    """
    campaign, manifest = load_stored_campaign(folder), read_manifest(folder)
    return campaign, manifest, check_flown(folder, manifest, campaign)


def ranked_from(folder: Path, campaign: Campaign) -> str:
    """The digest of what standings of the folder's flights are made from, as the campaign judges them."""
    return ranking_digest(campaign, read_manifest(folder).content, listed_shards(folder / "flights").items())


def load_results(folder: str | Path, fresh: Mapping[str, pd.DataFrame] | None = None) -> Results:
    """All tables of a finished run, each of which was made from what the folder holds.

    fresh: tables by name that take the place of those in the folder. Raises StoreError if something is missing, or is there
    that no run leaves, or was made from something else; ChangedCampaignError if what was flown has been edited.
    """
    folder, fresh = Path(folder), fresh or {}
    campaign, manifest, keys = load_flown(folder)
    if aside := unsound_shards(folder, keys):
        name, why = next(iter(aside.items()))
        raise StoreError(f"{folder / 'flights' / name}: is {why}. `foilsweep run` with its campaign flies it again.")
    if "standings" not in fresh and made_of(folder, "standings") != ranked_from(folder, campaign):
        raise StoreError(
            f"{folder}: its standings were made by other scores, limits or names than campaign.yaml has now, or from other "
            f"flights. `foilsweep rank {folder}` makes them anew; the flights stay."
        )
    counts = {"design": manifest.designs, "condition": manifest.conditions}

    def table(name: str) -> pd.DataFrame:
        if name in fresh:
            return fresh[name]
        if name in MADE_OF and (folder / f"{name}.parquet").exists():
            _check_made_of(folder, name, manifest)
        return read_table(folder, name, counts)

    def if_there(name: str) -> pd.DataFrame:
        return table(name) if name in fresh or (folder / f"{name}.parquet").exists() else pd.DataFrame()

    return Results(
        campaign=campaign,
        designs=read_designs(folder, campaign, manifest),
        conditions=condition_table(list_conditions(campaign)),
        flights=folder,
        standings=_of_every_design(folder, table("standings"), manifest.designs),
        limits=table("limits"),
        leaders=_leaders(folder, keys),
        **{name: if_there(name) for name in OPTIONAL},
        manifest=manifest,
    )


def _of_every_design(folder: Path, standings: pd.DataFrame, designs: int) -> pd.DataFrame:
    """The standings; raises StoreError if they do not hold every design once, and each that flew with its score."""
    numbers = np.sort(standings["design"].to_numpy(dtype=np.int64))
    if not np.array_equal(numbers, np.arange(designs)) or standings.loc[standings["flights"] > 0, "score"].isna().any():
        raise StoreError(
            f"{folder / 'standings.parquet'}: has not every one of the {designs} designs once, with a score. "
            f"`foilsweep rank {folder}` makes it anew; the flights stay."
        )
    return standings


def _check_made_of(folder: Path, name: str, manifest: Manifest) -> None:
    if made_of(folder, name) != grown_digest(manifest, MADE_OF[name]):
        raise StoreError(
            f"{folder / name}.parquet: was made from other flights. If this version flew the folder, delete it: `foilsweep "
            "run` with its campaign makes it anew, and the flights stay."
        )


def read_designs(folder: Path, campaign: Campaign, manifest: Manifest) -> pd.DataFrame:
    """The design table, its factors called as they are in the campaign; raises StoreError if it is not what was flown."""
    designs, labels = read_table(folder, "designs").set_index("design"), list(campaign.factors)
    laid_out = lay_out(campaign) if isinstance(campaign.plan, Search) else None  # as its journal has them
    wanted = manifest.content.get("designs") if laid_out is None else designs_flown(laid_out)
    if designs_flown(designs) != wanted or len(designs.columns) < len(labels):
        raise StoreError(
            f"{folder / 'designs.parquet'}: are not the designs that were flown. `foilsweep run {folder}` makes it anew."
        )
    return designs.set_axis([*labels, *designs.columns[len(labels) :]], axis="columns")


def _leaders(folder: Path, keys: Keys) -> dict[int, pd.DataFrame]:
    """The recorded flights by their design; raises StoreError for those of other flights."""
    leaders: dict[int, pd.DataFrame] = {}
    counts = {"condition": len(keys.conditions)}
    for path in sorted((folder / "leaders").glob("design-*.parquet")):
        found = RECORD.fullmatch(path.stem)
        if not found or not int(found[1]) < len(keys.designs) or made_from(path) != keys.of_records(int(found[1])):
            raise StoreError(
                f"{path}: is no record of this folder's flights. If this version flew the folder, delete it: `foilsweep run` "
                "records what is missing."
            )
        leaders[int(found[1])] = checked(path, from_parquet(path), LEADER, counts=counts)
    return leaders

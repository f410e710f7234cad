"""The results folder: what a run leaves, whole or not at all.

Files appear under their name only when they are complete and on the disk. The rows of flights lie in shards;
`flights/SHA256SUMS` lists the sound ones as `sha256sum --check` reads them, and a shard that does not match it is set aside
and flown again.
"""

from __future__ import annotations

import hashlib
import json
import os
import platform
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pyarrow.parquet as pq

from sweep import __version__
from sweep.lock import locked as locked
from sweep.plain_files import StoreError as StoreError
from sweep.plain_files import check_plain, open_to_append, read_plain, reading
from sweep.whole import as_parquet as as_parquet
from sweep.whole import from_parquet as from_parquet
from sweep.whole import unwritten
from sweep.whole import write_table as write_table
from sweep.whole import write_whole as write_whole

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

MANIFEST, SUMS = "manifest.json", "SHA256SUMS"
SUM_LINE = re.compile(r"([0-9a-f]{64})  (part-\d{5,}\.parquet)")
PACKAGES = ("numpy", "numba", "scipy", "pandas", "pyarrow", "joblib")

GROWN = {"rides": "map", "tolerances": "tolerances"}
"""Tables that grow after the sweep, each with where the manifest keeps what it depends on."""
FINDINGS = ("builds", "settings", "effects", "levels", "responses")
OPTIONAL = (*GROWN, *FINDINGS, "rounds", "changes", "troubles", "moments")
"""Tables that a folder may do without."""


class ChangedCampaignError(StoreError):
    """The folder holds flights of another campaign, or of another model."""


class DamagedManifestError(StoreError):
    """The manifest is there, and no run has written it like that."""


ALWAYS_THERE = {
    "content": dict,
    "name": str,
    "designs": int,
    "conditions": int,
    "replicates": int,
    "started": str,
    "runs": list,
}
"""Keys of every manifest, with the kind of their values."""


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
    tolerances: pd.DataFrame = field(default_factory=pd.DataFrame)
    builds: pd.DataFrame = field(default_factory=pd.DataFrame)
    settings: pd.DataFrame = field(default_factory=pd.DataFrame)
    effects: pd.DataFrame = field(default_factory=pd.DataFrame)
    levels: pd.DataFrame = field(default_factory=pd.DataFrame)
    responses: pd.DataFrame = field(default_factory=pd.DataFrame)
    changes: pd.DataFrame = field(default_factory=pd.DataFrame)
    troubles: pd.DataFrame = field(default_factory=pd.DataFrame)
    moments: pd.DataFrame = field(default_factory=pd.DataFrame)
    manifest: dict[str, Any]
    asked: dict[int, pd.DataFrame] = field(default_factory=dict, init=False, repr=False)
    """Flights of designs that were asked for: every section of a design's page does."""

    def flights_of(self, design: int) -> pd.DataFrame:
        """The flights of one design, without reading those of the others."""
        held, known = vars(self)["flights"], self.asked
        if design not in known:
            known[design] = read_flights(held, design=design) if isinstance(held, Path) else held[held["design"] == design]
        return known[design]

    def column(self, name: str) -> pd.Series:
        """One column of all flights, without reading the others."""
        held = vars(self)["flights"]
        return (read_flights(held, [name]) if isinstance(held, Path) else held)[name]


def add_shard(folder: Path, number: int, flights: pd.DataFrame) -> None:
    """Keep a finished shard: first the rows, then its line in the list of sound ones."""
    name, content = f"part-{number:05d}.parquet", as_parquet(flights)
    write_whole(folder / "flights" / name, content)
    try:
        with open_to_append(folder / "flights" / SUMS) as file:
            file.write(f"{hashlib.sha256(content).hexdigest()}  {name}\n".encode())
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise unwritten(folder / "flights" / SUMS, error) from error


def sound_shards(folder: Path) -> tuple[set[int], list[str]]:
    """Numbers of the shards that are whole, and names of those that are not: they have been set aside as `.torn`."""
    flights = folder / "flights"
    listed = _listed(flights)
    sound: dict[str, str] = {}
    torn: list[str] = []
    for name, checksum in sorted(listed.items(), key=lambda item: _number(item[0])):
        path = flights / name
        if not path.exists():
            continue
        if hashlib.sha256(read_plain(path)).hexdigest() == checksum:
            sound[name] = checksum
        else:
            os.replace(path, path.with_suffix(".parquet.torn"))
            torn.append(name)
    write_whole(flights / SUMS, "".join(f"{checksum}  {name}\n" for name, checksum in sound.items()).encode())
    return {_number(name) for name in sound}, torn


def _listed(flights: Path) -> dict[str, str]:
    """Shard name -> checksum; a line that was cut off does not count."""
    try:
        lines = read_plain(flights / SUMS).decode("ascii", errors="replace").splitlines()
    except FileNotFoundError:
        return {}
    return {found[2]: found[1] for line in lines if (found := SUM_LINE.fullmatch(line))}


def _number(name: str) -> int:
    return int(name.removeprefix("part-").removesuffix(".parquet"))


def read_shards(folder: Path, columns: Sequence[str] | None = None, design: int | None = None) -> Iterator[pd.DataFrame]:
    """The rows of each shard, in the order of their numbers; only the named columns and the one design, if they are named."""
    for path in _shards(folder):
        table = from_parquet(path, columns)
        yield table if design is None else table[table["design"] == design]  # Arrow's own choosing of rows starts threads


def read_shard(folder: Path, number: int) -> pd.DataFrame:
    """The rows of one sound shard."""
    return from_parquet(folder / "flights" / f"part-{number:05d}.parquet")


def count_shards(folder: Path) -> int:
    """How many shards the folder lists."""
    return len(_listed(folder / "flights"))


def count_flights(folder: Path) -> int:
    """How many flights the shards hold."""
    return sum(_count_rows(path) for path in _shards(folder))


def _count_rows(path: Path) -> int:
    with reading(path) as file:
        rows: int = pq.read_metadata(file).num_rows
    return rows


def read_flights(folder: Path, columns: Sequence[str] | None = None, design: int | None = None) -> pd.DataFrame:
    """The rows of all shards, as `read_shards` gives them; raises StoreError if there are none."""
    tables = list(read_shards(folder, columns, design))
    if not tables:
        raise StoreError(f"{folder}: no flight has been flown here yet.")
    return pd.concat(tables, ignore_index=True)


def _shards(folder: Path) -> list[Path]:
    return [folder / "flights" / name for name in sorted(_listed(folder / "flights"), key=_number)]


def whole_shards(flights: Path) -> Iterator[Path]:
    """The shards in a folder of flights that match their checksums, in the order of their numbers; nothing is touched."""
    for name, checksum in sorted(_listed(flights).items(), key=lambda item: _number(item[0])):
        path = flights / name
        if path.exists() and hashlib.sha256(read_plain(path)).hexdigest() == checksum:
            yield path


def surroundings() -> dict[str, Any]:
    """What the program runs on: versions and the kind of machine."""
    return {
        "versions": {"foilsweep": __version__, "python": platform.python_version()}
        | {name: metadata.version(name) for name in PACKAGES},
        "machine": {"system": platform.system(), "kind": platform.machine(), "processors": os.cpu_count()},
    }


def seeds(campaign: Campaign) -> dict[str, int]:
    """The seeds of all that is drawn."""
    return {"plan": campaign.plan.seed, "flights": campaign.flight.seed}


def now() -> str:
    """The date and time, in UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def write_manifest(folder: Path, manifest: Mapping[str, Any]) -> None:
    """Write the manifest, whole."""
    write_whole(folder / MANIFEST, json.dumps(manifest, indent=1, ensure_ascii=False).encode())


def read_manifest(folder: Path) -> dict[str, Any]:
    """The manifest; raises StoreError if there is none, DamagedManifestError if it cannot be what a run has written."""
    try:
        manifest: dict[str, Any] = json.loads(read_plain(folder / MANIFEST))
        whole = all(isinstance(manifest[key], kind) for key, kind in ALWAYS_THERE.items())
    except (FileNotFoundError, NotADirectoryError):
        what = f"has no {MANIFEST}" if folder.is_dir() else "is a file" if folder.exists() else "does not exist"
        raise StoreError(f"{folder} {what}; wanted the results folder of a run.") from None
    except (ValueError, KeyError, TypeError, RecursionError):
        whole = False
    if not whole:
        raise DamagedManifestError(
            f"{folder / MANIFEST}: cannot be read; `foilsweep run` with its campaign writes it anew and keeps the flights."
        )
    return manifest


def note_run(folder: Path, flights: int, seconds: float) -> None:
    """Add to the manifest how many flights a run has flown, and how long that took, s."""
    manifest = read_manifest(folder)
    manifest["runs"].append({"flights": flights, "seconds": round(seconds, 1)})
    write_manifest(folder, manifest)


def note_kept(folder: Path, flights: int) -> None:
    """Add to the manifest how many flights of an earlier campaign stand beside those of this one."""
    manifest = read_manifest(folder)
    write_manifest(folder, manifest | {"kept": manifest.get("kept", 0) + flights})


def note_tail(folder: Path, tail: Mapping[str, int]) -> None:
    """Keep in the manifest how much is flown after the campaign's own flights."""
    write_manifest(folder, read_manifest(folder) | {"tail": dict(tail)})


def finish(folder: Path) -> None:
    """Note in the manifest that all is flown and ranked."""
    write_manifest(folder, read_manifest(folder) | {"finished": now()})


def write_leaders(folder: Path, histories: Mapping[int, pd.DataFrame]) -> None:
    """Keep the time histories of these designs, and of no others."""
    leaders = folder / "leaders"
    leaders.mkdir(exist_ok=True)
    for design, history in histories.items():
        write_table(leaders, f"design-{design}", history)
    for path in leaders.glob("design-*.parquet"):
        if int(path.stem.removeprefix("design-")) not in histories:
            path.unlink()


def begin_grown(folder: Path, name: str, content: Mapping[str, Any]) -> pd.DataFrame:
    """The rows of a table of `GROWN` that the folder holds already of this content; those of another are dropped."""
    manifest, key = read_manifest(folder), GROWN[name]
    if manifest.get(key) != content:
        drop_grown(folder, name)
        write_manifest(folder, manifest | {key: content})
    return _table_if_there(folder, name)


def holds_changes(folder: Path, content: Mapping[str, Any]) -> bool:
    """Whether the folder holds the changes of this content; if not, those of another are dropped, and it is noted."""
    manifest, path = read_manifest(folder), folder / "changes.parquet"
    if manifest.get("changes") == content and path.exists():
        return True
    path.unlink(missing_ok=True)
    write_manifest(folder, manifest | {"changes": content})
    return False


def drop_grown(folder: Path, name: str) -> None:
    """Let go of a table of `GROWN`, if there is one."""
    (folder / f"{name}.parquet").unlink(missing_ok=True)


def _table_if_there(folder: Path, name: str) -> pd.DataFrame:
    return read_table(folder, name) if (folder / f"{name}.parquet").exists() else pd.DataFrame()


def read_table(folder: Path, name: str) -> pd.DataFrame:
    """A table of the results folder; raises StoreError if it is not there."""
    try:
        return from_parquet(folder / f"{name}.parquet")
    except FileNotFoundError:
        raise StoreError(f"{folder}: has no {name}.parquet; `foilsweep run` with its campaign makes it.") from None


def load_stored_campaign(folder: Path) -> Campaign:
    """The campaign as the folder keeps it; raises StoreError for no results folder, CampaignError for a wrong edit."""
    from sweep.campaign.campaign import load_campaign

    check_plain(folder)
    name, craft = read_manifest(folder)["name"], folder / "craft.yaml"
    return load_campaign(
        folder / "campaign.yaml",
        craft=craft if craft.exists() else None,
        listed=folder / "listed.csv",
        polars=folder / "polars",
        name=name,
    )


def load_results(folder: str | Path, fresh: Mapping[str, pd.DataFrame] | None = None) -> Results:
    """All tables of a finished run; raises StoreError if something is missing, or is there that no run leaves.

    fresh: tables by name that take the place of those in the folder.
    """
    folder, fresh = Path(folder), fresh or {}
    check_plain(folder)
    paths = sorted((folder / "leaders").glob("design-*.parquet"))
    leaders = {int(path.stem.removeprefix("design-")): read_table(path.parent, path.stem) for path in paths}
    return Results(
        campaign=load_stored_campaign(folder),
        designs=read_table(folder, "designs").set_index("design"),
        conditions=read_table(folder, "conditions"),
        flights=folder,
        standings=fresh["standings"] if "standings" in fresh else read_table(folder, "standings"),
        limits=fresh["limits"] if "limits" in fresh else read_table(folder, "limits"),
        leaders=leaders,
        **{name: fresh[name] if name in fresh else _table_if_there(folder, name) for name in OPTIONAL},
        manifest=read_manifest(folder),
    )

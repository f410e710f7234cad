"""The manifest of a results folder: which campaign was flown there, when, with what, and how much of it.

It is a JSON file whose keys are the fields of `Manifest`; a field that has its default is not written.
"""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Mapping
from dataclasses import MISSING, Field, dataclass, field, fields, is_dataclass, replace
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar, get_args, get_origin, get_type_hints

from sweep.campaign.designs import unbuilt
from sweep.results.plain_files import StoreError, read_plain, write_whole
from sweep.results.values import read_note, wrong_shape
from sweep.version import __version__

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.follow_up_plan import Tail

MANIFEST = "manifest.json"
PACKAGES = ("numpy", "numba", "scipy", "pandas", "pyarrow", "joblib")
"""Whose versions a manifest notes: those that a flight's numbers or its tables go through."""

Json: TypeAlias = Mapping[str, Any]
"""A mapping as JSON holds it, which is compared and digested as it stands."""
Record = TypeVar("Record")


class DamagedManifestError(StoreError):
    """The manifest is there, and no run has written it like that."""


@dataclass(frozen=True)
class Machine:
    """The kind of computer: its operating system, the kind of its processors, how many."""

    system: str = ""
    kind: str = ""
    processors: int | None = None


@dataclass(frozen=True)
class RunTime:
    """What one run has flown: flights, and how long that took, s."""

    flights: int
    seconds: float


@dataclass(frozen=True)
class RaceBudget:
    """What a race may spend: simulated seconds; charged_together: flights that are paid for as one."""

    simulated_seconds: float
    charged_together: int


@dataclass(frozen=True)
class Deadline:
    """What the clock leaves a run, s, of its start; ends: the date and time of its end, if the campaign names a time of day.

    spare: seconds of one processor that what follows the flights unasked may take. early: where time was left at the end, how
    much and why, for a person.
    """

    seconds: float
    ends: str = ""
    spare: float = 0.0
    early: str = ""


@dataclass(frozen=True)
class FollowUp:
    """What follows the flights: recorded, conditions in which the leaders are; explained, flights of each of them, at most.

    leads: whether a design leads; where none does, nothing more follows.
    """

    recorded: int
    explained: int
    leads: bool = True


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """What a run notes of itself; times are in UTC, to the second.

    content: what the flights depend on (`flown_content`), by which a folder is told from one of another campaign. finished:
    None as long as something is missing. unbuilt: designs of the plan that break a rule and do not fly. kept: flights taken
    over from an earlier campaign of the folder. files: texts of the campaign's files as they were flown. keys: digest of the
    flights' keys. map, tolerances, outings, changes: what the tables of these depend on beside the flights.
    """

    versions: Mapping[str, str] = field(default_factory=dict)
    machine: Machine = Machine()
    name: str
    seeds: Mapping[str, int] = field(default_factory=dict)
    designs: int
    conditions: int
    replicates: int
    unbuilt: int = 0
    started: str
    runs: tuple[RunTime, ...]
    kept: int = 0
    race: RaceBudget | None = None
    clock: Deadline | None = None
    finished: str | None
    files: Mapping[str, str] = field(default_factory=dict)
    content: Json
    keys: str = ""
    tail: FollowUp | None = None
    map: Json | None = None
    tolerances: Json | None = None
    outings: Json | None = None
    changes: Json | None = None

    @property
    def planned(self) -> int:
        """How many flights the campaign has, if all its designs fly everything."""
        return self.designs * self.conditions * self.replicates

    @property
    def spare(self) -> float | None:
        """Seconds of one processor that what follows the flights unasked may take, where the clock ends a run."""
        return self.clock.spare if self.clock else None

    @property
    def model(self) -> str | None:
        """The digest of the sources that flew it; None if the content does not tell."""
        return self.content.get("model")

    def with_dependence(self, key: str, on: Json) -> Manifest:
        """The same, but for what `depends_on` says of a key."""
        changed: dict[str, Any] = {key: on}
        return replace(self, **changed)

    def depends_on(self, key: str) -> Json | None:
        """What a table depends on beside the flights; key: `map`, `tolerances`, `outings`, `changes`, or '' for nothing."""
        held = {"map": self.map, "tolerances": self.tolerances, "outings": self.outings, "changes": self.changes, "": None}
        return held[key]


def manifest_of(campaign: Campaign, designs: int, conditions: int, content: Json) -> Manifest:
    """The manifest of so many designs in so many conditions, begun now, on this computer, with nothing flown yet."""
    return Manifest(
        versions={"foilsweep": __version__, "python": platform.python_version()}
        | {name: metadata.version(name) for name in PACKAGES},
        machine=Machine(platform.system(), platform.machine(), os.cpu_count()),
        name=campaign.name,
        seeds={"plan": campaign.plan.seed, "flights": campaign.flight.seed},
        designs=designs,
        conditions=conditions,
        replicates=campaign.replicates,
        unbuilt=unbuilt(campaign).broken,
        started=now(),
        runs=(),
        finished=None,
        content=content,
    )


def now() -> str:
    """The date and time, in UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def write_manifest(folder: Path, manifest: Manifest) -> None:
    """Write the manifest, whole."""
    write_whole(folder / MANIFEST, json.dumps(as_note(manifest), indent=1, ensure_ascii=False).encode())


def read_manifest(folder: Path) -> Manifest:
    """The manifest; raises StoreError if there is none, DamagedManifestError if it cannot be what a run has written."""
    try:
        note = read_note(read_plain(folder / MANIFEST))
        wrong = wrong_shape(note, SHAPE)
    except (FileNotFoundError, NotADirectoryError):
        what = f"has no {MANIFEST}" if folder.is_dir() else "is a file" if folder.exists() else "does not exist"
        raise StoreError(f"{folder} {what}; wanted the results folder of a run.") from None
    except ValueError as error:
        wrong = str(error).splitlines()[0]
    if wrong:
        raise DamagedManifestError(
            f"{folder / MANIFEST}: cannot be read ({wrong}); `foilsweep run` with its campaign writes it anew and keeps the "
            "flights."
        )
    return from_note(Manifest, note)


def note_run(folder: Path, flights: int, seconds: float) -> None:
    """Add to the manifest how many flights a run has flown, and how long that took, s."""
    manifest = read_manifest(folder)
    runs = (*manifest.runs, RunTime(flights, round(max(seconds, 0.0), 1)))
    write_manifest(folder, replace(manifest, runs=runs))


def note_kept(folder: Path, flights: int) -> None:
    """Add to the manifest how many flights of an earlier campaign stand beside those of this one."""
    manifest = read_manifest(folder)
    write_manifest(folder, replace(manifest, kept=manifest.kept + flights))


def note_tail(folder: Path, tail: Tail, leads: bool = True) -> None:
    """Keep in the manifest how much is flown after the campaign's own flights; leads: whether a design leads."""
    write_manifest(folder, replace(read_manifest(folder), tail=FollowUp(tail.recorded, tail.explained, leads)))


def finish(folder: Path) -> None:
    """Note in the manifest that all is flown and ranked."""
    write_manifest(folder, replace(read_manifest(folder), finished=now()))


def as_note(record: Any) -> dict[str, Any]:
    """A record as JSON, without the fields that have their defaults."""
    values = {each.name: (getattr(record, each.name), _default(each)) for each in fields(record)}
    return {name: _as_json(value) for name, (value, default) in values.items() if default is MISSING or value != default}


def _as_json(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_as_json(each) for each in value]
    return as_note(value) if is_dataclass(value) else value


def _default(each: Field[Any]) -> Any:
    return each.default if each.default_factory is MISSING else each.default_factory()


def from_note(kind: type[Record], note: Any) -> Record:
    """The record that `as_note` has written, of a note of its shape; other keys are left out."""
    hints = get_type_hints(kind)
    names = [each.name for each in fields(kind) if each.name in note]  # type: ignore[arg-type]
    return kind(**{name: _from_json(hints[name], note[name]) for name in names})


def _from_json(kind: Any, value: Any) -> Any:
    inside = get_args(kind)
    if isinstance(kind, UnionType):
        return None if value is None else _from_json(inside[0], value)
    if get_origin(kind) is tuple:
        return tuple(_from_json(inside[0], each) for each in value)
    return from_note(kind, value) if isinstance(kind, type) and is_dataclass(kind) else value


def shape_of(kind: Any) -> Any:
    """The shape of what `as_note` writes of a type, as `wrong_shape` takes it; null stands for texts and numbers only."""
    inside = get_args(kind)
    if isinstance(kind, UnionType):
        shape = shape_of(inside[0])
        return shape if isinstance(shape, dict) else (shape, None)
    if get_origin(kind) is tuple:
        return [shape_of(inside[0])]
    if is_dataclass(kind):
        hints = get_type_hints(kind)
        return {f"{each.name}{'' if _default(each) is MISSING else '?'}": shape_of(hints[each.name]) for each in fields(kind)}
    if inside:
        return {} if inside[1] is Any else {...: shape_of(inside[1])}
    return kind


SHAPE = shape_of(Manifest) | {"content": {"model": str}, "changes?": {"conditions?": int}}
"""Of a manifest: of the two that are read by their keys, which."""

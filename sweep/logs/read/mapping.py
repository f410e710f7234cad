"""A mapping file, read and checked: paths found, units as factors, SI."""

from __future__ import annotations

import glob
import math
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pydantic import ValidationError

from sweep.campaign.craft import Craft
from sweep.campaign.text.base import Part
from sweep.campaign.text.document import Document, Location, read_document
from sweep.campaign.text.explain import nearest, problems_of
from sweep.campaign.text.file_kind import CRAFT, MAPPING, of_sort
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.campaign.water import NamedHeading, WaterBody
from sweep.logs.read.channels import CHANNELS, FURTHER, NEEDED, channel_kind
from sweep.logs.read.dialect import Dialect
from sweep.logs.read.mapping_file import BesideFile, Clock, ColumnFile, LogFile, MappingFile, OtherFile, RowsFile
from sweep.words.phrases import listed
from sweep.words.units import UnitError, from_unit


class Column(Part):
    """One column, read: SI value = number x factor + offset."""

    channel: str
    column: str
    unit: str
    factor: float
    offset: float
    rate: float | None
    late: float | None
    missing: tuple[float, ...]


@dataclass(frozen=True)
class Mapping:
    """A mapping ready to read logs with: paths resolved, units as factors, SI.

    files: of each of the logs; others: of each, mappings of the other files of its outing, each with one file.
    """

    title: str
    path: Path
    craft: Craft
    craft_path: Path
    craft_text: str
    made_up: bool
    water: WaterBody
    heading: NamedHeading | None
    bearing: float | None
    dialect: Dialect
    clock: Column
    time: Clock
    columns: tuple[Column, ...]
    logs: tuple[LogFile, ...]
    files: tuple[Path, ...]
    rows: RowsFile | None
    setups: str | None
    others: tuple[tuple[Mapping, ...], ...]
    speed: float | None
    beside: BesideFile | None
    least_run: float

    @property
    def channels(self) -> tuple[str, ...]:
        """The channels that it maps."""
        others = (column.channel for others in self.others for other in others for column in other.columns)
        return tuple(dict.fromkeys([*(column.channel for column in self.columns), *others]))

    def late(self) -> float:
        """How late (s) the log has the rangefinder's readings: as the mapping says, or else the craft file."""
        said = self.late_said
        return float(self.craft.rangefinders.first("latency")) if said is None else said

    @property
    def late_said(self) -> float | None:
        """The same by the mapping alone, None where it does not say."""
        return next((column.late for column in self.columns if column.channel == "range"), None)

    def relative(self, heading: float | None) -> float:
        """The angle (rad) between the way of a run with this compass heading and the way the waves go."""
        if self.heading is not None:
            return self.heading.angle
        assert self.bearing is not None
        assert heading is not None
        return math.remainder(self.bearing + math.pi - heading, 2.0 * math.pi)


def load_mapping(path: str | Path) -> Mapping:
    """Read a mapping file and its craft. Raises CampaignError with everything that is wrong."""
    path = Path(path)
    document = of_sort(read_document(path), MAPPING)
    if document.problems:
        raise CampaignError(document.problems)
    try:
        file = MappingFile.model_validate(document.plain())
    except ValidationError as error:
        raise CampaignError(problems_of(error, document, MappingFile)) from None
    problems: list[Problem] = []
    craft_path = path.parent / file.craft
    craft, text = _craft(craft_path, document, problems)
    if craft is not None and (kind := craft.rangefinders.first("kind")) != "beam":
        wanted = "a craft whose first rangefinder has a beam: a log's range is a distance along it"
        problems.append(document.problem(("craft",), wanted, f"one whose first rangefinder is of kind {kind}"))
    columns = _all_columns(file.columns, (), craft, document, problems)
    clock = _scaled("clock", file.clock, ("clock",), document, problems)
    logs = tuple(_globbed(file.logs, path.parent))
    problems += _of_the_whole(file, document)
    problems += _missing_files(file, path.parent, document)
    if problems or craft is None or clock is None:
        raise CampaignError(problems)
    mapping = Mapping(
        title=file.title,
        path=path,
        craft=craft,
        craft_path=craft_path,
        craft_text=text,
        made_up=file.made_up,
        water=file.water,
        heading=file.waves.heading,
        bearing=file.waves.bearing,
        dialect=file,
        clock=clock,
        time=file.clock,
        columns=columns,
        logs=logs,
        files=tuple(path.parent / log.file for log in logs),
        rows=file.rows,
        setups=file.setups,
        others=((),) * len(logs),
        speed=file.speed,
        beside=file.beside,
        least_run=file.least_run,
    )
    others = tuple(
        tuple(
            _other(each, mapping, ("logs", _entry(file.logs, log), "also", place), document, problems)
            for place, each in enumerate(log.also)
        )
        for log in logs
    )
    if problems:
        raise CampaignError(problems)
    return replace(mapping, others=others)


def _globbed(logs: Sequence[LogFile], folder: Path) -> Iterator[LogFile]:
    """Every log with a file of its own: a path with * stands for all that match, by name."""
    for log in logs:
        found = sorted(glob.glob(log.file, root_dir=folder)) if "*" in log.file else [log.file]
        yield from (log.model_copy(update={"file": name}) for name in found)


def _entry(logs: Sequence[LogFile], log: LogFile) -> int:
    return next(place for place, entry in enumerate(logs) if entry.also == log.also)


def _other(file: OtherFile, mapping: Mapping, at: Location, document: Document, problems: list[Problem]) -> Mapping:
    """A mapping of another file of an outing: its own dialect, clock and columns."""
    clock = _scaled("clock", file.clock, (*at, "clock"), document, problems) or mapping.clock
    path = mapping.path.parent / file.file
    if not path.is_file():
        problems.append(document.problem((*at, "file"), "the path of a log", f"{file.file!r}, where there is no file"))
    columns = _all_columns(file.columns, at, mapping.craft, document, problems)
    return replace(
        mapping, dialect=file, clock=clock, time=file.clock, columns=columns, files=(path,), rows=None, setups=None, others=()
    )


def _all_columns(
    files: dict[str, ColumnFile], at: Location, craft: Craft | None, document: Document, problems: list[Problem]
) -> tuple[Column, ...]:
    found = [_column(name, column, (*at, "columns", name), craft, document, problems) for name, column in files.items()]
    return tuple(column for column in found if column is not None)


def _craft(path: Path, document: Document, problems: list[Problem]) -> tuple[Craft | None, str]:
    try:
        found = of_sort(read_document(path), CRAFT)
    except CampaignError as error:
        said = document.problem(("craft",), "the craft file's path, seen from here", f"{error.problems[0].found}")
        problems += [said] if not any(problem.line for problem in error.problems) else error.problems
        return None, ""
    try:
        problems += found.problems
        return Craft.model_validate(found.plain()), found.text
    except ValidationError as error:
        problems += problems_of(error, found, Craft)
        return None, ""


def _column(
    name: str, file: ColumnFile, at: Location, craft: Craft | None, document: Document, problems: list[Problem]
) -> Column | None:
    known = [*CHANNELS]
    if craft is not None:
        known += [f"foil_{foil}" for foil in craft.foils]
        known += [f"{FURTHER}{finder}" for finder in craft.rangefinders.names()[1:]]
    if name not in known:
        place = document.place(at)
        spot = place.key or place.node
        near = nearest(name, known)
        wanted = f"a channel, perhaps {listed(near)}" if near else f"a channel: {listed(known)}"
        problems.append(Problem(document.file, spot.line, spot.column, place.address, f"the channel {name!r}", wanted))
        return None
    made = _scaled(name, file, at, document, problems)
    return made and made.model_copy(update={"rate": file.rate, "late": file.late, "missing": file.missing})


def _scaled(name: str, file: ColumnFile | Clock, at: Location, document: Document, problems: list[Problem]) -> Column | None:
    """A column with what takes its numbers to SI, or a problem more."""
    unit, sign = file.unit, 1 if isinstance(file, Clock) else file.sign
    kind = channel_kind("range").kind if name == "clock" else channel_kind(name).kind
    units = ("s", "ms", "us", "ns", "min") if name == "clock" else kind.units
    noun = "a time" if name == "clock" else kind.noun
    suits = (
        (unit == "ns" or Clock.model_fields["off"].metadata[0].suits(unit))
        if name == "clock"
        else (kind.suits(unit) and (unit or kind.plain))
    )
    if not suits:
        where = (*at, "unit") if unit else at
        problems.append(document.problem(where, f"the unit of {noun}: {listed(units)}", repr(unit) if unit else "no unit"))
        return None
    try:
        offset = 0.0 if unit == "ns" else from_unit("0", unit)
        factor = 1e-9 if unit == "ns" else from_unit("1", unit) - offset
    except UnitError:  # reported above
        return None
    if not isinstance(file, Clock):
        if file.scale == 0.0:
            problems.append(document.problem((*at, "scale"), "a number other than 0", "0"))
        offset, factor = offset - factor * file.scale * file.zero, factor * file.scale
    return Column(
        channel=name,
        column=file.column,
        unit=unit,
        factor=sign * factor,
        offset=sign * offset,
        rate=None,
        late=None,
        missing=(),
    )


def _of_the_whole(file: MappingFile, document: Document) -> Iterator[Problem]:
    everywhere = set.intersection(*({name for other in log.also for name in other.columns} for log in file.logs))
    names = everywhere | set(file.columns)
    for name in NEEDED:
        if name not in names:
            yield document.problem(("columns",), f"a column for {name}: {CHANNELS[name].meaning}", f"none for {name}")
    if file.waves.bearing is not None and "heading" not in names:
        yield document.problem(("waves", "bearing"), "a column for heading beside it, or waves: {heading: head}")
    if "speed" not in names and file.speed is None:
        yield document.problem(("columns",), "a column for speed, or speed: 4 m/s through the runs", "neither")
    if file.beside is not None:
        if not channel_kind("witness").kind.suits(file.beside.unit):
            yield document.problem(("beside", "unit"), f"the unit of a length: {listed(channel_kind('witness').kind.units)}")
        if not Clock.model_fields["off"].metadata[0].suits(file.beside.clock.unit):
            yield document.problem(("beside", "clock", "unit"), "the unit of a time: s, ms, us or min")
    used: dict[str, str] = {file.clock.column: "the clock"}
    for name, column in file.columns.items():
        if column.column in used:
            found = f"the column {column.column!r} again, already {used[column.column]}"
            yield document.problem(("columns", name, "column"), "a column of its own for every channel", found)
        used.setdefault(column.column, name)
    for place, log in enumerate(file.logs):
        if log.begin is not None and log.end is not None and log.end <= log.begin:
            yield document.problem(("logs", place, "end"), "an end after the begin")
        if any(_share_rows(log, other) for other in file.logs[:place]):
            wanted = "every stretch of a log once (begin and end part one file between set-ups)"
            yield document.problem(("logs", place, "file"), wanted, f"{log.file!r} again")


def _share_rows(log: LogFile, other: LogFile) -> bool:
    """Whether two entries read the same rows of one file."""
    begins, ends = (log.begin or 0.0, other.begin or 0.0), (log.end or math.inf, other.end or math.inf)
    return os.path.normpath(log.file) == os.path.normpath(other.file) and max(begins) < min(ends)


def _missing_files(file: MappingFile, folder: Path, document: Document) -> Iterator[Problem]:
    for place, log in enumerate(file.logs):
        there = glob.glob(log.file, root_dir=folder) if "*" in log.file else (folder / log.file).is_file()
        if not there:
            yield document.problem(
                ("logs", place, "file"),
                "the path of a CSV or another log, seen from here",
                f"{log.file!r}, where there is no file",
            )
    if file.beside and not (folder / file.beside.file).is_file():
        yield document.problem(
            ("beside", "file"), "the path of a CSV, seen from here", f"{file.beside.file!r}, where there is no file"
        )

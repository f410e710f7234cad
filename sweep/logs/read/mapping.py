"""The mapping file: what each column of a log is, with its unit, sign and clock."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, ValidationError, model_validator

from sweep.campaign.craft import Craft
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Angle, Duration, Frequency, Length, OneOrMore, Speed
from sweep.campaign.text.document import Document, read_document
from sweep.campaign.text.explain import nearest, problems_of
from sweep.campaign.text.file_kind import CRAFT, MAPPING, of_sort
from sweep.campaign.text.problems import CampaignError, Problem, wrong
from sweep.campaign.water import Heading, NamedHeading, WaterBody
from sweep.logs.read.channels import CHANNELS, NEEDED, channel_kind
from sweep.words.phrases import listed
from sweep.words.units import UnitError, from_unit

DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "space": r"\s+", "bar": "|"}
Heard = Annotated[str, Field(min_length=1, max_length=200)]


class Clock(Part):
    """The column of the time."""

    column: Heard
    unit: str = Field("s", max_length=20)
    off: Duration = Field(0.0, description="what its clock is ahead of the others', for a log beside")


class ColumnFile(Part):
    """One column: its unit, the sign that turns it our way, and how late the log has its readings."""

    column: Heard
    unit: str = Field("", max_length=40, description="of its numbers, as deg or mm")
    sign: Literal[1, -1] = 1
    rate: Frequency | None = Field(None, gt=0, le=1000, description="readings a second, where the log repeats the last one")
    late: Duration | None = Field(None, ge=0, le=1, description="how late the log has a reading")
    missing: tuple[float, ...] = Field((), max_length=10, description="numbers that mean that nothing came")


class LogFile(Part):
    """One CSV, flown with one set-up."""

    file: Heard
    setup: str = Field("as it is", min_length=1, max_length=40)
    begin: Duration | None = Field(None, ge=0, description="from then on, of its clock")
    end: Duration | None = Field(None, gt=0)


class WavesFile(Part):
    """Where the waves came from, as the builder saw it: against the way of the craft, or by the compass of the log."""

    heading: Heading | None = None
    bearing: Angle | None = Field(None, description="compass bearing that the waves come from")

    @model_validator(mode="after")
    def _either(self) -> Self:
        if (self.heading is None) == (self.bearing is None):
            raise wrong("either of heading (as head) and bearing (as 240 deg, with a heading column)")
        return self


class BesideFile(Part):
    """A second log with a clock of its own, such as marks on a strut in a video: its witness, and what aligns the clocks."""

    file: Heard
    clock: Clock
    column: Heard
    unit: str = Field(max_length=40)
    sign: Literal[1, -1] = 1
    x: Length = Field(0.0, description="of the place that it shows, forward of the datum")


class MappingFile(Part):
    """A mapping file, as written."""

    title: str = Field(min_length=1, max_length=120)
    craft: Heard = Field(description="the craft file's path, seen from here")
    made_up: bool = Field(False, description="true for a log that a model made: every page says so")
    water: WaterBody = WaterBody()
    waves: WavesFile
    delimiter: Literal["comma", "semicolon", "tab", "space", "bar"] = "comma"
    decimal: Literal["point", "comma"] = "point"
    skip: int = Field(0, ge=0, le=1000, description="lines before the headings")
    clock: Clock
    columns: dict[Annotated[str, Field(max_length=60)], ColumnFile] = Field(min_length=1)
    logs: Annotated[tuple[LogFile, ...], Field(min_length=1, max_length=200), OneOrMore()]
    speed: Speed | None = Field(None, gt=0, le=30, description="through the runs, if no column has it")
    beside: BesideFile | None = None
    least_run: Duration = Field(15.0, ge=10, description="shorter runs are left out")


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
    """A mapping ready to read logs with: paths resolved, units as factors, SI."""

    title: str
    path: Path
    craft: Craft
    craft_path: Path
    craft_text: str
    made_up: bool
    water: WaterBody
    heading: NamedHeading | None
    bearing: float | None
    delimiter: str
    decimal: str
    skip: int
    clock: Column
    columns: tuple[Column, ...]
    logs: tuple[LogFile, ...]
    files: tuple[Path, ...]
    speed: float | None
    beside: BesideFile | None
    least_run: float

    @property
    def channels(self) -> tuple[str, ...]:
        """The channels that it maps."""
        return tuple(column.channel for column in self.columns)

    def late(self) -> float:
        """How late (s) the log has the rangefinder's readings: as the mapping says, or else the craft file."""
        said = next((column.late for column in self.columns if column.channel == "range"), None)
        return float(self.craft.rangefinders.first("latency")) if said is None else said

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
    columns = [_column(name, column, craft, document, problems) for name, column in file.columns.items()]
    clock = _scaled("clock", file.clock, ("clock",), document, problems)
    problems += _of_the_whole(file, document)
    problems += _missing_files(file, path.parent, document)
    if problems or craft is None or clock is None:
        raise CampaignError(problems)
    return Mapping(
        title=file.title,
        path=path,
        craft=craft,
        craft_path=craft_path,
        craft_text=text,
        made_up=file.made_up,
        water=file.water,
        heading=file.waves.heading,
        bearing=file.waves.bearing,
        delimiter=DELIMITERS[file.delimiter],
        decimal="." if file.decimal == "point" else ",",
        skip=file.skip,
        clock=clock,
        columns=tuple(column for column in columns if column is not None),
        logs=file.logs,
        files=tuple(path.parent / log.file for log in file.logs),
        speed=file.speed,
        beside=file.beside,
        least_run=file.least_run,
    )


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


def _column(name: str, file: ColumnFile, craft: Craft | None, document: Document, problems: list[Problem]) -> Column | None:
    known = [*CHANNELS, *(f"foil_{foil}" for foil in (craft.foils if craft else ()))]
    if name not in known:
        place = document.place(("columns", name))
        spot = place.key or place.node
        near = nearest(name, known)
        wanted = f"a channel, perhaps {listed(near)}" if near else f"a channel: {listed(known)}"
        problems.append(Problem(document.file, spot.line, spot.column, place.address, f"the channel {name!r}", wanted))
        return None
    made = _scaled(name, file, ("columns", name), document, problems)
    return made and made.model_copy(update={"rate": file.rate, "late": file.late, "missing": file.missing})


def _scaled(
    name: str, file: ColumnFile | Clock, at: tuple[str, ...], document: Document, problems: list[Problem]
) -> Column | None:
    """A column with what takes its numbers to SI, or a problem more."""
    unit, sign = file.unit, 1 if isinstance(file, Clock) else file.sign
    kind = channel_kind("range").kind if name == "clock" else channel_kind(name).kind
    units = ("s", "ms", "us", "min") if name == "clock" else kind.units
    noun = "a time" if name == "clock" else kind.noun
    suits = (
        Clock.model_fields["off"].metadata[0].suits(unit) if name == "clock" else (kind.suits(unit) and (unit or kind.plain))
    )
    if not suits:
        where = (*at, "unit") if unit else at
        problems.append(document.problem(where, f"the unit of {noun}: {listed(units)}", repr(unit) if unit else "no unit"))
        return None
    try:
        offset = from_unit("0", unit)
        factor = from_unit("1", unit) - offset
    except UnitError:  # reported above
        return None
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
    for name in NEEDED:
        if name not in file.columns:
            yield document.problem(("columns",), f"a column for {name}: {CHANNELS[name].meaning}", f"none for {name}")
    if file.waves.bearing is not None and "heading" not in file.columns:
        yield document.problem(("waves", "bearing"), "a column for heading beside it, or waves: {heading: head}")
    if "speed" not in file.columns and file.speed is None:
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
        if not (folder / log.file).is_file():
            yield document.problem(
                ("logs", place, "file"), "the path of a CSV, seen from here", f"{log.file!r}, where there is no file"
            )
    if file.beside and not (folder / file.beside.file).is_file():
        yield document.problem(
            ("beside", "file"), "the path of a CSV, seen from here", f"{file.beside.file!r}, where there is no file"
        )

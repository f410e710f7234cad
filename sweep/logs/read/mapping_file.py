"""The mapping file's keys: what each column of a log is, with its unit, sign and clock."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Angle, Duration, Frequency, Length, OneOrMore, Speed
from sweep.campaign.text.problems import wrong
from sweep.campaign.water import Heading, WaterBody
from sweep.logs.read.dialect import Dialect

Heard = Annotated[str, Field(min_length=1, max_length=200)]


def _worded(value: object) -> object:
    """A column by its number, as a word."""
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


ColumnName = Annotated[Heard, BeforeValidator(_worded, json_schema_input_type=str | int)]


class Clock(Part):
    """The column of the time."""

    column: ColumnName = Field(description="its heading, or its number where the file has no headings")
    unit: str = Field("s", max_length=20, description="of its numbers: s, ms, us, ns or min")
    off: Duration = Field(0.0, description="what its clock is ahead of the others', for a log beside")
    written: Literal["number", "iso", "time-of-day"] = Field(
        "number", description="iso: a date and time, as 2026-06-01T13:05:22.5; time-of-day: 13:05:22.5, or 130522.5"
    )
    date: ColumnName | None = Field(None, description="column of the date, where it stands beside the time of day")
    dates: Literal["year-first", "day-first", "month-first"] = Field("year-first", description="the order within a date")


class ColumnFile(Part):
    """One column: its unit, the sign that turns it our way, and how late the log has its readings."""

    column: ColumnName = Field(description="its heading, or its number where the file has no headings")
    unit: str = Field("", max_length=40, description="of its numbers, as deg or mm, once zero and scale are applied")
    sign: Literal[1, -1] = Field(1, description="-1 where the log has it the other way than this channel's meaning")
    zero: float = Field(0.0, description="the number that stands for nothing, as 1500 of a servo's microseconds")
    scale: float = Field(1.0, description="units a number, as 0.01 of hundredths of a degree")
    rate: Frequency | None = Field(None, gt=0, le=1000, description="readings a second, where the log repeats the last one")
    late: Duration | None = Field(None, ge=0, le=1, description="how late the log has a reading")
    missing: tuple[float, ...] = Field((), max_length=10, description="numbers that mean that nothing came")


Columns = Annotated[dict[Annotated[str, Field(max_length=60)], ColumnFile], Field(min_length=1)]


class OtherFile(Dialect):
    """Another file of the same outing, by another logger: its own clock, rate and dialect, and the channels that it has."""

    file: Heard = Field(description="its path, seen from here")
    clock: Clock = Field(description="its own clock")
    columns: Columns = Field(description="the channels that it has")


class RowsFile(Part):
    """The rows that count, by a column such as the mode of the autopilot."""

    column: ColumnName = Field(description="the column that tells")
    are: Annotated[tuple[str | float, ...], Field(min_length=1, max_length=20), OneOrMore()] = Field(
        description="its words or numbers in the rows that count"
    )


class LogFile(Part):
    """One log, flown with one set-up."""

    file: Heard = Field(description="its path, seen from here; pass-*.csv stands for all such files")
    setup: str = Field("as it is", min_length=1, max_length=40, description="a name of yours for the gains that it flew with")
    begin: Duration | None = Field(
        None, ge=0, description="from then on, of its clock, or from its first row if that has dates"
    )
    end: Duration | None = Field(None, gt=0, description="up to then, likewise")
    also: Annotated[tuple[OtherFile, ...], Field(max_length=10), OneOrMore()] = Field(
        (), description="files of the same outing with a clock of their own"
    )


class WavesFile(Part):
    """Where the waves came from, as the builder saw it: against the way of the craft, or by the compass of the log."""

    heading: Heading | None = Field(
        None, description="against the way of the craft, as head or following, where all runs go one way"
    )
    bearing: Angle | None = Field(None, description="compass bearing that the waves come from")

    @model_validator(mode="after")
    def _either(self) -> Self:
        if (self.heading is None) == (self.bearing is None):
            raise wrong("either of heading (as head) and bearing (as 240 deg, with a heading column)")
        return self


class BesideFile(Part):
    """A second log with a clock of its own, such as marks on a strut in a video: its witness, and what aligns the clocks."""

    file: Heard = Field(description="its path, seen from here")
    clock: Clock = Field(description="its own clock")
    column: Heard = Field(description="the heading of the height of its place over the water")
    unit: str = Field(max_length=40, description="of its numbers")
    sign: Literal[1, -1] = Field(1, description="-1 where it has depth for height")
    x: Length = Field(0.0, description="of the place that it shows, forward of the datum")


class MappingFile(Dialect):
    """A mapping file, as written."""

    title: str = Field(min_length=1, max_length=120, description="of the day, for pages")
    craft: Heard = Field(description="the craft file's path, seen from here")
    made_up: bool = Field(False, description="true for a log that a model made: every page says so")
    water: WaterBody = Field(WaterBody(), description="kind, temperature and depth of the water")
    waves: WavesFile = Field(description="where the waves came from")
    clock: Clock = Field(description="the column of the time")
    columns: Columns = Field(description="by channel: which column it is, in which unit, with which sign")
    rows: RowsFile | None = Field(None, description="which rows count; left out: all")
    setups: ColumnName | None = Field(None, description="a column whose value says which set-up a row was flown with")
    logs: Annotated[tuple[LogFile, ...], Field(min_length=1, max_length=200), OneOrMore()] = Field(
        description="the files, each with its set-up"
    )
    speed: Speed | None = Field(None, gt=0, le=30, description="through the runs, if no column has it")
    beside: BesideFile | None = Field(None, description="a second log that shows the ride height, as a video's marks")
    least_run: Duration = Field(15.0, ge=10, description="shorter runs are left out")

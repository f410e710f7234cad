"""A log cut into runs: foilborne, at one speed, straight. And times adrift, which show the sea by themselves."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np

from sweep.logs.read.channels import Record, Series
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.table import Chunk
from sweep.model.pack.mass import rangefinder_places
from sweep.model.physics.spectra import Floats

# Judgement: what makes a run
LONGEST_RUN = 600.0  # s; a longer run is cut, so that memory does not grow with the log
CELL = 1.0  # s, that are flying, adrift or neither
SPEED_SPREAD = 0.15  # share of the run's mean
COURSE_SPREAD = math.radians(15.0)
ADRIFT_SPEED = 0.4  # m/s
FLYING_SHARE = 0.35  # of the wanted ride height, in the mean of a cell
LASTS = 5.0  # s, for which a speed or a heading counts where none has come since (judgement)
TRIMMED = 1.0  # s off both ends of a run


class Run(NamedTuple):
    """A stretch of a log.

    begin: s, of the log's clock; the record's own times begin at 0. speed: m/s, mean; heading: rad by the compass, None without
    one; waves: rad, between its way and that of the waves.
    """

    kind: Literal["flying", "adrift"]
    log: str
    setup: str
    begin: float
    length: float
    speed: float
    heading: float | None
    waves: float
    record: Record


class _Cell(NamedTuple):
    begin: float
    kind: Literal["flying", "adrift", "neither"]
    speed: float
    heading: float


def cut_runs(chunks: Iterable[Chunk], mapping: Mapping, log: int) -> Iterator[Run]:
    """The runs of one log file, as they come; what lies between them is dropped."""
    said, builder = mapping.logs[log], _Builder(mapping, log)
    for chunk in chunks:
        if chunk.afresh or chunk.setup != builder.setup:
            yield from builder.flush()
        builder.setup = chunk.setup
        inside = (chunk.time >= (said.begin or -math.inf)) & (chunk.time <= (said.end or math.inf))
        yield from builder.add(chunk.time[inside], {name: values[inside] for name, values in chunk.values.items()})
    yield from builder.flush()


class _Builder:
    """Judges cells of a second one by one; neighbours that agree make a run."""

    def __init__(self, mapping: Mapping, log: int) -> None:
        self.mapping, self.log, self.setup = mapping, log, ""
        self.offset = -rangefinder_places(mapping.craft)[0][2]
        self.time: Floats = np.zeros(0)
        self.values: dict[str, Floats] = {}
        self.cells: list[_Cell] = []
        self.kept: list[tuple[Floats, dict[str, Floats]]] = []
        self.latest: dict[str, tuple[float, float]] = {}

    def add(self, time: Floats, values: dict[str, Floats]) -> Iterator[Run]:
        self.time = np.concatenate([self.time, time])
        self.values = {name: np.concatenate([self.values.get(name, np.zeros(0)), each]) for name, each in values.items()}
        if not len(self.time):
            return
        number = np.floor(self.time / CELL)
        edges = np.flatnonzero(np.diff(number)) + 1
        begins = [0, *edges.tolist()]
        for first, last in pairwise(begins):
            yield from self._cell(self.time[first:last], {name: each[first:last] for name, each in self.values.items()})
        self.time = self.time[begins[-1] :]
        self.values = {name: each[begins[-1] :] for name, each in self.values.items()}

    def flush(self) -> Iterator[Run]:
        """What is left at the end of a log."""
        self.time, self.values, self.latest = np.zeros(0), {}, {}
        yield from self._close()

    def _cell(self, time: Floats, values: dict[str, Floats]) -> Iterator[Run]:
        cell = self._judged(time, values)
        if self.cells and not self._goes_on(cell):
            yield from self._close()
        if cell.kind != "neither":
            self.cells.append(cell)
            self.kept.append((time, values))

    def _judged(self, time: Floats, values: dict[str, Floats]) -> _Cell:
        begin = math.floor(time[0] / CELL) * CELL
        speed = self._now("speed", begin, values, _mean) if "speed" in values else float(self.mapping.speed or math.nan)
        heading = self._now("heading", begin, values, _mean_angle) if "heading" in values else 0.0
        nothing = _Cell(begin, "neither", speed, heading)
        if not math.isfinite(speed) or not math.isfinite(heading) or np.isfinite(values["range"]).sum() < 3:
            return nothing
        if "speed" in values and speed < ADRIFT_SPEED:
            return nothing._replace(kind="adrift")
        height = _mean(values["range"]) + self.offset
        flies = height > FLYING_SHARE * self.mapping.craft.control.ride_height
        return nothing._replace(kind="flying") if flies else nothing

    def _now(self, name: str, begin: float, values: dict[str, Floats], mean: Callable[[Floats], float]) -> float:
        """What a slow channel has in a cell: the mean of its readings there, or else the latest, if it is not too old."""
        found = mean(values[name])
        if math.isfinite(found):
            self.latest[name] = begin, found
            return found
        at, before = self.latest.get(name, (-math.inf, math.nan))
        return before if begin - at <= LASTS else math.nan

    def _goes_on(self, cell: _Cell) -> bool:
        first, last = self.cells[0], self.cells[-1]
        if cell.kind != first.kind or cell.begin - last.begin > 1.5 * CELL or cell.begin - first.begin >= LONGEST_RUN:
            return False
        if cell.kind == "adrift":
            return True
        mean = float(np.mean([each.speed for each in self.cells]))
        course = _mean_angle(np.array([each.heading for each in self.cells]))
        turned = abs(math.remainder(cell.heading - course, 2.0 * math.pi))
        return abs(cell.speed - mean) < SPEED_SPREAD * mean and turned < COURSE_SPREAD

    def _close(self) -> Iterator[Run]:
        cells, kept = self.cells, self.kept
        self.cells, self.kept = [], []
        if not cells:
            return
        time = np.concatenate([part for part, _ in kept])
        begin, end = time[0] + TRIMMED, time[-1] - TRIMMED
        if end - begin < self.mapping.least_run - 2.0 * TRIMMED:
            return
        record: Record = {}
        for name in kept[0][1]:
            values = np.concatenate([part[name] for _, part in kept])
            some = np.isfinite(values) & (time >= begin) & (time <= end)
            if some.sum() > 3:
                record[name] = Series(time[some] - begin, values[some])
        heading = _mean_angle(record["heading"].value) if "heading" in record else None
        said = self.mapping.logs[self.log]
        yield Run(
            kind="adrift" if cells[0].kind == "adrift" else "flying",
            log=said.file,
            setup=self.setup or said.setup,
            begin=float(begin),
            length=float(end - begin),
            speed=float(np.mean([cell.speed for cell in cells])),
            heading=heading,
            waves=self.mapping.relative(heading),
            record=record,
        )


def _mean(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else math.nan


def _mean_angle(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.angle(np.exp(1j * known).mean())) if known.size else math.nan

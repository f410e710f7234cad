"""The law of a day's logs, set-up by set-up: read once, in bounded memory."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from sweep.logs.law.flew import Law, UntoldError, law_of
from sweep.logs.law.inputs import Inputs, stretches
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.others import with_others
from sweep.logs.read.runs import Run, cut_runs
from sweep.logs.read.table import LogTally, read_chunks

STRETCHES = 2
"""Of each set-up, that are replayed (judgement)."""
BENCH_SPEED = 4.0
"""m/s, for trims where nothing sailed: they are means, which are not compared (judgement)."""
STIRS = math.radians(0.2)
"""Standard deviation of a foil's angle, below which its code is taken to be off (judgement)."""


class SetupLaw(NamedTuple):
    """bench: whether the craft did not sail; law: what flew, or None, and `why` says so."""

    setup: str
    bench: bool
    law: Law | None
    why: str


class _Kept(NamedTuple):
    inputs: list[Inputs]
    speeds: list[float]


def laws_of(mapping: Mapping, progress: Callable[[int, int], None] = lambda done, size: None) -> list[SetupLaw]:
    """The law of every set-up of a mapping; progress: called with bytes done, of all."""
    sailed: dict[str, _Kept] = {}
    lay: dict[str, _Kept] = {}
    sizes = [path.stat().st_size for path in mapping.files]
    for number, path in enumerate(mapping.files):
        before = sum(sizes[:number])

        def so_far(done: int, before: int = before) -> None:
            progress(before + done, sum(sizes))

        tally = LogTally()
        rows = with_others(read_chunks(path, mapping, tally, so_far), mapping.others[number], tally)
        for run in cut_runs(rows, mapping, number):
            kept = (sailed if run.kind == "flying" else lay).setdefault(run.setup, _Kept([], []))
            keep(run, mapping, kept)
    return [_law(mapping, setup, sailed, lay) for setup in dict.fromkeys(log.setup for log in mapping.logs)]


def keep(run: Run, mapping: Mapping, kept: _Kept) -> None:
    """A run's stretches, until there are enough."""
    for inputs in stretches(run.record, mapping.craft, run.speed):
        stirs = any(series is not None and float(np.std(series.value)) > STIRS for series in inputs.foils)
        if stirs and len(kept.inputs) < STRETCHES:
            kept.inputs.append(inputs)
            kept.speeds.append(run.speed)


def law_of_runs(mapping: Mapping, runs: Sequence[Run]) -> SetupLaw | None:
    """The law of runs of one set-up; None without a run."""
    kept = _Kept([], [])
    for run in runs:
        keep(run, mapping, kept)
    return _law(mapping, runs[0].setup, {runs[0].setup: kept}, {}) if runs else None


def _law(mapping: Mapping, setup: str, sailed: dict[str, _Kept], lay: dict[str, _Kept]) -> SetupLaw:
    kept = sailed.get(setup, _Kept([], []))
    bench = not kept.inputs and setup in lay and bool(lay[setup].inputs)
    if bench:
        kept = lay[setup]
    speed = BENCH_SPEED if bench or not kept.speeds else round(float(np.mean(kept.speeds)), 2)
    try:
        return SetupLaw(setup, bench, law_of(mapping.craft, mapping.water.for_model(), kept.inputs, speed), "")
    except UntoldError as error:
        return SetupLaw(setup, bench, None, str(error))

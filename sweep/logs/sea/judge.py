"""What a run measured, and the sea that it met."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from sweep.logs.read.channels import Record
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.runs import Run
from sweep.logs.sea.measure import intervals, measures
from sweep.logs.sea.sea_state import Estimate, SeaEstimate, estimate_sea, slowest_for
from sweep.logs.sea.spectrum import Encounter, Noise, encounter_of
from sweep.logs.sea.surface import SLOWEST, measured_surface, rate_of
from sweep.words.numbers import number

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft

SLOWEST_LOG = 20.0  # Hz of accelerations, under which the double integration loses the heave (judgement)
LEAST_FOR_SEA = 12.0  # s of usable record (judgement)


class Judged(NamedTuple):
    """A run without its record: measures in SI by name; encounter spectrum and sea, if its channels suffice for them.

    sure: the root mean squares with their own intervals; glitches, gaps: of the rangefinder; why: the reason why there is no
    sea, or "".
    """

    kind: str
    log: str
    setup: str
    begin: float
    length: float
    speed: float
    heading: float | None
    waves: float
    measures: dict[str, float]
    sure: dict[str, Estimate]
    encounter: Encounter | None
    sea: SeaEstimate | None
    glitches: int
    gaps: int
    why: str


def judge(run: Run, mapping: Mapping) -> Judged:
    """Judge one run of a log."""
    craft = mapping.craft
    encounter, glitches, gaps, why = None, 0, 0, needs(run.record)
    if not why:
        surface = measured_surface(run.record, craft, mapping.late(), SLOWEST)
        glitches, gaps = surface.glitches, surface.gaps
        if surface.length < LEAST_FOR_SEA:
            why = "too short for a sea"
        else:
            speed, waves = (0.0, 0.0) if run.kind == "adrift" else (run.speed, run.waves)
            slowest = SLOWEST if run.kind == "adrift" else slowest_for(waves, SLOWEST)
            encounter = encounter_of(surface, speed, waves, mapping.water.depth, noise_of(craft, run.record), slowest)
    return Judged(
        kind=run.kind,
        log=run.log,
        setup=run.setup,
        begin=run.begin,
        length=run.length,
        speed=run.speed,
        heading=run.heading,
        waves=run.waves,
        measures=measures(run.record, craft) if run.kind == "flying" else {},
        sure=intervals(run.record, craft) if run.kind == "flying" else {},
        encounter=encounter,
        sea=estimate_sea([encounter]) if encounter else None,
        glitches=glitches,
        gaps=gaps,
        why=why,
    )


def needs(record: Record) -> str:
    """What a record lacks for an estimate of its sea, or ""."""
    lacking = [name for name in ("range", "force_z", "pitch") if name not in record]
    if lacking:
        return f"no {' and no '.join(lacking)}"
    rate = rate_of(record["force_z"])
    return f"force_z at {number(rate, 2)} Hz, and a sea needs {number(SLOWEST_LOG)} Hz" if rate < 0.95 * SLOWEST_LOG else ""


def noise_of(craft: Craft, record: Record) -> Noise:
    """The sensors' own noise, by the craft file: the rangefinder's with its resolution, and the accelerometer's."""
    sensors = craft.rangefinders
    reading = math.hypot(sensors.first("noise"), sensors.first("resolution") / math.sqrt(12.0))
    return Noise(reading, craft.inertial.accelerometer_noise, rate_of(record["force_z"]))


def sea_of_record(record: Record, craft: Craft, speed: float, waves: float, depth: float, late: float) -> SeaEstimate | None:
    """The sea of one record, or None if it is too short."""
    surface = measured_surface(record, craft, late, SLOWEST)
    if surface.length < LEAST_FOR_SEA:
        return None
    return estimate_sea([encounter_of(surface, speed, waves, depth, noise_of(craft, record), slowest_for(waves, SLOWEST))])


def pooled_sea(runs: Sequence[Judged]) -> SeaEstimate | None:
    """The sea of all runs together that have one, runs adrift too. None if none has."""
    some = pooled_runs(runs)
    return estimate_sea(some) if some else None


def pooled_runs(runs: Sequence[Judged]) -> list[Encounter]:
    """The runs that the sea of all together is told from: those that show one, or else all that met something."""
    measured = [
        run.encounter for run in runs if run.encounter is not None and run.sea is not None and run.sea.verdict == "measured"
    ]
    return measured or [run.encounter for run in runs if run.encounter is not None]

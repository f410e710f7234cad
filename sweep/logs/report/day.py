"""A day on the water: every log of a mapping is read once, in bounded memory, cut into runs, and judged run by run."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.text.problems import CampaignError, Problem
from sweep.logs.compare.agreement import agreement_doubts
from sweep.logs.compare.comparison import Pass, Split, off_by, split
from sweep.logs.compare.doubts import Doubt, column_doubts, run_doubts
from sweep.logs.compare.expect import FLIGHTS, Case, Expected, as_witness, expect
from sweep.logs.compare.next_pass import NextPass, next_pass
from sweep.logs.read.channels import Series
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.others import with_others
from sweep.logs.read.runs import Run, cut_runs
from sweep.logs.read.table import LogTally, read_chunks
from sweep.logs.sea.bearing import Better, better_bearings
from sweep.logs.sea.elsewhere import height_at
from sweep.logs.sea.judge import Judged, judge, needs, pooled_sea
from sweep.logs.sea.lag import Aligned, align
from sweep.logs.sea.measure import doubt_of
from sweep.logs.sea.sea_state import SeaEstimate
from sweep.model.pack.mass import mass_properties
from sweep.words.numbers import with_unit
from sweep.words.phrases import listed
from sweep.words.units import from_unit

if TYPE_CHECKING:
    pass

RECORDED_RUNS = 4  # whose records are kept, to fit and to doubt (judgement)
ALIKE_HEADING = math.radians(15.0)  # within which runs went one way (judgement)
ALIKE_SPEED = 0.1  # share of a speed within which runs went as fast (judgement)
ALIKE_REVERSED = math.radians(35.0)  # of a reversed bearing: runs out and back show an angle to their line only (judgement)
NEAR = math.radians(25.0)  # bearings so near are told as one (judgement)
APART = math.radians(60.0)  # of compass headings, that do not meet waves alike (judgement)
WITHHELD = "withheld"
UNTIL = "The sea, comparisons and fits are withheld until the mapping has it right"
COMPARED = ("sensed_error", "witness_error", "acceleration", "pitch", "roll")


class Day(NamedTuple):
    """A day's logs and what they show.

    runs: all, in order; recorded: a few with their records; tallies: of each log; doubts: what looks wrong; aligned: the clock
    of a second log, if there is one; grave: a doubt that touches the sea and all that rests on it, which are withheld; or "".
    """

    mapping: Mapping
    runs: tuple[Judged, ...]
    recorded: tuple[Run, ...]
    tallies: tuple[LogTally, ...]
    doubts: tuple[str, ...]
    aligned: Aligned | None
    grave: str = ""

    @property
    def flying(self) -> tuple[Judged, ...]:
        """The foilborne runs."""
        return tuple(run for run in self.runs if run.kind == "flying")

    @property
    def setups(self) -> tuple[str, ...]:
        """In the order in which they first flew."""
        return tuple(dict.fromkeys(run.setup for run in self.flying))

    def sea(self) -> SeaEstimate | None:
        """Of all runs together."""
        return pooled_sea(self.runs)


class Group(NamedTuple):
    """Passes of one heading and speed, and what the model expects of them."""

    case: Case
    expected: Expected


class SetupComparison(NamedTuple):
    """Set-ups compared in a measure. flatters: true ride height error over the sensed one, by the model.

    following: the pass that would narrow the least certain effect most; ways: by group, of its passes alone, where both set-ups
    went several ways.
    """

    splits: dict[str, Split]
    following: NextPass | None
    groups: tuple[Group, ...]
    borrowed: int
    left_out: int
    ways: dict[int, dict[str, Split]]

    @property
    def flatters(self) -> float:
        """Mean over the groups."""
        return float(np.mean([group.expected.true for group in self.groups]))


def judge_day(mapping: Mapping, progress: Callable[[int, int], None] = lambda done, size: None) -> Day:
    """Read and judge every log; progress: called with bytes done, of all. Raises CampaignError if one is not such a log."""
    sizes = [path.stat().st_size for path in mapping.files]
    beside = _beside(mapping)
    runs: list[Judged] = []
    kept: list[Run] = []
    tallies: list[LogTally] = []
    doubts: list[Doubt] = []
    aligned: Aligned | None = None
    for number, path in enumerate(mapping.files):
        tally, before = LogTally(), sum(sizes[:number])

        def so_far(done: int, before: int = before) -> None:
            progress(before + done, sum(sizes))

        for run in cut_runs(
            with_others(read_chunks(path, mapping, tally, so_far), mapping.others[number], tally), mapping, number
        ):
            if beside is not None and run.kind == "flying":
                run, matched = _witnessed(run, mapping, beside)
                aligned = aligned or matched
            runs.append(judge(run, mapping))
            kept += [run] if _worth_keeping(run, kept) else []
        tallies.append(tally)
        doubts += column_doubts(tally, mapping, mapping.logs[number].file)
    if beside is not None and aligned is None:
        doubts.append(Doubt("the second log fits no run: its clock cannot be aligned, and it is left out"))
    doubts += ride_doubt(runs, mapping)
    doubts = _with_bearing(doubts, bearing_doubt(runs, mapping), kept, mapping)
    grave = next((doubt.text for doubt in doubts if doubt.grave), "")
    if grave:
        grave = grave if UNTIL in grave else f"{grave.rstrip('.')}. {UNTIL}"
        runs = [run._replace(encounter=None, sea=None, why=WITHHELD) if run.kind == "flying" else run for run in runs]
    said = tuple(dict.fromkeys(doubt.text for doubt in doubts))
    return Day(mapping, tuple(runs), tuple(kept), tuple(tallies), said, aligned, grave)


def _with_bearing(doubts: list[Doubt], bearing: str, kept: Sequence[Run], mapping: Mapping) -> list[Doubt]:
    """All doubts, first what explains others: units and signs of columns, then speed and weight, then the bearing.

    What the companion of the craft file would say of signs rests on the bearing.
    """
    water = mapping.water.for_model()
    if not bearing:
        return sorted([*doubts, *run_doubts(kept, mapping, water)], key=lambda doubt: not doubt.grave)
    first = [doubt for doubt in doubts if doubt.grave]
    first += [Doubt(text) for text in agreement_doubts(kept, mapping, water, waves_known=False)]
    return [*first, Doubt(bearing, True), *(doubt for doubt in doubts if not doubt.grave)]


def bearing_doubt(runs: Sequence[Judged], mapping: Mapping) -> str:
    """What is wrong with the bearing of the waves, by runs of several ways; or ""."""
    if mapping.bearing is None:
        return _one_way_doubt(runs)
    shown = [run.encounter for run in runs if run.kind == "flying" and run.encounter is not None and _shows(run)]
    turns = better_bearings(shown)
    if not turns:
        return ""
    said = round(math.degrees(mapping.bearing)) % 360
    reversed_ = any(abs(math.remainder(turn.best - math.pi, 2.0 * math.pi)) < ALIKE_REVERSED for turn in turns)
    why = ": is it where they go, and not where they come from?" if reversed_ else ": is it right, and the compass too?"
    right = listed([_stretch(turn, mapping.bearing) for turn in turns], "or")
    return f"waves: no one sea from {said} deg explains what the runs met, and one from about {right} deg does{why} {UNTIL}"


def _stretch(turn: Better, bearing: float) -> str:
    """'180' or, where many do as well, '150 to 210' (degrees)."""
    best, low, high = (round(math.degrees(bearing + each)) % 360 for each in turn)
    return str(best) if turn.high - turn.low < NEAR else f"{low} to {high}"


def _one_way_doubt(runs: Sequence[Judged]) -> str:
    """Where the mapping has all runs meet the waves alike, and the compass has them go ways that cannot."""
    ways = [run.heading for run in runs if run.kind == "flying" and run.heading is not None]
    apart = max((abs(math.remainder(way - ways[0], 2.0 * math.pi)) for way in ways), default=0.0)
    if apart < APART:
        return ""
    far = f"by the compass runs went {round(math.degrees(apart))} deg apart"
    return f"waves: the mapping has all runs meet them alike, and {far}: give the bearing that they came from. {UNTIL}"


def ride_doubt(runs: Sequence[Judged], mapping: Mapping) -> list[Doubt]:
    """Where no stretch of any log counts as foilborne."""
    if any(run.kind == "flying" for run in runs):
        return []
    asked = "are the unit of range and the rangefinder's mounting height in the craft file right"
    least = with_unit(mapping.least_run, "s")
    return [Doubt(f"no stretch counts as foilborne, by range and speed: {asked}, and is a run at least {least} long?")]


def _shows(run: Judged) -> bool:
    return run.sea is not None and run.sea.verdict != "calm"


def _worth_keeping(run: Run, kept: Sequence[Run]) -> bool:
    """Keep a few runs of the first set-up whole, of headings as far apart as possible."""
    if run.kind != "flying" or needs(run.record) or len(kept) >= RECORDED_RUNS:
        return False
    like = [other for other in kept if abs(math.remainder(other.waves - run.waves, 2.0 * math.pi)) < ALIKE_HEADING]
    return len(like) < RECORDED_RUNS // 2 and (not kept or run.setup == kept[0].setup)


def _beside(mapping: Mapping) -> Series | None:
    file = mapping.beside
    if file is None:
        return None
    path = mapping.path.parent / file.file
    try:
        table = pd.read_csv(path, sep=mapping.dialect.separator, decimal=mapping.dialect.point)
    except (pd.errors.ParserError, pd.errors.EmptyDataError, UnicodeDecodeError) as error:
        raise CampaignError([Problem(str(path), 0, 0, "", f"a mistake ({error})", "a CSV with headings, in UTF-8")]) from error
    missing = [name for name in (file.clock.column, file.column) if name not in table]
    if missing:
        wanted = f"a column that is there: {listed(map(str, table.columns[:6]))}"
        raise CampaignError([Problem(str(path), 1, 0, "", f"no column {name!r}", wanted) for name in missing])
    time = pd.to_numeric(table[file.clock.column], errors="coerce").to_numpy(float) * from_unit("1", file.clock.unit)
    value = pd.to_numeric(table[file.column], errors="coerce").to_numpy(float) * from_unit("1", file.unit) * file.sign
    good = np.isfinite(time) & np.isfinite(value)
    order = np.argsort(time[good], kind="stable")
    return Series(time[good][order] - file.clock.off, value[good][order])


def _witnessed(run: Run, mapping: Mapping, beside: Series) -> tuple[Run, Aligned | None]:
    """The run with the second log's witness, its clock aligned by the ride height that both have."""
    if needs(run.record):
        return run, None
    assert mapping.beside is not None
    craft, depth = mapping.craft, mapping.water.depth
    place = mapping.beside.x - float(mass_properties(craft).centre[0])
    ours = height_at(run, craft, place, mapping.late(), depth)
    theirs = Series(beside.time - run.begin, beside.value)
    found = align(ours, theirs)
    if found is None:
        return run, None
    moved = Series(theirs.time - found.ahead.value, theirs.value).between(0.0, run.length)
    return run._replace(record={**run.record, "witness": moved}), found


def passes_of(day: Day) -> tuple[list[tuple[Judged, SeaEstimate]], int, int]:
    """Flying runs, each with its sea: its own, or else that of the other runs of its set-up, or of the day.

    Also how many use another's sea, and how many are left out because there is none.
    """
    found, borrowed, left_out = [], 0, 0
    for run in day.flying:
        if run.sea is not None and run.sea.verdict == "measured":
            found.append((run, run.sea))
            continue
        others = [other for other in day.runs if other.setup == run.setup and _tells(other)]
        sea = pooled_sea(others or [other for other in day.runs if _tells(other)])
        if sea is None:
            left_out += 1
            continue
        found.append((run, sea))
        borrowed += 1
    return found, borrowed, left_out


def _tells(run: Judged) -> bool:
    return run.sea is not None and run.sea.verdict == "measured"


def compare_day(
    day: Day, progress: Callable[[int, int], None] = lambda done, all_: None, flights: int = FLIGHTS
) -> dict[str, SetupComparison]:
    """Every later set-up compared with the first. Raises ValueError without two set-ups, without any sea, or in grave doubt."""
    if day.grave:
        raise ValueError(day.grave)
    if len(day.setups) < 2:
        raise ValueError("there is one set-up only: nothing to compare (setup: of each log in the mapping file)")
    passes, borrowed, left_out = passes_of(day)
    if not passes:
        raise ValueError("no run shows a sea: set-ups cannot be compared fairly")
    cases = _cases(passes, day.mapping)
    expected = []
    for number, (case, members) in enumerate(cases):
        seas = [passes[i][1].spectrum for i in members]

        def so_far(more: int, number: int = number, seen: list[int] = [0]) -> None:  # noqa: B006
            seen[0] += more
            progress(number * flights + seen[0], flights * len(cases))

        expected.append(expect(day.mapping.craft, day.mapping.water.for_model(), case, seas, flights=flights, progress=so_far))
    group = {i: number for number, (_, members) in enumerate(cases) for i in members}
    groups = tuple(Group(case, each) for (case, _), each in zip(cases, expected, strict=True))
    first = day.setups[0]
    found = {}
    for second in day.setups[1:]:
        splits, following, ways = _splits(passes, expected, group, first, second)
        found[second] = SetupComparison(splits, following, groups, borrowed, left_out, ways)
    return found


def _splits(
    passes: Sequence[tuple[Judged, SeaEstimate]], expected: Sequence[Expected], group: dict[int, int], first: str, second: str
) -> tuple[dict[str, Split], NextPass | None, dict[int, dict[str, Split]]]:
    if not {first, second} <= {run.setup for run, _ in passes}:
        return {}, None, {}
    rows = {
        name: [
            Pass(run.setup, run.measures[name], sea.height.value, sea.period.value, group[i], doubt_of(run.sure[name]))
            for i, (run, sea) in enumerate(passes)
        ]
        for name in COMPARED
        if all(run.measures.get(name, 0.0) > 0.0 for run, _ in passes)
    }
    model = expected if "witness_error" not in rows else [as_witness(each) for each in expected]
    known = {name: some for name, some in rows.items() if name in model[0].coefficients}
    off = off_by(
        {name: some for name, some in known.items() if name != "roll"}, model, first
    )  # long crests hardly roll a craft
    splits = {name: split(some, model, name, first, second, off) for name, some in known.items()}
    following = next_pass(known, model, {name: each for name, each in splits.items() if name != "roll"}, off)
    shared = [number for number in range(len(model)) if {first, second} <= _setups_of(known, number)]
    ways = {
        number: {
            name: split([one for one in some if one.group == number], model, name, first, second, off)
            for name, some in known.items()
        }
        for number in (shared if len(shared) > 1 else ())
    }
    return splits, following, ways


def _setups_of(passes: dict[str, list[Pass]], group: int) -> set[str]:
    return {one.setup for some in passes.values() for one in some if one.group == group}


def group_of(run: Judged, groups: Sequence[Group]) -> int:
    """The group that is nearest to a pass in heading and speed."""
    waves = abs(math.remainder(run.waves, 2.0 * math.pi))
    off = [
        abs(group.case.waves - waves) / ALIKE_HEADING + abs(group.case.speed / run.speed - 1.0) / ALIKE_SPEED
        for group in groups
    ]
    return int(np.argmin(off))


def _cases(passes: Sequence[tuple[Judged, SeaEstimate]], mapping: Mapping) -> list[tuple[Case, list[int]]]:
    """Passes of like heading and speed together."""
    groups: list[list[int]] = []
    for i, (run, _) in enumerate(passes):
        for members in groups:
            other = passes[members[0]][0]
            turned = abs(abs(math.remainder(run.waves, 2 * math.pi)) - abs(math.remainder(other.waves, 2 * math.pi)))
            if turned < ALIKE_HEADING and abs(run.speed / other.speed - 1.0) < ALIKE_SPEED:
                members.append(i)
                break
        else:
            groups.append([i])
    found = []
    for members in groups:
        runs = [passes[i][0] for i in members]
        speed = round(float(np.mean([run.speed for run in runs])), 2)
        waves = math.radians(round(math.degrees(float(np.mean([abs(math.remainder(r.waves, 2 * math.pi)) for r in runs])))))
        length = float(np.median([run.length for run in runs]))
        found.append((Case(speed, waves, mapping.water.depth, length), members))
    return found

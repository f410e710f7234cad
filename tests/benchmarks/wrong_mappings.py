"""Wrong mappings: which doubt is told first, and by how much each mistake that is not told changes a result.

    python -m tests.benchmarks.wrong_mappings [OUTING]

A day, out and back, of a craft that the model flew with other numbers than its file's; a mistake a time. The day is one that no
rule of doubt was made with, unless another is asked for by its name in OUTINGS. Changes are of the
sea's height and period and of what each leg measured, in half-widths of the interval of the right mapping.
"""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path

import numpy as np

from sweep.campaign.text.problems import CampaignError
from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import Day, judge_day
from sweep.logs.sea.judge import pooled_runs
from sweep.logs.sea.trust import bearing_on_trust, speed_on_trust
from tests.logs.wrong_kinds import KINDS, Wrong, write_kind

SHARE = 0.9
"""Of the kinds, whose right explanation is to be the first."""


def judged(folder: Path, kind: Wrong | None, outing: str) -> tuple[Day | None, tuple[str, ...]]:
    """The day, or none where the mapping is refused; and what is doubted or refused."""
    try:
        day = judge_day(load_mapping(write_kind(folder, kind, outing)))
    except CampaignError as error:
        return None, (str(error),)
    return day, day.doubts


def change(right: Day, wrong: Day | None) -> float:
    """The largest change of a result that is told, in half-widths of its interval; 0 where nothing is told."""
    if wrong is None:
        return 0.0
    changes = [0.0]
    before, after = right.sea(), wrong.sea()
    assert before is not None
    if after is not None:
        for old, new in ((before.height, after.height), (before.period, after.period)):
            changes.append(abs(new.value - old.value) / (0.5 * (old.high - old.low)))
    for old_run, new_run in zip(right.flying, wrong.flying, strict=False):
        for name, old in old_run.sure.items():
            if name in new_run.measures:
                changes.append(abs(new_run.measures[name] - old.value) / (0.5 * (old.high - old.low)))
    return float(np.nanmax(changes))


def on_trust(right: Day, wrong: Day) -> bool:
    """Whether what the day takes on trust, by its own words, holds the right height and peak period."""
    before, sea, runs = right.sea(), wrong.sea(), pooled_runs(wrong.runs)
    assert before is not None
    if sea is None or not sea.height.low <= before.height.value <= sea.height.high:
        return False
    ranges = [bearing_on_trust(runs, sea.chance), speed_on_trust(runs, sea.chance)]
    return any(found is not None and found.shortest <= before.period.value <= found.longest for found in ranges)


def main() -> None:
    """Judge each kind and print."""
    outing = sys.argv[1] if len(sys.argv) > 1 else "a third"
    first, silent, trusted = 0, [], []
    with tempfile.TemporaryDirectory() as name:
        right, doubts = judged(Path(name), None, outing)
        assert right is not None
        print(f"right: {len(doubts)} doubts {doubts}")
        for kind, wrong in KINDS.items():
            day, doubts = judged(Path(name), wrong, outing)
            places = [place for place, text in enumerate(doubts, 1) if re.search(wrong.told, text)]
            rank, off = places[0] if places else 0, change(right, day)
            first += rank == 1
            withheld = day is None or bool(day.grave)
            if not doubts and off > 1.0:
                (trusted if day is not None and on_trust(right, day) else silent).append(kind)
            said = "refused" if day is None else doubts[0][:90] if doubts else "nothing"
            print(f"{kind:44} rank {rank} of {len(doubts)}; {'withheld' if withheld else f'{off:.1f}'}; {said}", flush=True)
    print(f"{first} of {len(KINDS)} told first ({100 * first / len(KINDS):.0f} %); silent and beyond an interval: {silent}")
    print(f"not told apart, and the page says so with a range that holds the right period: {trusted}")


if __name__ == "__main__":
    main()

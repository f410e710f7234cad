"""Which of two checkouts is faster, the working tree or a commit: flights of shipped campaigns, in turn in one run.

    python -m tests.benchmarks.against COMMIT [--rounds 5] [--start] [CAMPAIGN...]

Every condition of the campaigns is flown by all designs on one side, then on the other, and the other way round in the next
round, each side in a process of its own that stays, both on one core; what counts is processor time, with everything compiled.
It takes four minutes. Both sides fly the files of COMMIT, or each its own where one side cannot read the other's. `--start`
measures `check` too, warm and with nothing compiled.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

HOME = Path(__file__).parents[2]
SIDE = Path(__file__).with_name("side.py")
CAMPAIGNS = ("courier-chop.yaml", "lookout-lake.yaml")
ROUNDS = 5
CHECKS = 5
RESOLUTION = 0.03
"""Smaller differences are not told: of a commit with itself the median was 0.975 to 1.009 on a busy machine."""

LOAD = "import pathlib, sys; from sweep.campaign.campaign import load_campaign; load_campaign(pathlib.Path(sys.argv[1]))"
CHECK = "import sys; from sweep.cli import main; sys.exit(main())"


class Ratio(NamedTuple):
    """The working tree's speed over the commit's: median and range of the rounds."""

    median: float
    low: float
    high: float

    def __str__(self) -> str:
        return f"{self.median:.3f} ({self.low:.3f} to {self.high:.3f})"


def ratio_of(tree: Sequence[float], commit: Sequence[float]) -> Ratio:
    """Of what rounds took on either side, s."""
    ratios = [theirs / ours for ours, theirs in zip(tree, commit, strict=True)]
    return Ratio(statistics.median(ratios), min(ratios), max(ratios))


def verdict(ratio: Ratio, rounds: int) -> str:
    """Which side is slower, in a sentence; none where the rounds do not agree, or it is too little to tell."""
    if ratio.low <= 1.0 <= ratio.high or abs(ratio.median - 1.0) < RESOLUTION:
        return f"Neither side is slower by {RESOLUTION:.0%} and in all of {rounds} rounds: {ratio}."
    slower, by = ("the working tree", 1.0 - ratio.median) if ratio.median < 1.0 else ("the commit", 1.0 - 1.0 / ratio.median)
    return f"{slower.capitalize()} is slower, by {by:.1%} of the other's speed, in all of {rounds} rounds: {ratio}."


@contextmanager
def checked_out(commit: str) -> Iterator[Path]:
    """A commit of this repository in a folder of its own, for as long as it is wanted."""
    with tempfile.TemporaryDirectory(prefix="against-") as folder:
        there = Path(folder) / "commit"
        _git("worktree", "add", "--detach", "--quiet", str(there), commit)
        try:
            yield there
        finally:
            _git("worktree", "remove", "--force", str(there))


def _git(*words: str) -> str:
    return subprocess.run(["git", "-C", str(HOME), *words], check=True, capture_output=True, text=True).stdout.strip()


def _python(tree: Path, *words: str, **more: Any) -> subprocess.Popen[str]:
    """Python with the `sweep` of a tree."""
    tree_first = {"PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": ""}  # with bytecode, as an installation has it
    environment = os.environ | tree_first | more.pop("environment", {})
    return subprocess.Popen([sys.executable, "-P", *words], env=environment, cwd=tree, text=True, **more)


def files_for(names: Sequence[str], tree: Path, commit: Path) -> list[tuple[Path, Path]]:
    """The file of each campaign for the working tree and for the commit: one for both, if both can read it."""
    pairs = []
    for name in names:
        own, theirs = tree / "configs" / name, commit / "configs" / name
        both = next((file for file in (theirs, own) if _reads(tree, file) and _reads(commit, file)), None)
        pairs.append((both or own, both or theirs))
    return pairs


def _reads(tree: Path, file: Path) -> bool:
    return _python(tree, "-c", LOAD, str(file), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).wait() == 0


class Side:
    """A process that flies with the `sweep` of a tree; `parts` tells what it can fly."""

    def __init__(self, tree: Path, files: Sequence[Path]) -> None:
        process = _python(tree, str(SIDE), *map(str, files), stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        assert process.stdin is not None
        assert process.stdout is not None
        self._process, self._asked, self._answers = process, process.stdin, process.stdout
        self.parts: list[dict[str, Any]] = json.loads(self._line())

    def _line(self) -> str:
        if line := self._answers.readline():
            return line
        raise SystemExit(f"One side ended by itself, with {self._process.wait()}: its words stand above.")

    def fly(self, part: int) -> float:
        """What a part takes, s of processor."""
        self._asked.write(f"{part}\n")
        self._asked.flush()
        return float(self._line())

    def end(self) -> None:
        """Let it go."""
        self._asked.close()
        self._process.wait()


def take_turns(tree: Side, commit: Side, rounds: int) -> list[tuple[list[float], list[float]]]:
    """What every round took, part by part, on the working tree's side and on the commit's."""
    found = []
    for turn in range(rounds):
        taken: dict[Side, list[float]] = {tree: [], commit: []}
        for part in range(len(tree.parts)):
            for side in (tree, commit) if (turn + part) % 2 == 0 else (commit, tree):
                taken[side].append(side.fly(part))
        found.append((taken[tree], taken[commit]))
    return found


def show_flights(tree: Side, commit: Side, rounds: int) -> None:
    """Fly, and print speeds, ratios and what was compared."""
    found = take_turns(tree, commit, rounds)
    print(f"{'flights of':28} {'flights':>8} {'commit':>10} {'tree':>8}  x real time; tree / commit (range of {rounds} rounds)")
    names = list(dict.fromkeys(part["campaign"] for part in tree.parts))
    for name in [*names, "all"]:
        which = [at for at, part in enumerate(tree.parts) if name in ("all", part["campaign"])]
        ours, theirs = ([sum(side[at] for at in which) for side in sides] for sides in zip(*found, strict=True))
        simulated = sum(tree.parts[at]["simulated"] for at in which)
        flights = sum(sum(tree.parts[at]["endings"].values()) for at in which)
        speeds = [simulated / statistics.median(each) for each in (theirs, ours)]
        ratio = ratio_of(ours, theirs)
        print(f"{name:28} {flights:8} {speeds[0]:10.0f} {speeds[1]:8.0f}  {ratio}", flush=True)
    print(verdict(ratio, rounds))
    _show_endings(tree, commit)


def _show_endings(tree: Side, commit: Side) -> None:
    """Flights that end early cost less: how many did on either side."""
    for name, side in (("the working tree's", tree), ("the commit's", commit)):
        early = sum(number for part in side.parts for code, number in part["endings"].items() if code != "0")
        print(f"Of {name} flights {early} did not fly to their end.")


def check_seconds(tree: Path, file: Path, cache: str | None = None) -> float:
    """Processor seconds of `check`; cache: folder of the machine code, the usual one by default."""
    quiet = {"stdout": subprocess.DEVNULL, "environment": {"NUMBA_CACHE_DIR": cache} if cache else {}}
    process = _python(tree, "-c", CHECK, "check", str(file), **quiet)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"check of {file} ended with {process.returncode}.")
    return used.ru_utime + used.ru_stime


def show_start(tree: Path, commit: Path, files: tuple[Path, Path]) -> None:
    """Print what `check` takes, with everything compiled and with nothing."""
    for name, cold, times in (("check, warm", False, CHECKS), ("check, nothing compiled", True, 2)):
        taken: tuple[list[float], list[float]] = ([], [])
        for _ in range(times):
            for folder, file, seconds in zip((tree, commit), files, taken, strict=True):
                with tempfile.TemporaryDirectory() as empty:
                    seconds.append(check_seconds(folder, file, empty if cold else None))
        medians = [statistics.median(each) for each in taken]
        ratio = ratio_of(*taken)
        print(f"{name:28} {times:8} {medians[1]:9.2f}s {medians[0]:7.2f}s  {ratio}", flush=True)


def main(words: Sequence[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.against", description=__doc__)
    parser.add_argument("commit")
    parser.add_argument("campaigns", nargs="*", default=CAMPAIGNS, metavar="CAMPAIGN")
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--start", action="store_true", help="measure `check` too, warm and with nothing compiled")
    asked = parser.parse_intermixed_args(words)
    with checked_out(asked.commit) as there:
        pairs = files_for(asked.campaigns, HOME, there)
        own = [mine.name for mine, theirs in pairs if mine != theirs]
        changed = ", with changes" if _git("status", "--porcelain", "--", "sweep") else ""
        print(f"tree: {_git('rev-parse', '--short', 'HEAD')}{changed}; commit: {_git('rev-parse', '--short', asked.commit)}")
        print(f"Each side flies its own file of {', '.join(own)}." if own else "Both sides fly the same files.")
        ours, theirs = (Side(folder, files) for folder, files in zip((HOME, there), zip(*pairs, strict=True), strict=True))
        show_flights(ours, theirs, asked.rounds)
        ours.end()
        theirs.end()
        if asked.start:
            show_start(HOME, there, pairs[0])


if __name__ == "__main__":
    main()

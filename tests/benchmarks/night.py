"""Does a run on the clock end when it should? `python -m tests.benchmarks.night [SECONDS] [WORKERS,...] [LOADS,...] [FILE]`.

Each run is the program as its user starts it, in a fresh folder, with a budget of so many seconds: it is timed from its start
to its exit, compiling, pages and all. Loads: `quiet`, nothing of ours beside it; `busy`, two processes that only spin; `first`
and `later`, these two in the first half or in the second half of the budget; `killed`, the run is killed in mid-budget and run
again with another number of workers, and the journal and the flights of the decisions until then must be the same bytes. Of a
killed run the time is that of both runs. Told are the share of the budget that was taken, how much of it before the tables and
the pages, and what the run said of its end. A run that ends early is right only where it says that nothing more was telling.
"""

from __future__ import annotations

import math
import multiprocessing
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sweep.results.journal import CHANGES, END, Decision, decision_shards, read_journal
from tests.benchmarks.kernel import DEMO

SPINNING = 2
LOADS = ("quiet", "busy", "first", "later", "killed")
SPANS = {"busy": (0.0, 1e9), "first": (0.0, 0.5), "later": (0.5, 1e9)}
"""From when until when processes spin, in shares of the budget."""
KILLED = 0.5
"""When a run is killed, in shares of the budget."""


def spin(begins: float, ends: float) -> None:
    """Keep a processor busy between two moments, as `time.monotonic` has them."""
    time.sleep(max(begins - time.monotonic(), 0.0))
    while time.monotonic() < ends:
        sum(range(10_000))


@contextmanager
def loaded(load: str, seconds: float) -> Iterator[None]:
    """Processes of our own that spin while the body runs, as the load has it."""
    first, last = (time.monotonic() + each * seconds for each in SPANS.get(load, (0.0, 0.0)))
    many = SPINNING if load in SPANS else 0
    spinning = [multiprocessing.Process(target=spin, args=(first, last), daemon=True) for _ in range(many)]
    for each in spinning:
        each.start()
    try:
        yield
    finally:
        for each in spinning:
            each.kill()


def campaign_text(path: Path, seconds: float) -> str:
    """The text of a campaign with a budget in place of its own, and its craft where it is."""
    lines = [line for line in path.read_text().splitlines() if not line.startswith("budget:")]
    craft = next(line.removeprefix("craft:").split("#")[0].strip() for line in lines if line.startswith("craft:"))
    lines = [f"craft: {(path.parent / craft).resolve()}" if line.startswith("craft:") else line for line in lines]
    return "\n".join([*lines, f"budget: {seconds:g} s", ""])


def start(campaign: Path, folder: Path, workers: int) -> subprocess.Popen[bytes]:
    """The program, flying the campaign into the folder."""
    command = [sys.executable, "-m", "sweep", "run", str(campaign), "--out", str(folder), "--workers", str(workers)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def decisions_of(folder: Path) -> tuple[Decision, ...]:
    """The decisions of a folder's journal; a budget on the clock decides on all its flights."""
    return read_journal(folder).decisions


def shards_of(folder: Path, decisions: tuple[Decision, ...]) -> dict[str, bytes]:
    """The bytes of the shards of these decisions that are there, by name."""
    flown = [each for each in decisions if each.stage != CHANGES]
    many = sum(len(decision_shards(each.designs, each.blocks, 0)) for each in flown)
    return {path.name: path.read_bytes() for path in (folder / "flights").glob("*.parquet") if _number(path) < many}


def _number(shard: Path) -> int:
    return int(shard.stem.removeprefix("part-"))


def play(campaign: Path, folder: Path, seconds: float, workers: int, load: str) -> tuple[float, bool, str]:
    """Seconds that a run took, whether what it had decided before a kill stayed the same, and what it printed."""
    taken, same = 0.0, True
    with loaded(load, seconds):
        begun = time.monotonic()
        run = start(campaign, folder, workers)
        if load == "killed":
            time.sleep(KILLED * seconds)
            os.kill(run.pid, signal.SIGKILL)
            run.communicate()
            taken += time.monotonic() - begun
            decided = decisions_of(folder)
            flown = shards_of(folder, decided)
            begun = time.monotonic()
            run = start(campaign, folder, 3 - workers)
        said = run.communicate()[1].decode()
        taken += time.monotonic() - begun
        if load == "killed":
            after = {name: (folder / "flights" / name).read_bytes() for name in flown}
            same = decisions_of(folder)[: len(decided)] == decided and after == flown
    return taken, same and run.returncode == 0, said


def main(seconds: float, workers: list[int], loads: list[str], path: Path) -> None:
    """Play each night, and print a line of it."""
    print(f"load of the machine before: {os.getloadavg()[0]:.1f}")
    for load in loads:
        for many in workers:
            with tempfile.TemporaryDirectory() as place:
                campaign, folder = Path(place) / path.name, Path(place) / "results"
                campaign.write_text(campaign_text(path, seconds))
                taken, same, said = play(campaign, folder, seconds, many, load)
                made = decisions_of(folder)
                ends = [each for each in made if each.stage == END]
                print(
                    f"{path.stem}, {load}, {many} workers: {taken:.1f} s, {100.0 * taken / seconds:.1f} % of {seconds:g} s; "
                    f"flights until {ends[-1].elapsed if ends else math.nan:.1f} s; "
                    f"{len(made)} decisions; {'right' if same else 'NOT THE SAME, OR FAILED'}; load {os.getloadavg()[0]:.1f}",
                    flush=True,
                )
                told = [f"{each.elapsed:.1f} s: {each.why}" for each in made if each.stage in (END, CHANGES)]
                print("  " + "\n  ".join([*told, *_of_the_end(said)]), flush=True)


def _of_the_end(said: str) -> list[str]:
    """The sentences of the terminal about the time."""
    return [line.strip() for line in said.splitlines() if "may take are left" in line or "Error" in line]


if __name__ == "__main__":
    main(
        float(sys.argv[1]) if len(sys.argv) > 1 else 120.0,
        [int(each) for each in sys.argv[2].split(",")] if len(sys.argv) > 2 else [1, 2],
        sys.argv[3].split(",") if len(sys.argv) > 3 else list(LOADS),
        Path(sys.argv[4]) if len(sys.argv) > 4 else DEMO,
    )

"""Runs that are killed at random moments and run again: do they leave what an undisturbed run leaves, byte for byte?

    python -m tests.benchmarks.kills [KILLS] [SEED]

Three of four kills are of the program, by SIGKILL, the rest of one of two workers of a cluster, which its keeper starts again.
A run of the program is killed up to `LINKS` times on end before it is let finish. Every other kill falls soon after a random
shard, the rest at a random moment of a random step of `STEPS`, which the run announces: drawn over its whole time, few would
fall in the short ones. With every other kill of the program comes a move: the folder is moved away in mid-run, or moved and
somebody's results put in its place, of which no byte may change, and it is brought back after the kill; or it is copied file
by file, and the copy goes on. Of `KINDS` of runs most write their tables in the place of a site, whose drawing takes longer
than all the rest and writes nothing before its end. Of the results folder everything is compared but the manifest and the time
that the site says was flown, which are times, and the lock.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from importlib import import_module
from itertools import cycle, pairwise
from multiprocessing.context import ForkServerContext
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from sweep.results.store import Results

ROOT = Path(__file__).parents[2]
TIMES = ("manifest.json", ".lock")
TIME_FLYING = re.compile(rb"(time flying</th>|>date</th>)<td[^>]*>[^<]*")
WATCH = 0.001  # s
LINKS = 5
LINKS_OF_WORKERS = 2
"""A cluster gives a piece up when it has lost three workers over it."""
CAMPAIGN = f"""\
title: A short night
craft: {ROOT / "configs" / "craft" / "courier.yaml"}
factors:
  foils.*.area: [40 cm^2, 60 cm^2]
conditions:
  seas: {{chop: {{kind: jonswap, height: 4 cm, period: 1 s}}}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: 12
flight: {{length: 6 s, settle: 1 s, seed: 3}}
fly_on: none
limits: {{touchdowns: 60 /min, upsets: 80 %}}
score: {{ride_height_error: {{scale: 1 cm}}}}
map: {{speeds: 4 m/s, heights: [4 cm, 8 cm], headings: head, replicates: 4}}
tolerances: usual
"""
RACE = CAMPAIGN.replace("[40 cm^2, 60 cm^2]", "{from: 40 cm^2, to: 60 cm^2, levels: 16}") + "budget: {simulated: 1000 s}\n"
SETTLED = CAMPAIGN.replace("fly_on: none", "fly_on: usual").replace("replicates: 12", "replicates: 3")
STEPS = {
    "sweep.workflow.begin": "taking up the folder",
    "sweep.workflow.fly_missing": "flying",
    "sweep.workflow.fly_race": "flying",
    "sweep.workflow.settle": "flying on",
    "sweep.workflow.rank_folder": "ranking",
    "sweep.flying.follow_up.record_leaders": "recording the leaders",
    "sweep.flying.follow_up.explain_troubles": "explaining troubles",
    "sweep.flying.follow_up.map_rides": "mapping",
    "sweep.flying.follow_up.build_off": "building a little off",
    "sweep.flying.follow_up.try_changes": "trying changes",
    "sweep.results.partial.load_so_far": "drawing the site",
    "sweep.report.publishing.write_site": "writing the site",
}
"""What a run announces before it does it, by the function that does it."""


class Kind(NamedTuple):
    """A kind of run: its campaign, and whether it draws a site."""

    campaign: str
    site: bool


KINDS = {
    "a sweep": Kind(CAMPAIGN, False),
    "a race": Kind(RACE, False),
    "a sweep that settles": Kind(SETTLED, False),
    "a sweep with its site": Kind(CAMPAIGN, True),
}
TURNS = (*("a sweep", "a race") * 5, "a sweep with its site")


def start(campaign: Path, folder: Path, *options: str, site: bool = True) -> BaseProcess:
    """A run in a process of its own, on one worker unless the options say otherwise; site: whether it draws one."""
    asked = ["run", str(campaign), "--out", str(folder), *(options or ("--workers", "1"))]
    announced(folder).unlink(missing_ok=True)
    process = _ready().Process(target=_run, args=(asked, announced(folder), site))
    process.start()
    return process


@cache
def _ready() -> ForkServerContext:
    """Where processes come from with everything imported."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.benchmarks.ready"])
    first = context.Process(target=abs, args=(0,))
    first.start()
    first.join()
    return context


def announced(folder: Path) -> Path:
    """The file beside a results folder in which its run announces its steps, each with the time of the clock."""
    return folder.with_name(f"{folder.name}.steps")


def _run(arguments: list[str], steps: Path, site: bool) -> None:
    from sweep import cli
    from sweep.preflight import forecast
    from sweep.report import publishing

    for stream in (1, 2):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
    for name, step in STEPS.items():
        module, function = import_module(name.rpartition(".")[0]), name.rpartition(".")[2]
        setattr(module, function, _announcing(steps, step, getattr(module, function)))
    forecast.doubts = lambda campaign: []  # looked at before the folder is
    if not site:
        publishing.render = _tables
    sys.exit(cli.main(arguments))


def _announcing(steps: Path, step: str, act: Callable[..., object]) -> Callable[..., object]:
    def announce_and_act(*wanted: object, **named: object) -> object:
        with open(steps, "a", encoding="utf-8") as file:
            file.write(f"{time.monotonic()} {step}\n")
        return act(*wanted, **named)

    return announce_and_act


def steps_so_far(folder: Path) -> list[tuple[float, str]]:
    """The steps that a run has announced, each with its time, s."""
    try:
        lines = announced(folder).read_text(encoding="utf-8").splitlines()
    except FileNotFoundError:
        return []
    return [(float(begun), step) for begun, step in (line.split(" ", 1) for line in lines)]


def _tables(results: Results, *others: object) -> dict[str, str]:
    """The tables of a run in the place of its site."""
    tables = {"standings": results.standings, "rides": results.rides, "changes": results.changes}
    recorded = {f"ride-{design}": history for design, history in results.leaders.items()}
    return {f"{name}.csv": table.to_csv() for name, table in {**tables, **recorded}.items()} | {"index.html": ""}


def ended(process: BaseProcess) -> int | None:
    """The exit code of a run that is let finish."""
    process.join()
    return process.exitcode


def kept(folder: Path) -> int:
    """How many shards are whole and listed."""
    try:
        return (folder / "flights" / "SHA256SUMS").read_bytes().count(b"\n")
    except FileNotFoundError:
        return 0


def contents(folder: Path) -> dict[str, str]:
    """Digest of every file of a results folder but those with times, by its path."""
    files = [path for path in sorted(folder.rglob("*")) if path.is_file() and path.name not in TIMES]
    return {
        str(path.relative_to(folder)): hashlib.sha256(TIME_FLYING.sub(b"", path.read_bytes())).hexdigest() for path in files
    }


def shard_times(folder: Path) -> list[float]:
    """When each shard was written, s, in their order."""
    return [path.stat().st_mtime for path in sorted((folder / "flights").glob("part-*.parquet"))]


def where(folder: Path) -> str:
    """How far a killed run had come."""
    return (steps_so_far(folder) or [(0.0, "starting")])[-1][1]


class Undisturbed(NamedTuple):
    """A run that nobody killed: its campaign, whether it drew a site, where and what it left; how long each step took, and a
    shard, s.
    """

    campaign: Path
    folder: Path
    site: bool
    expected: dict[str, str]
    shards: int
    steps: dict[str, float]
    pause: float

    def compare(self, folder: Path) -> list[str]:
        """The files in which a folder differs."""
        left = contents(folder)
        return sorted(name for name in left.keys() | self.expected.keys() if left.get(name) != self.expected.get(name))


def undisturbed(place: Path, name: str) -> Undisturbed:
    """Fly a campaign, of a kind of `KINDS`."""
    (campaign, site), folder = KINDS[name], place / f"whole {name}"
    path = place / f"{name}.yaml"
    path.write_text(campaign, encoding="utf-8")
    _ready()
    begun = time.monotonic()
    assert ended(start(path, folder, site=site)) == 0
    steps = [(begun, "starting"), *steps_so_far(folder), (time.monotonic(), "")]
    lasted = {step: after - at for (at, step), (after, _) in pairwise(steps)}
    times = shard_times(folder)
    return Undisturbed(path, folder, site, contents(folder), len(times), lasted, (times[-1] - times[0]) / (len(times) - 1))


def await_moment(
    process: BaseProcess, folder: Path, one: Undisturbed, draws: random.Random, among: float = 0.5, reach: int = 6
) -> None:
    """Wait for a random moment of a run; among: share of them in the next `reach` shards, the others in any step."""
    have = kept(folder)
    if have < one.shards and draws.random() < among:
        wanted = draws.randrange(have, min(have + reach, one.shards))
        longest = one.pause
        while process.is_alive() and kept(folder) <= wanted:
            time.sleep(WATCH)
    else:
        step, longest = draws.choice(list(one.steps.items()))
        while process.is_alive() and step not in ("starting", *(told for _, told in steps_so_far(folder))):
            time.sleep(WATCH)
    until = time.monotonic() + draws.uniform(0.0, longest)
    while process.is_alive() and time.monotonic() < until:
        time.sleep(WATCH)


MOVES = ("", "", "", "moved", "replaced", "copied")


class TouchedError(AssertionError):
    """A run has written into somebody's folder."""


def disturb(folder: Path, one: Undisturbed, move: str) -> Callable[[], None]:
    """Move a folder away in mid-run, put somebody's results into its place, or copy it; how that is brought back."""
    other = folder.with_name(f"{folder.name}-{move}")
    if not move or not folder.exists():
        return lambda: None
    if move == "copied":
        with suppress(shutil.Error):  # a file that was there when the folder was listed, and is no more
            shutil.copytree(folder, other)
    else:
        folder.rename(other)
    if move == "replaced":
        shutil.copytree(one.folder, folder)
    before = everything(folder) if move != "copied" else {}

    def back() -> None:
        if move != "copied" and everything(folder) != before:
            raise TouchedError(f"{folder} is not what was put there")
        shutil.rmtree(folder, ignore_errors=True)
        other.rename(folder)

    return back


def everything(folder: Path) -> dict[str, bytes]:
    """All files of a folder and what is in them."""
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()} if folder.exists() else {}


def kill_program(
    one: Undisturbed, folder: Path, draws: random.Random, most: int, among: float = 0.5, reach: int = 6
) -> list[str]:
    """Kill a run of the folder up to so many times on end, at moments as of `await_moment`; how far it had come each time.

    Some are killed after one of `MOVES`, if they have not stopped by themselves then.
    """
    fell: list[str] = []
    while len(fell) < most:
        process, move = start(one.campaign, folder, site=one.site), draws.choice(MOVES)
        await_moment(process, folder, one, draws, among, reach)
        if not steps_so_far(folder):  # a run that is still starting takes up what it finds under the name
            move = ""
        back = disturb(folder, one, move)
        time.sleep(draws.uniform(0.0, 5.0 * one.pause) if move else 0.0)
        process.kill()
        stopped = (-signal.SIGKILL, 1) if move in ("moved", "replaced") else (-signal.SIGKILL,)
        code = ended(process)
        back()
        if code not in stopped:
            return fell
        fell.append(f"{where(folder)}{move and ', '}{move}")
    return fell


def kill_workers(one: Undisturbed, folder: Path, draws: random.Random, most: int, address: str) -> tuple[list[str], int | None]:
    """Kill up to so many workers of a cluster while a run flies on it; how far it had come, and its exit code."""
    from distributed import Client

    fell: list[str] = []
    process = start(one.campaign, folder, "--cluster", address, site=one.site)
    for _ in range(most):
        await_moment(process, folder, one, draws)
        with Client(address, set_as_default=False) as client:
            workers = client.run(os.getpid, on_error="ignore")  # one that has just been killed does not answer
        if process.is_alive() and workers:
            os.kill(draws.choice(sorted(workers.values())), signal.SIGKILL)
            fell.append(where(folder))
    return fell, ended(process)


class Told:
    """Counts kills and what they led to, and prints."""

    def __init__(self) -> None:
        self.kills: Counter[str] = Counter()
        self.runs, self.differing = 0, 0
        self.places: Counter[str] = Counter()

    def of(self, whom: str, one: Undisturbed, folder: Path, fell: list[str], code: int | None) -> None:
        """One run that was let finish."""
        differs = one.compare(folder) if code == 0 else [f"exit {code}"]
        self.runs, self.differing = self.runs + 1, self.differing + bool(differs)
        self.kills[whom] += len(fell)
        self.places.update(f"{whom}, {step}" for step in fell)
        said = " ".join(differs) or "the same bytes"
        fate = f"{one.campaign.stem}, {whom} killed: {', '.join(fell) or 'too late'}; {said}"
        print(f"{self.kills.total():4}  {fate}", flush=True)
        shutil.rmtree(folder)


def main() -> None:
    """Kill, run again, compare and print."""
    from distributed import LocalCluster

    kills, seed = (int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 12), (2, 1)))
    draws, told = random.Random(seed), Told()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        kinds = {kind: undisturbed(place, kind) for kind in KINDS}
        turns = cycle(kinds[kind] for kind in TURNS)
        for kind, one in kinds.items():
            steps = ", ".join(f"{step} {lasted:.2f} s" for step, lasted in one.steps.items())
            print(f"{kind}, undisturbed, {one.shards} shards: {steps}", flush=True)
        with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
            while (left := kills - told.kills.total()) > 0:
                one, folder = next(turns), place / f"run-{told.runs}"
                if told.kills["worker"] * 3 < told.kills["program"]:
                    most = min(LINKS_OF_WORKERS, left)
                    told.of("worker", one, folder, *kill_workers(one, folder, draws, most, cluster.scheduler_address))
                else:
                    fell = kill_program(one, folder, draws, min(LINKS, left))
                    told.of("program", one, folder, fell, ended(start(one.campaign, folder, site=one.site)))
    print("\n".join(f"{times:4}  {step}" for step, times in sorted(told.places.items())))
    of = ", ".join(f"{times} of a {whom}" for whom, times in told.kills.items())
    print(f"{told.kills.total()} kills ({of}) in {told.runs} runs, of which {told.differing} did not leave the same bytes.")
    sys.exit(told.differing > 0)


if __name__ == "__main__":
    main()

"""Runs that are killed at random moments and run again: do they leave what an undisturbed run leaves, byte for byte?

    python -m tests.benchmarks.kills [KILLS] [SEED]

Three of four kills are of the program, by SIGKILL, the rest of one of two workers of a cluster, which its keeper starts again.
A run of the program is killed up to `LINKS` times on end before it is let finish. Every other kill falls among the flights, the
rest anywhere from the start of the run to its end. Drawing the site takes longer than all the rest, and writes nothing until
it is drawn: so one run in `SITES` draws it, the others write their tables in its place. Of the results folder everything is
compared but the manifest and the time that the site says was flown, which are times, and the lock.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections import Counter
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from sweep.store import Results

ROOT = Path(__file__).parents[2]
TIMES = ("manifest.json", ".lock")
TIME_FLYING = re.compile(rb"(time flying</th>|>date</th>)<td[^>]*>[^<]*")
WATCH = 0.001  # s
LINKS, SITES = 5, 6
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
flight: {{length: 12 s, settle: 1 s, seed: 3}}
limits: {{touchdowns: 60 /min, upsets: 80 %}}
score: {{ride_height_error: {{scale: 1 cm}}}}
map: {{speeds: 4 m/s, heights: [4 cm, 8 cm], headings: head, replicates: 4}}
"""
SHARDS = 2 * 12


def start(campaign: Path, folder: Path, *options: str, site: bool = True) -> BaseProcess:
    """A run in a process of its own, on one worker unless the options say otherwise; site: whether it draws one."""
    where = options or ("--workers", "1")
    context = multiprocessing.get_context("forkserver")  # from which a process comes with everything imported
    context.set_forkserver_preload(["tests.benchmarks.ready"])
    process = context.Process(target=_run, args=(["run", str(campaign), "--out", str(folder), *where], site))
    process.start()
    return process


def _run(arguments: list[str], site: bool) -> None:
    from sweep import cli, pages

    for stream in (1, 2):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
    if not site:
        pages.render = _tables
    sys.exit(cli.main(arguments))


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


def where(folder: Path, shards: int) -> str:
    """How far a killed run had come."""
    if kept(folder) < shards:
        return "among the flights" if kept(folder) else "before them"
    steps = {
        "site/index.html": "published",
        "changes.parquet": "writing its site",
        "rides.parquet": "mapping",
        "leaders": "recording",
        "standings.parquet": "ranking",
    }
    return next((step for name, step in steps.items() if (folder / name).exists()), "all flown")


class Undisturbed(NamedTuple):
    """A run that nobody killed: its campaign, whether it drew a site, what it left; its time, and that of a shard, s."""

    campaign: Path
    site: bool
    expected: dict[str, str]
    lasted: float
    pause: float

    def compare(self, folder: Path) -> list[str]:
        """The files in which a folder differs."""
        left = contents(folder)
        return sorted(name for name in left.keys() | self.expected.keys() if left.get(name) != self.expected.get(name))


def undisturbed(place: Path, site: bool) -> Undisturbed:
    """Fly the campaign."""
    campaign, folder = place / "short-night.yaml", place / f"whole-{site}"
    campaign.write_text(CAMPAIGN, encoding="utf-8")
    begun = time.monotonic()
    assert ended(start(campaign, folder, site=site)) == 0
    times = shard_times(folder)
    assert len(times) == SHARDS
    return Undisturbed(campaign, site, contents(folder), time.monotonic() - begun, (times[-1] - times[0]) / (SHARDS - 1))


def await_moment(
    process: BaseProcess, folder: Path, one: Undisturbed, draws: random.Random, among: float = 0.5, reach: int = 6
) -> None:
    """Wait for a random moment of a run, no longer than it lasts; among: share of them in the next `reach` shards."""
    have, until = kept(folder), time.monotonic() + draws.uniform(0.0, one.lasted)
    if have < SHARDS and draws.random() < among:
        wanted = draws.randrange(have, min(have + reach, SHARDS))
        while process.is_alive() and kept(folder) <= wanted:
            time.sleep(WATCH)
        until = time.monotonic() + draws.uniform(0.0, one.pause)
    while process.is_alive() and time.monotonic() < until:
        time.sleep(WATCH)


def kill_program(
    one: Undisturbed, folder: Path, draws: random.Random, most: int, among: float = 0.5, reach: int = 6
) -> list[str]:
    """Kill a run of the folder up to so many times on end, at moments as of `await_moment`; how far it had come each time."""
    fell: list[str] = []
    while len(fell) < most:
        process = start(one.campaign, folder, site=one.site)
        await_moment(process, folder, one, draws, among, reach)
        process.kill()
        if ended(process) != -signal.SIGKILL:
            return fell
        fell.append(where(folder, SHARDS))
    return fell


def kill_workers(one: Undisturbed, folder: Path, draws: random.Random, most: int, address: str) -> tuple[list[str], int | None]:
    """Kill up to so many workers of a cluster while a run flies on it; how far it had come, and its exit code."""
    from distributed import Client

    fell: list[str] = []
    process = start(one.campaign, folder, "--cluster", address, site=one.site)
    for _ in range(most):
        await_moment(process, folder, one, draws)
        with Client(address, set_as_default=False) as client:
            workers = client.run(os.getpid)
        if process.is_alive() and workers:
            os.kill(draws.choice(sorted(workers.values())), signal.SIGKILL)
            fell.append(where(folder, SHARDS))
    return fell, ended(process)


class Told:
    """Counts kills and what they led to, and prints."""

    def __init__(self) -> None:
        self.kills, self.runs, self.differing = 0, 0, 0
        self.places: Counter[str] = Counter()

    def of(self, whom: str, one: Undisturbed, folder: Path, fell: list[str], code: int | None) -> None:
        """One run that was let finish."""
        differs = one.compare(folder) if code == 0 else [f"exit {code}"]
        self.kills, self.runs = self.kills + len(fell), self.runs + 1
        self.places.update(f"{whom}, {step}" for step in fell)
        self.differing += bool(differs)
        said = " ".join(differs) or "the same bytes"
        print(f"{self.kills:4}  {whom} killed: {', '.join(fell) or 'too late'}; {said}", flush=True)


def main() -> None:
    """Kill, run again, compare and print."""
    from distributed import LocalCluster

    kills, seed = (int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 12), (2, 1)))
    draws, of_program, told = random.Random(seed), kills - kills // 4, Told()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        drawn, bare = (undisturbed(place, site) for site in (True, False))
        print(f"Undisturbed: {drawn.lasted:.1f} s, {bare.lasted:.1f} s without its site, {bare.pause:.2f} s a shard.")
        while told.kills < of_program:
            one, folder = (bare if (told.runs + 1) % SITES else drawn), place / f"run-{told.runs}"
            fell = kill_program(one, folder, draws, min(LINKS, of_program - told.kills))
            told.of("program", one, folder, fell, ended(start(one.campaign, folder, site=one.site)))
        with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
            while told.kills < kills:
                one, folder = (bare if (told.runs + 1) % SITES else drawn), place / f"run-{told.runs}"
                most = min(LINKS_OF_WORKERS, kills - told.kills)
                told.of("worker", one, folder, *kill_workers(one, folder, draws, most, cluster.scheduler_address))
    print("\n".join(f"{times:4}  {step}" for step, times in sorted(told.places.items())))
    print(f"{told.kills} kills in {told.runs} runs, of which {told.differing} did not leave the same bytes.")
    sys.exit(told.differing > 0)


if __name__ == "__main__":
    main()

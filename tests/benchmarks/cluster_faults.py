"""What befalls a night on other computers; `tests.benchmarks.faults` makes these too."""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from distributed import Client

from sweep.results import store
from tests.benchmarks.faults import HANGS, ROOT, SHARDS, Night, Told, ended, gone_on, left, started, wait_for_shards


@contextlib.contextmanager
def cluster_of_two(place: Path) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """A scheduler in a process of its own, with two workers that a keeper starts again: its address, and the process."""
    known = place.with_suffix(".scheduler")
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "env": os.environ | {"PYTHONPATH": str(ROOT)}}
    asked = [sys.executable, "-m", "dask", "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"]
    with subprocess.Popen([*asked, "--scheduler-file", str(known)], **quiet) as scheduler:
        while not (known.exists() and known.read_text()):
            time.sleep(0.05)
        address = json.loads(known.read_text())["address"]
        keep = [sys.executable, "-m", "dask", "worker", address, "--nworkers", "2", "--nthreads", "1", "--no-dashboard"]
        with subprocess.Popen([*keep, "--death-timeout", str(int(HANGS))], **quiet) as keeper:
            with Client(address, set_as_default=False) as client:
                client.wait_for_workers(2, timeout=HANGS)
            try:
                yield address, scheduler
            finally:
                keeper.terminate()
                scheduler.terminate()


def worker_killed(one: Night, folder: Path, draws: random.Random) -> Told:
    """SIGKILL for one of two workers of a cluster: the run goes on, and says nothing."""
    with cluster_of_two(folder) as (address, _), started(one, folder, "", address) as process:
        wait_for_shards(process, folder, draws)
        with Client(address, set_as_default=False) as client:
            workers = sorted(client.run(os.getpid, on_error="ignore").values())
        os.kill(draws.choice(workers), signal.SIGKILL)
        words = ended(process)
    return Told(words, int(process.returncode != 0), int(left(folder) != one.expected) + ("Traceback" in words))


def scheduler_killed(one: Night, folder: Path, draws: random.Random) -> Told:
    """SIGKILL for the scheduler of a cluster: the run ends with a word; without a cluster it goes on."""
    with cluster_of_two(folder) as (address, scheduler), started(one, folder, "", address) as process:
        wait_for_shards(process, folder, draws)
        scheduler.kill()
        words = ended(process)
    held = sum(1 for _ in store.whole_shards(folder / "flights"))
    told = gone_on(one, folder, 5 * (SHARDS - held))
    clear = process.returncode == 0 or ("cluster" in words and "Traceback" not in words)
    return told._replace(said=words, wrong=told.wrong + (not clear))


def wrong_address(one: Night, folder: Path, draws: random.Random) -> Told:
    """The address of a scheduler that nobody answers at."""
    address = f"tcp://127.0.0.1:{draws.randrange(1, 1000)}"
    with started(one, folder, "", address) as process:
        words = ended(process)
    told = gone_on(one, folder, 5 * SHARDS)
    return told._replace(said=words, wrong=told.wrong + (address not in words) + ("Traceback" in words))


CLUSTER_FAULTS: dict[str, tuple[Callable[[Night, Path, random.Random], Told], str]] = {
    "a worker of a cluster killed": (worker_killed, "SIGKILL for one of two at a random moment of the flights"),
    "a cluster's scheduler killed": (scheduler_killed, "SIGKILL at a random moment of the flights; then without a cluster"),
    "a wrong address of a cluster": (wrong_address, "a port where nobody answers; then without a cluster"),
}

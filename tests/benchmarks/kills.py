"""Runs that are killed at random moments and run again: do they leave what an undisturbed run leaves, byte for byte?

    python -m tests.benchmarks.kills [KILLS] [SEED]

Every other kill falls between two shards of flights, the rest anywhere from the start of the process to its end. Of the results
folder everything is compared but the manifest, which holds times, and the lock.
"""

from __future__ import annotations

import hashlib
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
QUICK = ROOT / "configs" / "quick.yaml"
TIMES = ("manifest.json", ".lock")
WATCH = 0.001  # s


def start(campaign: Path, folder: Path) -> subprocess.Popen[bytes]:
    """A run in a process of its own, on one worker."""
    command = [sys.executable, "-m", "sweep", "run", str(campaign), "--out", str(folder), "--workers", "1"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def kept(folder: Path) -> int:
    """How many shards are whole and listed."""
    try:
        return (folder / "flights" / "SHA256SUMS").read_bytes().count(b"\n")
    except FileNotFoundError:
        return 0


def kill_after_shards(campaign: Path, folder: Path, shards: int, pause: float) -> int:
    """Kill a run so many seconds after it has kept so many shards; how many it has kept then."""
    with start(campaign, folder) as process:
        while process.poll() is None and kept(folder) < shards:
            time.sleep(WATCH)
        time.sleep(pause)
        process.send_signal(signal.SIGKILL)
    return kept(folder)


def kill_after(campaign: Path, folder: Path, seconds: float) -> None:
    """Kill a run so many seconds after its start, if it has not ended by then."""
    with start(campaign, folder) as process:
        time.sleep(seconds)
        process.send_signal(signal.SIGKILL)


def contents(folder: Path) -> dict[str, str]:
    """Digest of every file of a results folder but those with times, by its path."""
    files = [path for path in sorted(folder.rglob("*")) if path.is_file() and path.name not in TIMES]
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def shard_times(folder: Path) -> list[float]:
    """When each shard was written, s, in their order."""
    return [path.stat().st_mtime for path in sorted((folder / "flights").glob("part-*.parquet"))]


def where(folder: Path, shards: int) -> str:
    """How far a killed run had come."""
    if kept(folder) < shards:
        return f"{kept(folder)} of {shards} shards"
    steps = {"site/index.html": "published", "rides.parquet": "mapping", "leaders": "recorded", "standings.parquet": "ranked"}
    return next((step for name, step in steps.items() if (folder / name).exists()), "all flown")


def main() -> None:
    """Kill, run again, compare and print."""
    kills, seed = (int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 10), (2, 1)))
    draws = random.Random(seed)
    with tempfile.TemporaryDirectory() as place:
        whole = Path(place) / "whole"
        begun = time.monotonic()
        assert start(QUICK, whole).wait() == 0
        lasted, expected, times = time.monotonic() - begun, contents(whole), shard_times(whole)
        print(f"Undisturbed: {lasted:.1f} s, {len(times)} shards in {times[-1] - times[0]:.2f} s, {len(expected)} files.")
        same = 0
        for number in range(kills):
            folder = Path(place) / f"kill-{number}"
            if number % 2 == 0:
                pause = draws.uniform(0.0, (times[-1] - times[0]) / len(times))
                kill_after_shards(QUICK, folder, draws.randrange(1, len(times)), pause)
            else:
                kill_after(QUICK, folder, draws.uniform(0.0, lasted))
            fell = where(folder, len(times))
            again = start(QUICK, folder).wait()
            left = contents(folder)
            differs = sorted(name for name in left.keys() | expected.keys() if left.get(name) != expected.get(name))
            same += again == 0 and not differs
            print(f"{number + 1:3}  killed at: {fell:18}  exit {again}, {' '.join(differs) or 'the same bytes'}", flush=True)
    print(f"{same} of {kills} killed runs left the same bytes.")
    sys.exit(same != kills)


if __name__ == "__main__":
    main()

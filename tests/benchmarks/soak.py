"""A long run: do its memory and its open files stay as they are? `python -m tests.benchmarks.soak [SECONDS]`

A campaign that would take hours flies on all processors, in one process whose workers are threads. Once a second its resident
memory and its open file handles are looked at; at the end it is interrupted, as by Ctrl-C, and started again for a tenth of
the time: it must go on. The first tenth, in which libraries are loaded and the queue fills, does not count. Told is the slope
of the means of ten equal parts with its 95 % interval (least squares, Student's t), and the least and most handles.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy import stats

from tests.benchmarks.faults import heed_interrupts
from tests.benchmarks.kills import kept
from tests.benchmarks.memory import CAMPAIGN, CRAFT

ROOT = Path(__file__).parents[2]
PARTS = 10
FLAT = 0.5
"""MB a minute: what a night of twelve hours could bear (judgement)."""
PAGE = os.sysconf("SC_PAGE_SIZE")


class Look(NamedTuple):
    """Seconds since the start, resident memory in MB, open handles."""

    time: float
    memory: float
    handles: int


def start(path: Path, folder: Path) -> subprocess.Popen[bytes]:
    """A run in a process of its own."""
    command = [sys.executable, "-m", "sweep", "run", str(path), "--out", str(folder)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def watch(process: subprocess.Popen[bytes], seconds: float) -> list[Look]:
    """Look at a run once a second, then interrupt it."""
    looks, begun, about = [], time.monotonic(), Path(f"/proc/{process.pid}")
    while time.monotonic() - begun < seconds and process.poll() is None:
        memory = int((about / "statm").read_text().split()[1]) * PAGE / 1e6
        looks.append(Look(time.monotonic() - begun, memory, len(os.listdir(about / "fd"))))
        time.sleep(1.0)
    process.send_signal(signal.SIGINT)
    assert process.wait() == 130, f"the run ended by itself, with code {process.returncode}"
    return looks


def slope(looks: list[Look], seconds: float) -> tuple[float, float]:
    """MB a minute, and half of its 95 % interval."""
    counted = np.array([(look.time, look.memory) for look in looks if look.time > seconds / PARTS])
    means = np.array([part.mean(axis=0) for part in np.array_split(counted, PARTS)])
    found = stats.linregress(means[:, 0] / 60.0, means[:, 1])
    return float(found.slope), float(found.stderr * stats.t.ppf(0.975, PARTS - 2))


def main() -> None:
    """Soak and print."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 600.0
    heed_interrupts()
    with tempfile.TemporaryDirectory() as place:
        path, folder = Path(place) / "long.yaml", Path(place) / "results"
        text = CAMPAIGN.format(craft=CRAFT, designs=499, replicates=2000).replace("length: 0.5 s", "length: 6 s")
        path.write_text(text, encoding="utf-8")
        looks = watch(start(path, folder), seconds)
        flown = kept(folder)
        watch(start(path, folder), seconds / PARTS)
        went_on = kept(folder) > flown > 0
    steep, half = slope(looks, seconds)
    counted = [look for look in looks if look.time > seconds / PARTS]
    memory, handles = [look.memory for look in counted], [look.handles for look in counted]
    print(f"{seconds:.0f} s, {flown} shards of 500 flights; interrupted, it {'went' if went_on else 'did not go'} on.")
    span = f"{steep:+.2f} MB a minute (95 %: {steep - half:+.2f} to {steep + half:+.2f})"
    print(f"Memory {min(memory):.0f} to {max(memory):.0f} MB, {span}.")
    print(f"Open handles {min(handles)} to {max(handles)}, {handles[-1] - handles[0]:+d} from the first look to the last.")
    sys.exit(steep - half > FLAT or max(handles) > min(handles) + 4 or not went_on)


if __name__ == "__main__":
    main()

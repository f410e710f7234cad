"""How much memory and time a log of a hundred megabytes takes, read and judged; and one of ten for scale.

    python -m tests.benchmarks.log_size

Each in a process of its own, its matrix products on one thread as the command line has them; the peak of its resident memory
as Linux counts it for what it runs itself (getrusage would count what began it too), and the processor's seconds, which other
work on the machine changes less than the clock's.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import judge_day
from tests.logs.made import write_day

SIZES = (10, 100)  # MB


def judge(path: str) -> None:
    """Judge and print runs, seconds by the clock and of the processor, and peak, MB; progress to the standard error."""
    begun, worked, told = time.monotonic(), time.process_time(), [0]

    def so_far(done: int, size: int) -> None:
        told[0] += 1

    day = judge_day(load_mapping(path), so_far)
    status = Path("/proc/self/status").read_text(encoding="ascii")
    peak = int(status.split("VmHWM:")[1].split()[0]) // 1024
    spent = f"{time.monotonic() - begun:.0f} s, {time.process_time() - worked:.1f} s of the processor"
    print(f"{len(day.runs)} runs, {spent}, told {told[0]} times, peak {peak} MB")


def main() -> None:
    """Write, judge and print."""
    alone = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    with tempfile.TemporaryDirectory() as folder:
        mapping = write_day(Path(folder))
        head, *rows = (Path(folder) / "pass.csv").read_text(encoding="utf-8").splitlines()
        cells = [row.split(",", 1) for row in rows]
        for size in SIZES:
            with (Path(folder) / "pass.csv").open("w", encoding="utf-8") as file:
                file.write(head + "\n")
                written, lap = 0, 0
                while written < size * 1e6:
                    begin = lap * 90_000
                    written += file.write("".join(f"{int(clock) + begin},{rest}\n" for clock, rest in cells))
                    lap += 1
            command = [sys.executable, "-m", "tests.benchmarks.log_size", str(mapping)]
            told = subprocess.run(command, capture_output=True, text=True, check=True, env=alone).stdout.strip()
            print(f"{size:4} MB: {told}", flush=True)


if __name__ == "__main__":
    judge(sys.argv[1]) if len(sys.argv) > 1 else main()

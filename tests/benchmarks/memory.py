"""How much memory a whole run takes, for ten thousand short flights and for ten times as many.

    python -m tests.benchmarks.memory

Each run in a process of its own; the peak of its resident memory, as the system counts it, when all is flown and ranked, and
when the site is written, most of which is the engine that bundles the chart library.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import sweep
from sweep.report import publishing

CRAFT = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"
CAMPAIGN = """\
title: Many short flights
craft: {craft}
factors:
  foils.*.area: {{from: 40 cm^2, to: 60 cm^2}}
  struts.height: {{from: 16 cm, to: 22 cm}}
plan: {{kind: latin-hypercube, designs: {designs}, seed: 1}}
conditions:
  seas: {{chop: {{kind: jonswap, height: [2 cm, 3 cm, 4 cm, 5 cm, 6 cm], period: 1.2 s}}}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: {replicates}
flight: {{length: 1.1 s, settle: 0.1 s, seed: 1}}
fly_on: none
"""
CASES = {"10 000 flights": (499, 2), "ten times the replicates": (499, 20), "ten times the designs": (4999, 2)}


def peaks(designs: int, replicates: int) -> list[int]:
    """Peak resident memory of a run without and with its site, MB; ten conditions, the base craft besides the designs."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.yaml"
        path.write_text(CAMPAIGN.format(craft=CRAFT, designs=designs, replicates=replicates), encoding="utf-8")
        command = [sys.executable, "-m", "tests.benchmarks.memory", str(path)]
        told = subprocess.run(command, capture_output=True, text=True, check=True)
    return [int(peak) for peak in told.stdout.split()]


def fly(path: str) -> None:
    """Run a campaign and print the peak of this process before and after its site, MB."""
    publish, folder = publishing.publish_locked, Path(path).parent / "results"
    publishing.publish_locked = lambda folder: folder
    sweep.run(sweep.load_campaign(path), folder)
    for step in (lambda: folder, lambda: publish(folder)):
        step()
        print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)


def main() -> None:
    """Measure and print."""
    for name, (designs, replicates) in CASES.items():
        flown, published = peaks(designs, replicates)
        print(f"{name:26} {(designs + 1) * 10 * replicates:8} flights {flown:6} MB, {published:6} MB with the site", flush=True)


if __name__ == "__main__":
    fly(sys.argv[1]) if len(sys.argv) > 1 else main()

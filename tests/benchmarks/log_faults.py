"""How often the intervals of a sea hold it, when logs have faults: another boat, another logger, many passes of each fault.

    python -m tests.benchmarks.log_faults [PASSES]

Passes of a minute, each its own waves; height and period against those that wavespectra drew the waves from. Told with the 95 %
binomial interval (Clopper & Pearson); it falls short only if that lies under 0.95.
"""

from __future__ import annotations

import sys
import tempfile
from math import radians
from pathlib import Path

import numpy as np
from scipy.stats import binomtest

from sweep.logs.read.mapping import load_mapping
from sweep.logs.report.day import judge_day
from tests.logs.foreign import Logger, Sea, log_of, write_foreign
from tests.logs.test_holes import FAULTS

PASSES = 40
SEAS = ((0.03, 0.8), (0.054, 1.1), (0.08, 1.6))
HEADINGS, SPEED, LENGTH = (180.0, 120.0, 0.0), 4.0, 60.0


def main(passes: int) -> None:
    """Write, judge and print."""
    totals = np.zeros((2, 2), dtype=int)
    for name, logger in {"no fault": Logger(), **FAULTS}.items():
        held, told, quiet = np.zeros(2, dtype=int), 0, 0
        for number in range(passes):
            height, period = SEAS[number % len(SEAS)]
            heading = radians(HEADINGS[number // len(SEAS) % len(HEADINGS)])
            rows = log_of(Sea(height, period, 1000 + number), SPEED, heading, LENGTH, logger)
            with tempfile.TemporaryDirectory() as folder:
                runs = judge_day(load_mapping(write_foreign(Path(folder), [rows]))).runs
            seas = [run.sea for run in runs if run.sea is not None and run.sea.verdict == "measured"]
            quiet += not seas
            for sea in seas:
                told += 1
                held += [sea.height.low <= height <= sea.height.high, sea.period.low <= period <= sea.period.high]
        totals += np.array([held, [told, told]])
        print(f"{name:26} {_held(held, told)}; {quiet} of {passes} passes say that they cannot tell", flush=True)
    print(f"{'all':26} {_held(totals[0], int(totals[1, 0]))}")


def _held(held: np.ndarray, told: int) -> str:
    said = []
    for name, count in zip(("height", "period"), held.tolist(), strict=True):
        low, high = binomtest(count, max(told, 1)).proportion_ci()
        said.append(f"{name} held in {count} of {told} ({low:.2f} to {high:.2f})")
    return ", ".join(said)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else PASSES)

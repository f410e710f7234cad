"""How much processor time each stage of a run takes, and how it grows with conditions and with designs.

    python -m tests.benchmarks.stages conditions [NUMBER ...]
    python -m tests.benchmarks.stages designs [NUMBER ...]

Whole runs of short flights, each in a process of its own: 20 designs in 200, 800 and 2 000 conditions, or 2 000 and 20 000
designs (and more, if they are named) in two. The exponent is that of the last size against the one before: 1 is in proportion.
Time is that of the processor, of all threads, so that a busy machine tells much the same. Of what nobody asked for, all that
follows the flights is to stay under half their time, or 20 s.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import wraps
from importlib import import_module
from pathlib import Path

from sweep.campaign.campaign import load_campaign

CRAFT = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"
CAMPAIGN = """\
title: Stages of {designs} designs in {conditions} conditions
craft: {craft}
factors:
  foils.*.area: {{from: 40 cm^2, to: 60 cm^2}}
  struts.height: {{from: 16 cm, to: 22 cm}}
plan: {{kind: latin-hypercube, designs: {designs}, seed: 1}}
conditions:
  seas: {{chop: {{kind: jonswap, height: [{heights}], period: 1.2 s}}}}
  headings: [{headings}]
  speeds: [{speeds}]
  replicates: {replicates}
flight: {{length: {length} s, settle: 1 s, seed: 1}}
fly_on: none
limits: {{touchdowns: 60 /min}}
score: {{ride_height_error: {{scale: 1 cm}}, pitch_rms: {{scale: 1 deg}}}}
"""
STAGES = {
    "sweep.workflow.lay_out": "designs",
    "sweep.workflow.with_costs": "costs",
    "sweep.workflow.begin": "begin",
    "sweep.workflow.fly_missing": "flights",
    "sweep.workflow.rank_folder": "ranking",
    "sweep.flying.follow_up.record_leaders": "recording",
    "sweep.flying.follow_up.explain_troubles": "causes",
    "sweep.flying.follow_up.map_rides": "map",
    "sweep.flying.follow_up.try_changes": "changes",
    "sweep.report.publishing.publish_locked": "site",
}
FOLLOWING = ("recording", "causes", "map", "changes")
LEAST = 20.0
SIZES = {"conditions": (200, 800, 2_000), "designs": (2_000, 20_000)}


def text_of(kind: str, number: int) -> str:
    """A campaign of so many designs, or of about so many conditions."""
    if kind == "designs":
        heights, headings, speeds, designs, replicates, length = 1, 2, 1, number - 1, 1, 2.0
    else:
        heights, headings, speeds, designs, replicates, length = number // 40, 8, 5, 19, 2, 4.0
    return CAMPAIGN.format(
        craft=CRAFT,
        designs=designs,
        conditions=heights * headings * speeds,
        heights=", ".join(f"{2.0 + 4.0 * at / max(heights, 1):.3f} cm" for at in range(heights)),
        headings=", ".join(f"{180 - 22 * at} deg" for at in range(headings)),
        speeds=", ".join(f"{3.6 + 0.3 * at:.1f} m/s" for at in range(speeds)),
        replicates=replicates,
        length=length,
    )


def measure(path: str) -> None:
    """Run a campaign in this process, and print the processor time of each stage, s."""
    import sweep

    spent: dict[str, float] = {}

    def timed(stage: str, act: Callable[..., object]) -> Callable[..., object]:
        @wraps(act)
        def run(*wanted: object, **named: object) -> object:
            begun = time.process_time()
            try:
                return act(*wanted, **named)
            finally:
                spent[stage] = spent.get(stage, 0.0) + time.process_time() - begun

        return run

    for name, stage in STAGES.items():
        module, function = import_module(name.rpartition(".")[0]), name.rpartition(".")[2]
        setattr(module, function, timed(stage, getattr(module, function)))
    sweep.run(load_campaign(path), Path(path).parent / "results")
    print(json.dumps(spent))


def main() -> None:
    """Measure the sizes asked for and print the table."""
    kind = sys.argv[1]
    sizes = [int(text) for text in sys.argv[2:]] or SIZES[kind]
    found: dict[int, dict[str, float]] = {}
    for number in sizes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "stages.yaml"
            path.write_text(text_of(kind, number), encoding="utf-8")
            command = [sys.executable, "-m", "tests.benchmarks.stages", "--measure", str(path)]
            found[number] = json.loads(subprocess.run(command, stdout=subprocess.PIPE, check=True).stdout.splitlines()[-1])
        print(number, {stage: round(spent, 2) for stage, spent in found[number].items()}, file=sys.stderr, flush=True)
    print(f"| processor time, s | {' | '.join(f'{number:,} {kind}'.replace(',', ' ') for number in sizes)} | exponent |")
    print(f"|---|{'---|' * (len(sizes) + 1)}")
    for stage in STAGES.values():
        spent = [found[number].get(stage, 0.0) for number in sizes]
        power = (
            math.log(spent[-1] / spent[-2]) / math.log(sizes[-1] / sizes[-2])
            if len(sizes) > 1 and min(spent) > 0.0
            else math.nan
        )
        print(f"| {stage} | {' | '.join(f'{each:.2f}' for each in spent)} | {power:.2f} |")
    for number in sizes:
        after, most = sum(found[number][stage] for stage in FOLLOWING), max(0.5 * found[number]["flights"], LEAST)
        print(f"{number}: what follows the flights takes {after:.1f} s, allowed {most:.1f} s")


if __name__ == "__main__":
    measure(sys.argv[2]) if sys.argv[1] == "--measure" else main()

"""What single precision and the step change in the means of flights: as flown, against double precision at half the step.

    python -m tests.benchmarks.accuracy [FLIGHTS]

The first designs of three campaigns, so many flights of each (700 by default), the same for all. Beside it the double-precision
flights once more with every wave's phase shifted by a millionth of a radian: what differs then is chance. A difference is told
in per cent of the mean, with its size in standard errors over flights. A column passes if its difference is under 1 %, or no
more than 1.5 times the shifted one's, or within three standard errors. How many flights ended how is counted.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying.flights import cut_pieces
from sweep.model.flight import Flown, fly
from sweep.model.quantities import RESPONSE_NAMES, STATUS_NAMES
from sweep.results.shard_plan import Shard

CONFIGS = Path(__file__).parents[2] / "configs"
CAMPAIGNS = ("courier-chop", "lookout-lake", "surveyor-harbour")
FLIGHTS = 700
SHIFT = 1e-6
MOST, ALIKE, SURE = 1.0, 1.5, 3.0
"""Per cent, times the shifted flights' difference, and standard errors that pass: judgement."""


class Difference(NamedTuple):
    """Of two means over the same flights: per cent of the second, and standard errors."""

    percent: float
    errors: float

    def __str__(self) -> str:
        return f"{self.percent:+.2f} % ({self.errors:+.1f})"


def flights_of(name: str, number: int) -> tuple[Flown, Flown, Flown]:
    """As they are flown, in double precision at half the step, and so with shifted waves: about so many flights of each."""
    campaign = load_campaign(CONFIGS / f"{name}.yaml")
    conditions = list_conditions(campaign)
    designs = lay_out(campaign)
    designs = designs.iloc[: max(1, -(-number // len(conditions)))]
    needed = -(-number // len(designs))
    shards = [
        Shard(at, at % len(conditions), at // len(conditions), 0, len(designs))
        for at in range(min(needed, len(conditions) * campaign.replicates))
    ]
    found: tuple[list[Flown], list[Flown], list[Flown]] = ([], [], [])
    for piece in cut_pieces(campaign, designs, conditions, shards):
        structure = piece.fleet.structure
        finer = piece.fleet._replace(structure=structure._replace(steps_per_tick=2 * structure.steps_per_tick))
        shifted = [block._replace(phases=block.phases + SHIFT) for block in piece.blocks]
        found[0].append(fly(piece.fleet, piece.blocks))
        found[1].append(fly(finer, piece.blocks, precise=True))
        found[2].append(fly(finer, shifted, precise=True))
    flown, exact, other = (Flown(*(np.concatenate(part) for part in zip(*each, strict=True))) for each in found)
    return flown, exact, other


def difference(values: NDArray[np.float64], exact: NDArray[np.float64]) -> Difference:
    """Over the flights where both are known."""
    apart = (values - exact)[np.isfinite(values) & np.isfinite(exact)]
    mean = exact[np.isfinite(values) & np.isfinite(exact)].mean()
    error = apart.std(ddof=1) / np.sqrt(len(apart))
    return Difference(100.0 * apart.mean() / abs(mean) if mean else 0.0, apart.mean() / error if error > 0.0 else 0.0)


def passes(flown: Difference, shifted: Difference) -> str:
    """Why a column passes, or 'no'."""
    if abs(flown.percent) < MOST:
        return "under 1 %"
    if abs(flown.percent) <= ALIKE * abs(shifted.percent):
        return "as another rounding"
    return "within chance" if abs(flown.errors) < SURE else "no"


def show(name: str, number: int) -> int:
    """Print a campaign's tables; return how many flights it had."""
    flown, exact, other = flights_of(name, number)
    print(f"\n**{name}**, {len(exact.status)} flights\n")
    print("| ending | flown | exact | shifted |\n|---|---|---|---|")
    for code, ending in enumerate(STATUS_NAMES):
        counts = [int((each.status == code).sum()) for each in (flown, exact, other)]
        if any(counts):
            print(f"| {ending} | {' | '.join(map(str, counts))} |")
    print("\n| response | mean | flown | shifted | passes |\n|---|---|---|---|---|")
    for column, response in enumerate(RESPONSE_NAMES):
        values, sound, shifted = (each.responses[:, column] for each in (flown, exact, other))
        if (np.isfinite(values) & np.isfinite(sound) & np.isfinite(shifted)).sum() > 1 and np.nanmax(np.abs(sound)) > 0.0:
            ours, theirs = difference(values, sound), difference(shifted, sound)
            print(f"| {response} | {np.nanmean(sound):.5g} | {ours} | {theirs} | {passes(ours, theirs)} |", flush=True)
    return len(exact.status)


def main() -> None:
    """Fly all campaigns and print."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else FLIGHTS
    total = sum(show(name, number) for name in CAMPAIGNS)
    print(f"\n{total} flights in all.")


if __name__ == "__main__":
    main()

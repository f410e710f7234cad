"""How often the stated intervals hold the truth, on synthetic scores whose truth is known.

python -m tests.benchmarks.coverage [CAMPAIGNS]
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sweep.insight.effects import factorial_effects
from sweep.insight.intervals import estimate
from sweep.insight.ranking import compare_with_best

Draw = Callable[[tuple[int, ...]], NDArray[np.float64]]
CONDITIONS = 6
SPREADS = {"like": np.ones(CONDITIONS), "unlike": np.array([0.2, 0.2, 0.5, 1.0, 2.0, 4.0])}


def draws(generator: np.random.Generator) -> dict[str, Draw]:
    """Chance with the mean nought: normal, skewed as an exponential is, and a count of rare events, mostly none."""
    return {
        "normal": lambda shape: generator.standard_normal(shape),
        "skewed": lambda shape: generator.exponential(size=shape) - 1.0,
        "rare": lambda shape: generator.poisson(0.5, shape) - 0.5,
    }


def of_a_mean(draw: Draw, spreads: NDArray[np.float64], replicates: int, campaigns: int) -> float:
    """Share of campaigns whose 95 % interval of a score holds its truth."""
    found = estimate(draw((campaigns, CONDITIONS, replicates)) * spreads[:, None])
    return float((np.abs(found.mean) <= found.half_width(0.025)).mean())


def of_the_level_group(
    draw: Draw, generator: np.random.Generator, designs: int, replicates: int, campaigns: int
) -> tuple[float, float]:
    """Share of campaigns whose level group holds the true best, and the group's mean size."""
    held, size = 0, 0
    for _ in range(campaigns):
        means = np.sort(generator.gamma(2.0, 0.3, designs))
        spreads = 0.2 * np.exp(0.3 * generator.standard_normal((designs, 1, 1)))
        sea = 0.3 * generator.standard_normal((CONDITIONS, replicates))
        values = means[:, None, None] + sea + spreads * draw((designs, CONDITIONS, replicates))
        found = compare_with_best(values, np.ones(designs, dtype=np.bool_))
        held += bool(found.may_be_best[0])
        size += int(found.may_be_best.sum())
    return held / campaigns, size / campaigns


def of_effects(draw: Draw, generator: np.random.Generator, replicates: int, campaigns: int) -> tuple[float, float]:
    """Share of campaigns whose interval of a factor's share holds it: the lowest and the mean over the effects."""
    a, b, c = np.meshgrid(np.arange(3), np.arange(2), np.arange(4), indexing="ij")
    truth = ((a - 1.0) ** 2 + 0.3 * b + 0.4 * (a - 1.0) * np.array([1.0, -1.0, 1.0, -1.0])[c]).ravel()
    levels = {"a": 3, "b": 2, "c": 4}
    exact = factorial_effects(truth[:, None, None], levels).table["share"].to_numpy(float)
    held = np.zeros(len(exact))
    for _ in range(campaigns):
        shared = 0.5 * draw((3, CONDITIONS, replicates))[a.ravel()]
        sea = generator.standard_normal((CONDITIONS, replicates))
        values = truth[:, None, None] + sea + shared + 0.5 * draw((len(truth), CONDITIONS, replicates))
        found = factorial_effects(values, levels).table
        held += (found["low"].to_numpy(float) - 1e-9 <= exact) & (exact <= found["high"].to_numpy(float) + 1e-9)
    return float(held.min() / campaigns), float(held.mean() / campaigns)


def main() -> None:
    """Print the tables."""
    campaigns = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    generator = np.random.default_rng(1)
    print("95 % interval of a score, 6 conditions: share of campaigns that hold the truth")
    for name, draw in draws(generator).items():
        for spread, spreads in SPREADS.items():
            found = [
                f"{replicates} replicates {of_a_mean(draw, spreads, replicates, 20 * campaigns):.3f}"
                for replicates in (2, 4, 8)
            ]
            print(f"  {name}, conditions {spread}: {', '.join(found)}")
    print("Level group, 100 designs: share of campaigns that hold the true best (mean size)")
    for name, draw in draws(generator).items():
        sizes = [(n, *of_the_level_group(draw, generator, 100, n, campaigns)) for n in (2, 4, 8)]
        print(f"  {name}: " + ", ".join(f"{n} replicates {held:.3f} ({size:.0f})" for n, held, size in sizes))
    print("Shares of factors in a factorial: share of campaigns that hold the truth, lowest and mean over six effects")
    for name, draw in draws(generator).items():
        shares = [(n, *of_effects(draw, generator, n, max(campaigns // 2, 1))) for n in (2, 8)]
        print(f"  {name}: " + ", ".join(f"{n} replicates {low:.3f}, {mean:.3f}" for n, low, mean in shares))


if __name__ == "__main__":
    main()

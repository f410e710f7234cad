"""Makes wakes.toml anew: python -m tests.references.make_wakes

Downwash behind an elliptic lifting line by the quadrature of tests/second/wakes.py, for arrangements drawn from levels.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.second.wakes import PUBLISHED_CORE, Arrangement, bound, trailing_pair, trailing_sheet

FILE = Path(__file__).parent / "wakes.toml"
COUNT, SEED = 60, 1951
AHEAD_SPAN, ASPECT_RATIOS = 0.173, (4.0, 6.0, 9.0)
SPAN_RATIOS = (0.5, 0.75, 1.0, 1.5, 1.6, 2.0, 3.0)
SIDES = (0.0, 0.0, 0.25, 0.5, 0.6, 1.0)  # of the span ahead
BELOW = (0.0, 0.0, 0.0, 0.25, -0.25, 1.0)  # chords ahead
DEPTHS = (0.5, 1.0, 2.0, 3.6, 5.0)  # chords ahead
DISTANCES = (0.25, 0.4, 1.0, 2.0, 3.6, 6.0, 20.0)  # spans ahead, but at least `NEAREST` chords
NEAREST = 1.5
STRIPS = (2, 4, 8)
COLUMNS = [*Arrangement._fields, "bound", "sheet", "pair", "pair of the published core"]
HEADER = """\
# Downwash behind an elliptic lifting line under its image of the same circulation, averaged over a strip: rad per unit of lift
# coefficient, positive down. Lengths in m: span and mean chord of the foil ahead; aft of its quarter chord; side of the middle
# of the foil behind; below the wake; depth of the foil ahead; start and end of the strip from the middle of the foil behind.
# bound, sheet, pair: of the bound vortex, the flat trailing sheet and the trailing pair, each with its image; a whole wake is
# the bound vortex with one of the other two. Cores of the pair: 0.0855 of the span, and the published 0.0771.
# Made by tests/references/make_wakes.py.

[downwash]
source = "quadrature of the law of Biot and Savart (own, tests/second/wakes.py; closed forms check it in test_wakes.py)"
mark = "COMPUTED"
tolerance = 0.02
tolerance_kind = "relative, or 0.002 rad per unit of lift coefficient"
"""


def arrangements() -> list[Arrangement]:
    """Both in-line neighbours of the span ratio 1.5, a far strip, then arrangements drawn evenly from every level."""
    chord = AHEAD_SPAN / 6.0
    line = Arrangement(AHEAD_SPAN, chord, 0.62, 0.0, 0.0, 3.6 * chord, 0.0, 0.0)
    found = [line._replace(end=0.5 * ratio * AHEAD_SPAN) for ratio in (1.0, 1.5, 1.6)]
    found += [line._replace(aft=20 * AHEAD_SPAN, depth=5 * chord, end=0.25 * AHEAD_SPAN)]
    draws = np.random.default_rng(SEED)
    spread = [_shuffled(levels, draws) for levels in (ASPECT_RATIOS, SPAN_RATIOS, SIDES, BELOW, DEPTHS, DISTANCES, STRIPS)]
    for aspect_ratio, ratio, side, below, depth, distance, strips in zip(*spread, strict=True):
        chord = AHEAD_SPAN / aspect_ratio
        width = ratio * AHEAD_SPAN / strips
        start = width * (int(draws.integers(strips)) - strips // 2)
        aft = max(distance * AHEAD_SPAN, NEAREST * chord)
        low = max(below, 0.25 - depth)  # chords: the foil behind stays under water
        found.append(Arrangement(AHEAD_SPAN, chord, aft, side * AHEAD_SPAN, low * chord, depth * chord, start, start + width))
    return [Arrangement(*(round(float(value), 5) for value in each)) for each in found[:COUNT]]


def _shuffled(levels: tuple[float, ...], draws: np.random.Generator) -> list[float]:
    return list(draws.permutation(np.resize(levels, COUNT)))


def row(place: Arrangement) -> list[float]:
    """An arrangement and its downwash, as the file has them."""
    found = [bound(place), trailing_sheet(place), trailing_pair(place), trailing_pair(place, PUBLISHED_CORE)]
    return [*place, *(round(value, 6) + 0.0 for value in found)]


def main() -> None:
    """Write the file."""
    rows = "".join(f"  [{', '.join(f'{value:g}' for value in row(place))}],\n" for place in arrangements())
    columns = ", ".join(f'"{name}"' for name in COLUMNS)
    FILE.write_text(f"{HEADER}columns = [{columns}]\nrows = [\n{rows}]\n", encoding="utf-8")


if __name__ == "__main__":
    main()

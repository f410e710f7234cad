"""Trade-offs: the front between chosen quantities, its knee, and how much of the field it covers.

Everything is better when smaller; the caller turns the others round. A row with a NaN is on no front. Rows that are equal in
everything stand on the front together; one that is equal in some and worse in another is behind.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sweep.insight.intervals import Array


def front(values: Array) -> NDArray[np.int64]:
    """Rows that no other row beats, in the order of the first quantity (Pareto 1896).

    values: (designs, quantities), smaller is better.
    """
    known = np.flatnonzero(~np.isnan(values).any(axis=1))
    order = known[np.lexsort(values[known].T[::-1])]
    kept = _stairs(values[order]) if values.shape[1] == 2 else _undominated(values[order])
    return order[kept]


def _stairs(values: Array) -> NDArray[np.bool_]:
    """Sorted by the first and the second of two quantities, those lower than all before, and their equals."""
    if not len(values):
        return np.zeros(0, dtype=np.bool_)
    lowest = np.minimum.accumulate(values[:, 1])
    first = np.concatenate([[True], values[1:, 1] < lowest[:-1]])
    step = np.maximum.accumulate(np.where(first, np.arange(len(values)), 0))
    return np.asarray((values == values[step]).all(axis=1))


def _undominated(values: Array) -> NDArray[np.bool_]:
    """Sorted by the first, then the second ... quantity: a row can be beaten by one before it only."""
    kept = np.zeros(len(values), dtype=np.bool_)
    for row, value in enumerate(values):
        best = values[kept]
        kept[row] = not ((best <= value).all(axis=1) & (best < value).any(axis=1)).any()
    return kept


def knee(values: Array) -> int | None:
    """The row of a front between two quantities that lies farthest below the line through its ends.

    values: (front, 2). Each quantity runs from 0 at its best to 1 at its worst on the front (Das, Structural Optimization 18,
    1999, 107-115; cited from memory). None if no row lies below that line.
    """
    span = np.ptp(values, axis=0) if len(values) else np.zeros(2)
    if len(values) < 3 or not (span > 0.0).all():
        return None
    below = 1.0 - ((values - values.min(axis=0)) / span).sum(axis=1)
    row = int(below.argmax())
    return row if below[row] > 1e-9 else None


def hypervolume(values: Array, reference: Array) -> float:
    """The volume that a front dominates, up to a reference that is worse (Zitzler & Thiele 1998).

    values: (designs, quantities); rows that are not better than the reference in everything add nothing. Slice by slice along
    the last quantity.
    """
    inside = values[(values < reference).all(axis=1)]
    if not len(inside):
        return 0.0
    if values.shape[1] == 1:
        return float(reference[0] - inside.min())
    inside = inside[inside[:, -1].argsort(kind="stable")]
    edges = np.append(inside[:, -1], reference[-1])
    if values.shape[1] == 2:
        return float(np.diff(edges) @ (reference[0] - np.minimum.accumulate(inside[:, 0])))
    slices = (
        (edges[row + 1] - edges[row]) * hypervolume(inside[: row + 1, :-1], reference[:-1])
        for row in range(len(inside))
        if edges[row + 1] > edges[row]
    )
    return float(sum(slices))

"""Slopes of the compiled model itself, by central differences: the linear companion always matches what flies."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.pack.fleet import Fleet

Floats = NDArray[np.float64]
Complexes = NDArray[np.complexfloating[Any, Any]]

Item = TypeVar("Item")

NUDGE = 1e-4  # SI: curvature and rounding both leave under 1e-6 of a slope


def slopes(
    workspace: Floats, columns: Sequence[Sequence[int]], evaluate: Callable[[], Floats], nudge: float, fleet: Fleet
) -> Floats:
    """How results change with slots of the workspace, (lanes, results, columns), every lane a design of its own.

    columns: for each input the slots that hold it (all are nudged together, either way); evaluate: works on the workspace and
    returns (results, lanes). The workspace is left as it was. fleet: in the lanes; a single design is in all lanes, each
    with a nudge of its own, so that one evaluation gives many slopes.
    """
    spans = (slice(fleet.structure.slots * LANES), slice(at.PARAMETERS * LANES, at.WAVE.first * LANES))  # without the sea
    base = [workspace[span].copy() for span in spans]
    slots = workspace.reshape(-1, LANES)
    nudges = [(list(column), change) for column in columns for change in (nudge, -nudge)]
    alike = fleet.size == 1
    found = []
    for some in batched(nudges, LANES if alike else 1):
        _put(workspace, spans, base)
        for lane, (column, change) in enumerate(some):
            slots[column, lane if alike else slice(None)] += change
        after = evaluate()
        found += [np.repeat(after[:, lane : lane + 1], LANES, axis=1) for lane in range(len(some))] if alike else [after]
    _put(workspace, spans, base)
    up, down = np.array(found[0::2]), np.array(found[1::2])
    return ((up - down) / (2.0 * nudge)).transpose(2, 1, 0)


def _put(workspace: Floats, spans: Sequence[slice], parts: Sequence[Floats]) -> None:
    for span, part in zip(spans, parts, strict=True):
        workspace[span] = part


def batched(items: Sequence[Item], size: int) -> Iterator[Sequence[Item]]:
    """Groups of neighbours, at most so many in each."""
    for start in range(0, len(items), size):
        yield items[start : start + size]

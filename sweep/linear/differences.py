"""Slopes of the compiled model itself, by central differences: the linear companion cannot drift from what flies."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweep.model.compiled import LANES

Floats = NDArray[np.float64]
Complexes = NDArray[np.complexfloating[Any, Any]]

NUDGE = 1e-4  # SI: curvature and rounding both leave under 1e-6 of a slope


def slopes(workspace: Floats, columns: Sequence[Sequence[int]], evaluate: Callable[[], Floats], nudge: float) -> Floats:
    """How results change with slots of the workspace, (lanes, results, columns), every lane a design of its own.

    columns: for each input the slots that hold it (all are nudged together, either way); evaluate: works on the workspace and
    returns (results, lanes). The workspace is left as it was.
    """
    base = workspace.copy()
    slots = workspace.reshape(-1, LANES)

    def moved(column: Sequence[int], change: float) -> Floats:
        workspace[:] = base
        slots[list(column)] += change
        return evaluate()

    found = [(moved(column, nudge) - moved(column, -nudge)) / (2.0 * nudge) for column in columns]
    workspace[:] = base
    return np.stack(found, axis=-1).transpose(1, 0, 2)

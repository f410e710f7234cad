"""What the tests of a builder's own code share: crafts that fly with it, and the exported law as such code."""

from __future__ import annotations

import shutil
from collections.abc import Mapping

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.export.files import law_files
from sweep.export.settings import law_of
from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.compiled import LANES
from sweep.model.flight import run_lanes, start_lanes
from sweep.model.pack.fleet import Fleet
from sweep.model.responses import Counted, responses
from tests.model.crafts import WATER

NAME = "my_control.c"
needs_compiler = pytest.mark.skipif(
    shutil.which("gcc") is None and shutil.which("clang") is None, reason="no C compiler here: gcc or clang compiles own code"
)
SPEED = 4.0


def exported(craft: Craft) -> str:
    """The C of a craft's built-in law."""
    return law_files(law_of(craft, WATER, [SPEED]))["control.c"]


def with_code(craft: Craft, text: str, settings: Mapping[str, float] | None = None) -> Craft:
    """The craft under code of its builder's own; settings: SI."""
    control = craft.control.model_copy(update={"law": "own-code", "code": NAME, "settings": dict(settings or {})})
    return craft.model_copy(update={"control": control, "codes": {NAME: text}})


def flown(fleet: Fleet, blocks: list[Block], nudge: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Status and responses of every flight of a fleet of at most LANES; nudge: rad, of the roll at the start."""
    lanes = start_lanes(fleet)
    lanes.workspace.reshape(-1, LANES)[at.STATE.phi] += nudge
    run_lanes(fleet, blocks, lanes)
    n = fleet.size
    readings = lanes.workspace.reshape(-1, LANES)[[at.FAULT_READINGS, at.BLIND_READINGS, at.REFUSED], :n].T
    counted = Counted(fleet.parameters, lanes.sums[:n], lanes.histograms[:, :n], readings)
    return responses(counted, fleet.structure.step, blocks[0].settle, blocks[0].from_rest)

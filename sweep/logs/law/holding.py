"""A code that works its height out when a reading comes, and holds it until the next: as readings that a levelling code takes.

The craft file's law levels the last reading anew at every tick (M15.6).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweep.logs.law.inputs import Inputs
from sweep.model import layout as at
from sweep.model.physics.spectra import Floats

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft


def may_hold(craft: Craft) -> bool:
    """Whether such a code can be told: none that fuses heights, looks ahead, or sifts readings by those before."""
    control = craft.control
    plain = control.traits.levels and not control.traits.fuses and control.median == 1 and craft.rangefinders.number == 1
    return plain and control.gate == 0.0 and control.preview == 0.0


def holding(inputs: Inputs, known: Floats) -> Inputs:
    """The same with a reading at every tick, by which the height that came with the last one stays.

    known: parameters of the craft, (slots,), of what its code knows of the rangefinder.
    """
    x, y, mounted = known[at.KNOWN_PLACE.x], known[at.KNOWN_PLACE.y], known[at.KNOWN_PLACE.height]
    ahead, aside, down = known[at.KNOWN_LOOK.slots()]
    nose, lean = np.sin(inputs.pitch), np.sin(inputs.roll) * np.cos(inputs.pitch)
    level = np.cos(inputs.roll) * np.cos(inputs.pitch)
    slope = level * down - nose * ahead + lean * aside
    none = -level * mounted - nose * x + lean * y
    (reading,) = inputs.readings
    came = np.isfinite(reading)
    last = np.maximum.accumulate(np.where(came, np.arange(len(came)), -1))
    height = (slope * reading + none)[np.maximum(last, 0)]
    return inputs._replace(readings=np.where(last >= 0, (height - none) / slope, np.nan)[None])

"""Which one mistake in the craft file or the mapping mends most of what runs and the craft file's companion disagree about."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.craft import Craft
from sweep.linear.craft import linearise
from sweep.logs.compare.bands import measured_bands, predicted_bands
from sweep.logs.read.mapping import Mapping
from sweep.logs.read.runs import Run
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.water import Water
from sweep.words.numbers import number

WORST = 0.12
"""Misfit from which on an explanation is looked for (judgement): squared, of the logarithm of the ratios and of their phase."""
MENDS = 0.5
"""Share of the misfit that an explanation may leave (judgement)."""
MOST = 4.0
"""Cap on the misfit of a band (judgement), so that one does not outweigh all others."""
GAINS = (3.0, 1.0 / 3.0)
"""Times the gain of the craft file, tried (judgement)."""


class Explanation(NamedTuple):
    """A craft and a lag (s) by which the logs would be right, in words; misfit: what is left; rank of it among all."""

    text: str
    misfit: float


def explained(runs: Sequence[Run], mapping: Mapping, water: Water) -> Explanation | None:
    """The mistake that mends most; None where none mends half, there is little to mend, or no log has the foils' angles."""
    if not all(any(name.startswith("foil_") for name in run.record) for run in runs):
        return None
    now = _misfit(runs, mapping, mapping.craft, mapping.late(), water)
    if not now > WORST:
        return None
    found = [
        Explanation(text, _misfit(runs, mapping, craft, mapping.late() + later, water))
        for text, craft, later in _candidates(mapping)
    ]
    best = min(found, key=lambda each: each.misfit)
    return best if best.misfit < MENDS * now else None


def _candidates(mapping: Mapping) -> Iterator[tuple[str, Craft, float]]:
    craft = mapping.craft
    ranges, unit = craft.rangefinders, craft.inertial
    for later in np.arange(-0.3, 0.31, 0.02).tolist():
        if abs(later) > 0.01 and mapping.late() + later >= 0.0:
            when = f"{number(1e3 * abs(later), 2)} ms {'later' if later > 0.0 else 'earlier'} in the log than the files say"
            asked = "is its clock another, or its lag (late: 60 ms)? `log fit` finds it"
            yield f"range: its readings are about {when}: {asked}", craft, later
    place = "is its place x in the craft file right?"
    if ranges.x:
        said = f"rangefinder: the logs are as of one at {number(-100 * ranges.x)} cm forward: {place}"
        yield said, replace_values(craft, {"rangefinders.x": -ranges.x}), 0.0
    for x in (-0.3, 0.0, 0.3):
        if abs(x - unit.x) > 0.1:
            said = f"inertial unit: the logs are not as of one at {number(100 * unit.x)} cm forward: {place}"
            yield said, replace_values(craft, {"inertial.x": x}), 0.0
    for name in ("height", "pitch"):
        address = craft.control.gains_of(name)[0]
        before = value_at(craft, address)
        for times in GAINS:
            much = f"by about {number(times, 1)} times the craft file's {address}"
            said = f"gain: the foils move as {much}: are those the gains that flew?"
            yield said, replace_values(craft, {address: times * before}), 0.0


def _misfit(runs: Sequence[Run], mapping: Mapping, craft: Craft, late: float, water: Water) -> float:
    """Mean over signals and bands; inf for a craft without a trim."""
    found: list[float] = []
    for run in runs:
        ((_, fleet),) = build_fleets([craft], water, round(run.speed, 1))
        (linear,) = linearise(fleet)
        if linear is None:
            return np.inf
        bands = measured_bands(run.record, craft)
        with np.errstate(invalid="ignore", divide="ignore"):
            off = bands.ratio / predicted_bands(linear, craft, bands, run.waves, mapping.water.depth, late)
            each = np.log(np.abs(off)) ** 2 + np.angle(off) ** 2
        found += np.minimum(each[np.isfinite(each)], MOST).tolist()
    return float(np.mean(found)) if found else 0.0

"""How near a design's struts and foils came to their strength in its flights, and how far they bent and twisted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.strength import strut_terms, tip_bend
from sweep.model.quantities import OF_STRENGTH, RESPONSE
from sweep.report.craft_sheet import Table
from sweep.report.display import condition_names
from sweep.words.numbers import percent, with_unit
from sweep.words.phrases import listed, together
from sweep.words.responses import response, response_title

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.campaign.foils import Struts
    from sweep.results.store import Results

COUNTED = ("overloads", "bends")
MASSES = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
LITTLE_USED, LITTLE_BENT = 0.33, 0.05
"""Masses to hang on a strut, kg, and how much of its strength and its length they may take (judgement)."""


def strength_table(results: Results, design: int, craft: Craft) -> Table:
    """A row a response of strength: its mean over the flights, the largest, and in which condition that was."""
    flights = results.flights_of(design)
    unsaid = craft.without_material()
    known = [name for name in OF_STRENGTH if name in flights and flights[name].notna().any()]
    if not known:
        return Table("Strength", [], [("struts and foils", "not judged: no material is given in the craft file")])
    rows = [_row(results, flights, name) for name in known]
    rows += [("not judged, for no material is given", listed(unsaid, "and"), "", "")] if unsaid else []
    return Table("Strength, in all flights", ["mean", "largest", "in"], rows)


def _row(results: Results, flights: pd.DataFrame, name: str) -> tuple[str, ...]:
    values = flights[name]
    worst = int(flights["condition"].to_numpy()[int(np.nanargmax(values.to_numpy(float)))])
    where = condition_names(results)[worst] if values.max() > 0.0 else ""
    if name in COUNTED:
        return (f"flights: {RESPONSE[name].meaning.removeprefix('1 if ')}", percent(float(values.mean())), "", where)
    return (response_title(name), response(name, float(values.mean())), response(name, float(values.max())), where)


def bench_loads(craft: Craft) -> Iterator[tuple[str, str]]:
    """What to hang on each kind of strut of a material with the boat on its side, and how far its foot then goes (M18.4)."""
    kinds: dict[Struts, list[str]] = {}
    for name, foil in craft.foils.items():
        kinds.setdefault(craft.strut_of(foil), []).append(name)
    for strut, foils in kinds.items():
        if strut.material is None:
            continue
        masses = [mass for mass in MASSES if _bears(strut, mass)]
        if masses:
            bend = _sinks(strut, masses[-1])
            hung = with_unit(masses[-1], "kg")
            every = f"foil {foils[0]}" if len(foils) == 1 else f"foils {together(foils)}, one after the other"
            yield (
                f"Lay the boat on its side, hold the hull, and hang {hung} on the foot of a strut of {every}.",
                f"It goes down by {with_unit(1000.0 * bend, 'mm')}. If by more, it is softer than was flown.",
            )


def _sinks(strut: Struts, mass: float) -> float:
    """How far (m) its foot goes down under a mass (kg)."""
    return tip_bend(mass * GRAVITY, strut.height, strut.height, 1.0 / strut_terms(strut).bend)


def _bears(strut: Struts, mass: float) -> bool:
    """Whether it bends little and is stressed little under a mass (kg)."""
    terms = strut_terms(strut)
    used = terms.stress * terms.strength * mass * GRAVITY * strut.height
    return used < LITTLE_USED and _sinks(strut, mass) < LITTLE_BENT * strut.height

"""The second model's ground: how deep the craft's lowest part is, from MODEL.md."""

from __future__ import annotations

import numpy as np

from tests.second.parts import to_body
from tests.second.sea import Vector
from tests.second.second_model import SecondModel, State, hub_place, rotation


def depth_of_lowest(model: SecondModel, state: State) -> float:
    """Depth below the calm level, m, of the deepest foil tip, strut foot, keel of a station or propeller tip."""
    craft, turn = model.craft, rotation(state.angles)
    wet: list[Vector] = [strut.foot for strut in model.struts] + [station.keel for station in model.stations]
    for foil in craft.foils.values():
        half = foil.span_length / 2.0
        rise = half * np.tan(foil.dihedral)
        wet += [to_body(np.array([foil.x, foil.y + y, rise - craft.struts.height]), model.mass.centre) for y in (-half, half)]
    circle = np.linspace(0.0, 2.0 * np.pi, 3601)
    disc = craft.propulsor.diameter / 2.0 * np.stack([0.0 * circle, np.sin(circle), np.cos(circle)], axis=1)
    half_spacing = (craft.propulsor.spacing or 0.0) / 2.0
    blades = np.concatenate([hub_place(model, y) + disc for y in (-half_spacing, half_spacing)])
    return float(state.position[2] + max(float((turn @ place)[2]) for place in [*wet, *blades]))

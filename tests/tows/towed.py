"""Foils and hulls in a tow tank of the model: lift and drag at an angle, a depth and a speed, by the kernels that fly boats.

A craft has two foils at least, so a T-foil is towed as two of its kind abreast, so far apart that they are strangers; halves of
their forces are told. SI.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from sweep.campaign.craft import Craft
from sweep.campaign.polars import read_polar
from sweep.campaign.text.resources import shipped
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.pack.fleet import build_fleets
from sweep.model.pack.trim import load, place_level, trim_forces
from sweep.model.physics.spectra import GRAVITY
from sweep.model.physics.water import fresh_water
from tests.model.crafts import courier

WATER = fresh_water(293.15, 3.0)
APART = 40.0  # m
STRUT = {"height": 1.0, "chord": 0.118, "thickness": 0.0165}


class Foil(NamedTuple):
    """A T-foil: span m, area m2, thickness over chord; polar: a shipped one, or the default section."""

    span: float
    area: float
    thickness: float
    polar: str | None = None
    flap: float | None = None
    strut: dict[str, float] = STRUT


class Towed(NamedTuple):
    """Lift and drag, N, by angle."""

    lift: np.ndarray
    drag: np.ndarray

    def drag_at(self, lift: float) -> float:
        """Where it lifts so much; raises ValueError where it was not towed to that lift."""
        if not self.lift[0] <= lift <= self.lift[-1]:
            raise ValueError(f"{lift:.0f} N of lift; towed from {self.lift[0]:.0f} to {self.lift[-1]:.0f} N")
        return float(np.interp(lift, self.lift, self.drag))


def rig(foil: Foil, depth: float) -> Craft:
    """Two of a T-foil abreast, `depth` m under the surface, the hull clear of it."""
    one: dict[str, Any] = {"x": 0.0, "area": foil.area, "span": foil.span, "thickness_ratio": foil.thickness, "flap": foil.flap}
    if foil.polar is not None:
        one["section"] = {"polar": foil.polar}
    polars = (
        {foil.polar: read_polar(shipped("configs") / "polars" / f"{foil.polar}.csv").section} if foil.polar is not None else {}
    )
    description = courier().model_dump() | {
        "foils": {"port": one | {"y": -0.5 * APART}, "starboard": one | {"y": 0.5 * APART}},
        "struts": courier().struts.model_dump() | foil.strut,
        "polars": polars,
    }
    description["steering"] = courier().steering.model_dump() | {"rudder": None}
    description["control"] = courier().control.model_dump() | {"ride_height": foil.strut["height"] - depth}
    return Craft.model_validate(description, context={"si": True})


def tow(foil: Foil, speed: float, depth: float, angles: np.ndarray) -> Towed:
    """At so many angles of the foil (or of its flap), rad, at most as many as there are lanes."""
    forces, weight = _forces(rig(foil, depth), speed, angles)
    return Towed(0.5 * (weight - forces[1]), -0.5 * forces[0])


def _forces(craft: Craft, speed: float, angles: np.ndarray, drafts: np.ndarray | None = None) -> tuple[np.ndarray, float]:
    """X, Z, M at each angle, or at each draft (m) of the hulls; and the weight, N."""
    ((_, fleet),) = build_fleets([craft], WATER, speed)
    counts = fleet.structure.counts
    workspace = load(fleet.parameters, counts)
    place_level(workspace, speed, at.MID)
    slots = workspace.reshape(-1, LANES)
    count = len(angles) if drafts is None else len(drafts)
    if drafts is not None:
        slots[at.MID.z, :count] = drafts - slots[at.KEEL, :count]
    unknowns, forces = np.zeros((3, LANES)), np.empty((3, LANES))
    unknowns[0, : len(angles)] = angles
    trim_forces(workspace, counts, WATER.density, unknowns, forces)
    return forces[:, :count], float(slots[at.MASS, 0] * GRAVITY)


def hull_drag(hull: dict[str, float], mass: float, speed: float) -> float:
    """N, of a hull alone, floating level with a mass (kg) in it."""
    tiny = {"area": 1e-6, "aspect_ratio": 6.0}
    description = courier().model_dump() | {
        "hulls": {"main": hull},
        "foils": {"one": tiny | {"x": 0.5, "y": 0.0}, "other": tiny | {"x": -0.5, "y": 0.0}},
        "struts": courier().struts.model_dump() | {"height": 0.01, "chord": 1e-3, "thickness": 1e-4},
        "body": courier().body.model_dump() | {"mass": mass},
    }
    description["steering"] = courier().steering.model_dump() | {"rudder": None}
    craft = Craft.model_validate(description, context={"si": True})
    drafts = np.linspace(0.2, 0.95, LANES) * hull["depth"]
    forces, _ = _forces(craft, speed, np.empty(0), drafts)
    return float(-np.interp(0.0, -forces[1], forces[0]))

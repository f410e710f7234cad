"""Foils that wands move, linear about trim: each follows its arm as a servo of second order follows a command."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.linear.differences import Floats, slopes
from sweep.linear.plant import Plant, moving
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import Lanes
from sweep.model.onboard.wand import STEEPEST, rest_on_water
from sweep.model.pack.fleet import Fleet


class Lead(NamedTuple):
    """A foil that a wand moves: its number; its angle where the arm rests, by_motion: (motion,), per state of MOTION, and
    by_water, rad/m, per elevation at the tip; tip: (2,), of that from the centre of gravity along X and Y, m; natural frequency
    (rad/s) and damping with which the arm comes there.
    """

    foil: int
    by_motion: Floats
    by_water: float
    tip: Floats
    bandwidth: float
    damping: float


def linearise_leads(fleet: Fleet, lanes: Lanes, nudge: float) -> list[tuple[Lead, ...]]:
    """The foils that wands move, of each design of a fleet of at most LANES in trim. Stops and play are left out."""
    slots = lanes.workspace.reshape(-1, LANES)
    motion = [[slot] for slot in moving(at.STATE)]
    found: list[list[Lead]] = [[] for _ in range(fleet.size)]
    for wand in range(fleet.structure.wands):
        first = wand * at.WAND.width

        def rest(first: int = first) -> Floats:
            rest_on_water(lanes.workspace, first)
            return slots[[first + at.WAND.angle]].copy()

        turns = slopes(lanes.workspace, [*motion, [at.RANGE_SEA]], rest, nudge, fleet)[:, 0]
        rest()
        pace = _pace(slots, first)
        for foil in range(fleet.structure.foils):
            row = foil * at.FOIL.width
            for i in range(fleet.size):
                if slots[row + at.FOIL.led, i] > 0.0 and slots[row + at.FOIL.led_by, i] == wand:
                    by = -slots[row + at.FOIL.gearing, i] * turns[i]
                    tip = slots[[first + at.WAND.tip.x, first + at.WAND.tip.z], i]
                    pitch = slots[at.PITCH_TRIM, i]
                    along = tip[0] * np.cos(pitch) + tip[1] * np.sin(pitch)
                    place = np.array([along, slots[first + at.WAND.tip.y, i]])
                    found[i].append(Lead(foil, by[:-1], float(by[-1]), place, *pace[:, i].tolist()))
    return [tuple(each) for each in found]


def _pace(slots: Floats, first: int) -> Floats:
    """Natural frequency (rad/s) and damping of a wand at rest, (2, lanes), from M19.4's slopes of its moment."""
    arm, inertia, drag = (slots[first + slot] for slot in (at.WAND.arm, at.WAND.inertia, at.WAND.drag))
    sine, cosine = np.sin(slots[first + at.WAND.angle]), np.cos(slots[first + at.WAND.angle])
    flow = {name: slots[getattr(at.WAND_FLOW, name)] for name in ("u", "w", "upright_x", "upright_z", "level")}
    drop = sine * flow["upright_z"] - cosine * flow["upright_x"]
    wet = np.clip((flow["level"] + arm * drop) / np.maximum(drop, STEEPEST), 0.0, arm)
    lever, speed = arm - 0.5 * wet, sine * flow["u"] + cosine * flow["w"]
    dips = arm * (sine * flow["upright_x"] + cosine * flow["upright_z"]) / np.maximum(drop, STEEPEST)
    stiff = np.maximum(drag * lever * speed**2 * dips, 1e-9)
    bandwidth = np.sqrt(stiff / inertia)
    return np.array([bandwidth, 2.0 * drag * wet * lever**2 * np.abs(speed) / (2.0 * inertia * bandwidth)])


def with_tips(plant: Plant, leads: tuple[Lead, ...]) -> Plant:
    """The plant with the tips of these wands as further points of the water, which do not move it by themselves."""
    if not leads:
        return plant
    places = np.array([[*lead.tip, 0.0] for lead in leads])
    still = np.zeros((len(plant.waves), len(leads), plant.waves.shape[2]))
    return plant._replace(places=np.vstack([plant.places, places]), waves=np.concatenate([plant.waves, still], axis=1))

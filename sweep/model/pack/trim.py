"""Trim: the height command, pitch command and throttle that carry the craft level at a speed in calm water."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.kernels.rigid_body import evaluate
from sweep.model.layout import row
from sweep.model.physics.spectra import GRAVITY
from sweep.model.records import Motion

ITERATIONS = 25  # of Newton's method; judgement
LONGEST_STEPS = (0.1, 0.03)  # rad and share of the throttle; judgement
NUDGE = 1e-6  # rad and share of the throttle, for slopes: between curvature and rounding
VOLTAGE_PASSES = 40  # power and voltage follow each other: a pass leaves a third at most of what was left; judgement
FOREVER = 1e4  # s: long enough for all lags to settle


@kernel
def passes(workspace: np.ndarray, foils: int) -> int:
    """Evaluations that settle all lags: one a foil's lift, another its wake at the next foil; more where the battery sags."""
    return VOLTAGE_PASSES if workspace[row(at.SAGS)] > 0.0 else 2 + 2 * foils


@kernel
def trim_forces(workspace: np.ndarray, counts: at.PartCounts, density: float, unknowns: np.ndarray, forces: np.ndarray) -> None:
    """Compute X (N), Z (N) and M (N m) of every lane at its commands, with lags settled (M21.2).

    unknowns and forces: (3, lanes).
    """
    for lane in range(LANES):
        workspace[row(at.THRUST_MID) + lane] = unknowns[2, lane]
        workspace[row(at.THRUST_LEFT) + lane] = 1.0
    for foil in range(counts.foils):
        f = row(foil * at.FOIL.width)
        for lane in range(LANES):
            workspace[f + row(at.FOIL.servo_mid) + lane] = (
                workspace[f + row(at.FOIL.mix.height) + lane] * unknowns[0, lane]
                + workspace[f + row(at.FOIL.mix.pitch) + lane] * unknowns[1, lane]
                + workspace[f + row(at.FOIL.led) + lane] * unknowns[0, lane]
            )
    for _ in range(passes(workspace, counts.foils)):
        evaluate(workspace, counts, density, FOREVER)
    for lane in range(LANES):
        forces[0, lane] = workspace[row(at.FORCE.x) + lane]
        forces[1, lane] = workspace[row(at.FORCE.z) + lane]
        forces[2, lane] = workspace[row(at.FORCE.m) + lane]


def load(parameters: np.ndarray, counts: at.PartCounts) -> np.ndarray:
    """A new workspace with one design in each lane. Spare lanes repeat the last design.

    parameters: (at most LANES, slots of the structure).
    """
    workspace = at.vector_zeros((at.SLOTS, LANES))
    used = parameters.shape[1]
    workspace[:used, : len(parameters)] = parameters.T
    workspace[:used, len(parameters) :] = parameters[-1][:, None]
    for flag in (at.SAGS, at.MATERIAL):
        workspace[flag] = workspace[flag].max()
    for foil in range(counts.foils):
        wakes = at.WAKES + foil * at.MAX_FOILS
        first, after = counts.strip_starts[foil], counts.strip_starts[foil + 1]
        strips = workspace[at.STRIP.first :][first * at.STRIP.width : after * at.STRIP.width]
        influences = strips.reshape(after - first, at.STRIP.width, LANES)[:, at.STRIP.influence.first - at.STRIP.first :]
        influences = influences.reshape(after - first, at.MAX_FOILS, at.INFLUENCE.width, LANES)
        felt = np.any(influences != 0.0, axis=(0, 2, 3))
        workspace[wakes : wakes + at.MAX_FOILS] = felt[:, None]
        flapped = foil * at.FOIL.width + at.FOIL.flapped
        workspace[flapped] = workspace[flapped].max()
    return workspace.ravel()


def place_level(workspace: np.ndarray, speed: float | np.ndarray, state: Motion) -> None:
    """Put every lane at its wanted height and pitch, on a straight and level course at a speed (m/s), or each at its own."""
    slots = workspace.reshape(-1, LANES)
    pitch = slots[at.PITCH_TRIM]
    slots[state.slots()] = 0.0
    slots[state.z] = -(slots[at.RIDE_HEIGHT] + np.cos(pitch) * slots[at.KEEL])
    slots[state.theta] = pitch
    slots[state.u] = speed * np.cos(pitch)
    slots[state.w] = speed * np.sin(pitch)


def solve_trim(
    parameters: np.ndarray, counts: at.PartCounts, density: float, speeds: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Trim of every design, (designs, 3): height and pitch command (rad), throttle; and whether each is feasible (M16.1).

    speeds: (designs,), m/s. Newton's method on all lanes at once, with slopes by finite differences. A trim is not feasible if
    no balance is found, if a foil is beyond its travel, or if the throttle is outside 0 ... 1.
    """
    trims = np.zeros((len(parameters), 3))
    feasible = np.zeros(len(parameters), dtype=bool)
    for start in range(0, len(parameters), LANES):
        some = parameters[start : start + LANES]
        workspace = load(some, counts)
        flown = speeds[start : start + LANES]
        place_level(workspace, np.pad(flown, (0, LANES - len(flown)), mode="edge"), at.MID)
        unknowns = _newton(workspace, counts, density)
        forces = np.empty((3, LANES))
        trim_forces(workspace, counts, density, unknowns, forces)
        slots = workspace.reshape(-1, LANES)
        balanced = np.abs(forces).max(axis=0) < 1e-6 * slots[at.MASS] * GRAVITY
        for foil in range(counts.foils):
            first = foil * at.FOIL.width
            balanced &= np.abs(slots[first + at.FOIL.servo_mid]) <= slots[first + at.FOIL.moved_by.travel]
        balanced &= (unknowns[2] >= 0.0) & (unknowns[2] <= 1.0)
        trims[start : start + len(some)] = unknowns[:, : len(some)].T
        feasible[start : start + len(some)] = balanced[: len(some)]
    return trims, feasible


def _newton(workspace: np.ndarray, counts: at.PartCounts, density: float) -> np.ndarray:
    """Seek the trim with long steps. Where these fail, at a stall or a kink of a wake, start again with short steps."""
    unknowns = np.zeros((3, LANES))
    unknowns[2] = workspace.reshape(-1, LANES)[at.TRIM.throttle]
    start = unknowns.copy()
    for longest in LONGEST_STEPS:
        found = _seek(workspace, counts, density, unknowns, longest)
        if found.all():
            break
        if longest != LONGEST_STEPS[-1]:
            unknowns[:, ~found] = start[:, ~found]
    return unknowns


def _seek(workspace: np.ndarray, counts: at.PartCounts, density: float, unknowns: np.ndarray, longest: float) -> np.ndarray:
    """Newton's method on the unknowns, in place, with steps of at most `longest`; return which lanes have converged."""
    forces = np.empty((3, LANES))
    nudged = np.empty((3, LANES))
    slopes = np.empty((LANES, 3, 3))
    step, steepest, found = np.zeros((3, LANES)), np.zeros(LANES), np.zeros(LANES, dtype=bool)
    for _ in range(ITERATIONS):
        trim_forces(workspace, counts, density, unknowns, forces)
        found |= np.abs(forces).max(axis=0) < 1e-9
        if found.all():
            break
        for i in range(3):
            unknowns[i] += NUDGE
            trim_forces(workspace, counts, density, unknowns, nudged)
            unknowns[i] -= NUDGE
            slopes[:, :, i] = ((nudged - forces) / NUDGE).T
        change = np.clip(-_solve(slopes, forces.T).T, -longest, longest)
        steepest = np.maximum(steepest, slopes[:, 0, 2])
        spent = (slopes[:, 0, 2] < 0.01 * steepest) & (step[2] > 0.0)  # beyond the power available: go half the way back
        change[2, spent] = -0.5 * step[2, spent]
        change[:, found] = 0.0  # a lane that has converged stays: its trim must not depend on the other lanes
        step = np.where(spent, 0.5 * step, change)
        unknowns += change
        np.clip(unknowns, -0.5, 3.0, out=unknowns)
    return found


def _solve(slopes: np.ndarray, forces: np.ndarray) -> np.ndarray:
    """Steps that bring the forces to zero; no step for a lane whose slopes are singular or not numbers."""
    sound = np.isfinite(slopes).all(axis=(1, 2)) & np.isfinite(forces).all(axis=1)
    steps = np.zeros_like(forces)
    sound[sound] &= np.abs(np.linalg.det(slopes[sound])) > 1e-9
    steps[sound] = np.linalg.solve(slopes[sound], forces[sound][:, :, None])[:, :, 0]
    return steps

"""A wand: an arm that swings about a hinge across the craft and trails aft, its end in the water (MODEL.md, section Wands).

Its angle is that of the arm below straight aft. The normal of the arm, n = (sin angle, 0, cos angle) in body axes, is the way
in which its end goes as the angle grows.
"""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, direction, nearest, sine_cosine
from sweep.model.kernels.frame import copy_rows, turn, vector
from sweep.model.layout import alike, row
from sweep.model.physics.spectra import GRAVITY

PARTS = 4
"""Equal parts of half a step in which a wand moves (judgement: a wand of 25 Hz is then followed within a hundredth)."""
RESTS, LONG = 80, 0.5  # steps, and their length (s), in which a wand comes to rest: judgement
STEEPEST = 0.1  # least rise of the arm over its length by which its wetted part is told (judgement)


@kernel
def place_tip(workspace: np.ndarray, wand: int) -> None:
    """Set the tip's place in body axes (m) from the angle. wand: slot at which its row begins (M19.1)."""
    w = row(wand)
    for lane in range(LANES):
        sine, cosine = sine_cosine(workspace[w + row(at.WAND.angle) + lane])
        arm = workspace[w + row(at.WAND.arm) + lane]
        workspace[w + row(at.WAND.tip.x) + lane] = workspace[w + row(at.WAND.x) + lane] - arm * cosine
        workspace[w + row(at.WAND.tip.y) + lane] = workspace[w + row(at.WAND.y) + lane]
        workspace[w + row(at.WAND.tip.z) + lane] = workspace[w + row(at.WAND.z) + lane] + arm * sine


@kernel
def meet(workspace: np.ndarray, wand: int, motion: int, ends: int) -> None:
    """Set WAND_FLOW of the wand whose row begins at slot `wand`, at the end of half a step (M19.2).

    motion: first slot of the craft's motion then, whose rotation is WAND_ROTATION; ends: MID_STEP, or END_STEP where the water
    is a quarter of its change further on than in the middle of the step.
    """
    w, m, r = row(wand), row(motion), row(at.WAND_ROTATION.first)
    later = alike(workspace, ends)
    for lane in range(LANES):
        x, y, z = vector(workspace, w + row(at.WAND.x) + lane)
        u = workspace[m + row(at.MOTION.u) + lane]
        v = workspace[m + row(at.MOTION.v) + lane]
        down = workspace[m + row(at.MOTION.w) + lane]
        p = workspace[m + row(at.MOTION.p) + lane]
        q = workspace[m + row(at.MOTION.q) + lane]
        yaw = workspace[m + row(at.MOTION.r) + lane]
        water_x, water_y, water_z = vector(workspace, w + row(at.WAND.sea.u) + lane)
        xx, yx, zx = (
            workspace[r + row(at.MATRIX.xx) + lane],
            workspace[r + row(at.MATRIX.yx) + lane],
            workspace[r + row(at.MATRIX.zx) + lane],
        )
        xz, yz, zz = (
            workspace[r + row(at.MATRIX.xz) + lane],
            workspace[r + row(at.MATRIX.yz) + lane],
            workspace[r + row(at.MATRIX.zz) + lane],
        )
        dp = workspace[row(at.RATE.p) + lane]
        dq = workspace[row(at.RATE.q) + lane]
        dr = workspace[row(at.RATE.r) + lane]
        force_x = workspace[row(at.RATE.u) + lane] + q * down - yaw * v - GRAVITY * zx
        force_z = workspace[row(at.RATE.w) + lane] + p * v - q * u - GRAVITY * zz
        force_x += dq * z - dr * y + q * (p * y - q * x) - yaw * (yaw * x - p * z)
        force_z += dp * y - dq * x + p * (yaw * x - p * z) - q * (q * z - yaw * y)
        workspace[row(at.WAND_FLOW.u) + lane] = u + q * z - yaw * y - (xx * water_x + yx * water_y + zx * water_z)
        workspace[row(at.WAND_FLOW.w) + lane] = down + p * y - q * x - (xz * water_x + yz * water_y + zz * water_z)
        workspace[row(at.WAND_FLOW.q) + lane] = q
        workspace[row(at.WAND_FLOW.q_rate) + lane] = dq
        workspace[row(at.WAND_FLOW.force_x) + lane] = force_x
        workspace[row(at.WAND_FLOW.force_z) + lane] = force_z
        workspace[row(at.WAND_FLOW.upright_x) + lane] = zx
        workspace[row(at.WAND_FLOW.upright_z) + lane] = zz
        surface = workspace[w + row(at.WAND.sea.eta) + lane] + later * workspace[w + row(at.WAND.sea_before.quarter.eta) + lane]
        workspace[row(at.WAND_FLOW.level) + lane] = (
            workspace[m + row(at.MOTION.z) + lane] + (zx * x + workspace[r + row(at.MATRIX.zy) + lane] * y + zz * z) + surface
        )


@kernel
def swing(workspace: np.ndarray, wand: int, share: float, time: float) -> None:
    """Move the angle of a wand by a part of half a step, `time` long (s), in WAND_FLOW (M19.3, M19.4).

    wand: slot at which its row begins; share: of the half step, at the end of this part. Backward Euler with the slopes of the
    moment by angle and by rate, so that no step is too long for a stiff wand.
    """
    w = row(wand)
    share, time = alike(workspace, share), alike(workspace, time)
    for lane in range(LANES):
        arm = workspace[w + row(at.WAND.arm) + lane]
        angle = workspace[w + row(at.WAND.angle) + lane]
        rate = workspace[w + row(at.WAND.rate) + lane]
        before = workspace[w + row(at.WAND.level) + lane]
        level = before + share * (workspace[row(at.WAND_FLOW.level) + lane] - before)
        upright_x = workspace[row(at.WAND_FLOW.upright_x) + lane]
        upright_z = workspace[row(at.WAND_FLOW.upright_z) + lane]
        sine, cosine = sine_cosine(angle)
        drop = sine * upright_z - cosine * upright_x
        steep = max(drop, STEEPEST)
        reach = (level + arm * drop) / steep
        wet = clip(reach, 0.0, arm)
        lever = arm - 0.5 * wet
        speed = (
            sine * workspace[row(at.WAND_FLOW.u) + lane]
            + cosine * workspace[row(at.WAND_FLOW.w) + lane]
            + lever * (rate + workspace[row(at.WAND_FLOW.q) + lane])
        )
        per_wet = workspace[w + row(at.WAND.drag) + lane] * lever * abs(speed)
        pull = sine * workspace[row(at.WAND_FLOW.force_x) + lane] + cosine * workspace[row(at.WAND_FLOW.force_z) + lane]
        inertia = workspace[w + row(at.WAND.inertia) + lane]
        moment = (
            workspace[w + row(at.WAND.spring) + lane]
            - workspace[w + row(at.WAND.weight) + lane] * pull
            - inertia * workspace[row(at.WAND_FLOW.q_rate) + lane]
            - per_wet * wet * speed
        )
        dipping = max(sine * upright_x + cosine * upright_z, 0.0) * arm / steep
        by_angle = per_wet * max(speed, 0.0) * dipping if 0.0 < reach < arm else 0.0
        by_rate = 2.0 * per_wet * wet * lever
        rate += time * (moment - time * by_angle * rate) / (inertia + time * by_rate + time * time * by_angle)
        moved = angle + time * rate
        least, most = workspace[w + row(at.WAND.least) + lane], workspace[w + row(at.WAND.most) + lane]
        kept = clip(moved, least, most)
        workspace[w + row(at.WAND.angle) + lane] = kept
        workspace[w + row(at.WAND.rate) + lane] = rate if kept == moved else 0.0


@kernel
def move_wands(workspace: np.ndarray, wands: int, motion: int, ends: int, half: float) -> None:
    """Advance every wand by half a step (s). motion: first slot of the craft's motion at its end; ends: as in `meet`."""
    if wands > 0:
        turn(workspace, motion + at.MOTION.phi, at.WAND_ROTATION.first)
    for wand in range(wands):
        place = wand * at.WAND.width
        meet(workspace, place, motion, ends)
        for i in range(PARTS):
            swing(workspace, place, (i + 1.0) / PARTS, half / PARTS)
        stay(workspace, place)


@kernel
def stay(workspace: np.ndarray, wand: int) -> None:
    """Keep the depth of the hinge at the end of half a step, from which the next one starts. wand: slot of its row."""
    w = row(wand)
    for lane in range(LANES):
        workspace[w + row(at.WAND.level) + lane] = workspace[row(at.WAND_FLOW.level) + lane]


@kernel
def lead(workspace: np.ndarray, foil: int) -> None:
    """Turn a foil that a wand moves, where it is not held, as its linkage does (M21.1, M21.3).

    foil: slot at which its row begins. Needs SERVO_AT_WORK.held. Instead of `move_half` in these lanes.
    """
    f = row(foil)
    for lane in range(LANES):
        led = workspace[f + row(at.FOIL.led) + lane] > 0.0
        w = row(int(workspace[f + row(at.FOIL.led_by) + lane]) * at.WAND.width)
        swung = workspace[w + row(at.WAND.angle) + lane] - workspace[f + row(at.FOIL.led_rest) + lane]
        travel = workspace[f + row(at.FOIL.moved_by.travel) + lane]
        turned = workspace[row(at.TRIM.height) + lane] - workspace[f + row(at.FOIL.gearing) + lane] * swung
        kept = workspace[f + row(at.FOIL.servo.angle) + lane]
        moves = led and workspace[row(at.SERVO_AT_WORK.held) + lane] == 0.0
        workspace[f + row(at.FOIL.servo.angle) + lane] = clip(turned, -travel, travel) if moves else kept


@kernel
def set_levels(workspace: np.ndarray, wands: int) -> None:
    """Start every wand in still water: the depth of its hinge at the STATE."""
    turn(workspace, at.STATE.phi, at.WAND_ROTATION.first)
    for wand in range(wands):
        meet(workspace, wand * at.WAND.width, at.STATE.first, at.MID_STEP)
        stay(workspace, wand * at.WAND.width)


@kernel
def rest_on_water(workspace: np.ndarray, wand: int) -> None:
    """Let a wand come to rest at the STATE, on water as high as RANGE_SEA (m) that does not flow. wand: slot of its row.

    Long steps of `swing` from rest are Newton's method on its moment.
    """
    copy_rows(workspace, wand + at.WAND.sea.eta, at.RANGE_SEA, at.ONE)
    turn(workspace, at.STATE.phi, at.WAND_ROTATION.first)
    meet(workspace, wand, at.STATE.first, at.MID_STEP)
    stay(workspace, wand)
    for _ in range(RESTS):
        clear_rows(workspace, wand + at.WAND.rate, at.ONE)
        swing(workspace, wand, 1.0, LONG)
    clear_rows(workspace, wand + at.WAND.rate, at.ONE)
    place_tip(workspace, wand)


@kernel
def clear_rows(workspace: np.ndarray, first: int, slots: int) -> None:
    """Set consecutive slots of all lanes to 0."""
    place = row(first)
    for i in range(row(slots)):
        workspace[place + i] = 0.0


@part
def drop_of_tip(workspace: np.ndarray, lane: int, sensor: int) -> float:
    """How far (m) the tip is below its hinge along body z, of the wand that a rangefinder reads (M19.5)."""
    w = row(int(workspace[row(at.RANGE_WAND + sensor) + lane]) * at.WAND.width)
    sine, _ = sine_cosine(workspace[w + row(at.WAND.angle) + lane])
    return workspace[w + row(at.WAND.arm) + lane] * sine


@kernel
def by_whole_steps(workspace: np.ndarray, lane: int, sensor: int, reading: float) -> float:
    """A reading (m) of a wand's sensor in whole steps of its angle (M19.5)."""
    w = row(int(workspace[row(at.RANGE_WAND + sensor) + lane]) * at.WAND.width)
    arm, step = workspace[w + row(at.WAND.arm) + lane], workspace[row(at.RANGE_ANGLE_STEP + sensor) + lane]
    sine = clip(reading / arm, -1.0, 1.0)
    angle = direction(sine, math.sqrt(1.0 - sine * sine))
    sine, _ = sine_cosine(nearest(angle / step) * step)
    return arm * sine

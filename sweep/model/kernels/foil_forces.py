"""Forces on the foils: every strip's lift and drag at its depth and angle, and the wakes that travel aft."""

from __future__ import annotations

import math

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import arctangent, clip, exp_negative, smoothstep
from sweep.model.kernels.frame import LEAST_SPEED, add_force, add_moment, copy_rows, point_depth, relative_velocity
from sweep.model.kernels.wakes import foil_depths, send_wakes, strip_downwash
from sweep.model.physics.flap import flap_now, largest_lift
from sweep.model.physics.foil import biplane_factor, drag_coefficient, froude_factor, lift_and_stall, lift_slope, surface_factor
from sweep.model.physics.section import NODES

NODE_0, NODE_1, NODE_2, NODE_3, NODE_4 = NODES

_V = (at.MID + 6) * LANES
_FOIL = at.AT_WORK * LANES
_STRIP = at.STRIP_AT_WORK * LANES
_SECTION = at.SECTION_AT_WORK * LANES


@part
def at_node(workspace: np.ndarray, lowest: int, first: float, second: float, third: float, fourth: float) -> float:
    """One of the section's values between the nodes of the Reynolds number, by its index at the lowest of them.

    The other arguments: how far past each node.
    """
    stride = at.SECTION_VALUES * LANES
    return (
        workspace[lowest]
        + first * workspace[lowest + stride]
        + second * workspace[lowest + 2 * stride]
        + third * workspace[lowest + 3 * stride]
        + fourth * workspace[lowest + 4 * stride]
    )


@kernel
def section_now(workspace: np.ndarray) -> None:
    """The section of the foil at work at the Reynolds number of the craft's forward speed."""
    for lane in range(LANES):
        log = workspace[at.FRICTION_LOG * LANES + lane] + workspace[_SECTION + 5 * at.SECTION_VALUES * LANES + lane]
        lowest = _SECTION + lane
        first = clip((log - NODE_0) * (1.0 / (NODE_1 - NODE_0)), 0.0, 1.0)
        second = clip((log - NODE_1) * (1.0 / (NODE_2 - NODE_1)), 0.0, 1.0)
        third = clip((log - NODE_2) * (1.0 / (NODE_3 - NODE_2)), 0.0, 1.0)
        fourth = clip((log - NODE_3) * (1.0 / (NODE_4 - NODE_3)), 0.0, 1.0)
        workspace[_FOIL + at.SECTION_SLOPE * LANES + lane] = at_node(workspace, lowest, first, second, third, fourth)
        workspace[_FOIL + at.LIFT_MAX * LANES + lane] = at_node(workspace, lowest + LANES, first, second, third, fourth)
        workspace[_FOIL + at.ZERO_LIFT * LANES + lane] = at_node(workspace, lowest + 2 * LANES, first, second, third, fourth)
        log_drag = at_node(workspace, lowest + 3 * LANES, first, second, third, fourth)
        workspace[_FOIL + at.PROFILE * LANES + lane] = exp_negative(log_drag)
        workspace[_FOIL + at.DRAG_RISE * LANES + lane] = at_node(workspace, lowest + 4 * LANES, first, second, third, fourth)
        workspace[_FOIL + at.DRAG_STEEP * LANES + lane] = at_node(workspace, lowest + 5 * LANES, first, second, third, fourth)
        workspace[_FOIL + at.LEAST_DRAG * LANES + lane] = at_node(workspace, lowest + 6 * LANES, first, second, third, fourth)


@kernel
def turn_now(workspace: np.ndarray, foil: int) -> None:
    """What the servo of the foil at work makes of its lift, drag and moment now."""
    copy_rows(workspace, at.AT_WORK + at.TURNED, at.AT_WORK + at.SERVO_MID, at.ONE)
    if workspace[(at.AT_WORK + at.FLAPPED) * LANES] > 0.0:
        copy_rows(workspace, at.FLAP_AT_WORK, at.FOIL + foil * at.FOIL_STRIDE + at.FLAP, at.FLAP_VALUES)
        flap_now(workspace)


@part
def flow_at_strip(workspace: np.ndarray, lane: int) -> tuple[float, float]:
    """Forward and normal part (m/s) of the strip's velocity through the water."""
    u, v, w = relative_velocity(
        workspace,
        lane,
        workspace[_STRIP + lane],
        workspace[_STRIP + LANES + lane],
        workspace[_STRIP + 2 * LANES + lane],
        workspace[_STRIP + (at.STRIP_SEA + 1) * LANES + lane],
        workspace[_STRIP + (at.STRIP_SEA + 2) * LANES + lane],
        workspace[_STRIP + (at.STRIP_SEA + 3) * LANES + lane],
    )
    normal = (
        v * workspace[_STRIP + at.STRIP_NORMAL * LANES + lane] + w * workspace[_STRIP + (at.STRIP_NORMAL + 1) * LANES + lane]
    )
    return u, normal


@part
def effective_angle(workspace: np.ndarray, lane: int, ratio: float, speed: float, lag_time: float) -> float:
    """Angle from zero lift (rad) that the lift follows; the strip's lag moves on by lag_time (s).

    ratio: normal over forward velocity.
    """
    angle = (
        arctangent(clip(ratio, -2.0, 2.0))
        + workspace[_FOIL + at.FIXED_ANGLE * LANES + lane]
        - workspace[_FOIL + at.ZERO_LIFT * LANES + lane]
        + workspace[_FOIL + at.TURNED * LANES + lane]
        - workspace[_STRIP + at.STRIP_DOWNWASH * LANES + lane]
    )
    lag = workspace[_STRIP + at.STRIP_LAG_MID * LANES + lane]
    fade = exp_negative(-lag_time * workspace[_FOIL + at.LAG_RATE * LANES + lane] * speed)
    workspace[_STRIP + at.STRIP_LAG_MID * LANES + lane] = (
        angle + (workspace[_STRIP + at.STRIP_LAG * LANES + lane] - angle) * fade
    )
    share = workspace[_FOIL + at.LAG_SHARE * LANES + lane]
    return (1.0 - share) * angle + share * lag


@part
def lift_and_drag(
    workspace: np.ndarray, lane: int, depth: float, effective: float, speed_squared: float
) -> tuple[float, float]:
    """Coefficients of the strip at work at a depth (m) and an angle from zero lift (rad)."""
    aspect = workspace[_FOIL + at.ASPECT * LANES + lane]
    under = max(depth, 0.0)
    chords_deep = under / workspace[_FOIL + at.CHORD * LANES + lane]
    biplane = biplane_factor(2.0 * under / workspace[_FOIL + at.SPAN * LANES + lane])
    froude = froude_factor(chords_deep, aspect, speed_squared, under)
    slope = lift_slope(workspace[_FOIL + at.SECTION_SLOPE * LANES + lane], aspect, surface_factor(chords_deep), biplane, froude)
    lift_max = workspace[_FOIL + at.LIFT_MAX * LANES + lane]
    most = largest_lift(lift_max, workspace[_FOIL + at.LIFT_SHIFT * LANES + lane], effective)
    lift, stalled, sine = lift_and_stall(slope, effective, most)
    lift *= workspace[_FOIL + at.LIFT_FACTOR * LANES + lane]
    drag = drag_coefficient(
        lift,
        workspace[_FOIL + at.PROFILE * LANES + lane],
        workspace[_FOIL + at.DRAG_RISE * LANES + lane],
        workspace[_FOIL + at.DRAG_STEEP * LANES + lane],
        workspace[_FOIL + at.LEAST_DRAG * LANES + lane],
        biplane,
        aspect,
        stalled,
        sine,
    )
    return lift, drag


@part
def note_strip(
    workspace: np.ndarray, lane: int, eta: float, depth: float, effective: float, wet_lift: float, share: float
) -> None:
    """What the foil and the flight's record keep of a strip: shallowest tip, largest angle, mean lift."""
    tip_y = workspace[_STRIP + at.STRIP_TIP * LANES + lane]
    tip_z = workspace[_STRIP + (at.STRIP_TIP + 1) * LANES + lane]
    tip = point_depth(workspace, lane, workspace[_STRIP + lane], tip_y, tip_z) + eta
    shallowest = workspace[_FOIL + at.TIP_DEPTH * LANES + lane]
    workspace[_FOIL + at.TIP_DEPTH * LANES + lane] = tip if tip < shallowest else shallowest
    loaded = abs(effective)
    most = workspace[_FOIL + at.LOADED * LANES + lane]
    workspace[_FOIL + at.LOADED * LANES + lane] = loaded if loaded > most else most
    workspace[_FOIL + at.LIFT_MEAN * LANES + lane] += share * wet_lift
    workspace[_STRIP + at.STRIP_DEPTH * LANES + lane] = depth
    workspace[_STRIP + at.STRIP_LIFT * LANES + lane] = wet_lift


@kernel
def strip_force(workspace: np.ndarray, density: float, lag_time: float, share: float) -> None:
    """Lift and drag of the strip at work; its lift lag moves on by lag_time (s).

    share: what the strip counts for in the foil's mean lift.
    """
    for lane in range(LANES):
        x = workspace[_STRIP + lane]
        y = workspace[_STRIP + LANES + lane]
        z = workspace[_STRIP + 2 * LANES + lane]
        ahead, w = flow_at_strip(workspace, lane)
        u = max(ahead, LEAST_SPEED)
        speed_squared = u * u + w * w
        speed = math.sqrt(speed_squared)
        effective = effective_angle(workspace, lane, w / u, speed, lag_time)
        eta = workspace[_STRIP + at.STRIP_SEA * LANES + lane]
        depth = point_depth(workspace, lane, x, y, z) + eta
        lift, drag = lift_and_drag(workspace, lane, depth, effective, speed_squared)
        wet = smoothstep(4.0 * depth / workspace[_FOIL + at.CHORD * LANES + lane] + 0.5)  # judgement: over a quarter chord
        pressure = 0.5 * density * speed_squared * wet
        area = workspace[_FOIL + at.STRIP_AREA * LANES + lane]
        weed = share * workspace[_FOIL + at.WEED_AREA * LANES + lane]
        way = clip(ahead * (1.0 / LEAST_SPEED), -1.0, 1.0)  # drag is none at rest, and turns round astern
        downwash = workspace[_STRIP + at.STRIP_DOWNWASH * LANES + lane]  # it leans the lift aft
        along = pressure * (area * (lift * (w - downwash * u) - way * drag * u) / speed - way * weed)
        across = -pressure * area * (lift * u + drag * w) / speed
        normal_y = workspace[_STRIP + at.STRIP_NORMAL * LANES + lane]
        normal_z = workspace[_STRIP + (at.STRIP_NORMAL + 1) * LANES + lane]
        add_force(workspace, lane, x, y, z, along, across * normal_y, across * normal_z)
        chord = workspace[_FOIL + at.CHORD * LANES + lane]
        nose_up = pressure * area * chord * workspace[_FOIL + at.MOMENT_SHIFT * LANES + lane]
        add_moment(workspace, lane, nose_up * normal_z, -nose_up * normal_y)
        note_strip(workspace, lane, eta, depth, effective, lift * wet, share)


@kernel
def foil_forces(workspace: np.ndarray, counts: np.ndarray, density: float, lag_time: float) -> None:
    """All foils, strip by strip; then their wakes travel aft for lag_time (s). counts as `fleet.Structure.counts`."""
    foil_depths(workspace, counts[0])
    for foil in range(counts[0]):
        copy_rows(workspace, at.AT_WORK, at.FOIL + foil * at.FOIL_STRIDE, at.FIRST_RESULT)
        copy_rows(workspace, at.SECTION_AT_WORK, at.FOIL + foil * at.FOIL_STRIDE + at.SECTION, 5 * at.SECTION_VALUES + 1)
        section_now(workspace)
        turn_now(workspace, foil)
        for lane in range(LANES):
            workspace[_FOIL + at.LIFT_MEAN * LANES + lane] = 0.0
            workspace[_FOIL + at.TIP_DEPTH * LANES + lane] = 1e9
            workspace[_FOIL + at.LOADED * LANES + lane] = 0.0
        share = 1.0 / (counts[at.FIRST_STRIP + foil + 1] - counts[at.FIRST_STRIP + foil])
        for strip in range(counts[at.FIRST_STRIP + foil], counts[at.FIRST_STRIP + foil + 1]):
            strip_row = at.STRIP + strip * at.STRIP_STRIDE
            copy_rows(workspace, at.STRIP_AT_WORK, strip_row, at.STRIP_FIRST_RESULT + 1)
            strip_downwash(workspace, foil, strip, counts[0])
            strip_force(workspace, density, lag_time, share)
            results = at.STRIP_AFTER_RESULT - at.STRIP_FIRST_RESULT
            copy_rows(workspace, strip_row + at.STRIP_FIRST_RESULT, at.STRIP_AT_WORK + at.STRIP_FIRST_RESULT, results)
        results = at.AFTER_RESULT - at.FIRST_RESULT
        copy_rows(workspace, at.FOIL + foil * at.FOIL_STRIDE + at.FIRST_RESULT, at.AT_WORK + at.FIRST_RESULT, results)
    send_wakes(workspace, counts[0], lag_time)

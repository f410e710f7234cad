"""Forces on the foils: lift and drag of every strip at its depth and angle of attack, and the wakes that travel aft."""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, fused, kernel, part
from sweep.model.elementary import angle_of_half, clip, exp_negative, smoothstep
from sweep.model.kernels.frame import LEAST_SPEED, add_force, add_moment, copy_rows, point_depth, relative_velocity, vector
from sweep.model.kernels.wakes import foil_depths, send_wakes, strip_downwash
from sweep.model.layout import row
from sweep.model.physics.flap import flap_now, largest_lift
from sweep.model.physics.foil import (
    DragPolar,
    drag_coefficient,
    lift_and_stall,
    near_surface,
    slope_near_surface,
)
from sweep.model.physics.section import NODES

STEEPEST = (math.sqrt(5.0) - 1.0) / 2.0  # tangent of half the angle whose tangent is 2
NODE_0, NODE_1, NODE_2, NODE_3, NODE_4 = NODES


Nodes: TypeAlias = tuple[float, float, float, float]


@part
def past_nodes(log: float) -> Nodes:
    """How far log10 of a Reynolds number is from each node towards the next: 0 before the interval, 1 past it."""
    return (
        clip((log - NODE_0) * (1.0 / (NODE_1 - NODE_0)), 0.0, 1.0),
        clip((log - NODE_1) * (1.0 / (NODE_2 - NODE_1)), 0.0, 1.0),
        clip((log - NODE_2) * (1.0 / (NODE_3 - NODE_2)), 0.0, 1.0),
        clip((log - NODE_3) * (1.0 / (NODE_4 - NODE_3)), 0.0, 1.0),
    )


@fused
def at_node(workspace: np.ndarray, lane: int, lowest: int, past: Nodes) -> float:
    """One value of the section, interpolated between Reynolds-number nodes. lowest: slot of the value at the lowest node."""
    further = at.SECTION_AT_WORK.nodes.width
    return (
        workspace[row(lowest) + lane]
        + past[0] * workspace[row(lowest + further) + lane]
        + past[1] * workspace[row(lowest + 2 * further) + lane]
        + past[2] * workspace[row(lowest + 3 * further) + lane]
        + past[3] * workspace[row(lowest + 4 * further) + lane]
    )


@kernel
def sections_now(workspace: np.ndarray, foils: int) -> None:
    """Section values of all foils, at the Reynolds number of their chord and the craft's forward speed (M4.3)."""
    for foil in range(foils):
        place = foil * at.FOIL.width
        copy_rows(workspace, at.SECTION_AT_WORK.first, place + at.FOIL.section.first, at.SECTION_AT_WORK.width)
        section_now(workspace)
        copy_rows(workspace, place + at.FOIL.lift_slope, at.FOIL_AT_WORK.lift_slope, at.SECTION_VALUES)


@kernel
def section_now(workspace: np.ndarray) -> None:
    """Section values of the foil at work."""
    nodes = at.SECTION_AT_WORK.nodes
    foil = at.FOIL_AT_WORK
    for lane in range(LANES):
        past = past_nodes(workspace[row(at.FRICTION_LOG) + lane] + workspace[row(at.SECTION_AT_WORK.chord_log) + lane])
        log_drag = at_node(workspace, lane, nodes.log_drag, past)
        workspace[row(foil.lift_slope) + lane] = at_node(workspace, lane, nodes.lift_slope, past)
        workspace[row(foil.lift_max) + lane] = at_node(workspace, lane, nodes.lift_max, past)
        workspace[row(foil.zero_lift) + lane] = at_node(workspace, lane, nodes.zero_lift, past)
        workspace[row(foil.profile) + lane] = exp_negative(log_drag)
        workspace[row(foil.drag_rise) + lane] = at_node(workspace, lane, nodes.drag_rise, past)
        workspace[row(foil.drag_steep) + lane] = at_node(workspace, lane, nodes.drag_steep, past)
        workspace[row(foil.least_drag) + lane] = at_node(workspace, lane, nodes.least_drag, past)


@kernel
def turn_now(workspace: np.ndarray, foil: int) -> None:
    """Effect of the servo's present angle on the foil's lift, drag and moment."""
    copy_rows(workspace, at.FOIL_AT_WORK.turned, at.FOIL_AT_WORK.servo_mid, at.ONE)
    if workspace[row(at.FOIL_AT_WORK.flapped)] > 0.0:
        copy_rows(workspace, at.FLAP_AT_WORK.first, at.FOIL.flap.first + foil * at.FOIL.width, at.FLAP_AT_WORK.width)
        flap_now(workspace)


@part
def flow_at_strip(workspace: np.ndarray, lane: int, strip: int) -> tuple[float, float]:
    """Components of the strip's velocity through the water: forward, and normal to the strip (m/s; M4.1)."""
    place = vector(workspace, strip + row(at.STRIP.x) + lane)
    u, v, w = relative_velocity(workspace, lane, place, vector(workspace, strip + row(at.STRIP.sea.u) + lane))
    normal = v * workspace[strip + row(at.STRIP.normal.y) + lane] + w * workspace[strip + row(at.STRIP.normal.z) + lane]
    return u, normal


@part
def effective_angle(workspace: np.ndarray, lane: int, strip: int, half: float, speed: float, lag_time: float) -> float:
    """Effective angle from zero lift (rad), unsteady lag included; advances the strip's lag by lag_time (s; M4.2, M4.6).

    half: tangent of half the flow angle; speed in m/s.
    """
    angle = (
        angle_of_half(clip(half, -STEEPEST, STEEPEST))
        + workspace[row(at.FOIL_AT_WORK.fixed_angle) + lane]
        - workspace[row(at.FOIL_AT_WORK.zero_lift) + lane]
        + workspace[row(at.FOIL_AT_WORK.turned) + lane]
        - workspace[row(at.STRIP_AT_WORK.downwash) + lane]
    )
    lag = workspace[strip + row(at.STRIP.lag_mid) + lane]
    fade = exp_negative(-lag_time * workspace[strip + row(at.STRIP.lag_rate) + lane] * speed)
    workspace[row(at.STRIP_AT_WORK.lag_mid) + lane] = angle + (workspace[strip + row(at.STRIP.lag) + lane] - angle) * fade
    share = workspace[row(at.FOIL_AT_WORK.lag_share) + lane]
    return (1.0 - share) * angle + share * lag


@part
def lift_and_drag(
    workspace: np.ndarray, lane: int, strip: int, depth: float, effective: float, speed_squared: float
) -> tuple[float, float]:
    """Lift and drag coefficients of the strip at work, at a depth (m) and an angle from zero lift (rad; M4.7 to M4.12).

    speed_squared in m2/s2.
    """
    aspect = workspace[row(at.FOIL_AT_WORK.aspect) + lane]
    half_spans = workspace[row(at.FOIL_AT_WORK.half_spans) + lane]
    under = max(depth, 0.0)
    chords_deep = under * workspace[strip + row(at.STRIP.chords) + lane]
    near = near_surface(chords_deep, under * half_spans, aspect, speed_squared, under)
    slope, inverse = slope_near_surface(workspace[row(at.FOIL_AT_WORK.lift_slope) + lane], aspect, near)
    lift_max = workspace[row(at.FOIL_AT_WORK.lift_max) + lane]
    most = largest_lift(lift_max, workspace[row(at.FOIL_AT_WORK.lift_shift) + lane], effective)
    lift, stalled, sine = lift_and_stall(slope, inverse, effective, most)
    lift *= workspace[row(at.FOIL_AT_WORK.lift_factor) + lane]
    polar = DragPolar(
        profile=workspace[row(at.FOIL_AT_WORK.profile) + lane],
        rise=workspace[row(at.FOIL_AT_WORK.drag_rise) + lane],
        steep=workspace[row(at.FOIL_AT_WORK.drag_steep) + lane],
        lift_of_least_drag=workspace[row(at.FOIL_AT_WORK.least_drag) + lane],
    )
    slenderness = 0.5 * workspace[row(at.FOIL_AT_WORK.chord) + lane] * half_spans
    return lift, drag_coefficient(lift, polar, near.biplane, slenderness, stalled, sine)


@part
def note_strip(workspace: np.ndarray, lane: int, strip: int, depth: float, effective: float, wet_lift: float) -> None:
    """Record a strip's values; update the foil's shallowest tip, largest angle and mean lift.

    depth in m; effective: angle from zero lift, rad; wet_lift: lift coefficient x wetted share.
    """
    tip = point_depth(workspace, lane, vector(workspace, strip + row(at.STRIP.tip.x) + lane))
    tip += workspace[strip + row(at.STRIP.sea.eta) + lane]
    shallowest = workspace[row(at.FOIL_AT_WORK.tip_depth) + lane]
    workspace[row(at.FOIL_AT_WORK.tip_depth) + lane] = tip if tip < shallowest else shallowest
    loaded = abs(effective)
    most = workspace[row(at.FOIL_AT_WORK.loaded) + lane]
    workspace[row(at.FOIL_AT_WORK.loaded) + lane] = loaded if loaded > most else most
    workspace[row(at.FOIL_AT_WORK.lift_mean) + lane] += workspace[strip + row(at.STRIP.share) + lane] * wet_lift
    workspace[row(at.STRIP_AT_WORK.depth) + lane] = depth
    workspace[row(at.STRIP_AT_WORK.lift) + lane] = wet_lift


@kernel
def strip_force(workspace: np.ndarray, slot: int, density: float, lag_time: float) -> None:
    """Add the lift, drag and moment of the strip at work; advance its lift lag by lag_time (s; M4.13).

    slot: where the strip's row begins; density in kg/m3.
    """
    strip = row(slot)
    for lane in range(LANES):
        place = vector(workspace, strip + row(at.STRIP.x) + lane)
        ahead, w = flow_at_strip(workspace, lane, strip)
        u = max(ahead, LEAST_SPEED)
        speed_squared = u * u + w * w
        speed = math.sqrt(speed_squared)
        inverse = 1.0 / (speed * (u + speed))  # one division for both quotients
        effective = effective_angle(workspace, lane, strip, w * speed * inverse, speed, lag_time)
        depth = point_depth(workspace, lane, place) + workspace[strip + row(at.STRIP.sea.eta) + lane]
        lift, drag = lift_and_drag(workspace, lane, strip, depth, effective, speed_squared)
        chord = workspace[strip + row(at.STRIP.chord) + lane]
        wet = smoothstep(4.0 * depth * workspace[strip + row(at.STRIP.chords) + lane] + 0.5)  # judgement: a quarter chord
        pressure = 0.5 * density * speed_squared * wet
        area = workspace[strip + row(at.STRIP.area) + lane]
        weed = workspace[strip + row(at.STRIP.share) + lane] * workspace[row(at.FOIL_AT_WORK.weed_area) + lane]
        way = clip(ahead * (1.0 / LEAST_SPEED), -1.0, 1.0)  # drag is zero at rest and changes sign astern
        downwash = workspace[row(at.STRIP_AT_WORK.downwash) + lane]  # it tilts the lift aft
        pushed = area * (u + speed) * inverse
        along = pressure * (pushed * (lift * (w - downwash * u) - way * drag * u) - way * weed)
        across = -pressure * pushed * (lift * u + drag * w)
        normal_y = workspace[strip + row(at.STRIP.normal.y) + lane]
        normal_z = workspace[strip + row(at.STRIP.normal.z) + lane]
        add_force(workspace, lane, place, (along, across * normal_y, across * normal_z))
        nose_up = pressure * area * chord * workspace[row(at.FOIL_AT_WORK.moment_shift) + lane]
        add_moment(workspace, lane, nose_up * normal_z, -nose_up * normal_y)
        note_strip(workspace, lane, strip, depth, effective, lift * wet)


@kernel
def foil_forces(workspace: np.ndarray, counts: at.PartCounts, density: float, lag_time: float) -> None:
    """Add the forces of all foils, strip by strip; then let their wakes travel aft for lag_time (s). density in kg/m3."""
    foil_depths(workspace, counts.foils)
    for foil in range(counts.foils):
        place = foil * at.FOIL.width
        copy_rows(workspace, at.FOIL_AT_WORK.first, place + at.FOIL.first, at.FOIL_INPUTS)
        turn_now(workspace, foil)
        for lane in range(LANES):
            workspace[row(at.FOIL_AT_WORK.lift_mean) + lane] = 0.0
            workspace[row(at.FOIL_AT_WORK.tip_depth) + lane] = 1e9
            workspace[row(at.FOIL_AT_WORK.loaded) + lane] = 0.0
        for strip in range(counts.strip_starts[foil], counts.strip_starts[foil + 1]):
            strip_place = strip * at.STRIP.width
            strip_downwash(workspace, foil, strip, counts.foils)
            strip_force(workspace, strip_place, density, lag_time)
            copy_rows(workspace, strip_place + at.STRIP.lag_mid, at.STRIP_AT_WORK.lag_mid, at.STRIP_RESULTS)
        copy_rows(workspace, place + at.FOIL.lift_mean, at.FOIL_AT_WORK.lift_mean, at.FOIL_RESULTS)
    send_wakes(workspace, counts.foils, lag_time)

"""A craft's foils as the numbers that the kernels read: sections, strips, the wakes that they feel, and their mixer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sweep.model import layout as at
from sweep.model.pack.mass import MassProperties, add_along, strip_added_mass, to_body
from sweep.model.physics.downwash import LEAST_INFLUENCE, PAIR_SINKS, ROLL_UP, SHEET_SINKS, SPREAD, wake_tables
from sweep.model.physics.flap import flap_terms, hinge_terms, of_foil
from sweep.model.physics.foil import indicial_coefficients, lift_slope
from sweep.model.physics.section import section_of
from sweep.model.physics.section_nodes import SectionNodes
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.campaign.foils import Foil


def strip_count(foil: Foil) -> int:
    """Strips of a foil: what its file says, else two, and as many more as keep each to half a chord of depth (judgement).

    M2.3.
    """
    if foil.strips is not None:
        return foil.strips
    rise = 0.5 * foil.span_length * abs(math.tan(foil.dihedral))
    return min(max(2 * math.ceil(2.0 * rise / foil.chord - 1e-9), 2), at.MAX_STRIPS_OF_A_FOIL)


def mix_of(craft: Craft, properties: MassProperties) -> np.ndarray:
    """The mixer of a craft, see `mixer`."""
    foils = list(craft.foils.values())
    places = [to_body(properties, foil.x, foil.y, -craft.struts.height) for foil in foils]
    return mixer(foils, [section_of(craft, foil) for foil in foils], places)


def _pack_section(row: np.ndarray, first: int, foil: Foil, section: SectionNodes, viscosity: float) -> None:
    share, rate = indicial_coefficients(foil.span_length / foil.chord)
    row[first + at.FOIL.chord] = foil.chord
    row[first + at.FOIL.span] = foil.span_length
    row[first + at.FOIL.aspect] = foil.span_length / foil.chord
    row[first + at.FOIL.lag_share] = share
    row[first + at.FOIL.lag_rate] = 2.0 * rate / foil.chord
    row[first + at.FOIL.fixed_angle] = foil.incidence
    nodes = np.array(section[: at.FOIL.section.nodes.width]).T
    start = first + at.FOIL.section.nodes.first
    row[start : start + nodes.size] = np.vstack([nodes[:1], np.diff(nodes, axis=0)]).ravel()
    row[first + at.FOIL.section.chord_log] = math.log10(foil.chord / viscosity)
    row[first + at.FOIL.polar_low] = math.log10(section.reynolds_low)
    row[first + at.FOIL.polar_high] = math.log10(section.reynolds_high)
    row[first + at.FOIL.polar_angle] = section.angle_high - max(section.zero_lift_angle)
    row[at.FOIL.suction.slots(first)] = section.suction
    row[first + at.FOIL.flapped] = float(foil.flap is not None)
    row[at.FOIL.flap.slots(first)] = flap_terms(foil)
    row[at.FOIL.hinge.slots(first)] = hinge_terms(foil, section.lift_slope[2], section.moment)


def pack_foils(
    row: np.ndarray, craft: Craft, properties: MassProperties, water: Water, strips: tuple[int, ...], matrix: np.ndarray
) -> np.ndarray:
    """Foils and strips; their added mass into the matrix. Returns their damping matrix at 1 m/s, (6, 6)."""
    foils = list(craft.foils.values())
    places = [to_body(properties, foil.x, foil.y, -craft.struts.height) for foil in foils]
    sections = [section_of(craft, foil) for foil in foils]
    damping = np.zeros((6, 6))
    for f, (foil, place) in enumerate(zip(foils, places, strict=True)):
        first = f * at.FOIL.width
        _pack_section(row, first, foil, sections[f], water.viscosity)
        row[first + at.FOIL.strip_area] = foil.area / strips[f]
        row[at.FOIL.middle.slots(first)] = place
        row[first + at.FOIL.half_spans] = 2.0 / foil.span_length
        row[first + at.FOIL.lift_factor] = 1.0
        row[first + at.FOIL.weed_lift] = 1.0
        air = foil.ventilation
        row[at.FOIL.air.slots(first)] = [
            air.depth,
            air.angle,
            air.lift_left,
            air.rewet_depth,
            air.washout,
        ]
        added = strip_added_mass(water.density, foil.chord, foil.span_length, strips[f])
        drag = 0.5 * water.density * foil.area / strips[f] * deep_slope(foil, sections[f])
        for s in range(strips[f]):
            strip = (sum(strips[:f]) + s) * at.STRIP.width
            where, normal, tip = _strip(foil, place, s, strips[f])
            row[strip + at.STRIP.x], row[strip + at.STRIP.y], row[strip + at.STRIP.z] = where
            row[at.STRIP.normal.slots(strip)] = normal[1:]
            row[at.STRIP.tip.slots(strip)] = tip[1:]
            add_along(matrix, added, where, normal)
            add_along(damping, drag, where, normal)
        for other in range(len(foils)):
            if other != f:
                _pack_wake(row, craft, (f, other), place - places[other], range(sum(strips[:f]), sum(strips[: f + 1])))
    return damping


def _strip(foil: Foil, place: np.ndarray, index: int, strips: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Centre, normal and outer end of a strip, body axes (M2.3)."""
    rise = math.tan(foil.dihedral)
    y = foil.span_length * ((index + 0.5) / strips - 0.5)
    side = 1.0 if y > 0.0 else -1.0
    outer = y + side * 0.5 * foil.span_length / strips
    normal = np.array([0.0, side * math.sin(foil.dihedral), math.cos(foil.dihedral)])
    return place + np.array([0.0, y, -abs(y) * rise]), normal, place + np.array([0.0, outer, -abs(outer) * rise])


def _pack_wake(row: np.ndarray, craft: Craft, pair: tuple[int, int], apart: np.ndarray, strips: range) -> None:
    """The effect of another foil's wake. pair: it and the other; apart: from the other's place, m; strips: its own.

    M5.3, M5.4.
    """
    foil, ahead = (list(craft.foils.values())[each] for each in pair)
    distance, chord, span = -float(apart[0]), ahead.chord, ahead.span_length
    ends = apart[1] + foil.span_length * (np.arange(len(strips) + 1) / len(strips) - 0.5)
    sheet, rolled = wake_tables(distance, tuple(ends.tolist()), span, chord)
    if max(np.abs(sheet).max(), np.abs(rolled).max()) < LEAST_INFLUENCE:
        return
    wake, aspect = craft.wake, span / chord
    change = rolled - sheet
    if wake.rolled_up is not None:
        sheet, change = sheet + wake.rolled_up * change, 0.0 * change
    table = wake.strength * np.hstack([_ramps(sheet), _ramps(change)])
    for strip, influence in zip(strips, table, strict=True):
        further = strip * at.STRIP.width + pair[1] * at.INFLUENCE.width
        row[at.STRIP.influence.slots(further)] = influence
    behind = pair[0] * at.FOIL.width + pair[1]
    flown = max(distance, 0.0)
    as_sheet, as_pair = (wake.strength * rate / aspect * flown for rate in (SHEET_SINKS, PAIR_SINKS))
    row[behind + at.FOIL.wake_distance] = max(distance, SPREAD * chord)
    row[behind + at.FOIL.wake_rolling] = flown / (ROLL_UP * aspect * span)
    row[behind + at.FOIL.wake_sink], row[behind + at.FOIL.wake_sink_change] = as_sheet, as_sheet - as_pair
    if wake.rolled_up is not None:
        row[behind + at.FOIL.wake_rolling] = 0.0
        row[behind + at.FOIL.wake_sink] -= wake.rolled_up * row[behind + at.FOIL.wake_sink_change]


def _ramps(table: np.ndarray) -> np.ndarray:
    """Values at the nodes, (strips, nodes), as the first of them and what each ramp adds."""
    return np.hstack([table[:, :1], np.diff(table, axis=1)])


def deep_slope(foil: Foil, section: SectionNodes) -> float:
    """Lift slope per radian far under the surface, at the middle node of the section's Reynolds number."""
    return lift_slope(section.lift_slope[2], foil.span_length / foil.chord, 1.0, 0.0, 1.0)


def mixer(foils: Sequence[Foil], sections: Sequence[SectionNodes], places: Sequence[np.ndarray]) -> np.ndarray:
    """(foils, 3): angle of each foil for one unit of height, pitch and roll command (M15.14).

    One degree of a command gives the lift, bow-up or starboard-down moment of one degree on every foil, and nothing of
    the other two, as far as the arrangement allows (least squares).
    """
    moved = [of_foil(foil, section.lift_slope[2]) for foil, section in zip(foils, sections, strict=True)]
    slopes = [deep_slope(foil, section) for foil, section in zip(foils, sections, strict=True)]
    effect = np.array([foil.area * slope * share for foil, slope, share in zip(foils, slopes, moved, strict=True)])
    x = np.array([place[0] for place in places])
    y = np.array([place[1] for place in places])
    levers = np.array([effect, effect * x, -effect * y])
    wanted = np.array([effect.sum(), (effect * abs(x)).sum(), (effect * abs(y)).sum()])
    return np.linalg.pinv(levers, rcond=1e-9) * wanted

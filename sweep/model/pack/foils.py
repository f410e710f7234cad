"""Pack a craft's foils into the numbers that the kernels read: sections, strips, wakes that act on them, and mixer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate, permutations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.model import layout as at
from sweep.model import rows
from sweep.model.pack.mass import Along, MassProperties, strip_added_mass, to_body
from sweep.model.physics.downwash import (
    LEAST_INFLUENCE,
    PAIR_SINKS,
    ROLL_UP,
    SHEET_SINKS,
    SPREAD,
    Pair,
    Wakes,
    wake_tables,
)
from sweep.model.physics.flap import flap_terms, hinge_terms, of_foil
from sweep.model.physics.foil import indicial_coefficients, lift_slope
from sweep.model.physics.section import section_of
from sweep.model.physics.section_nodes import SectionNodes
from sweep.model.physics.water import Water

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft, Wake
    from sweep.campaign.foils import Foil

_IN_STRIP = rows.Strip()


class FoilSums(NamedTuple):
    """Added mass of all strips, their damping at 1 m/s, and the foils' mixer (see `mixer`)."""

    added: Along
    damping: Along
    mix: np.ndarray


def strip_count(foil: Foil) -> int:
    """Number of strips on a foil: as its file says, else at least two, each over at most half a chord of depth (judgement).

    M2.3.
    """
    if foil.strips is not None:
        return foil.strips
    rise = 0.5 * foil.span_length * abs(math.tan(foil.dihedral))
    return min(max(2 * math.ceil(2.0 * rise / foil.chord - 1e-9), 2), at.MAX_STRIPS_OF_A_FOIL)


def mix_of(craft: Craft, properties: MassProperties) -> np.ndarray:
    """The mixer of a craft; see `mixer`."""
    foils = list(craft.foils.values())
    places = [to_body(properties, foil.x, foil.y, -craft.struts.height) for foil in foils]
    return mixer(foils, [section_of(craft, foil) for foil in foils], places)


def _pack_section(row: np.ndarray, first: int, foil: Foil, section: SectionNodes, viscosity: float) -> None:
    span, chord = foil.span_length, foil.chord
    share, rate = indicial_coefficients(span / chord)
    row[first + at.FOIL.chord] = chord
    row[first + at.FOIL.span] = span
    row[first + at.FOIL.half_spans] = 2.0 / span
    row[first + at.FOIL.aspect] = span / chord
    row[first + at.FOIL.lag_share] = share
    row[first + at.FOIL.lag_rate] = 2.0 * rate / chord
    row[first + at.FOIL.fixed_angle] = foil.incidence
    nodes = _ramps(np.array(section[: at.FOIL.section.nodes.width])).T
    start = first + at.FOIL.section.nodes.first
    row[start : start + nodes.size] = nodes.ravel()
    row[first + at.FOIL.section.chord_log] = math.log10(chord / viscosity)
    row[first + at.FOIL.polar_low] = math.log10(section.reynolds_low)
    row[first + at.FOIL.polar_high] = math.log10(section.reynolds_high)
    row[first + at.FOIL.polar_angle] = section.angle_high - max(section.zero_lift_angle)
    row[at.FOIL.suction.slots(first)] = section.suction
    row[first + at.FOIL.flapped] = float(foil.flap is not None)
    row[at.FOIL.flap.slots(first)] = flap_terms(foil)
    row[at.FOIL.hinge.slots(first)] = hinge_terms(foil, section.lift_slope[2], section.moment)


def pack_foils(row: np.ndarray, craft: Craft, properties: MassProperties, water: Water, strips: tuple[int, ...]) -> FoilSums:
    """Write foils and strips to the row; return the sums over all strips. strips: number on each foil."""
    foils = list(craft.foils.values())
    places = [to_body(properties, foil.x, foil.y, -craft.struts.height) for foil in foils]
    sections = [section_of(craft, foil) for foil in foils]
    pieces: list[_Pieces] = []
    added: list[float] = []
    drags: list[float] = []
    for f, (foil, place, number) in enumerate(zip(foils, places, strips, strict=True)):
        first = f * at.FOIL.width
        _pack_section(row, first, foil, sections[f], water.viscosity)
        row[first + at.FOIL.strip_area] = foil.area / number
        row[at.FOIL.middle.slots(first)] = place
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
        added += [strip_added_mass(water.density, foil.chord, foil.span_length, number)] * number
        drags += [0.5 * water.density * foil.area / number * deep_slope(foil, sections[f])] * number
        pieces.append(_strips(foil, place, number))
    where, normals, tips = (np.concatenate(each) for each in zip(*pieces, strict=True))
    _pack_strips(row, where, normals, tips)
    _pack_wakes(row, craft, places, strips)
    return FoilSums(Along(added, where, normals), Along(drags, where, normals), mixer(foils, sections, places))


class _Pieces(NamedTuple):
    """Centre (m), normal and outer end (m) of each strip, body axes, (strips, 3) each."""

    centres: np.ndarray
    normals: np.ndarray
    tips: np.ndarray


def _strips(foil: Foil, place: np.ndarray, strips: int) -> _Pieces:
    """Cut a foil into strips (M2.3). place: of the foil's middle, body axes, m; strips: their number."""
    rise, span = math.tan(foil.dihedral), foil.span_length
    across = [span * ((index + 0.5) / strips - 0.5) for index in range(strips)]
    sides = [1.0 if y > 0.0 else -1.0 for y in across]
    outer = [y + side * 0.5 * span / strips for y, side in zip(across, sides, strict=True)]
    sine, cosine = math.sin(foil.dihedral), math.cos(foil.dihedral)
    return _Pieces(
        place + np.array([(0.0, y, -abs(y) * rise) for y in across]),
        np.array([(0.0, side * sine, cosine) for side in sides]),
        place + np.array([(0.0, y, -abs(y) * rise) for y in outer]),
    )


def _pack_strips(row: np.ndarray, where: np.ndarray, normals: np.ndarray, tips: np.ndarray) -> None:
    records = _strip_records(row, len(where))
    records[:, _IN_STRIP.x : _IN_STRIP.z + 1] = where
    records[:, _IN_STRIP.normal.slots()] = normals[:, 1:]
    records[:, _IN_STRIP.tip.slots()] = tips[:, 1:]


def _strip_records(row: np.ndarray, strips: int) -> np.ndarray:
    """The first `strips` strips in a row of parameters, (strips, slots of a strip)."""
    return row[at.STRIP.first : at.STRIP.first + strips * at.STRIP.width].reshape(strips, at.STRIP.width)


def _pack_wakes(row: np.ndarray, craft: Craft, places: Sequence[np.ndarray], strips: Sequence[int]) -> None:
    """Write how the foils' wakes act on each other. places: of the foils, body axes, m; strips: number on each."""
    foils, starts = list(craft.foils.values()), [0, *accumulate(strips)]
    indices = list(permutations(range(len(foils)), 2))
    spans, chords = [foil.span_length for foil in foils], [foil.chord for foil in foils]
    pairs = []
    for behind, ahead in indices:
        x, y, _ = (places[behind] - places[ahead]).tolist()
        number, span = strips[behind], spans[behind]
        ends = tuple(y + span * (end / number - 0.5) for end in range(number + 1))
        pairs.append(Pair(-x, ends, spans[ahead], chords[ahead]))
    for (behind, ahead), pair, wakes in zip(indices, pairs, wake_tables(tuple(pairs)), strict=True):
        if max(np.abs(wakes.sheet).max(), np.abs(wakes.pair).max()) >= LEAST_INFLUENCE:
            _pack_table(row, wakes, craft.wake, ahead, range(starts[behind], starts[behind + 1]))
            _pack_path(row, pair, craft.wake, behind * at.FOIL.width + ahead)


def _pack_table(row: np.ndarray, wakes: Wakes, wake: Wake, ahead: int, strips: range) -> None:
    """Write the downwash table of a foil at the strips of another (M5.3). ahead: index of the foil that makes the wake."""
    sheet, change = wakes.sheet, wakes.pair - wakes.sheet
    if wake.rolled_up is not None:
        sheet, change = sheet + wake.rolled_up * change, 0.0 * change
    table = wake.strength * np.hstack([_ramps(sheet), _ramps(change)])
    records = _strip_records(row, strips.stop)
    records[strips.start :, _IN_STRIP.influence.slots(ahead * at.INFLUENCE.width)] = table


def _pack_path(row: np.ndarray, pair: Pair, wake: Wake, behind: int) -> None:
    """Write the path of a foil's wake to another foil (M5.4). behind: slot of this pair, as of the records in `layout.FOIL`."""
    aspect, flown = pair.span / pair.chord, max(pair.distance, 0.0)
    as_sheet, as_pair = (wake.strength * rate / aspect * flown for rate in (SHEET_SINKS, PAIR_SINKS))
    row[behind + at.FOIL.wake_distance] = max(pair.distance, SPREAD * pair.chord)
    row[behind + at.FOIL.wake_rolling] = flown / (ROLL_UP * aspect * pair.span)
    row[behind + at.FOIL.wake_sink], row[behind + at.FOIL.wake_sink_change] = as_sheet, as_sheet - as_pair
    if wake.rolled_up is not None:
        row[behind + at.FOIL.wake_rolling] = 0.0
        row[behind + at.FOIL.wake_sink] -= wake.rolled_up * row[behind + at.FOIL.wake_sink_change]


def _ramps(table: np.ndarray) -> np.ndarray:
    """Values at the nodes, (..., nodes), as the first value and the increment of each ramp."""
    ramps = table.copy()
    ramps[..., 1:] -= table[..., :-1]
    return ramps


def deep_slope(foil: Foil, section: SectionNodes) -> float:
    """Lift slope per radian far below the surface, at the middle Reynolds-number node of the section."""
    return lift_slope(section.lift_slope[2], foil.span_length / foil.chord, 1.0, 0.0, 1.0)


def mixer(foils: Sequence[Foil], sections: Sequence[SectionNodes], places: Sequence[np.ndarray]) -> np.ndarray:
    """(foils, 3): angle of each foil for one unit of height, pitch and roll command (M15.14).

    One degree of a command gives the lift, the bow-up moment or the starboard-down moment of one degree on every foil. It gives
    none of the other two, as far as the arrangement allows (least squares).
    """
    moved = [of_foil(foil, section.lift_slope[2]) for foil, section in zip(foils, sections, strict=True)]
    slopes = [deep_slope(foil, section) for foil, section in zip(foils, sections, strict=True)]
    effect = np.array([foil.area * slope * share for foil, slope, share in zip(foils, slopes, moved, strict=True)])
    x = np.array([place[0] for place in places])
    y = np.array([place[1] for place in places])
    levers = np.array([effect, effect * x, -effect * y])
    wanted = np.array([effect.sum(), (effect * abs(x)).sum(), (effect * abs(y)).sum()])
    return np.linalg.pinv(levers, rcond=1e-9) * wanted

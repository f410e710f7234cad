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
from sweep.model.physics.strength import MATERIALS, foil_terms
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

    A tapered or swept foil has at least four (judgement). M2.3.
    """
    if foil.strips is not None:
        return foil.strips
    rise = 0.5 * foil.span_length * abs(math.tan(foil.dihedral))
    least = 2 if foil.taper == 1.0 and foil.sweep == 0.0 else 4
    return min(max(2 * math.ceil(2.0 * rise / foil.chord - 1e-9), least), at.MAX_STRIPS_OF_A_FOIL)


def mix_of(craft: Craft, properties: MassProperties) -> np.ndarray:
    """The mixer of a craft; see `mixer`."""
    foils = list(craft.foils.values())
    return mixer(foils, [section_of(craft, foil) for foil in foils], middles(craft, properties))


def middles(craft: Craft, properties: MassProperties) -> list[np.ndarray]:
    """Where the middle of each foil's area is, body axes, m: on its quarter-chord line (M2.6)."""
    foils = craft.foils.values()
    return [to_body(properties, foil.x - foil.swept_back, foil.y, -craft.strut_of(foil).height) for foil in foils]


def _pack_section(row: np.ndarray, first: int, foil: Foil, section: SectionNodes, viscosity: float) -> None:
    span, chord = foil.span_length, foil.chord
    row[first + at.FOIL.chord] = chord
    row[first + at.FOIL.span] = span
    row[first + at.FOIL.half_spans] = 2.0 / span
    row[first + at.FOIL.aspect] = span / chord
    row[first + at.FOIL.lag_share] = indicial_coefficients(span / chord)[0]
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
    places = middles(craft, properties)
    sections = [section_of(craft, foil) for foil in foils]
    pieces: list[_Pieces] = []
    added: list[float] = []
    drags: list[float] = []
    for f, (foil, place, number) in enumerate(zip(foils, places, strips, strict=True)):
        first = f * at.FOIL.width
        _pack_section(row, first, foil, sections[f], water.viscosity)
        row[at.FOIL.middle.slots(first)] = place
        _pack_strength(row, first, foil, sections[f].moment)
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
        cut = _strips(foil, place, number)
        aspect = foil.span_length / foil.chord
        added += [strip_added_mass(water.density, chord, foil.span_length / number, aspect) for chord in cut.chords.tolist()]
        drags += [0.5 * water.density * area * deep_slope(foil, sections[f]) for area in cut.areas.tolist()]
        pieces.append(cut)
    cut = _Pieces(*(np.concatenate(each) for each in zip(*pieces, strict=True)))
    where, normals = cut.centres, cut.normals
    _pack_strips(row, cut)
    _pack_wakes(row, craft, places, strips)
    return FoilSums(Along(added, where, normals), Along(drags, where, normals), mixer(foils, sections, places))


def _pack_strength(row: np.ndarray, first: int, foil: Foil, moment: float) -> None:
    if foil.material is None:
        return
    port, starboard = foil_terms(foil)
    row[first + at.FOIL.strength.strength] = 1.0 / MATERIALS[foil.material].strength
    row[first + at.FOIL.strength.moment] = moment
    row[at.FOIL.strength.port.slots(first)] = port
    row[at.FOIL.strength.starboard.slots(first)] = starboard


class _Pieces(NamedTuple):
    """Centre (m), normal and outer end (m) of each strip, body axes, (strips, 3) each; chords m, areas m2, (strips,) each.

    shares: its area over the foil's; lag_rates: 2 B / chord, 1/m.
    """

    centres: np.ndarray
    normals: np.ndarray
    tips: np.ndarray
    chords: np.ndarray
    areas: np.ndarray
    shares: np.ndarray
    lag_rates: np.ndarray


def _strips(foil: Foil, place: np.ndarray, strips: int) -> _Pieces:
    """Cut a foil into strips of equal breadth (M2.3, M2.6, M4.15). place: of the middle of its area, body axes, m."""
    span, breadth = foil.span_length, foil.span_length / strips
    across = np.array([span * ((index + 0.5) / strips - 0.5) for index in range(strips)])
    sides = np.where(across > 0.0, 1.0, -1.0)
    wide = 2.0 * (1.0 - (1.0 - foil.taper) * np.abs(across) * (2.0 / span)) / (1.0 + foil.taper)  # chord over the mean one
    steeper = 4.0 * (1.0 - foil.taper) / (1.0 + foil.taper) / span  # by which that falls in a metre
    rate = indicial_coefficients(span / foil.chord)[1]
    centres = across - sides * breadth**2 * steeper / (12.0 * wide)
    sine, cosine = math.sin(foil.dihedral), math.cos(foil.dihedral)
    return _Pieces(
        place + _on_the_line(foil, centres),
        np.array([(0.0, side * sine, cosine) for side in sides]),
        place + _on_the_line(foil, across + sides * 0.5 * span / strips),
        foil.chord * wide,
        foil.area / strips * wide,
        1.0 / strips * wide,
        2.0 * rate / (foil.chord * wide),
    )


def _on_the_line(foil: Foil, across: np.ndarray) -> np.ndarray:
    """Points (n, 3) of a foil's quarter-chord line about the middle of its area, at places (n,) along its span, m."""
    aside = np.abs(across)
    return np.stack([foil.swept_back - aside * math.tan(foil.sweep), across, -aside * math.tan(foil.dihedral)], axis=1)


def _pack_strips(row: np.ndarray, cut: _Pieces) -> None:
    records = _strip_records(row, len(cut.centres))
    records[:, _IN_STRIP.x : _IN_STRIP.z + 1] = cut.centres
    records[:, _IN_STRIP.normal.slots()] = cut.normals[:, 1:]
    records[:, _IN_STRIP.tip.slots()] = cut.tips
    records[:, _IN_STRIP.chord], records[:, _IN_STRIP.area] = cut.chords, cut.areas
    records[:, _IN_STRIP.chords] = 1.0 / cut.chords
    records[:, _IN_STRIP.share], records[:, _IN_STRIP.lag_rate] = cut.shares, cut.lag_rates


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
    row[behind + at.FOIL.wake_nearness] = 1.0 / max(pair.distance, SPREAD * pair.chord)
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
    effect[[not foil.moves for foil in foils]] = 0.0
    x = np.array([place[0] for place in places])
    y = np.array([place[1] for place in places])
    levers = np.array([effect, effect * x, -effect * y])
    wanted = np.array([effect.sum(), (effect * abs(x)).sum(), (effect * abs(y)).sum()])
    mix = np.linalg.pinv(levers, rcond=1e-9) * wanted
    mix[effect == 0.0] = 0.0  # rounding leaves a little, which is beyond a travel of nothing
    return mix

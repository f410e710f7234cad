"""The wake of every foil at the strips of the others: downwash by vertical distance, computed once per design.

A foil is a lifting line of elliptic loading, with a bound vortex and vortices that trail aft. They trail first as a flat
sheet, which then rolls up into a pair. The downwash of both is averaged over each strip, so that no strip can be in a
singularity. The influence of the image above the surface is the same function of the distance to it (M5.1, M5.5).
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple, TypeAlias

import numpy as np

NODES = (0.0, 0.03, 0.1, 0.22, 0.42, 0.75, 1.3, 2.4, 5.0, 12.0)
"""Vertical distances, in half spans of the foil ahead. An influence is linear between them and zero at the last.

Of 300 arrangements (distance 1 to 25 chords, span ratio 0.5 to 3) 95 % of the values are within 0.0015 rad."""

RAMPS = len(NODES) - 1
SPREAD = 0.25  # of the chord: about the length over which the lift is spread fore and aft; judgement
PAIR_SPACING = 0.25 * math.pi  # of the span: the pair keeps the impulse of the elliptic sheet
CORE = 0.25 * math.pi * math.exp(0.25 - 0.25 * math.pi**2)
"""Radius of the rolled-up cores over the span: 0.0855. The cores rotate as solid bodies. The pair then has the energy per
length that the induced drag put into the wake: (rho Gamma^2 / 2 pi)(ln(spacing / radius) + 1/4) = pi rho Gamma^2 / 8."""

ROLL_UP = 0.28
"""Distance in which the sheet rolls up, in spans, times lift coefficient over aspect ratio. Spreiter & Sacks 1951,
J. Aeronautical Sciences 18 (from memory; M5.4)."""

SHEET_SINKS = 2.0 / math.pi
"""Slope of the sheet's path at mid-span, times aspect ratio over lift coefficient: its own downwash far behind (M5.4)."""

PAIR_SINKS = 4.0 / math.pi**3  # the same for the pair: each vortex sinks in the flow of the other

LEAST_INFLUENCE = 3e-3  # rad per unit lift coefficient: a wake that is weaker everywhere is left out (M5.3); judgement
_ANGLES = (np.arange(24) + 0.5) * math.pi / 24  # midpoints of the quadrature along the span
_COSINE, _WEIGHT = np.cos(_ANGLES), math.pi / 24  # of each


Numbers: TypeAlias = float | np.ndarray


class Wakes(NamedTuple):
    """Downwash (rad) per unit lift coefficient, averaged over each strip: (..., strips, distances) each."""

    sheet: np.ndarray
    pair: np.ndarray


class Pair(NamedTuple):
    """A foil that makes a wake, and strips in the wake; lengths in m, see `wakes`."""

    distance: float
    edges: tuple[float, ...]
    span: float
    chord: float


@lru_cache(maxsize=1024)
def wake_tables(pairs: tuple[Pair, ...]) -> list[Wakes]:
    """Wakes of each pair at the NODES, zero at the last of them (M5.3). Callers must not write to them."""
    tables: dict[Pair, Wakes] = {}
    for strips in {len(pair.edges) for pair in pairs}:  # pairs with equal numbers of strips together: a fifth of the time
        alike = [pair for pair in pairs if len(pair.edges) == strips]
        distances, edges, spans, chords = (np.array(each) for each in zip(*alike, strict=True))
        found = wakes(distances, edges, 0.5 * spans[:, None] * np.array(NODES[:-1]), spans, chords)
        last = np.zeros((len(alike), strips - 1, 1))
        whole = (np.concatenate([table, last], axis=2) for table in found)
        tables |= {pair: Wakes(*both) for pair, *both in zip(alike, *whole, strict=True)}
    return [tables[pair] for pair in pairs]


def wakes(distance: Numbers, edges: np.ndarray, apart: np.ndarray, span: Numbers, chord: Numbers) -> Wakes:
    """Downwash of foils' wakes, without their images, by lifting-line theory (M5.2).

    distance: (...) of the strips aft of a foil's quarter-chord line, m, negative ahead of it; edges: (..., strips + 1) ends of
    the strips to starboard of its middle, m; apart: (..., distances) vertical distances from the wake, m, >= 0; span and chord
    of the foil, m.
    """
    distance, span, chord = (np.asarray(each)[..., None, None] for each in (distance, span, chord))
    half = 0.5 * span
    reach = np.hypot(distance, SPREAD * chord)
    aft = distance / reach
    y, z = edges[..., :, None], apart[..., None, :]
    bound = distance * _bound(y, z, half, reach)
    sheet = (1.0 + aft) * _plane_sheet(y, z, half) + aft * _begun_sheet(y, z, half, reach) + bound
    pair = (1.0 + aft) * _plane_pair(y, z, span) + aft * _begun_pair(y, z, span, reach) + bound
    circulation = 2.0 / math.pi * chord  # at mid-span, over speed, for a lift coefficient of one
    width = 4.0 * math.pi * np.diff(edges)[..., :, None]
    return Wakes(circulation / width * np.diff(sheet, axis=-2), circulation / width * np.diff(pair, axis=-2))


def _plane_sheet(y: np.ndarray, z: np.ndarray, half: np.ndarray) -> np.ndarray:
    """Far behind the foil: the integral over y of the sheet's downwash, times 2 pi over the circulation."""
    place = (y + 1j * z) / half
    return np.asarray(math.pi * (place - np.sqrt(place - 1.0) * np.sqrt(place + 1.0)).real)


def _begun_sheet(y: np.ndarray, z: np.ndarray, half: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """The change of `_plane_sheet` because the sheet begins at the foil."""
    off = y[..., None] - half[..., None] * _COSINE
    away = np.sqrt((reach * reach)[..., None] + off * off + z[..., None] ** 2)
    return np.asarray(_WEIGHT * (np.log(away + reach[..., None]) @ _COSINE))


def _bound(y: np.ndarray, z: np.ndarray, half: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """The same integral for the bound vortex, divided by the distance aft."""
    off = y[..., None] - half[..., None] * _COSINE
    squared = (reach * reach)[..., None] + z[..., None] ** 2
    return np.asarray(half * _WEIGHT * (off / (squared * np.sqrt(squared + off * off)) @ (1.0 - _COSINE**2)))


def _plane_pair(y: np.ndarray, z: np.ndarray, span: np.ndarray) -> np.ndarray:
    """As `_plane_sheet`, for the pair with its cores."""
    core = (CORE * span) ** 2
    total = np.zeros(np.broadcast_shapes(y.shape, z.shape))
    for side in (1.0, -1.0):
        squared = (y - side * 0.5 * PAIR_SPACING * span) ** 2 + z**2
        total -= side * 0.5 * (np.log(np.maximum(squared, core)) + np.minimum(squared / core, 1.0))
    return total


def _begun_pair(y: np.ndarray, z: np.ndarray, span: np.ndarray, reach: np.ndarray) -> np.ndarray:
    total = np.zeros(np.broadcast_shapes(y.shape, z.shape))
    for side in (1.0, -1.0):
        off = y - side * 0.5 * PAIR_SPACING * span
        total += side * np.log(np.sqrt(reach * reach + off * off + z * z) + reach)
    return total

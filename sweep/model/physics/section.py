"""Foil sections: a polar, or a few numbers, reduced to the values that the kernel interpolates in Reynolds number (M4.3)."""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.model.physics.section_nodes import AtNodes, SectionNodes

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft
    from sweep.campaign.foils import Foil


NODES = tuple(math.log10(reynolds) for reynolds in (3e4, 7e4, 1.6e5, 4e5, 1e6))
"""log10 of the Reynolds numbers at which a section has values. Between them the values are linear in log10."""

STRAIGHT = 0.8  # lift coefficient, up and down, within which a foil works on a straight course: judgement
STALL_DROP = 0.05  # share of the largest lift so far by which lift falls in a stall; laminar bubbles lower it by less
USEFUL = 0.9  # share of the largest lift up to which drag and suction are fitted
CONSTANT_RANGE = (2e4, 3e6)  # Reynolds numbers between which least drag is taken to fall as Re^-1/2: judgement
HUBER = 1.345  # standard deviations: rows farther off than this count by their sign only ...
BENDS = 0.1  # ... but not rows within this (of lift, or as a share of drag): bubbles bend a polar as much; judgement
OPEN_SLOPE = 0.93  # share of the lift slope left by an open gap before a flap (Hoerner & Borst 1975, ch. 9, NACA 0015; M6.3)


class SectionNumbers(NamedTuple):
    """A section in a few numbers: angles rad, slope per rad; drag_min is at `reynolds`."""

    lift_slope: float
    lift_max: float
    drag_min: float
    reynolds: float
    drag_rise: float
    lift_of_least_drag: float
    moment: float
    zero_lift_angle: float
    thickness_ratio: float


class Rows(NamedTuple):
    """Rows of a polar at one Reynolds number, or of several one after the other; angle in rad."""

    angle: np.ndarray
    lift: np.ndarray
    drag: np.ndarray
    moment: np.ndarray
    suction: np.ndarray

    def where(self, chosen: np.ndarray) -> Rows:
        """Some of the rows."""
        return Rows(*(column[chosen] for column in self))


def section_of(craft: Craft, foil: Foil) -> SectionNodes:
    """The section of one of a craft's foils, from the craft's polar for it or from the foil's few numbers.

    An open gap before a flap lowers its lift slope. Sweep has the section meet the flow that is normal to the span.
    """
    given = foil.section
    section = craft.polars[given.polar] if given.polar is not None else _of_numbers(foil)
    if foil.sweep != 0.0:
        return swept(section, foil.sweep)
    if foil.flap is None or foil.flap_gap == "sealed":
        return section
    return section._replace(lift_slope=_at_nodes(OPEN_SLOPE * np.array(section.lift_slope)))


def swept(section: SectionNodes, sweep: float) -> SectionNodes:
    """A section as the flow along the craft meets it on a swept foil, by simple-sweep theory (Jones 1945, NACA TR 863; M4.14).

    sweep: of the quarter-chord line, rad. The section works in the flow normal to it, whose dynamic pressure is cos^2 of that
    along the craft and whose angle of attack is 1 / cos of it. Friction follows the whole flow: least drag stays.
    """
    cosine = math.cos(sweep)
    square = cosine * cosine

    def times(factor: float, values: AtNodes) -> AtNodes:
        return _at_nodes(factor * np.array(values))

    s0, s1, s2 = section.suction
    return section._replace(
        lift_slope=times(cosine, section.lift_slope),
        lift_max=times(square, section.lift_max),
        zero_lift_angle=times(cosine, section.zero_lift_angle),
        drag_rise=times(1.0 / square**2, section.drag_rise),
        drag_steep=times(1.0 / square**4, section.drag_steep),
        lift_of_least_drag=times(square, section.lift_of_least_drag),
        suction=(square * s0, s1, s2 / square),
        moment=square * section.moment,
        angle_low=cosine * section.angle_low,
        angle_high=cosine * section.angle_high,
    )


def _of_numbers(foil: Foil) -> SectionNodes:
    given = foil.section
    numbers = SectionNumbers(
        lift_slope=given.lift_slope,
        lift_max=given.lift_max,
        drag_min=given.drag_min,
        reynolds=given.reynolds,
        drag_rise=given.drag_rise,
        lift_of_least_drag=given.lift_of_least_drag,
        moment=given.moment,
        zero_lift_angle=foil.zero_lift_angle,
        thickness_ratio=foil.thickness_ratio,
    )
    return constant_section(numbers)


def reduce_polar(
    reynolds: np.ndarray, angle: np.ndarray, lift: np.ndarray, drag: np.ndarray, moment: np.ndarray, suction: np.ndarray
) -> SectionNodes:
    """Reduce a section's polar, flat arrays of rows in any order (angle rad), to the nodes (M4.5).

    At each Reynolds number of the polar, by least squares in which outlying rows lose weight (Huber 1964):
    - only rows between the stalls count: from zero lift, up and down to where lift first falls by a twentieth;
    - lift_max is the largest lift there;
    - slope and zero-lift angle are those of a line fitted to lift from -0.8 to 0.8, and not over 0.9 of lift_max: laminar
      bubbles bend the lift curve on one side, and a line through both sides of a symmetric section goes through zero;
    - drag is fitted within 0.9 of lift_max either way, to least relative error, with no negative rise;
    - suction and moment are fitted to all Reynolds numbers together: suction from zero lift up, the moment as a median.
    Between the polar's Reynolds numbers the fits are linear in log10 of the Reynolds number; beyond them they are constant.

    Raises ValueError where a Reynolds number has no zero lift or fewer than 4 rows between the stalls.
    """
    rows = Rows(angle, lift, drag, moment, suction)
    known = np.unique(reynolds)
    attached = [_attached(rows.where(reynolds == one), one) for one in known]
    fits = np.array([_fit(one) for one in attached])
    slope, lift_max, zero_lift, log_drag, rise, steep, least = (
        _at_nodes(_steady(np.interp(NODES, np.log10(known), column))) for column in fits.T
    )
    s0, s1, s2 = _steady(np.array(_suction(attached)))
    return SectionNodes(
        lift_slope=slope,
        lift_max=lift_max,
        zero_lift_angle=zero_lift,
        log_drag=log_drag,
        drag_rise=rise,
        drag_steep=steep,
        lift_of_least_drag=least,
        suction=(float(s0), float(s1), float(s2)),
        moment=float(np.median(np.concatenate([_straight(one).moment for one in attached]))),
        reynolds_low=float(known[0]),
        reynolds_high=float(known[-1]),
        angle_low=float(angle.min()),
        angle_high=float(angle.max()),
    )


def constant_section(numbers: SectionNumbers) -> SectionNodes:
    """A section from a few numbers. They hold at every Reynolds number, except that least drag falls as Re^-1/2 (M4.4).

    Suction is that of the symmetric NACA four-digit section of this thickness ratio at the same lift. Near its design lift a
    cambered section has less.
    """
    log_drag = math.log(numbers.drag_min) + 0.5 * (math.log(numbers.reynolds) - math.log(10.0) * np.array(NODES))
    return SectionNodes(
        lift_slope=_constant(numbers.lift_slope),
        lift_max=_constant(numbers.lift_max),
        zero_lift_angle=_constant(numbers.zero_lift_angle),
        log_drag=_at_nodes(log_drag),
        drag_rise=_constant(numbers.drag_rise),
        drag_steep=_constant(0.0),
        lift_of_least_drag=_constant(numbers.lift_of_least_drag),
        suction=four_digit_suction(round(numbers.thickness_ratio, 3)),  # to a thousandth: a sweep's fit the cache
        moment=numbers.moment,
        reynolds_low=CONSTANT_RANGE[0],
        reynolds_high=CONSTANT_RANGE[1],
        angle_low=-math.inf,
        angle_high=math.inf,
    )


def _at_nodes(values: np.ndarray) -> AtNodes:
    one, two, three, four, five = (float(value) for value in values)
    return one, two, three, four, five


def _steady(values: np.ndarray) -> np.ndarray:
    """Round to nine decimals: a section is identified by its numbers, and a fit's last digits differ between machines."""
    return np.round(values, 9) + 0.0


def _constant(value: float) -> AtNodes:
    return value, value, value, value, value


def _attached(rows: Rows, reynolds: float) -> Rows:
    """Rows between the stalls, in order of angle."""
    rows = rows.where(np.argsort(rows.angle))
    rising = np.flatnonzero((rows.lift[:-1] <= 0.0) & (rows.lift[1:] > 0.0))
    if not len(rising):
        raise ValueError(f"lift never rises through zero at a Reynolds number of {reynolds:g}")
    zero = rising[np.argmin(np.abs(rows.angle[rising]))]
    last = zero + 1 + _before_stall(rows.lift[zero + 1 :])
    first = zero - _before_stall(-rows.lift[zero::-1])
    if last - first < 3:
        raise ValueError(f"fewer than 4 angles between the stalls at a Reynolds number of {reynolds:g}")
    return rows.where(np.arange(first, last + 1))


def _before_stall(lift: np.ndarray) -> int:
    """Index of the largest lift before lift first falls off."""
    largest = np.maximum.accumulate(lift)
    stalled = np.flatnonzero(lift < largest - STALL_DROP * np.abs(largest))
    return int(np.argmax(lift[: stalled[0]] if len(stalled) else lift))


def _straight(rows: Rows) -> Rows:
    """Rows of the straight part of the lift curve; all of them if fewer than 3 are in it."""
    inside = np.abs(rows.lift) <= min(STRAIGHT, USEFUL * rows.lift.max())
    return rows.where(inside) if inside.sum() >= 3 else rows


def _fit(rows: Rows) -> tuple[float, ...]:
    """The first seven of `SectionNodes` at one Reynolds number."""
    straight = _straight(rows)
    lift_at_zero, slope = _least_squares(np.stack([np.ones_like(straight.angle), straight.angle], axis=1), straight.lift)
    lift_max = float(rows.lift.max())
    useful = rows.where(np.abs(rows.lift) < USEFUL * lift_max)
    least, rise, steep, lift_of_least = _drag(useful if len(useful.lift) >= 4 else rows)
    return slope, lift_max, -lift_at_zero / slope, math.log(least), rise, steep, lift_of_least


def _drag(rows: Rows) -> tuple[float, float, float, float]:
    """Least drag, rise, steep and the lift of least drag; that lift is the one within the rows that fits best."""
    lifts = np.linspace(max(rows.lift.min(), -0.6), min(rows.lift.max(), 1.0), 81)
    off = (rows.lift - lifts[:, None]) ** 2
    terms = np.stack([np.ones_like(off), off, off * off], axis=2) / rows.drag[:, None]
    fits = np.zeros((len(lifts), 3))
    open_ones = np.ones(len(lifts), dtype=bool)
    for kept in ([0, 1, 2], [0, 1], [0, 2], [0]):  # for a given lift, the first fit without a negative rise is the best
        tried = np.zeros_like(fits)
        tried[:, kept] = _least_squares(terms[:, :, kept], np.ones_like(rows.drag))
        taken = open_ones & np.all(tried >= 0.0, axis=1)
        fits[taken], open_ones = tried[taken], open_ones & ~taken
    error = np.abs(np.einsum("lrt,lt->lr", terms, fits) - 1.0).sum(axis=1)
    best = int(np.argmin(np.where(fits[:, 0] > 0.0, error, math.inf)))
    least, rise, steep = (float(value) for value in fits[best])
    return least, rise, steep, float(lifts[best])


def _suction(attached: list[Rows]) -> tuple[float, float, float]:
    """Minus the least pressure coefficient as a parabola in lift, from 0 to 0.9 of the largest, or to it if rows are few."""
    up = [rows.where(rows.lift >= 0.0) for rows in attached]
    useful = [rows.where(rows.lift < USEFUL * rows.lift.max()) for rows in up]
    taken = useful if sum(len(rows.lift) for rows in useful) >= 3 else up
    return _parabola(np.concatenate([rows.lift for rows in taken]), np.concatenate([rows.suction for rows in taken]))


def _parabola(lift: np.ndarray, suction: np.ndarray) -> tuple[float, float, float]:
    s0, s1, s2 = _least_squares(np.stack([np.ones_like(lift), lift, lift * lift], axis=1), suction)
    return float(s0), float(s1), float(s2)


def _least_squares(terms: np.ndarray, target: np.ndarray) -> np.ndarray:
    """Coefficients of the terms (..., rows, terms) that fit the target (rows), with Huber's weights."""
    across = np.swapaxes(terms, -1, -2)
    weight = np.ones(terms.shape[:-1])
    for _ in range(10):
        normal = (across * weight[..., None, :]) @ terms
        normal += 1e-13 * np.max(np.abs(normal), axis=(-1, -2), keepdims=True) * np.eye(terms.shape[-1])
        fit = np.linalg.solve(normal, across @ (weight * target)[..., None])
        off = np.abs((terms @ fit)[..., 0] - target)
        trusted = np.maximum(HUBER * 1.4826 * np.median(off, axis=-1, keepdims=True), BENDS)
        weight = trusted / np.maximum(off, trusted)
    return np.asarray(fit[..., 0])


@functools.lru_cache(maxsize=1024)
def four_digit_suction(thickness_ratio: float) -> tuple[float, float, float]:
    """Minus the least pressure coefficient of a symmetric NACA four-digit section, as a parabola in lift from 0 to 1; M4.4.

    Potential flow: (v/V + lift dv/V)^2 - 1, largest along the section; the parabola is within 0.035 for thickness 0.06 to 0.18.
    """
    speed, added = four_digit_speeds(thickness_ratio)[1:]
    lift = np.linspace(0.0, 1.0, 21)
    return _parabola(lift, np.max((speed + lift[:, None] * added) ** 2, axis=1) - 1.0)


def four_digit_speeds(thickness_ratio: float, points: int = 512) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Upper surface of a symmetric NACA four-digit section: x/c from the nose, v/V at zero lift, dv/V per unit of lift.

    By conformal mapping (Theodorsen & Garrick, NACA TR 452, 1933) of the section with a sharp tail (last term -0.1036).
    """
    nose = 0.5 * 1.1019 * thickness_ratio**2  # half the nose radius: the foci of the mapping are there and at the tail
    a = 0.25 * (1.0 - nose)
    x = 0.5 - 0.5 * np.cos(np.linspace(0.0, math.pi, 4001)[1:-1])
    y = 5.0 * thickness_ratio * (0.2969 * np.sqrt(x) + x * (-0.1260 + x * (-0.3516 + x * (0.2843 - 0.1036 * x))))
    across, up = (x - nose) / (2.0 * a) - 1.0, y / (2.0 * a)
    p = 1.0 - across**2 - up**2
    sine = np.sqrt(0.5 * (p + np.sqrt(p * p + 4.0 * up * up)))
    theta = np.arctan2(sine, across / np.sqrt(1.0 + (up / sine) ** 2))[::-1]
    psi = np.arcsinh(up / sine)[::-1]
    phi = (np.arange(2 * points) + 0.5) * math.pi / points
    waves = np.fft.fftfreq(2 * points, 0.5 / points)
    angle = phi
    for _ in range(30):
        shape = np.fft.fft(np.interp(np.abs((angle + math.pi) % (2.0 * math.pi) - math.pi), theta, psi))
        angle = phi - np.fft.ifft(-1j * np.sign(waves) * shape).real
    radius = math.exp(shape[0].real / (2 * points))
    psi = np.fft.ifft(shape).real
    turned = 1.0 - np.fft.ifft(np.abs(waves) * shape).real
    stretch = np.sqrt((np.sinh(psi) ** 2 + np.sin(angle) ** 2) * (turned**2 + np.fft.ifft(1j * waves * shape).real ** 2))
    place = nose + 2.0 * a * (1.0 + np.cosh(psi) * np.cos(angle))
    speed, added = radius * np.sin(phi) / stretch, (1.0 - np.cos(phi)) / stretch / (8.0 * math.pi * a)
    return place[:points], speed[:points], added[:points]

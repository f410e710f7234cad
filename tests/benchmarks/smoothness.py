"""Whether results are smooth in what must not matter and in what is measured: strips, and one per cent of a length.

    python -m tests.benchmarks.smoothness [arrangements] [seed] [flights]

Random arrangements of foils under the courier's hull, `flights` of them flown too (all by default; 0 for none). From 8 to 16
strips a foil, trims, the lowest speed that trims, margins and responses may change by half of what they did from 4 to 8, or
by 1 %. One per cent of one length may move a foil's trim by 0.3 degree and the lowest speed by 3 %.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from math import degrees, inf, isfinite, pi, radians, tan
from typing import Any, NamedTuple

import numpy as np

from sweep.campaign.craft import Craft
from sweep.linear.craft import linearise
from sweep.linear.reach import foil_angles
from sweep.linear.table import loop_margins
from sweep.linear.ticks import eigenvalues
from sweep.model import layout as at
from sweep.model.flight import fly
from sweep.model.pack.fleet import Fleet, build_fleets
from sweep.model.quantities import RESPONSE_NAMES, STATUS_NAMES
from tests.model.crafts import WATER, block_of, changed, courier, jonswap, quiet, silent, with_foils

SPEED = 4.0
COUNTS = (4, 8, 16)
HALF, SHARE = 0.5, 0.01
NUDGE, MOST_TRIM, MOST_SPEED = 0.01, radians(0.3), 0.03
SLOWEST, FINEST = 0.3, 1e-3
"""Lowest speeds are sought down to this share of SPEED, and to this share of themselves."""
SHOWN = ("ride_height_error", "level_height_deviation", "pitch_rms", "vertical_acceleration", "power_mean", "servo_travel")
AHEAD = 0.08
"""Of the distance from the first foil to the last: most are stable then (judgement)."""
FLOORS = {"slowest mode": 0.5, "phase": radians(20.0), "delay": 0.02, "gain": 1.0}
"""Sizes of which 1 % is nothing, where a measure may be near zero (judgement): 1/s, rad, s."""

Values = dict[str, float]


class Violation(NamedTuple):
    """What changed too much: the arrangement's number, what was changed, what it moved, by how much, and why."""

    number: int
    change: str
    measure: str
    told: str
    kind: str


def built(crafts: Sequence[Craft], speed: float, strips: int | None = None) -> list[tuple[np.ndarray, Fleet]]:
    """The one place where strips are set: the same number for every foil, or the model's own."""
    return build_fleets(crafts, WATER, speed) if strips is None else build_fleets(crafts, WATER, speed, strips)


def counted(craft: Craft) -> tuple[int, ...]:
    """The numbers of strips that the kernel has room for."""
    return tuple(count for count in COUNTS if count * len(craft.foils) <= at.MAX_STRIPS)


def arrangement(seed: int, number: int) -> Craft:
    """A random craft that trims at SPEED: two to five foils, alone in the middle plane or in pairs, at random places."""
    draws = np.random.default_rng([seed, number])
    while True:
        craft = _drawn(draws)
        if craft is not None and trims(craft, SPEED):
            return craft


def _drawn(draws: np.random.Generator) -> Craft | None:
    """One draw; None if foils meet, or a tip comes out."""
    count = int(draws.choice([2, 3, 4, 5], p=[0.15, 0.3, 0.3, 0.25]))
    pairs = int(draws.integers(1, count // 2 + 1)) if count > 2 else 0  # two in line cannot hold themselves upright
    groups = [2] * pairs + [1] * (count - 2 * pairs)
    draws.shuffle(groups)
    stations = [draws.uniform(0.1, 0.42), *sorted(draws.uniform(-0.4, 0.4, len(groups) - 2), reverse=True)]
    stations.append(draws.uniform(-0.45, -0.12))
    shares = draws.uniform(0.4, 1.6, len(groups))
    shares *= 0.015 * draws.uniform(0.8, 1.4) / np.dot(shares, groups)
    foils: dict[str, dict[str, Any]] = {}
    for index, (members, x, area) in enumerate(zip(groups, stations, shares, strict=True)):
        aspect_ratio = draws.uniform(4.0, 10.0)
        span = float(np.sqrt(area * aspect_ratio))
        dihedral = radians(draws.uniform(2.0, 15.0)) if draws.random() < 0.4 else 0.0
        shape = {"x": float(x), "area": float(area), "span": span, "aspect_ratio": None, "dihedral": dihedral}
        aside = float(draws.uniform(0.5 * span + 0.01, 0.5 * span + 0.2))
        for side, letter in ((-1, "p"), (1, "s")) if members == 2 else ((0, "m"),):
            foils[f"{letter}{index}"] = shape | {"y": side * aside}
    ride = float(draws.uniform(0.06, 0.13))
    depth = float(draws.uniform(0.03, 0.14))
    if _meet(list(foils.values())) or any(
        _tip_depth(foil, depth) < 0.75 * foil["area"] / foil["span"] for foil in foils.values()
    ):
        return None
    return _on_foils(foils, ride, depth)


def _on_foils(foils: Mapping[str, Mapping[str, Any]], ride: float, depth: float) -> Craft:
    """The courier without noise on these foils, its weight `AHEAD` of the middle of their area, the last lone one to steer."""
    areas, stations = (np.array([foil[key] for foil in foils.values()]) for key in ("area", "x"))
    middle = float(np.dot(areas, stations) / areas.sum() + AHEAD * np.ptp(stations))
    lone = [name for name, foil in foils.items() if foil["y"] == 0.0]
    craft = with_foils(quiet(courier()), foils)
    craft = changed(craft, {"body.x": middle, "control.ride_height": ride, "struts.height": ride + depth})
    return changed(craft, {"steering.rudder": lone[-1]}) if lone else craft


def _tip_depth(foil: Mapping[str, Any], depth: float) -> float:
    return depth - 0.5 * float(foil["span"]) * tan(foil["dihedral"])


def _meet(foils: Sequence[Mapping[str, Any]]) -> bool:
    """Whether two foils are within a chord and a half fore and aft, and side by side overlap."""
    for index, one in enumerate(foils):
        for other in foils[:index]:
            chord = max(each["area"] / each["span"] for each in (one, other))
            if abs(one["x"] - other["x"]) < 1.5 * chord and abs(one["y"] - other["y"]) < 0.5 * (one["span"] + other["span"]):
                return True
    return False


def in_line(ratio: float, aft: float = 0.62) -> Craft:
    """Two foils in line, the one behind `ratio` times as wide at the same area and the same total as the courier's."""
    area = 75e-4
    ahead, behind = {"x": 0.22, "y": 0.0}, {"x": 0.22 - aft, "y": 0.0}
    spans = (0.18, 0.18 * ratio)
    shapes = [
        place | {"area": area, "span": span, "aspect_ratio": None} for place, span in zip((ahead, behind), spans, strict=True)
    ]
    return _on_foils(dict(zip(("m0", "m1"), shapes, strict=True)), 0.095, 0.105)


def angles(craft: Craft, fleet: Fleet) -> Values:
    """Trimmed angle of every foil from that of no lift, rad."""
    found = zip(craft.foils.items(), foil_angles(fleet), strict=True)
    return {f"trim of {name}": angle + foil.incidence - foil.zero_lift_angle for (name, foil), angle in found}


def trims(craft: Craft, speed: float, strips: int | None = None) -> bool:
    """Whether it trims at a speed (m/s)."""
    return bool(built([craft], speed, strips)[0][1].feasible[0])


def lowest_speed(craft: Craft, strips: int | None = None, near: float = 0.0) -> float:
    """The lowest speed (m/s) at which it trims, by halves down from SPEED or about a speed that is near; 0 if at all."""
    low, high = 0.98 * near, 1.02 * near
    if not near or trims(craft, low, strips) or not trims(craft, high, strips):
        low, high = SLOWEST * SPEED, SPEED
        if trims(craft, low, strips):
            return 0.0
    while high - low > FINEST * high:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if trims(craft, middle, strips) else (middle, high)
    return high


def steady(craft: Craft) -> list[Values]:
    """Trims, lowest speed and margins, SI, with each number of strips that there is room for."""
    values: list[Values] = []
    for count in counted(craft):
        values.append(_steady(craft, count, values[-1]["lowest speed"] if values else 0.0))
    return values


def _steady(craft: Craft, strips: int, near: float) -> Values:
    ((_, fleet),) = built([craft], SPEED, strips)
    values = angles(craft, fleet) | {"lowest speed": lowest_speed(craft, strips, near)}
    linear = linearise(fleet)[0]
    if linear is None:
        return values | {"slowest mode": inf}
    values["slowest mode"] = float(eigenvalues(linear)[0].real)
    for loop, spare in loop_margins(linear).items():
        values |= {f"{loop}, gain": spare.gain, f"{loop}, phase": spare.phase, f"{loop}, delay": spare.delay}
    return values


def unsteady(crafts: Sequence[Craft], strips: int) -> list[Values]:
    """Main responses of each in a mild sea from ahead, one after another; nothing of those that fail or touch."""
    block = silent(block_of(jonswap(pi - 0.3, height=0.02, period=1.2), 12.0, 4.0))
    values: list[Values] = [{}] * len(crafts)
    for indices, fleet in built(crafts, SPEED, strips):
        flown = fly(fleet, block)
        for index, status, row in zip(indices, flown.status, flown.responses, strict=True):
            found = dict(zip(RESPONSE_NAMES, row.tolist(), strict=True))
            if STATUS_NAMES[status] == "flew" and found["wet_share"] == 0.0 and found["broaches"] == 0.0:
                values[index] = {name: found[name] for name in SHOWN}
    return values


def converges(coarse: float, middle: float, fine: float, floor: float = 0.0) -> bool:
    """Whether the last doubling moved it by at most half of the one before, or by 1 %."""
    if not all(map(isfinite, (coarse, middle, fine))):
        return coarse == middle == fine
    return abs(fine - middle) <= max(HALF * abs(middle - coarse), SHARE * max(abs(fine), floor))


def strip_violations(number: int, craft: Craft, values: Sequence[Values]) -> Iterator[Violation]:
    """Measures that do not settle; values with 4, 8 and 16 strips."""
    for name in values[-1]:
        three = [each.get(name, inf) for each in values]
        floor = next((floor for end, floor in FLOORS.items() if name.endswith(end)), 0.0)
        if not converges(*three, floor):
            told = ", ".join(_told(name, value) for value in three)
            yield Violation(number, "4, 8, 16 strips", name, told, strip_kind(craft, name, three))


def neighbours(craft: Craft) -> dict[str, Craft]:
    """The craft with one length 1 % longer, by what is longer."""
    found = {}
    for path in ("struts.height", "control.ride_height"):
        part, key = path.split(".")
        found[path] = changed(craft, {path: getattr(getattr(craft, part), key) * (1 + NUDGE)})
    for name, foil in craft.foils.items():
        longer = {f"foils.{name}.{key}": getattr(foil, key) * (1 + NUDGE) for key in ("x", "y") if getattr(foil, key)}
        found |= {path: changed(craft, {path: value}) for path, value in longer.items()}
        wide = {f"foils.{name}.span": foil.span_length * (1 + NUDGE), f"foils.{name}.area": foil.area * (1 + NUDGE)}
        found[f"foils.{name}.span"] = changed(craft, wide)
        found[f"foils.{name}.chord"] = changed(craft, {f"foils.{name}.area": foil.area * (1 + NUDGE)})
    return found


def length_violations(number: int, craft: Craft) -> tuple[list[Violation], float, float]:
    """What 1 % of a length moves too far; the most that it moved a trim (rad), and the lowest speed if over 3 %."""
    near = neighbours(craft)
    before = angles(craft, built([craft], SPEED)[0][1])
    moved: dict[tuple[str, str], float] = {}
    for (length, other), fleet in zip(near.items(), _each(list(near.values()), SPEED), strict=True):
        after = angles(other, fleet)
        moved |= {(length, name): after[name] - before[name] for name in before}
    found = [
        Violation(number, f"1 % of {length}", name, f"{degrees(by):+.2f} deg", length_kind(craft, length))
        for (length, name), by in moved.items()
        if abs(by) > MOST_TRIM
    ]
    lowest, most = lowest_speed(craft), 0.0
    if lowest:
        over, under = (_each(list(near.values()), lowest * (1 + side * MOST_SPEED)) for side in (1, -1))
        for (length, other), flies, still in zip(near.items(), over, under, strict=True):
            if not flies.feasible[0] or still.feasible[0]:
                shift = lowest_speed(other, None, lowest) / lowest - 1.0
                most = max(most, abs(shift))
                found.append(Violation(number, f"1 % of {length}", "lowest speed", f"{shift:+.1%}", length_kind(craft, length)))
    return found, max(map(abs, moved.values())), most


def _each(crafts: Sequence[Craft], speed: float) -> list[Fleet]:
    """A fleet of one for each craft, in their order."""
    found: list[Fleet | None] = [None] * len(crafts)
    for indices, fleet in built(crafts, speed):
        for place, index in enumerate(indices.tolist()):
            found[index] = fleet.part(place, place + 1)
    return [fleet for fleet in found if fleet is not None]


KINDS = {
    "behind or beside": "A foil is a chord behind another, give or take a tenth: from there on it feels that one's wake.",
    "wake edge": "The tip of a foil ahead, or its vortex, passes over or close beside a foil behind. Beside the edge of a flat "
    "sheet, in its plane, upwash grows with one over the root of the distance: finer strips see more of it, stall there at "
    "a higher speed, and the mean of its square (drag) never settles.",
    "sloping tips": "The tips of a foil with dihedral are within a chord of the surface, where lift changes fast with depth.",
    "short base": "Foils share the weight over less than four of their chords fore and aft: a little more lever is much trim.",
    "near the surface": "A foil is under one chord deep, where lift changes fast with depth.",
    "another crossing": "The margin is taken at another crossing of the loop, or one appears: it is not continuous itself.",
    "falls over": "Foils in the middle plane alone cannot hold it upright; how fast it falls goes with the wake's edge.",
    "none of these": "Not explained by the geometry.",
}


def wake_edges(craft: Craft) -> bool:
    """Whether the band from vortex to tip of a foil ahead passes a foil behind, or within a tenth of its span beside it."""
    for ahead in craft.foils.values():
        for behind in craft.foils.values():
            aside, span, half = abs(behind.y - ahead.y), ahead.span_length, 0.5 * behind.span_length
            if ahead.x - behind.x > ahead.chord and pi / 8 * span < aside + half and aside - half < 0.6 * span:
                return True
    return False


def length_kind(craft: Craft, length: str) -> str:
    """Why a trim or a lowest speed may move that far; in the order of what explains most."""
    foils = list(craft.foils.values())
    depth = craft.struts.height - craft.control.ride_height
    apart = [abs(one.x - other.x) / one.chord for one in foils for other in foils if one is not other]
    if any(0.9 < gap < 1.1 for gap in apart) and length.endswith((".x", ".chord", ".span")):
        return "behind or beside"
    spread = max(foil.x for foil in foils) - min(foil.x for foil in foils)
    if spread < 4.0 * max(foil.chord for foil in foils):
        return "short base"
    if length.endswith((".y", ".span", ".x")) and wake_edges(craft):
        return "wake edge"
    return "near the surface" if any(depth < foil.chord for foil in foils) else _rest(craft, depth)


def strip_kind(craft: Craft, measure: str, three: Sequence[float]) -> str:
    """Why a measure may not settle with more strips."""
    if measure.endswith(("gain", "phase", "delay")) and (not all(map(isfinite, three)) or max(three) > 1.5 * min(three)):
        return "another crossing"
    if measure == "slowest mode" and not any(foil.y for foil in craft.foils.values()):
        return "falls over"
    rest = _rest(craft, craft.struts.height - craft.control.ride_height)
    return rest if rest != "none of these" or not wake_edges(craft) else "wake edge"


def _rest(craft: Craft, depth: float) -> str:
    sloping = any(
        foil.dihedral and depth - 0.5 * foil.span_length * tan(foil.dihedral) < foil.chord for foil in craft.foils.values()
    )
    return "sloping tips" if sloping else "none of these"


def _told(name: str, value: float) -> str:
    angle = name.startswith("trim") or name.endswith("phase")
    return f"{degrees(value):.2f} deg" if angle and isfinite(value) else f"{value:.4g}"


def geometry(craft: Craft) -> str:
    """One line: depth of the foils, then name, place, span, chord (cm) and dihedral of each."""
    depth = 100.0 * (craft.struts.height - craft.control.ride_height)
    foils = [
        f"{name} ({100 * foil.x:.1f}, {100 * foil.y:.1f}) {100 * foil.span_length:.1f} x {100 * foil.chord:.2f}"
        + (f" {degrees(foil.dihedral):.0f} deg" if foil.dihedral else "")
        for name, foil in craft.foils.items()
    ]
    return f"depth {depth:.1f} cm; " + "; ".join(foils)


class Judged(NamedTuple):
    """Violations; how many of each measure were judged; the most that 1 % moved a trim (rad) and the lowest speed."""

    violations: list[Violation]
    counts: Counter[str]
    most_trim: float
    most_speed: float


def judge(crafts: Mapping[int, Craft], flights: int | None = None) -> Judged:
    """All of it, of numbered crafts, so many of them flown."""
    violations: list[Violation] = []
    counts: Counter[str] = Counter()
    values = {number: steady(craft) for number, craft in crafts.items()}
    flying = [number for number, craft in crafts.items() if counted(craft) == COUNTS][:flights]
    if flying:
        flown = [unsteady([crafts[number] for number in flying], count) for count in COUNTS]
        for place, number in enumerate(flying):
            if all(each[place] for each in flown):
                values[number] = [old | each[place] for old, each in zip(values[number], flown, strict=True)]
    most_trims, most_speeds = [0.0], [0.0]
    for number, craft in crafts.items():
        if len(values[number]) == len(COUNTS):
            counts.update(_group(name) for name in values[number][-1])
            violations += strip_violations(number, craft, values[number])
        found, trim, speed = length_violations(number, craft)
        counts["1 % of a length"] += len(neighbours(craft))
        violations += found
        most_trims.append(trim)
        most_speeds.append(speed)
    return Judged(violations, counts, max(most_trims), max(most_speeds))


def _group(name: str) -> str:
    return "trims" if name.startswith("trim") else name.rpartition(", ")[2]


def report(crafts: Mapping[int, Craft], judged: Judged) -> str:
    """The table of what was judged, violations by kind with explanations, and each with its geometry."""
    lines = [f"{len(crafts)} arrangements", "", f"{'measure':28}{'judged':>8}{'violations':>12}"]
    wrong = Counter("1 % of a length" if each.change.startswith("1 %") else _group(each.measure) for each in judged.violations)
    lines += [f"{name:28}{count:8d}{wrong[name]:12d}" for name, count in judged.counts.items()]
    lines += ["", f"The most that 1 % of a length moved a trim: {degrees(judged.most_trim):.2f} deg"]
    lines += [f"the lowest speed: {judged.most_speed:.1%}" if judged.most_speed else "the lowest speed: under 3 %", ""]
    for kind, why in KINDS.items():
        some = [each for each in judged.violations if each.kind == kind]
        if some:
            lines += [f"{kind}: {len(some)} in {len({each.number for each in some})} arrangements. {why}"]
            lines += [f"  {each.number:4d}  {each.change}: {each.measure}: {each.told}" for each in some]
    numbers = sorted({each.number for each in judged.violations})
    return "\n".join([*lines, "", *(f"{number:4d}: {geometry(crafts[number])}" for number in numbers)])


def main(arguments: Sequence[str]) -> int:
    """Print the report; 1 if anything is against the property."""
    count, seed, flights = (int(given) for given in (*arguments, *("300", "17", "-1")[len(arguments) :]))
    start = time.process_time()
    crafts = {number: arrangement(seed, number) for number in range(count)}
    judged = judge(crafts, None if flights < 0 else flights)
    print(report(crafts, judged))
    print(f"\n{time.process_time() - start:.0f} s of processor")
    return int(bool(judged.violations))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

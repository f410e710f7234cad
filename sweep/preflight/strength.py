"""What breaks, bends or twists under the largest load that the water can put on it: doubts about struts and foils.

A strut's load case is the side flow at which air runs down it, at the ride height; a foil's is its section's largest lift, with
its flap at full travel either way. A flight need not come to either: the responses say what it came to.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from sweep.model.events import FAR_BENT, FAR_TWISTED
from sweep.model.pack.foils import deep_slope
from sweep.model.physics.flap import flap_terms
from sweep.model.physics.section import section_of
from sweep.model.physics.strength import MATERIALS, divergence_share, foil_terms, strut_terms
from sweep.model.physics.strut import helmbold_slope, side_coefficient
from sweep.model.records import Flap
from sweep.words.numbers import number, percent, with_unit
from sweep.words.phrases import listed

if TYPE_CHECKING:
    from sweep.campaign.craft import Craft, Rudder
    from sweep.campaign.foils import Foil, Struts
    from sweep.linear.reach import Trims
    from sweep.model.physics.water import Water

MIDDLE = 2
"""Of the Reynolds numbers that a section is known at: 1.6e5, of a chord of 4 cm at 4 m/s."""

FED_BACK = 0.1
"""Share of a part's lift slope that its own twist adds, from which on the flight is not that of a rigid one (judgement)."""

OTHER_DENSITY = 0.2
"""Share by which a density is another than its material's (judgement)."""


class Strained(NamedTuple):
    """A part under its load case: stress over strength, bend and length (m), twist (rad); its share in its lift slope."""

    name: str
    stress: float
    bend: float
    length: float
    twist: float
    fed_back: float
    material: str


def strained_parts(craft: Craft, water: Water, speed: float) -> Iterator[Strained]:
    """Every foil, strut and rudder with a material under its load case at a speed (m/s)."""
    pressure = 0.5 * water.density * speed**2
    for name, rudder in craft.steering.rudders.items():
        yield from _blade(f"rudder {name}", craft, rudder, (rudder.length, rudder.length - rudder.top), pressure)
    for name, foil in craft.foils.items():
        strut = craft.strut_of(foil)
        yield from _blade(f"the strut of foil {name}", craft, strut, (strut.height, strut.height), pressure)
        if foil.material is not None:
            yield _foil(f"foil {name}", craft, foil, pressure, foil.material)


def _foil(name: str, craft: Craft, foil: Foil, pressure: float, material: str) -> Strained:
    section, push = section_of(craft, foil), 0.5 * pressure * foil.area  # of a half
    lift = push * section.lift_max[MIDDLE]
    flap = Flap().moment_slope
    turned = flap_terms(foil)[flap] * craft.servo_of(foil).travel if foil.flap is not None else 0.0
    halves = foil_terms(foil)
    moments = [section.moment + turned, section.moment - turned]
    twist = max(abs(half.twist * lift + half.moment * push * moment) for half in halves for moment in moments)
    stress, bend, by_lift = (max(getattr(half, part) for half in halves) for part in ("stress", "bend", "twist"))
    strength = MATERIALS[material].strength
    fed_back = divergence_share(by_lift * push, deep_slope(foil, section))
    return Strained(name, stress * lift / strength, bend * lift, 0.5 * foil.span_length, twist, fed_back, material)


def _blade(name: str, craft: Craft, shape: Struts | Rudder, sizes: tuple[float, float], pressure: float) -> Iterator[Strained]:
    """A strut or rudder, if its material is known. sizes: its length, and how deep it reaches below the keel, m."""
    length, below = sizes
    if shape.material is None:
        return
    wet = min(max(below - craft.control.ride_height, 0.0), length)
    slope, terms, arm = helmbold_slope(wet / shape.chord), strut_terms(shape), length - 0.5 * wet
    push = pressure * shape.chord * wet
    force = push * side_coefficient(slope, craft.struts.ventilation.angle)
    bend = terms.bend * force * arm**2 * (3.0 * length - arm) / 6.0
    fed_back = divergence_share(terms.twist * push * arm, slope)
    stress = terms.stress * terms.strength * force * arm
    yield Strained(name, stress, bend, length, terms.twist * force * arm, fed_back, shape.material)


def weak_parts(trims: Trims, speed: float, water: Water, of: str) -> Iterator[str]:
    """A sentence each for parts that break, and for parts that bend or twist too far, of the designs tried at a speed (m/s)."""
    found = [(design, part) for design, craft in enumerate(trims.crafts) for part in strained_parts(craft, water, speed)]
    case = f"under the largest load that the water puts on it at {number(speed)} m/s"
    breaking = [(part.stress, design, part) for design, part in found if part.stress > 1.0]
    if breaking:
        stress, design, part = max(breaking, key=lambda each: each[0])
        yield (
            f"{case}, a strut or foil of {len({each[1] for each in breaking})} {of} breaks or stays bent: {part.name} of "
            f"{_named(trims, design)} has {number(stress, 2)} times the stress that {part.material} bears. Make it thicker, "
            "shorter or of a stronger material, or fly slower; a limit on overloads goes by what flights come to."
        )
    soft = [(max(part.bend / part.length / FAR_BENT, part.twist / FAR_TWISTED), design, part) for design, part in found]
    soft = [each for each in soft if each[0] > 1.0]
    if soft:
        _, design, part = max(soft, key=lambda each: each[0])
        yield (
            f"{case}, a strut or foil of {len({each[1] for each in soft})} {of} bends or twists so far that it no longer works "
            f"as the rigid one that is flown here: {part.name} of {_named(trims, design)} bends by "
            f"{with_unit(1000.0 * part.bend, 'mm')} and twists by {number(math.degrees(part.twist), 2)} deg. Make it thicker, "
            f"shorter, or stiffer than of {part.material}; a limit on bends goes by what flights come to."
        )
    yield from _twisting(trims, speed, [each for each in found if each[1].fed_back > FED_BACK], of)


def _twisting(trims: Trims, speed: float, found: list[tuple[int, Strained]], of: str) -> Iterator[str]:
    """Parts whose twist changes their lift so much that the flight of a rigid one tells nothing."""
    if found:
        design, part = max(found, key=lambda each: each[1].fed_back)
        grows = "it twists further and further" if part.fed_back >= 1.0 else f"{percent(part.fed_back)} more or less lift"
        yield (
            f"at {number(speed)} m/s a strut or foil of {len({each[0] for each in found})} {of} twists under its own lift, "
            f"which changes that: {part.name} of {_named(trims, design)}, {grows}. What is flown here is a rigid one: how this "
            f"one flies is not known. Make it thicker, shorter, or stiffer than of {part.material}, or fly slower."
        )


def other_densities(craft: Craft) -> Iterator[str]:
    """A sentence for the parts whose density is not that of their material."""
    parts: dict[str, Foil | Struts | Rudder] = {f"rudder {name}": rudder for name, rudder in craft.steering.rudders.items()}
    parts |= {f"foil {name}": foil for name, foil in craft.foils.items()}
    parts |= {f"the struts of foil {name}": craft.strut_of(foil) for name, foil in craft.foils.items()}
    found = [
        f"{name}: {number(part.density)} instead of {number(MATERIALS[part.material].density)} kg/m^3 ({part.material})"
        for name, part in parts.items()
        if part.material is not None and abs(part.density / MATERIALS[part.material].density - 1.0) > OTHER_DENSITY
    ]
    if found:
        yield f"a density is not its material's, so the craft's mass may be wrong: {listed(found, 'and')}. Set density."


def _named(trims: Trims, design: int) -> str:
    row = int(trims.designs.index[design])
    return "the base craft" if row == 0 else f"design {row}"

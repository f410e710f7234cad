"""Doubts about a campaign before it is flown, each with its number and a remedy, from designs at their trim.

What is wrong in any craft is refused when files are read. Here is what only some designs cannot do, and what needs a trim to be
known.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sweep.campaign.addresses import replace_values
from sweep.campaign.contradictions import (
    Clash,
    beams_flown,
    clashes,
    deepest_part,
    draught_afloat,
    keel_afloat,
    wand_flown,
)
from sweep.campaign.craft import ride_window
from sweep.campaign.draws import water_of
from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.reach import Trims, reaches
from sweep.linear.shares import TOGETHER, Scaled, gain_groups
from sweep.linear.ticks import stable
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import start_lanes
from sweep.model.onboard.servo import hold
from sweep.model.pack.control import moved_by_of
from sweep.model.pack.mass import mass_properties, rangefinder_places
from sweep.model.stepping.measure import measure
from sweep.preflight.as_bought import nominal_voltage
from sweep.preflight.in_the_way import faults_of_nothing, wands_that_strike
from sweep.preflight.strength import other_densities, weak_parts
from sweep.words.numbers import number, with_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.model.pack.fleet import Fleet

OTHERS = np.array([0.25, 0.35, 0.5, 0.7, 1.4, 2.0, 2.8, 4.0])
"""Factors on all gains of a design: nearly every law is tuned within them (judgement)."""

MOST_LINEARISED = 64
"""Designs, at all speeds together, whose loops are checked (judgement)."""

BISECTIONS, STRONGEST = 40, 1e4
"""Halvings of a servo's torque, and where they begin, N m: no boat of this kind has more (judgement)."""

LEAN, LEAST_SWING = math.radians(5.0), 0.01
"""Pitch of a boat that starts on the water, and how much nearer or farther (m) calm water comes in flight: judgement."""

MOVES = 0.03
"""Change of the take-off speed, a share, from which on it is said (judgement)."""


class Loads(NamedTuple):
    """Designs in trim: hinge moment of each foil (designs, foils), N m, and cavitation margin (designs,).

    The moment is NaN without a trim, or where every servo is strong enough.
    """

    hinge: NDArray[np.float64]
    cavitation: NDArray[np.float64]


def loads(fleet: Fleet) -> Loads:
    """The loads of every design of a fleet in its trim, by the kernel's own rules; NaN without a trim."""
    size, foils = len(fleet.parameters), fleet.structure.foils
    hinge, cavitation = np.full((size, foils), math.nan), np.full(size, math.nan)
    ready = np.flatnonzero(fleet.feasible)
    for start in range(0, len(ready), LANES):
        some = ready[start : start + LANES]
        lanes = start_lanes(fleet.some(some))
        slots = lanes.workspace.reshape(-1, LANES)
        measure(lanes.workspace, fleet.structure.counts)
        cavitation[some] = slots[at.CAVITATION_MARGIN, : len(some)]
        for foil in range(foils):
            if np.isfinite(torques(fleet)[some, foil]).any():
                hinge[some, foil] = _moment(lanes.workspace, foil * at.FOIL.width, fleet.density)[: len(some)]
    return Loads(hinge, cavitation)


def torques(fleet: Fleet) -> NDArray[np.float64]:
    """Torque of each foil's servo at the foil, (designs, foils), N m; infinite where it is ample or the foil is fixed."""
    slots = [moved_by_of(foil) for foil in range(fleet.structure.foils)]
    moves = fleet.parameters[:, [slot.travel for slot in slots]] > 0.0
    return np.where(moves, fleet.parameters[:, [slot.torque for slot in slots]], np.inf)


def _moment(workspace: NDArray[np.float64], slot: int, density: float) -> NDArray[np.float64]:
    """(lanes,): the least torque that holds a foil, N m, by halving. slot: where its row begins."""
    slots = workspace.reshape(-1, LANES)
    low, high = np.full(LANES, 1e-9), np.full(LANES, STRONGEST)
    for _ in range(BISECTIONS):
        middle = np.sqrt(low * high)
        slots[slot + at.FOIL.moved_by.torque] = middle
        hold(workspace, slot, density)
        stalls = slots[at.SERVO_AT_WORK.held] > 0.0
        low, high = np.where(stalls, middle, low), np.where(stalls, high, middle)
    return high


def doubtful(campaign: Campaign, trims: Trims, designs: int) -> Iterator[str]:
    """A sentence for each doubt; designs: how many there are in all."""
    of = f"of {len(trims.designs)} designs" + (" tried" if len(trims.designs) < designs else "")
    yield from _clashing(campaign, trims, of)
    yield from wands_that_strike(trims.crafts, of)
    yield from faults_of_nothing(campaign, trims.crafts, of)
    yield from _aground(campaign)
    yield from _out_of_sight(campaign)
    yield from _coarse(campaign.craft)
    yield from nominal_voltage(campaign.craft)
    yield from idle_torques(campaign.craft)
    yield from other_densities(campaign.craft)
    yield from _too_short(campaign)
    yield from filter(None, [take_off_bracket(campaign, "wake.rolled_up", (0.0, 1.0))])
    for speed, fleets in zip(trims.speeds, trims.fleets, strict=True):
        yield from _loaded(trims, speed, fleets, of)
        yield from weak_parts(trims, speed, water_of(campaign), of)
    yield from _unstable(trims)


def _clashing(campaign: Campaign, trims: Trims, of: str) -> Iterator[str]:
    """Designs, other than the base craft, that are impossible."""
    found: dict[tuple[str, ...], list[Clash]] = {}
    for craft in trims.crafts:
        for clash in clashes(craft, water_of(campaign), campaign.flight.start == "rest"):
            found.setdefault(clash.at, []).append(clash)
    for place, same in found.items():
        yield f"{'.'.join(place)} of {len(same)} {of}: {same[0].found}; wanted {same[0].wanted}."


def _aground(campaign: Campaign) -> Iterator[str]:
    """Whether a floating boat, or one in the troughs of the campaign's waves, touches the ground; its sensors at rest."""
    craft, water = campaign.craft, water_of(campaign)
    draught, (what, deepest) = draught_afloat(craft, water.density), deepest_part(craft)
    highest = max(campaign.seas, key=lambda sea: sea.height)
    if draught >= water.depth:
        yield (
            f"afloat it draws {_cm(draught)}, and there are {_cm(water.depth)} of water: it flies here, but cannot start or "
            "stop here. Start in deeper water, or shorten the struts."
        )
    elif deepest + 0.5 * highest.height >= water.depth:
        yield (
            f"{what} flies {_cm(deepest)} deep in {_cm(water.depth)} of water: in a trough of {highest.name} "
            f"({_cm(0.5 * highest.height)} down) it touches the ground. Fly in deeper water or lower waves, or "
            "shorten the struts."
        )
    elif (needed := draught + 0.5 * highest.height + _dip(craft)) > water.depth:
        yield (
            f"afloat on a level keel it draws {_cm(draught)} in {_cm(water.depth)} of water, and it pitches as it starts: at "
            f"{math.degrees(LEAN):.0f} degrees, in {highest.name}, it touches the ground. "
            f"Start in over {_cm(needed)} of water, or shorten the struts."
        )
    places, kinds = rangefinder_places(craft), craft.rangefinders.of_each("kind")
    lowest = min((place[2] for place, kind in zip(places, kinds, strict=True) if kind == "beam"), default=math.inf)
    under = keel_afloat(craft, water.density) - lowest
    if campaign.flight.start == "rest" and under > 0.0:
        yield (
            f"afloat its rangefinders are {_cm(under)} under water, and read nothing true until it lifts. "
            f"Mount them over {_cm(under + lowest)} above the keel."
        )


def _dip(craft: Craft) -> float:
    """How much deeper (m) the foremost or aftmost foil is when the boat pitches."""
    centre = float(mass_properties(craft).centre[0])
    return max(abs(foil.x - centre) for foil in craft.foils.values()) * math.sin(LEAN)


def _out_of_sight(campaign: Campaign) -> Iterator[str]:
    """Rangefinders that are blind over a crest, or beyond their far limit over a trough, of the campaign's waves."""
    sensors = campaign.craft.rangefinders
    limits = zip(sensors.of_each("blind"), sensors.of_each("far"), sensors.of_each("kind"), strict=True)
    beams = [(seen.distance, *own) for seen, own in zip(beams_flown(campaign.craft), limits, strict=True) if own[2] == "beam"]
    near = min(((over, blind) for over, blind, _, _ in beams), key=lambda each: each[0] - each[1], default=(math.inf, 0.0))
    far = max(((over, far) for over, _, far, _ in beams), key=lambda each: each[0] - each[1], default=(0.0, math.inf))
    highest = max(campaign.seas, key=lambda sea: sea.height)
    swing = max(0.5 * highest.height, LEAST_SWING)
    waves = f", as in {highest.name}," if swing > LEAST_SWING else ""
    if near[0] - swing <= near[1]:
        yield (
            f"at the ride height a rangefinder is {_cm(near[0])} from the water, and blind within {_cm(near[1])}: "
            f"water {_cm(swing)} nearer{waves} is not seen. Use one that sees closer, mount it higher, or ride higher."
        )
    if far[0] + swing >= far[1]:
        yield (
            f"at the ride height a rangefinder is {_cm(far[0])} from the water, and sees {_cm(far[1])} far: "
            f"water {_cm(swing)} farther{waves} is not seen. Use one that sees farther, mount it lower, or ride lower."
        )
    names, kinds = sensors.names(), sensors.of_each("kind")
    for name, kind, seen in zip(names, kinds, beams_flown(campaign.craft), strict=True):
        if kind == "pressure" and -seen.distance <= swing:
            yield (
                f"at the ride height the tap of rangefinder {name} is {_cm(-seen.distance)} deep: with the water {_cm(swing)} "
                f"lower{waves} it is out of it and reads nothing. Put it deeper, or ride lower."
            )
    for name, wand in campaign.craft.wands.items():
        over, reach = wand_flown(campaign.craft, wand)
        if over + swing >= reach:
            yield (
                f"at the ride height the hinge of wand {name} is {_cm(over)} over the water, and its tip comes {_cm(reach)} "
                f"below it: over water {_cm(swing)} lower{waves} it hangs in the air. Use a longer arm, or hinge it lower."
            )


def _coarse(craft: Craft) -> Iterator[str]:
    least, largest = ride_window(craft)
    steps = zip(craft.rangefinders.of_each("resolution"), craft.rangefinders.of_each("kind"), strict=True)
    if (coarsest := max((step for step, kind in steps if kind != "wand"), default=0.0)) > largest - least > 0.0:
        yield (
            f"a rangefinder reads in steps of {_cm(coarsest)}, and the ride window is "
            f"{_cm(largest - least)} high: it cannot tell whether the boat is inside. Use a finer rangefinder."
        )
    if not least <= craft.control.ride_height <= largest:
        yield (
            f"the ride height, {_cm(craft.control.ride_height)}, is outside the ride window, {_cm(least)} to {_cm(largest)}: "
            "it cannot be kept. Choose another ride height, taller struts, or a wider window."
        )


def idle_torques(craft: Craft) -> Iterator[str]:
    """Torques of rudders' servos, which no flight knows of."""
    steering = craft.steering
    owned = [("second_servo", steering.second_servo)]
    owned += [(f"rudders.{name}.servo", rudder.servo) for name, rudder in steering.rudders.items()]
    given = [("servo", steering.servo.torque), *((place, servo.torque) for place, servo in owned if servo is not None)]
    for place, torque in given:
        if torque is not None:
            yield (
                f"steering.{place}.torque: the load on a rudder's servo is not worked out. It is flown as if it never stalled, "
                f"and {number(torque)} N*m as if they were not given."
            )


def _too_short(campaign: Campaign) -> Iterator[str]:
    """From rest: the time in which full thrust brings the mass to a speed; with drag it takes longer."""
    thrust = campaign.craft.propulsor.static_thrust
    if campaign.flight.start != "rest" or thrust is None:
        return
    speed = min(campaign.speeds)
    takes, scored = mass_properties(campaign.craft).mass * speed / thrust, campaign.flight.scored
    if takes + 1.0 > scored:
        yield (
            f"from rest to {number(speed)} m/s takes {number(takes, 2)} s with all thrust and no drag, and {number(scored)} s "
            "are left after settling: the ride itself is not scored. Make the flights longer."
        )


def _loaded(trims: Trims, speed: float, fleets: Sequence[tuple[NDArray[np.int64], Fleet]], of: str) -> Iterator[str]:
    """Servos that stall in trim, and foils that may cavitate."""
    weak: list[tuple[float, float, str, int]] = []
    boiling: list[tuple[float, int]] = []
    for indices, fleet in fleets:
        found = loads(fleet)
        torque = torques(fleet)
        for place, design in enumerate(indices.tolist()):
            foil = int(np.argmax(np.nan_to_num(found.hinge[place] / torque[place])))
            if found.hinge[place, foil] > torque[place, foil]:
                weak.append((found.hinge[place, foil], torque[place, foil], [*trims.crafts[design].foils][foil], design))
            if found.cavitation[place] < 0.0:
                boiling.append((float(found.cavitation[place]), design))
    if weak:
        moment, torque_there, name, design = min(weak, key=lambda each: each[-1])
        giver = "its servo, torque times linkage," if trims.crafts[design].foils[name].linkage is None else "its wand's spring"
        yield (
            f"in trim at {number(speed)} m/s the servos of {len(weak)} {of} stall: the hinge of foil {name} of "
            f"{named(trims, design)} takes {number(moment, 2)} N m, and {giver} gives "
            f"{number(torque_there, 2)} N m. Use a stronger servo or more linkage, or move the pivot "
            "nearer to where the lift acts."
        )
    if boiling:
        margin, design = min(boiling, key=lambda each: each[-1])
        yield (
            f"in trim at {number(speed)} m/s foils of {len(boiling)} {of} may cavitate, which the model does not follow: "
            f"the margin of {named(trims, design)} is {number(margin, 2)}. Fly slower, or with larger or thinner foils."
        )


def named(trims: Trims, place: int) -> str:
    """What a tried design is called in a sentence; place: in the tables of `trims`."""
    number_of = int(trims.designs.index[place])
    return "the base craft" if number_of == 0 else f"design {number_of}"


def _unstable(trims: Trims) -> Iterator[str]:
    """Designs that are unstable with every share of their gains."""
    every = max(1, math.ceil(len(trims.crafts) * len(trims.speeds) / MOST_LINEARISED))
    for speed, fleets in zip(trims.speeds, trims.fleets, strict=True):
        looked = lost = 0
        for indices, fleet in fleets:
            some = np.flatnonzero((indices % every == 0) & fleet.feasible)
            for linear in linearise(fleet.some(some)) if len(some) else ():
                if linear is None:
                    continue
                looked += 1
                lost += not stable(linear) and not _stabilised(linear)
        if lost:
            yield (
                f"at {number(speed)} m/s no gain makes {lost} of {looked} designs checked stable: all gains were tried at "
                f"{number(float(OTHERS[0]))} to {number(float(OTHERS[-1]))} times their own. Try another law, less delay, or "
                "other places for foils and rangefinders."
            )


def _stabilised(linear: LinearCraft) -> bool:
    loop = Scaled(linear, gain_groups(linear)[TOGETHER])
    return any(loop.stable(share) for share in OTHERS)


def take_off_bracket(campaign: Campaign, address: str, ends: tuple[float, float]) -> str | None:
    """A sentence if the base craft's take-off moves by over 3 % between two values of a number that nobody knows exactly."""
    crafts = [replace_values(campaign.craft, {address: end}) for end in ends]
    one, two = reaches(crafts, water_of(campaign), campaign.speeds)
    if one is None or two is None:
        return None if one is two else f"with {address} at one of {ends[0]:g} and {ends[1]:g} it trims at no speed."
    if abs(two.low - one.low) <= MOVES * min(one.low, two.low):
        return None
    return (
        f"it takes off at {number(one.low)} m/s with {address} {ends[0]:g}, at {number(two.low)} m/s with {ends[1]:g}: "
        "what is right in between is not known."
    )


def _cm(length: float) -> str:
    return with_unit(100.0 * length, "cm")

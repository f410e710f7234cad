"""What to change when a boat misbehaves on the water, and which of these changes the model rejects.

Which change helps against what is common practice, without a source. Every change that is a number is flown before it is
printed, on flat water, where the boat without it is clean. A change that upsets the boat there is not recommended, and the
card says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from pydantic import ValidationError

from sweep.campaign.addresses import replace_values, value_at
from sweep.preflight.first_runs import FirstRuns, RunTally, flown_changes
from sweep.words.numbers import portion, with_unit

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft

DOWN, UP, HIGHER = 2.0 / 3.0, 4.0 / 3.0, 0.01
"""Judgement: a gain by a third either way, which a builder sees at once; m of ride height."""
BY = portion(UP - 1.0)
RIDE = "control.ride_height"


class Change(NamedTuple):
    """One change: in words, and, if it is a number, what it multiplies, by address, or adds to the ride height (m)."""

    said: str
    times: Mapping[str, float] = {}
    higher: float = 0.0

    def of(self, craft: Craft) -> Craft | None:
        """The changed craft; None if there is nothing to multiply, or no such craft."""
        values = {address: share * value_at(craft, address) for address, share in self.times.items()}
        if self.times and not any(values.values()):
            return None
        if self.higher:
            values[RIDE] = craft.control.ride_height + self.higher
        try:
            return replace_values(craft, values)
        except ValidationError:
            return None


def _gains(share: float, *names: str) -> dict[str, float]:
    return {f"control.{name}": share for name in names}


HEIGHT_DOWN = Change(f"height, proportional, down by {BY}", _gains(DOWN, "height.proportional"))
HEIGHT_UP = Change(f"height, proportional, up by {BY}", _gains(UP, "height.proportional"))
HIGHER_SAID = with_unit(100.0 * HIGHER, "cm")
RIDE_DOWN = Change(f"ride height {HIGHER_SAID} down", higher=-HIGHER)
RIDE_UP = Change(f"ride height {HIGHER_SAID} up", higher=HIGHER)
FASTER, CENTRE, ALIKE = Change("fly faster"), Change("check the centre of gravity"), Change("check that both sides are alike")
PORPOISES, TREMBLES, SINKS = "porpoises slowly, more and more", "trembles quickly", "sinks onto its hull"
TIPS, LEAVES, SLAMS = "tips to one side", "leaves the water on crests", "slams into every crest"

WITHIN_ROLL, WITHIN_PITCH = "cascade.roll.rate.proportional", "cascade.pitch.rate.proportional"
AROUND_ROLL, AROUND_PITCH = "cascade.roll.angle.proportional", "cascade.pitch.angle.proportional"

LEVELLED: dict[str, tuple[Change, ...]] = {
    PORPOISES: (HEIGHT_DOWN, Change(f"pitch, derivative, up by {BY}", _gains(UP, "pitch.derivative"))),
    TREMBLES: (
        Change(f"roll and pitch, proportional, down by {BY}", _gains(DOWN, "roll.proportional", "pitch.proportional")),
        Change(f"their derivatives down by {BY}", _gains(DOWN, "roll.derivative", "pitch.derivative")),
    ),
    SINKS: (FASTER, Change(f"height, integral, up by {BY}", _gains(UP, "height.integral")), CENTRE),
    TIPS: (Change(f"roll, proportional, up by {BY}", _gains(UP, "roll.proportional")), Change("turn more gently"), ALIKE),
    LEAVES: (RIDE_DOWN, HEIGHT_DOWN),
    SLAMS: (RIDE_UP, HEIGHT_UP),
}
BY_RATES = LEVELLED | {
    PORPOISES: (HEIGHT_DOWN, Change(f"pitch, rate loop, proportional, up by {BY}", _gains(UP, WITHIN_PITCH))),
    TREMBLES: (
        Change(f"roll and pitch, rate loops, proportional, down by {BY}", _gains(DOWN, WITHIN_ROLL, WITHIN_PITCH)),
        Change(f"their angle loops, proportional, down by {BY}", _gains(DOWN, AROUND_ROLL, AROUND_PITCH)),
    ),
    TIPS: (Change(f"roll, angle loop, proportional, up by {BY}", _gains(UP, AROUND_ROLL)), Change("turn more gently"), ALIKE),
}
EACH: dict[str, tuple[Change, ...]] = {
    PORPOISES: (HEIGHT_DOWN,),
    TREMBLES: (HEIGHT_DOWN, Change("check the rangefinder for delay and noise")),
    SINKS: (FASTER, CENTRE),
    TIPS: (Change("rest angle of the foil on the low side up by half a degree"), ALIKE),
    LEAVES: (RIDE_DOWN,),
    SLAMS: (RIDE_UP, HEIGHT_UP),
}
"""What to do about each sign: where the law levels the boat, does so by cascaded loops, or has each foil for itself."""


def _signs(craft: Craft) -> dict[str, tuple[Change, ...]]:
    """The signs of a craft's law, each with what to do about it."""
    law = craft.control.traits
    return EACH if not law.levels else BY_RATES if law.cascades else LEVELLED


class Cure(NamedTuple):
    """What a boat does, what to do about it, and what not to do, with what that did in the model."""

    sign: str
    does: tuple[str, ...]
    withheld: tuple[tuple[str, RunTally], ...]


def cures(campaign: Campaign, craft: Craft, runs: FirstRuns) -> list[Cure]:
    """The cures of a craft's law, flown with the gains of the first run and with all of them, slow and fast."""
    signs = _signs(craft)
    known = {change.said: change for changes in signs.values() for change in changes}
    numbers = {said: change for said, change in known.items() if change.times or change.higher}
    stages = [(craft, sorted({runs.setting.speed, runs.sound[-1]}))]
    if runs.setting.share < 1.0:
        stages.append((runs.craft, [runs.setting.speed]))
    worst: dict[str, RunTally] = {}
    for stage, speeds in stages:
        changed = {said: made for said, change in numbers.items() if (made := change.of(stage)) is not None}
        for said, tally in flown_changes(campaign, changed, speeds).items():
            if not tally.clean and worst.get(said, tally)[1:5] <= tally[1:5]:
                worst[said] = tally
    impossible = {said for said, change in numbers.items() if change.of(craft) is None}
    return [
        Cure(
            sign,
            tuple(each.said for each in changes if each.said not in worst and each.said not in impossible),
            tuple((each.said, worst[each.said]) for each in changes if each.said in worst),
        )
        for sign, changes in signs.items()
    ]

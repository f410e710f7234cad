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

CURES: dict[bool, dict[str, tuple[Change, ...]]] = {
    True: {
        PORPOISES: (HEIGHT_DOWN, Change(f"pitch, derivative, up by {BY}", _gains(UP, "pitch.derivative"))),
        TREMBLES: (
            Change(f"roll and pitch, proportional, down by {BY}", _gains(DOWN, "roll.proportional", "pitch.proportional")),
            Change(f"their derivatives down by {BY}", _gains(DOWN, "roll.derivative", "pitch.derivative")),
        ),
        SINKS: (FASTER, Change(f"height, integral, up by {BY}", _gains(UP, "height.integral")), CENTRE),
        TIPS: (Change(f"roll, proportional, up by {BY}", _gains(UP, "roll.proportional")), Change("turn more gently"), ALIKE),
        LEAVES: (RIDE_DOWN, HEIGHT_DOWN),
        SLAMS: (RIDE_UP, HEIGHT_UP),
    },
    False: {
        PORPOISES: (HEIGHT_DOWN,),
        TREMBLES: (HEIGHT_DOWN, Change("check the rangefinder for delay and noise")),
        SINKS: (FASTER, CENTRE),
        TIPS: (Change("rest angle of the foil on the low side up by half a degree"), ALIKE),
        LEAVES: (RIDE_DOWN,),
        SLAMS: (RIDE_UP, HEIGHT_UP),
    },
}
"""What to do about each sign: by whether the law levels the boat, or each foil answers a rangefinder of its own."""


class Cure(NamedTuple):
    """What a boat does, what to do about it, and what not to do, with what that did in the model."""

    sign: str
    does: tuple[str, ...]
    withheld: tuple[tuple[str, RunTally], ...]


def cures(campaign: Campaign, craft: Craft, runs: FirstRuns) -> list[Cure]:
    """The cures of a craft's law, flown with the gains of the first run and with all of them, slow and fast."""
    signs = CURES[craft.control.traits.levels]
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

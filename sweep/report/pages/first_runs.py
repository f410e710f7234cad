"""What the card says of the first runs: the steps, what the model did when it flew them, and what it does not bear."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sweep.campaign.draws import water_of
from sweep.linear.reach import foil_angles, trimmed
from sweep.linear.stability import speed_words
from sweep.preflight.cures import Cure
from sweep.preflight.first_runs import SHARES, TRIES, FirstRuns, NoRuns, RunTally
from sweep.words.numbers import count, number, with_unit
from sweep.words.phrases import together

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft

BENCH = "On the bench, propeller off: check the signs, then cut the radio link and see the throttle close."
WAVES = "Then the smallest waves: head seas before following seas."
HALF = 0.5
"""m/s: at most so much faster at a time (common practice, no source)."""


def steps(runs: FirstRuns, craft: Craft) -> Iterator[str]:
    """What to do in which order: nothing of it upset the boat in the model."""
    setting = runs.setting
    yield BENCH
    ride = with_unit(100.0 * craft.control.ride_height, "cm")
    yield (
        f"First runs: flat water, {speed_words(setting.speed)}, {gains_words(setting.share)}, keel {ride} above the water. "
        f"Short and straight, towards nobody. {_not_slower(setting.slower)}"
    ).strip()
    if runs.shares:
        ways = ", then ".join(f"{percent(share)}" for share in runs.shares)
        yield f"At that speed raise every gain to {ways} of this card."
    top = runs.sound[-1]
    if top > setting.speed:
        little = top - setting.speed <= HALF + 1e-9
        way = f"to {speed_words(top)}" if little else f"by {with_unit(HALF, 'm/s')} at a time, up to {speed_words(top)}"
        yield f"Take off at {speed_words(setting.speed)} as before; once it flies, go faster {way}."
    if runs.faster and not runs.faster[-1][1].clean:
        speed, tally = runs.faster[-1]
        yield f"Do not fly at {speed_words(speed)}: there {failed(tally)}."
    yield WAVES if runs.waves is None or runs.waves.clean else _not_in_waves(runs)


def gains_words(share: float) -> str:
    """'every gain at 60 % of this card'."""
    return "the gains of this card" if share == 1.0 else f"every gain at {percent(share)} of this card"


def percent(share: float) -> str:
    """'85 %'."""
    return f"{100.0 * share:.0f} %"


def _not_slower(slower: tuple[float, RunTally | None]) -> str:
    speed, tally = slower
    if tally is not None and tally.safe:
        return ""
    if math.isnan(speed):
        return "Do not fly slower: the model did not."
    why = f"at {speed_words(speed)} {failed(tally)}" if tally else f"at {speed_words(speed)} it is unstable"
    return f"Do not fly slower: {why}."


def _not_in_waves(runs: FirstRuns) -> str:
    assert runs.sea is not None
    assert runs.waves is not None
    return f"Do not fly in waves like {runs.sea.name} ({_height(runs)}) at this setting: there {failed(runs.waves)}."


def _height(runs: FirstRuns) -> str:
    return with_unit(100.0 * runs.sea.height, "cm", 2) if runs.sea else ""


def failed(tally: RunTally) -> str:
    """'5 of 16 flights upset, 10 touched down'."""
    kinds = {
        "went aground": tally.aground,
        "were stopped by the boat's own code": tally.stopped,
        "upset": tally.upset - tally.aground - tally.stopped,
        "had a foil out": tally.broached,
        "did not take off": tally.stayed_down,
    }
    kinds["touched down"] = tally.touched
    found = [f"{count} {kind}" for kind, count in kinds.items() if count]
    first, *more = found or ["none failed"]
    head, _, tail = first.partition(" ")
    return ", ".join([f"{head} of {tally.flights} flights {tail}", *more])


def evidence(campaign: Campaign, craft: Craft, runs: FirstRuns) -> Iterator[str]:
    """What was flown of the steps, in numbers."""
    setting, rest, trim = runs.setting, runs.rest, runs.trim
    fleet = trimmed(runs.craft, water_of(campaign), setting.speed)
    angles = [f"{name} {math.degrees(angle):.1f}" for name, angle in zip(craft.foils, foil_angles(fleet), strict=True)]
    yield (
        f"The model flew these first runs with sensor noise, {rest.flights} times from rest and {trim.flights} from trim: all "
        f"stayed up, none touched down, no foil came out. It took off after {with_unit(rest.take_off, 's', 2)}, then flew with "
        f"{100.0 * fleet.trim[0, 2]:.0f} % throttle and its foils at {together(angles)} deg."
    )
    if runs.waves is not None and runs.sea is not None and runs.waves.clean:
        yield f"The same in {runs.sea.name} ({_height(runs)}), in head seas, from trim: {_all(runs.waves)} clean."
    if runs.shares:
        shares = together([percent(share) for share in runs.shares])
        yield f"At {shares} of the gains, from rest: {TRIES} of {TRIES} stayed up{_each(runs.shares)}."
    sound = [(speed, tally) for speed, tally in runs.faster if tally.clean]
    if sound:
        at = together([number(speed) for speed, _ in sound])
        yield f"With the gains of this card at {at} m/s, from trim: {_all(sound[0][1])} clean{_each(sound)}."


def _each(of: Sequence[object]) -> str:
    return " at each" if len(of) > 1 else ""


def _all(tally: RunTally) -> str:
    return f"{tally.flights} of {tally.flights}"


def no_recipe(runs: NoRuns) -> list[str]:
    """That there is nothing to begin with, and why."""
    if not runs.speeds:
        return ["No first run is given: up to the campaign's fastest speed the model finds none at which this boat flies."]
    tried = f"{number(runs.speeds[0])} to {number(runs.speeds[-1])} m/s with {percent(SHARES[0])} to {percent(SHARES[-1])}"
    said = [
        f"No first run is given. The model tried {tried} of every gain: none took off from flat water and stayed up, with room "
        "to spare in gains and speed."
    ]
    if len(runs.speeds) == 1:
        return [
            f"No first run is given: {speed_words(runs.speeds[0])}, a little over take-off, is too near to the fastest at "
            "which this boat can fly or this campaign flies it. Change the speeds, or the boat, first."
        ]
    if runs.nearest is None:
        return [*said, "At every one of these speeds it is unstable with the gains of this card. Do not launch with them."]
    setting, tally = runs.nearest
    near = f"{speed_words(setting.speed)} with {gains_words(setting.share)}"
    narrow = ", but with higher or lower gains, or a step faster, it fails or was not flown" if tally.clean else ""
    mend = "Find rangefinders that go on reading" if tally.stopped else "Change the gains, or the boat"
    mend = "Find deeper water, or shorten the struts" if tally.aground else mend
    said.append(f"The nearest was {near}: {failed(tally)}{narrow}. {mend}, first.")
    if runs.stopped > tally.stopped:
        flights = count(runs.stopped, "flight", "flights")
        said.append(f"In {flights} of those tried the boat's own code stopped it: a rangefinder gave nothing for too long.")
    return said


def cure_rows(cures: list[Cure]) -> list[tuple[str, str, str]]:
    """What the boat does, what to do, what not to do and why."""
    rows = []
    for cure in cures:
        withheld = "; ".join(f"{said}: {failed(tally)}" for said, tally in cure.withheld)
        rows.append((cure.sign, "; or ".join(cure.does) or "stop", f"Do not: {withheld}." if withheld else ""))
    return rows

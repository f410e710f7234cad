"""How long a campaign would take and what it could show, before it is flown; and whether its craft can fly at all."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING

import joblib
import numpy as np
import pandas as pd

from sweep.campaign.conditions import Condition, list_conditions
from sweep.campaign.designs import lay_out, shown_factor
from sweep.campaign.draws import water_of
from sweep.campaign.follow_up_plan import FOLLOWED, REPLICATES, SETTLED_SHARE, SHARE, SHARE_ON_CLOCK, Tail, plan_tail, settles
from sweep.campaign.outings import conditions_of, course_words, list_outings
from sweep.campaign.outings import simulated as simulated_outings
from sweep.campaign.plan import FINALISTS, SEARCH_ROUNDS, Search, after_rounds, blocks_a_round, company
from sweep.campaign.search_plan import axes_of, purse_of
from sweep.campaign.tolerances import usual
from sweep.flying.clock import after_flights, ahead_of
from sweep.flying.flights import IDLE_LANES, Pace, measure_pace, warm_up
from sweep.flying.progress import duration
from sweep.insight.intervals import CONFIDENCE
from sweep.insight.search import BETTER, WINDOW, surface_terms
from sweep.linear.reach import (
    FEW_WAVES,
    Blame,
    Trims,
    blame,
    draft,
    expected_encounters,
    find_trims,
    foil_angles,
    reach,
    trimmed,
)
from sweep.linear.shortfall import nearest, shortfalls
from sweep.linear.stability import stability_text
from sweep.model.compiled import LANES
from sweep.model.history import RECORD_RATE
from sweep.model.pack.mass import mass_properties, price
from sweep.model.physics.spectra import GRAVITY
from sweep.model.quantities import RESPONSE
from sweep.preflight.amounts import costs_text, count_flights, first_look, flown_text, rules_text, season_text
from sweep.preflight.amounts import many as _many
from sweep.preflight.as_bought import as_bought
from sweep.preflight.doubts import doubtful, named
from sweep.preflight.lacking import lacking
from sweep.preflight.unknown_price import unknown_sentences
from sweep.preflight.unlike_sides import as_flown
from sweep.results.shard_plan import plan_shards
from sweep.words.numbers import number, portion, pretty
from sweep.words.phrases import listed, together
from sweep.words.responses import response, response_title

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.campaign.scoring import Limit

MOST_CONDITIONS = 200
"""Conditions whose waves are counted for a look ahead (judgement)."""
NOTHING_SHOWN = 1.0 - CONFIDENCE
"""Chance that a clean record misleads, by the limits' bounds."""

RECORD_BYTES, SITE_BYTES = 20.0, 2e6
"""Bytes of a recorded number of a leader, in its table and its page together, and of the rest of the site (measured)."""

RECORD_COLUMNS = 20
"""Numbers in a row of a recorded flight, about."""
RARE = ("_p99", "_p01", "_least", "_peak")


def preview(campaign: Campaign) -> list[str]:
    """Sentences: what is flown and how long it takes, the base craft, what cannot be flown, what the flights cannot decide."""
    campaign, conditions = first_look(campaign), list_conditions(campaign)
    designs, flights = lay_out(campaign), count_flights(campaign, len(conditions))
    warm_up(campaign, designs, conditions)
    pace, begun = measure_pace(campaign, designs, conditions), datetime.now().astimezone()
    seconds = campaign.budget.seconds(begun) if campaign.budget else None
    spare = None if seconds is None else SHARE_ON_CLOCK * seconds
    tail = plan_tail(campaign, len(designs), len(conditions), spare)
    return [
        campaign.title,
        *season_text(campaign),
        *flown_text(campaign, len(designs), len(conditions), flights),
        *unknown_sentences(campaign, designs, conditions),
        *_race(campaign, flights, pace),
        *_on_clock(campaign, len(designs), len(conditions), pace, seconds),
        *_settling(campaign, flights),
        _rest(tail, len(conditions)),
        *_map(campaign, tail),
        *_tolerances(campaign, len(conditions)),
        *_outings(campaign, pace),
        *_expected(campaign, pace, flights, len(conditions), tail),
        *_base_craft(campaign),
        *doubts(campaign),
    ]


def doubts(campaign: Campaign) -> list[str]:
    """Sentences: what rules leave out, what cannot be flown, what the flights cannot decide, and cautions; a run prints them
    too before it flies."""
    campaign, conditions = first_look(campaign), list_conditions(campaign)
    designs = lay_out(campaign)
    trims = find_trims(campaign, designs)
    return [
        *rules_text(campaign),
        *costs_text(campaign, designs),
        *_no_trim(campaign, trims, len(designs)),
        *(f"In doubt: {doubt}" for doubt in doubtful(campaign, trims, len(designs))),
        *(f"In doubt: {doubt}" for doubt in _doubts(campaign, conditions)),
        *(f"Caution: {warning}." for warning in campaign.warnings),
    ]


def _race(campaign: Campaign, flights: int, pace: Pace) -> list[str]:
    """How many of all flights a budget leaves."""
    budget = campaign.budget
    if budget is None or budget.simulated is None or isinstance(campaign.plan, Search):
        return []
    raced = int(budget.simulated / campaign.flight.length)
    share, workers = 100.0 * min(raced / flights, 1.0), joblib.cpu_count()
    seconds = budget.simulated / ((1.0 - IDLE_LANES) * LANES * pace.batches * workers)
    return [
        f"They are flown as a race of {_many(round(budget.simulated), 'simulated second')}: at most {_many(raced, 'flight')}, "
        f"{number(share, 2)} % of all. The leading designs get most of them. It takes {duration(max(seconds, 1.0))} here."
    ]


def _on_clock(campaign: Campaign, designs: int, conditions: int, pace: Pace, seconds: float | None) -> Iterator[str]:
    """What of the time on the clock flights get, and what is set aside."""
    if seconds is None or campaign.budget is None:
        return
    rate = (1.0 - IDLE_LANES) * LANES * float(np.nan_to_num(pace.batches, nan=1.0)) * joblib.cpu_count()
    aside = after_flights(campaign, designs, conditions, rate, SHARE_ON_CLOCK * seconds)
    until = f"until {campaign.budget.until}, which is {duration(seconds)}" if campaign.budget.until else duration(seconds)
    what = "A search" if isinstance(campaign.plan, Search) else "A race instead"
    yield (
        f"{what}, for {until} on the clock, everything included: the designs in the lead get most of the flights. Some "
        f"{duration(aside)} are set aside for what follows the flights, more where the computer is busy."
    )
    if aside > seconds:
        yield (
            "In doubt: that is more than there is. Each design flies once, what follows is made all the same, it ends late. "
            f"A budget of {duration(2.0 * aside)} leaves half of it to flights."
        )


def _settling(campaign: Campaign, flights: int) -> Iterator[str]:
    """How the leading designs fly on."""
    if not settles(campaign):
        return
    end = (
        "or the time for flights is spent"
        if campaign.budget
        else (f"or {_many(round(SETTLED_SHARE * flights), 'flight')} more are flown, as many as before")
    )
    yield (
        "Then the leading designs fly on through fresh waves that all of them share, until it is known which of them are good "
        f"enough, {end}. Without that: fly_on: none."
    )


def _rest(tail: Tail, conditions: int) -> str:
    """What follows the flights unasked, and in which conditions."""

    def where(some: int) -> str:
        return "every condition" if some == conditions else f"{some} of {_many(conditions, 'condition')}"

    changes = (
        f"Small changes of the leader are flown with {_many(tail.replicates, 'replicate')} in {where(tail.changed)}"
        if tail.changed
        else f"No small changes of the leader are flown: they would take more than {portion(SHARE)} the time of the flights"
    )
    return (
        f"Then {FOLLOWED} designs, the leaders and the base craft, are recorded in {where(tail.recorded)}. Causes are found "
        f"for at most {_many(tail.explained, 'bad flight')} of each. {changes}."
    )


def _map(campaign: Campaign, tail: Tail) -> list[str]:
    ride_map = tail.map
    if ride_map is None:
        spared = (
            f": it would take more than {portion(SHARE)} the time of the flights. To have it flown, add a map to the file"
            if campaign.map
            else ""
        )
        return [f"No map of where the leaders ride{spared}."]
    cells = len(ride_map.cells())
    heights = f"{number(100 * min(ride_map.heights))} to {number(100 * max(ride_map.heights))} cm"
    return [
        f"Then a map of where {FOLLOWED} designs ride, the leaders and the base craft: "
        f"{_many(len(ride_map.speeds), 'speed')} x "
        f"{_many(len(ride_map.heights), 'wave height')} ({heights}, all as steep as {ride_map.sea.name}) x "
        f"{_many(len(ride_map.headings), 'heading')} x {_many(ride_map.replicates, 'replicate')}: "
        f"{_many(FOLLOWED * cells * ride_map.replicates, 'flight')} more."
    ]


def _tolerances(campaign: Campaign, conditions: int) -> list[str]:
    if campaign.tolerances == "none":
        return []
    crafts = FOLLOWED * len(usual(campaign.craft))
    return [f"Then the same {FOLLOWED}, each built a little off: {_many(crafts * conditions * REPLICATES, 'flight')} more."]


def _outings(campaign: Campaign, pace: Pace) -> list[str]:
    """What is flown of whole outings, how long that takes, and in which seas."""
    outings, conditions = len(list_outings(campaign)), conditions_of(campaign)
    if not outings:
        return ["No whole outings: what a card says of them is not shown. For 20 of each leader: outings: 20."]
    seconds = simulated_outings(campaign, FOLLOWED) / (LANES * pace.batches) if math.isfinite(pace.batches) else math.nan
    takes = f", {duration(max(seconds, 1.0))} of one processor" if math.isfinite(seconds) else ""
    met = {condition.sea.name for condition in conditions}
    without = [sea.name for sea in campaign.seas if sea.name not in met]
    but = f" {together(without).capitalize()} is left out: a packet of waves passes once." if without else ""
    return [
        f"Then {_many(outings, 'whole outing')} of each of the same {FOLLOWED}: {course_words()}; "
        f"in {_many(min(outings, len(conditions)), 'condition')}{takes}.{but}"
    ]


def _expected(campaign: Campaign, pace: Pace, flights: int, conditions: int, tail: Tail) -> list[str]:
    """Time and disk space, from a few short flights."""
    if isinstance(campaign.plan, Search) and campaign.budget and campaign.budget.on_clock:
        return ["How many flights that makes, and how much of the disk they take, the clock decides."]
    length, designs = campaign.flight.length, max(flights // (conditions * campaign.replicates), 1)
    shards = len(plan_shards(designs, conditions, campaign.replicates))
    rows = shards * pace.bytes_a_shard + flights * pace.bytes_a_flight
    records = FOLLOWED * tail.recorded * length * RECORD_RATE * RECORD_COLUMNS * RECORD_BYTES + SITE_BYTES
    disk = f"about {_megabytes(rows)} of flights, {_megabytes(records)} of the leaders' records and the site"
    if not math.isfinite(pace.batches):
        return [f"How long it takes is not known: none of the first designs has a trim. On the disk: {disk}."]
    rate = (1.0 - IDLE_LANES) * LANES * pace.batches
    later = ahead_of(campaign, designs, conditions)._replace(unasked=tail.cost)
    after = (later.asked + later.unasked) / rate
    seconds = flights * length / rate * (1.0 + (SETTLED_SHARE if settles(campaign) else 0.0)) + after
    workers = joblib.cpu_count()
    here = f", {duration(max(seconds / workers, 1.0))} on the {workers} here" if workers > 1 else ""
    raced = campaign.budget is not None and not isinstance(campaign.plan, Search)
    whole = "Without the race it would take about" if raced else "At most about" if settles(campaign) else "About"
    return [
        f"{whole} {duration(max(seconds, 1.0))} of one processor{here} ({rate:.0f} x real time), {duration(after)} of it "
        f"for what follows the flights; then some {duration(later.finish)} for ranking and the site. On the disk: {disk}."
    ]


def _megabytes(size: float) -> str:
    return f"{number(size / 1e6, 2)} MB"


def _base_craft(campaign: Campaign) -> list[str]:
    craft, water = campaign.craft, water_of(campaign)
    mass = mass_properties(craft).mass
    loading = mass * GRAVITY / sum(foil.area for foil in craft.foils.values())
    cost = f", price {number(price(craft))}" if price(craft) else ""
    afloat = draft(trimmed(craft, water, campaign.speeds[0]))
    first = (
        f"Base craft {craft.name}: {number(mass)} kg ({number(mass * GRAVITY)} N), {number(loading)} N/m^2 on its foils{cost}; "
        f"afloat its keel is {number(100 * afloat)} cm deep."
    )
    found, bought = reach(craft, water, campaign.speeds), list(as_bought(craft, water.density))
    if found is None:
        near = nearest(craft, water, campaign.speeds)
        return [first, *bought, f"It trims at no speed. It is nearest to it at {number(near.speed)} m/s: {lacking(near)}."]
    flies = (
        f"It takes off at {number(found.low)} m/s (limited by {found.low_by}) "
        f"and flies up to {number(found.high)} m/s (limited by {found.high_by})."
    )
    trims = (_trim(campaign, speed) for speed in sorted(set(campaign.speeds)))
    return [first, *bought, *_unjudged(craft), flies, *trims, *stability_text(craft, water, found, campaign.speeds)]


def _unjudged(craft: Craft) -> Iterator[str]:
    """Whose strength is not judged, of a craft that names a material somewhere or nowhere."""
    unsaid = craft.without_material()
    if unsaid:
        whole = len(unsaid) == 2 * len(craft.foils) + len(craft.steering.rudders)
        parts = "its struts and foils" if whole else listed(unsaid, "and")
        yield f"The strength of {parts} is not judged: no material is given."


def _trim(campaign: Campaign, speed: float) -> str:
    fleet = trimmed(campaign.craft, water_of(campaign), speed)
    if not fleet.feasible[0]:
        (short,) = shortfalls(campaign.craft, water_of(campaign), [speed])
        return f"At {number(speed)} m/s it has no trim: {lacking(short)}."
    angles = zip(campaign.craft.foils, foil_angles(fleet), strict=True)
    foils = ", ".join(f"{name} {math.degrees(angle):.1f}" for name, angle in angles)
    trim = f"At {number(speed)} m/s it trims with its foils at {foils} deg and {100.0 * fleet.trim[0, 2]:.0f} % throttle."
    return trim + as_flown(campaign.craft, fleet)


def _no_trim(campaign: Campaign, trims: Trims, designs: int) -> Iterator[str]:
    """How many designs cannot be flown at each speed, what they have in common, and how many cannot at any."""
    tried = len(trims.designs)
    of = f"of {_many(tried, 'design')}" + (f" tried (of {_many(designs, 'design')})" if tried < designs else "")
    for speed, feasible in zip(trims.speeds, trims.feasible.T, strict=True):
        if not feasible.all():
            common = blame(campaign.factors, trims.designs, ~feasible)
            mostly = f", mostly with {_blamed(campaign, common)}" if common else ""
            first = int(np.flatnonzero(~feasible)[0])
            (short,) = shortfalls(trims.crafts[first], water_of(campaign), [speed])
            yield (
                f"{(~feasible).sum()} {of} have no trim at {number(speed)} m/s{mostly}: they break a limit there. Of "
                f"{named(trims, first)} {lacking(short)}."
            )
    never = int((~trims.feasible.any(axis=1)).sum())
    if never and len(trims.speeds) > 1:
        yield f"{never} {of} have none at any of the speeds."


def _blamed(campaign: Campaign, found: Blame) -> str:
    factor = campaign.factors[found.label]
    ends = found.level if isinstance(found.level, tuple) else (found.level,)
    shown = [number(value) if isinstance(value, float) else str(value) for value in shown_factor(factor, pd.Series(ends))]
    unit = f" {pretty(factor.unit)}" if factor.unit else ""
    return f"{found.label} {' to '.join(shown)}{unit} ({found.failing} of {found.designs})"


def _doubts(campaign: Campaign, conditions: tuple[Condition, ...]) -> Iterator[str]:
    if campaign.replicates == 1:
        yield "one replicate in each condition gives places, but does not show how sure they are."
    flights = len(conditions) * campaign.replicates
    for name, limit in campaign.limits.items():
        yield from _unknowable(name, limit, flights, campaign.flight.scored)
    yield from _few_waves(campaign, conditions)
    yield from _small_search(campaign, len(conditions))


def _small_search(campaign: Campaign, conditions: int) -> Iterator[str]:
    """A search whose rounds are too small to tell the numbers of the surface that leads them."""
    plan, budget, length = campaign.plan, campaign.budget, campaign.flight.length
    if not isinstance(plan, Search) or (budget is not None and budget.on_clock):
        return
    sizes = purse_of(campaign, conditions, budget.simulated / length if budget and budget.simulated else None).sizes
    enough = SEARCH_ROUNDS * math.ceil(surface_terms(axes_of(campaign)) / (BETTER * WINDOW))
    if sum(sizes) < enough:
        remedy = f"designs: {enough}"
        if budget:
            after = after_rounds(conditions * campaign.replicates, FINALISTS)
            needed = length * (blocks_a_round(conditions) * (enough + company()) + after)
            remedy = f"budget: {{simulated: {math.ceil(needed)} s}}"
        yield (
            f"{_many(sum(sizes), 'design')} in {SEARCH_ROUNDS} rounds are too few to learn where "
            f"{_many(len(axes_of(campaign)), 'factor')} are good: a race of as many flights may find better. "
            f"“{remedy}” is the least that they can learn from, and more is better."
        )


def _unknowable(name: str, limit: Limit, flights: int, scored_time: float) -> Iterator[str]:
    """Limits that not even a clean record of so many flights (of so many scored seconds each) could show to be kept."""
    needed = clean_flights(limit, scored_time)
    if needed > flights:
        allowed = f"{number(100 * limit.value)} %" if limit.kind == "share" else response(name, limit.value)
        takes = f"takes {_many(int(needed), 'clean flight')} to show" if math.isfinite(needed) else "cannot be shown by flights"
        yield f"whether a design keeps {response_title(name)} at {allowed} stays open: that {takes}, and each has {flights}."


def clean_flights(limit: Limit, scored_time: float) -> float:
    """Fewest flights, all clean, that show a limit to be kept; scored_time: s, of a flight. inf if none can.

    The exact bounds of `limits` for no event: (1 - share)^n = 5 %, and exp(-rate x time) = 5 %.
    """
    if limit.value <= 0.0:
        return math.inf
    if limit.kind == "rate":
        return math.ceil(-math.log(NOTHING_SHOWN) / (limit.value * scored_time))
    return math.ceil(math.log(NOTHING_SHOWN) / math.log1p(-limit.value)) if limit.value < 1.0 else 1


def _few_waves(campaign: Campaign, conditions: tuple[Condition, ...]) -> Iterator[str]:
    irregular = [each for each in conditions if each.sea.is_irregular][:MOST_CONDITIONS]
    waves = {each.name: expected_encounters(campaign, each) for each in irregular}
    few = [name for name, met in waves.items() if met < FEW_WAVES]
    if not few:
        return
    least = min(few, key=lambda name: waves[name])
    others = f" ({_many(len(few), 'condition')} under {FEW_WAVES})" if len(few) > 1 else ""
    judged = [name for name in (*campaign.score, *campaign.limits) if RESPONSE[name].unit == "/min" or name.endswith(RARE)]
    which = ", ".join(response_title(name) for name in dict.fromkeys(judged)) or "the extremes of a flight"
    yield (
        f"{which}: in {least} a flight meets about {waves[least]:.0f} waves{others}, too few to show rare events. "
        "Longer flights or more replicates help."
    )

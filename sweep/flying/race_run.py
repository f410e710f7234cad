"""A race into a results folder, heat by heat; each heat is shards, which a resumed run finds again.

With a budget of simulated seconds the heats follow from the rows, so that a resumed run takes the same decisions from the
shards that are there. On the clock each heat stands in the journal before it flies.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sweep.campaign.follow_up_plan import settles
from sweep.flying.heats import Heats, heat_of
from sweep.flying.work import Work
from sweep.insight.race import BASE, FIRST_BLOCKS, Heat, Purse, Race
from sweep.insight.rank import refused
from sweep.linear.screening import screen
from sweep.model.compiled import LANES
from sweep.results import store
from sweep.results.journal import RACE, Decision
from sweep.results.manifest import RaceBudget, read_manifest, write_manifest

SCREENED_FROM = 20.0
"""Simulated seconds of a design's first flights in a race from which it pays to look at its linear companion before: that takes
as long as 50 s of flight at each speed (measured), and where a quarter of the designs are ruled out saves a quarter of these
and the flights after them (judgement)."""

RACE_SHARE = 0.6
"""Share of the budget for flights that a race gets, before the leading designs fly on (judgement)."""


def fly_race(work: Work, folder: Path, heats: Heats) -> Race:
    """Fly the rest of a campaign's race, to its end, and write which designs dropped out."""
    campaign, designs, conditions, _, watcher = work
    purse, clock = _purse(work, folder, heats), heats.clock
    share, own = clock.for_flights if clock else 0.0, RACE_SHARE if settles(campaign) else 1.0
    if not clock:
        purse = purse._replace(seconds=max(own * purse.seconds, purse.cost(len(designs))))
    race = Race(campaign, len(designs), [condition.name for condition in conditions], purse, _screened(work))
    taken = f"{share * own:.0f} s on the clock" if clock else f"{purse.seconds:.0f} simulated seconds"
    watcher.say(f"A race of {len(designs)} designs for {taken}.")
    watcher.begin(round(purse.seconds / purse.flight), 0, purse.flight)
    while heat := _next_heat(race, heats, (1.0 - own) * share):
        race.add(heat, heats.fly(heat))
        watcher.best(*race.leader())
    watcher.end()
    heats.note("the flights of the race")
    made_from = store.grown_digest(read_manifest(folder))
    store.write_table(folder, "dropped", race.dropped(), made_from)
    store.write_table(folder, "rounds", race.rounds(), made_from)
    return race


def _screened(work: Work) -> dict[int, str]:
    """Designs that do not take part, each with the reason: what their costs refuse, and what cannot fly.

    Where its first flights take less than `SCREENED_FROM`, a design is left to show by them that it cannot fly.
    """
    campaign = work.campaign
    reasons = {design: why for design, why in refused(campaign).items() if design != BASE}
    if FIRST_BLOCKS * campaign.flight.length < SCREENED_FROM:
        return reasons
    return screen(campaign, work.designs, work.workers) | reasons


def _next_heat(race: Race, heats: Heats, later: float) -> Heat | None:
    """The next heat: of the journal, or decided by what is left; later: seconds on the clock that are not the race's."""
    clock = heats.clock
    if clock is None:
        return race.next_heat()
    if decision := heats.next_of(RACE):
        return heat_of(decision, race.round + 1)
    if heats.replays:
        return None
    race.allow(race.spent + clock.simulated(max(clock.for_flights - later, 0.0)))
    heat = race.next_heat()
    if heat is not None:
        why = f"round {heat.round} of the race; {clock.left:.0f} s left, {clock.aside:.0f} s of them set aside for the end"
        heats.decide(Decision(RACE, why, tuple(heat.designs.tolist()), heat.blocks))
    return heat


def _purse(work: Work, folder: Path, heats: Heats) -> Purse:
    """What the race may spend: simulated seconds, noted in the manifest; on the clock, what it could be at the start."""
    campaign, clock = work.campaign, heats.clock
    if clock is not None:  # where the clock counts, lanes that idle cost as much as others
        return Purse(clock.simulated(max(clock.for_flights, 0.0)), campaign.flight.length, LANES)
    assert campaign.budget is not None
    assert campaign.budget.simulated is not None
    manifest = read_manifest(folder)
    if manifest.race is None:
        manifest = replace(manifest, race=RaceBudget(campaign.budget.simulated, 1))
        write_manifest(folder, manifest)
    assert manifest.race is not None
    return Purse(manifest.race.simulated_seconds, campaign.flight.length, manifest.race.charged_together)

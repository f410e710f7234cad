"""What follows the flights and the standings: the leaders recorded, explained, mapped, built a little off, and changed."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pandas as pd

from sweep.campaign import outings as outing_plan
from sweep.campaign.designs import craft_of
from sweep.campaign.follow_up_plan import Tail, plan_tail, sample
from sweep.flying import failures, outing_failures
from sweep.flying.changes import counted, fly_changes, known_rounds, timed_rounds
from sweep.flying.clock import Clock
from sweep.flying.heats import Heats
from sweep.flying.outings import fly_outings
from sweep.flying.progress import duration
from sweep.flying.recording import record_flights
from sweep.flying.ride_map import fly_map, map_done
from sweep.flying.settle import ALL_FLOWN, DECIDED
from sweep.flying.tolerances import as_built, content, fly_as_built
from sweep.flying.variants import next_variants, worse_variants
from sweep.flying.work import Work
from sweep.insight.rank import Ranked
from sweep.insight.ranking import ranked as in_order
from sweep.insight.scores import CAP
from sweep.results import store
from sweep.results.fingerprint import map_content
from sweep.results.identity import flown_keys
from sweep.results.manifest import note_tail, read_manifest, write_manifest

EARLY = 0.05
"""Share of the time that a run may take which is told if it is left at its end (judgement)."""
PAUSE = 10.0
"""Seconds between two writings of a table that grows: what a kill may cost (judgement)."""


def follow(work: Work, folder: Path, chosen: list[int], ranked: Ranked, heats: Heats) -> None:
    """Fly all that follows, as much as `plan_tail` says; chosen: the leaders and the base craft; heats: those flown before.

    Where nothing leads, flights are recorded and explained, and that is all. Where the clock ends the run, changes get the time
    that is left.
    """
    tail = plan_tail(work.campaign, len(work.designs), len(work.conditions), read_manifest(folder).spare)
    leads = not nothing_leads(ranked)
    note_tail(folder, tail, leads)
    record_leaders(work, folder, chosen, tail)
    explain_troubles(work, folder, chosen, tail)
    if not leads:
        work.watcher.say(
            "No design keeps the limits and flies, so that nothing leads: no map, no tolerances, no outings and no small "
            "changes are flown. The site says of each design why."
        )
        return
    begun = time.monotonic()
    flown = map_rides(work, folder, chosen, tail) + build_off(work, folder, chosen)
    if heats.clock:
        heats.clock.learn_later(flown * work.campaign.flight.length, time.monotonic() - begun)
    go_out(work, folder, chosen)
    try_changes(work, folder, ranked, tail, heats)
    if heats.clock and (said := note_early(folder, heats.clock, heats.ended)):
        work.watcher.say(said)


def nothing_leads(ranked: Ranked) -> bool:
    """Whether every design broke a limit, or scores in every flight as what is lost or could not start."""
    return in_order(ranked.standings).empty or not (ranked.scores < CAP).any()


def note_early(folder: Path, clock: Clock, why: str) -> str:
    """Note in the manifest that time is left when only the pages are to be made, if it is, and say so; why: flights ended."""
    spare, manifest = clock.spare, read_manifest(folder)
    assert manifest.clock is not None
    said = ""
    if spare > EARLY * clock.seconds:
        told = "More had been set aside for what follows the flights than it took."
        if why == DECIDED or why.startswith(ALL_FLOWN):
            most = "Nothing more was telling" if why == DECIDED else "All had flown as often as it may"
            told = f"{most}: {why}, and small changes of the leader flew as often as they may."
        said = f"About {duration(spare)} of the {duration(clock.seconds)} that the run may take are left. {told}"
    write_manifest(folder, replace(manifest, clock=replace(manifest.clock, early=said)))
    return said


def record_leaders(work: Work, folder: Path, chosen: list[int], tail: Tail) -> None:
    """Keep the time histories of the chosen designs."""
    some = sample(work.conditions, tail.recorded)
    work.watcher.say(f"Recording {len(chosen)} designs in {_of(len(some), len(work.conditions))} conditions.")
    work.begin(len(chosen) * len(some))
    histories = record_flights(work._replace(conditions=some), chosen)
    store.write_leaders(folder, histories, flown_keys(folder))
    work.watcher.end()


def _of(some: int, all_: int) -> str:
    return f"{some}" if some == all_ else f"{some} of {all_}"


def explain_troubles(work: Work, folder: Path, chosen: list[int], tail: Tail) -> None:
    """Keep the bad events in the flights of the chosen designs, each with its cause and the seconds around it."""

    parts = store.read_shards(folder, failures.READ)  # once for all: with many conditions it takes as long as the flights
    flights = pd.concat([part[part["design"].isin(chosen)] for part in parts], ignore_index=True)

    def flights_of(design: int) -> pd.DataFrame:
        return flights[flights["design"] == design]

    work.watcher.say(f"Finding causes in at most {tail.explained} bad flights of each.")
    told = failures.explain(work, chosen, flights_of, tail.explained)
    store.write_grown(folder, "troubles", told.events)
    store.write_grown(folder, "moments", told.moments)


def map_rides(work: Work, folder: Path, chosen: list[int], tail: Tail) -> int:
    """Fly the chosen designs over the tail's map, from where the folder's table ends; the table is written as it grows.

    Returns how many flights were flown.
    """
    ride_map = tail.map
    if ride_map is None:
        store.drop_grown(folder, "rides")
        return 0
    cells, flights = len(ride_map.cells()), len(chosen) * ride_map.replicates
    asked = {"flights": cells * flights, "designs": chosen} | map_content(ride_map)
    table = store.begin_grown(folder, "rides", asked)
    if map_done(ride_map, table, len(chosen)):
        return 0
    work.watcher.say(f"Mapping where {len(chosen)} designs ride: {cells} combinations of speed, wave height and heading.")
    before = flown = int(table["blocks"].sum()) if len(table) else 0
    work.begin(cells * flights, before)
    for grown in fly_map(work, ride_map, chosen, table):
        store.write_grown(folder, "rides", grown)
        flown = int(grown["blocks"].sum())
    work.watcher.end()
    return flown - before


def build_off(work: Work, folder: Path, chosen: list[int]) -> int:
    """Fly the chosen designs as built a little off, if the campaign asks for it, from where the folder's table ends.

    Returns how many flights were flown.
    """
    campaign, conditions = work.campaign, work.conditions
    if campaign.tolerances == "none":
        store.drop_grown(folder, "tolerances")
        return 0
    built = as_built(campaign, work.designs, chosen)
    table = store.begin_grown(folder, "tolerances", content(built))
    if len(table) == built.flights(len(conditions)):
        return 0
    work.watcher.say(
        f"Flying {len(chosen)} designs built a little off: {len(built.designs)} craft in {len(conditions)} conditions."
    )
    work.begin(built.flights(len(conditions)), len(table))
    first = len(table) // len(built.designs)
    _grow(folder, "tolerances", table, fly_as_built(work, built, first))
    work.watcher.end()
    return built.flights(len(conditions)) - len(table)


def go_out(work: Work, folder: Path, chosen: list[int]) -> None:
    """Fly whole outings of the chosen designs, if the campaign asks for them, from where the folder's table ends."""
    campaign = work.campaign
    if not campaign.outings:
        for name in ("outings", *store.SEEN):
            store.drop_grown(folder, name)
        return
    table = store.begin_grown(folder, "outings", outing_plan.content(campaign, chosen))
    outings = len(outing_plan.list_outings(campaign))
    if len(table) == outings * len(chosen):
        see_outings(work, folder, chosen)
        return
    for name in store.SEEN:
        store.drop_grown(folder, name)
    work.watcher.say(f"Flying {outings} whole outings of each of {len(chosen)} designs: {outing_plan.course_words()}.")
    work._replace(campaign=outing_plan.as_outings(campaign)).begin(outings * len(chosen), len(table))
    _grow(folder, "outings", table, fly_outings(work, chosen, len(table) // len(chosen)))
    work.watcher.end()
    see_outings(work, folder, chosen)


def see_outings(work: Work, folder: Path, chosen: list[int]) -> None:
    """Keep what failed first in some outings, with its cause and the seconds around it, unless the folder has that."""
    wanted = store.grown_digest(read_manifest(folder), store.GROWN["outings"])
    if all(store.made_of(folder, name) == wanted for name in store.SEEN):
        return
    table = store.read_table(folder, "outings")
    if len(again := outing_failures.worth_seeing(table)):
        work.watcher.say(f"Finding what failed first in {len(again)} outings.")
    seen = outing_failures.see_failures(work, chosen, table)
    for name, rows in zip(store.SEEN, seen, strict=True):
        store.write_grown(folder, name, rows)


def _grow(folder: Path, name: str, table: pd.DataFrame, parts: Iterable[pd.DataFrame]) -> None:
    """Write a table as it grows, and once more when it is stopped."""
    written = time.monotonic()
    try:
        for part in parts:
            table = pd.concat([table, part], ignore_index=True) if len(table) else part
            if time.monotonic() - written > PAUSE:
                store.write_grown(folder, name, table)
                written = time.monotonic()
    finally:
        store.write_grown(folder, name, table)


def try_changes(work: Work, folder: Path, ranked: Ranked, tail: Tail, heats: Heats) -> None:
    """Fly small changes of the leading design, and poorer ones, unless the folder has them."""
    campaign, standings = work.campaign, ranked.standings
    broken = standings.loc[standings["verdict"] == "broken", "design"].tolist()
    leader = int(standings["design"].iloc[0])
    if leader in broken:
        return
    judged = {"leader": leader, "broken": len(broken)} | campaign.model_dump(mode="json", include={"score"})
    known = known_rounds(work, heats, tail)
    if known is not None and (not known or store.holds_changes(folder, judged | counted(known))):
        return
    base = craft_of(campaign, work.designs.iloc[leader])
    found = [next_variants(campaign, work.designs, ranked.scores, broken, leader), list(worse_variants(campaign, base))]
    groups = [group for group in found if group]
    work.watcher.say(f"Trying small changes of design {leader}: {sum(map(len, groups))} variants.")
    table, flown = fly_changes(work, leader, groups, known or timed_rounds(work, heats, leader, groups))
    if flown:
        store.holds_changes(folder, judged | counted(flown))
        store.write_grown(folder, "changes", table)

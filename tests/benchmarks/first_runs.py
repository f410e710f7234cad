"""Whether the card names what is wrong: boats whose lift, drag, thrust or balance are not their files'.

    python -m tests.benchmarks.first_runs

Each boat has one number off by three times its range on the card, either way. It flies over flat water at the card's speed,
with the control code of the boat as designed and its sensors' noise and biases; its throttle and its foils' angles are means of
the last ten seconds. Its take-off speed is the slowest at which it still flies at half its ride height, of steady flights at
falling speeds. People read all that with errors (`on_paper.READ`). Then the card is followed to the letter: is anything outside
its interval, which numbers are named there, and which row of the table is most alike in signs and proportions. Beside it boats
whose numbers are all off by no more than their ranges: how many read outside.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pydantic import ValidationError

from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import Condition
from sweep.campaign.craft import Craft
from sweep.campaign.draws import draw_block, water_of
from sweep.campaign.named_seas import FlatSea
from sweep.campaign.water import NamedHeading
from sweep.model.flight import fly_record
from sweep.model.history import RECORDED
from sweep.model.pack.fleet import build_fleets
from sweep.preflight.on_paper import READ, OnPaper, Suspect, Wrong, ends_of, on_paper, suspects
from sweep.report.pages.on_paper import MOST_NAMED

CONFIGS = Path(__file__).parents[2] / "configs"
CAMPAIGNS = ("courier-chop", "classroom-pond", "surveyor-harbour", "ranger-struts")
PLANTED = ("lift slope of the foils", "least drag of the foils", "thrust", "centre of gravity", "incidence of the foils")
TIMES = 3.0
LENGTH, LAST = 30.0, 10.0
SLOWER, LOST = 0.97, 0.5
"""From one speed to the next; share of the ride height that a boat lacks which is no longer carried (judgement)."""
READINGS, BOATS = 20, 10

Floats = NDArray[np.float64]


class Boat(NamedTuple):
    """A boat as it is, the name of what is off and how, as the card would say it."""

    craft: Craft
    name: str
    more: bool


def flown(campaign: Campaign, designed: Craft, craft: Craft, speed: float, boat: int) -> pd.DataFrame:
    """The last seconds of a steady flight over flat water, code as designed; empty if it ended early or has no trim.

    boat: its number, which draws the biases of its sensors.
    """
    calm = campaign.model_copy(
        update={"flight": campaign.flight.model_copy(update={"length": LENGTH, "settle": 1.0, "start": "flying"})}
    )
    condition = Condition(0, "calm", FlatSea(name="calm"), NamedHeading(name="head", angle=math.pi), speed)
    ((_, fleet),) = build_fleets([craft], water_of(campaign), speed, designed=[designed])
    record = fly_record(fleet, draw_block(calm, condition, boat), 20.0)[0]
    table = pd.DataFrame(record, columns=[*RECORDED, *(f"foil_{name}" for name in craft.foils)]).dropna(subset=["time"])
    whole = len(table) > 0 and float(table["time"].max()) > 0.95 * LENGTH
    return table[table["time"] > LENGTH - LAST] if whole else table.head(0)


def shown_by(campaign: Campaign, craft: Craft, card: OnPaper, boat: int) -> Floats | None:
    """What a boat shows of the card's numbers; None if it does not fly at the card's speed."""
    designed = campaign.craft
    steady = flown(campaign, designed, craft, card.speed, boat)
    if not len(steady):
        return None
    carried, wanted, told = card.speed, designed.control.ride_height, card.shown[0].name == "take-off speed"
    for _ in range(60 if told else 0):
        slower = flown(campaign, designed, craft, SLOWER * carried, boat)
        if not len(slower) or float(slower["keel_height"].mean()) < (1.0 - LOST) * wanted:
            break
        carried *= SLOWER
    one, other = (math.degrees(float(steady[f"foil_{name}"].mean())) for name in ends_of(designed))
    values = [*([carried] if told else []), 100.0 * float(steady["throttle"].mean()), 0.5 * (one + other), one - other]
    return np.array(values)


def planted(craft: Craft, suspect: Suspect, more: bool) -> Boat | None:
    """A boat whose one number is off by `TIMES` its range; None if there is no such craft."""
    _, values = suspect.ends[more]
    now = {address: value_at(craft, address) for address in values}
    try:
        off = replace_values(craft, {each: now[each] + TIMES * (end - now[each]) for each, end in values.items()})
    except ValidationError:
        return None
    return Boat(off, suspect.name, more)


def likest(card: OnPaper, seen: Floats) -> Wrong:
    """The row of the table that is most alike to what was seen in signs and proportions, each number over its interval."""
    half = np.array([each.half for each in card.shown])
    apart = (seen - [each.value for each in card.shown]) / half
    rows = [side for pair in card.wrong for side in pair]
    adds = [np.array(side.adds) / half for side in rows]
    return rows[int(np.argmax([apart @ each / max(float(np.linalg.norm(each)), 1e-9) for each in adds]))]


def named(card: OnPaper, seen: Floats) -> list[Wrong] | None:
    """What the card names for the number that is farthest outside its interval, in order; None if all are inside."""
    apart = np.array([(value - each.value) / each.half for value, each in zip(seen, card.shown, strict=True)])
    at = int(np.abs(apart).argmax())
    return None if abs(apart[at]) <= 1.0 else card.explain(at, bool(apart[at] > 0.0))[:MOST_NAMED]


def read(card: OnPaper, seen: Floats, draws: np.random.Generator) -> Floats:
    """What people read of it."""
    return seen + draws.standard_normal(len(seen)) * [READ[each.unit] for each in card.shown]


def within(craft: Craft, tried: list[Suspect], draws: np.random.Generator) -> Craft:
    """A boat all of whose numbers are off, evenly within their ranges."""
    values: dict[str, float] = {}
    for suspect in tried:
        (_, low), (_, high) = suspect.ends
        share = draws.random()
        values |= {address: low[address] + share * (high[address] - low[address]) for address in low}
    return replace_values(craft, values)


def main() -> None:
    """Print a line a boat, and the sums."""
    draws, sums, held = np.random.default_rng(23), np.zeros(5), np.zeros(2)
    for name in CAMPAIGNS:
        campaign = load_campaign(CONFIGS / f"{name}.yaml")
        craft = campaign.craft
        card, tried = on_paper(campaign, craft), {each.name: each for each in suspects(campaign, craft)}
        assert card is not None
        sides = {(pair[at].name, bool(at)): pair[at] for pair in card.wrong for at in (0, 1)}
        print(
            f"\n{name}, {card.speed:g} m/s: "
            + ", ".join(f"{e.name} {e.value:.2f} +- {e.half:.2f} {e.unit}" for e in card.shown)
        )
        boats = [planted(craft, tried[each], more) for each in PLANTED for more in (False, True) if each in tried]
        for at, boat in enumerate(boats):
            if boat is not None:
                sums += _followed(campaign, card, boat, sides[boat.name, boat.more], at, draws)
        held += _held(campaign, card, list(tried.values()), draws)
    said = f"{sums[1]:.0f} of {sums[0]:.0f} readings outside; of these the number first named is right in {sums[2]:.0f}"
    print(f"\nBoats with one number off: {said}, one of the two named in {sums[3]:.0f}, the row most alike in {sums[4]:.0f}.")
    print(f"Boats off within all ranges: {held[1]:.0f} of {held[0]:.0f} numbers read inside their intervals.")


def _held(campaign: Campaign, card: OnPaper, tried: list[Suspect], draws: np.random.Generator) -> Floats:
    """Numbers that boats show whose own are off within their ranges, and those inside the card's intervals."""
    counts, half = np.zeros((2, len(card.shown))), np.array([each.half for each in card.shown])
    for boat in range(BOATS):
        seen = shown_by(campaign, within(campaign.craft, tried, draws), card, 100 + boat)
        if seen is not None:
            apart = read(card, seen, draws) - [each.value for each in card.shown]
            counts += np.ones_like(half), np.abs(apart) <= half
    print(
        "  within: " + ", ".join(f"{e.name} {got:.0f} of {all_:.0f}" for e, all_, got in zip(card.shown, *counts, strict=True))
    )
    return np.asarray(counts.sum(axis=1))


def _followed(campaign: Campaign, card: OnPaper, boat: Boat, truth: Wrong, at: int, draws: np.random.Generator) -> Floats:
    """Readings of a boat: all, those outside, where the first named, one of those named, and the row most alike are right."""
    seen, counts = shown_by(campaign, boat.craft, card, at), np.zeros(5)
    if seen is None:
        print(f"  {boat.name} ({TIMES:g} x {truth.off}): does not fly at the card's speed")
        return counts
    for _ in range(READINGS):
        told = read(card, seen, draws)
        counts[0] += 1
        if (found := named(card, told)) is not None:
            counts[1:] += 1, found[:1] == [truth], truth in found, likest(card, told) == truth
    print(
        f"  {boat.name} ({TIMES:g} x {truth.off}): shows {np.round(seen, 2)}; outside {counts[1]:.0f} of {READINGS}, first "
        f"named {counts[2]:.0f}, named {counts[3]:.0f}, row {counts[4]:.0f}"
    )
    return counts


if __name__ == "__main__":
    main()

"""Advice that scores cannot follow: each craft that it names is built and flown, 64 times a condition, in waves of its own.

A small campaign is cut from a truth; its leader's changes, tolerances and map are flown as a run flies them, and told in the
pages' own words. Then every craft that a sentence names flies long beside the leader, and the sentence is held against that.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sweep.campaign.campaign import Campaign
from sweep.campaign.conditions import SOUND, list_conditions
from sweep.campaign.craft import Craft
from sweep.campaign.designs import craft_of
from sweep.campaign.draws import water_of
from sweep.campaign.follow_up_plan import REPLICATES, plan_tail, sample
from sweep.campaign.named_seas import FlatSea
from sweep.flying.flights import fly_crafts
from sweep.flying.ride_map import clean, fly_map, map_conditions
from sweep.flying.tolerances import as_built, fly_as_built
from sweep.flying.variants import BALANCE, POORER, Variant, fly_variants, next_variants, worse_variants
from sweep.flying.work import Work
from sweep.insight.contour import ENOUGH
from sweep.insight.good_enough import promised
from sweep.insight.limits import share_bounds
from sweep.insight.ranking import ranked as in_order
from sweep.insight.robust import tolerance_costs
from sweep.insight.scores import Scoring
from sweep.linear.reach import reach as reach_of
from sweep.linear.stability import limit_words, spans_within
from sweep.report.headline import least
from sweep.report.pages import changes, rides, robust
from tests.benchmarks.advice import Truth, judged, ranked
from tests.benchmarks.followed import results_of
from tests.benchmarks.sentence_checks import FACT, NUMBER, Told

LONG, CALM = 64, 8
"""Replicates by which a sentence is judged, and in calm water, where only noise differs."""
SURELY_MORE = 0.05
"""Share of flights by which the long flights' own chance may move a share of clean ones (judgement)."""
OTHER_WAVES = 100_000
"""What the seed of the long flights is more by than the campaign's."""


def reseeded(campaign: Campaign, more: int) -> Campaign:
    """The campaign with other waves."""
    seed = campaign.flight.seed + more
    return campaign.model_copy(update={"flight": campaign.flight.model_copy(update={"seed": seed}), "budget": None})


def follow_flown(truth: Truth, cut: Truth, number: int) -> Iterator[Told]:
    """Every sentence on the leader's changes, poorer parts, tolerances, seas and speeds; number: of the cut, for its waves."""
    campaign = cut.campaign.model_copy(update={"replicates": cut.scores.shape[2], "budget": None})
    work = Work(reseeded(campaign, 1000 * (number + 1)), truth.designs, list_conditions(campaign), 1)
    table = ranked(cut)
    leader = int(table["design"].iloc[0])
    verdicts = judged(cut)["verdict"]
    broken = np.flatnonzero(verdicts == "broken").tolist()
    score = float(table["score"].iloc[0])
    yield from _changes(work, cut, leader, broken, score)
    yield from _tolerances(work, cut, leader)
    yield from _seas(work, cut, leader)
    yield from _speeds(work, leader)


def _changes(work: Work, cut: Truth, leader: int, broken: Sequence[int], score: float) -> Iterator[Told]:
    """What to try next, and how much poorer parts may be."""
    tail = plan_tail(work.campaign, len(work.designs), len(work.conditions))
    base = craft_of(work.campaign, work.designs.iloc[leader])
    groups = [next_variants(work.campaign, work.designs, cut.scores, broken, leader), list(worse_variants(work.campaign, base))]
    some = work._replace(conditions=sample(work.conditions, tail.changed))
    found = [fly_variants(some, leader, group, tail.replicates) if group else pd.DataFrame() for group in groups]
    next_steps, worse = (_judged_long(work, base, group, rows) for group, rows in zip(groups, found, strict=True))
    yield from _next(next_steps, score)
    if len(worse):
        yield from _poorer(worse, score)


def _judged_long(work: Work, base: Craft, variants: Sequence[Variant], rows: pd.DataFrame) -> pd.DataFrame:
    """The table of changes with what each truly gains, and its and the leader's true shares of clean flights."""
    if not variants:
        return rows
    campaign = reseeded(work.campaign, OTHER_WAVES)
    crafts = [base, *(each.craft for each in variants)]
    flown = fly_crafts(campaign, crafts, work.conditions, range(LONG), 1)
    flown = flown.assign(score=Scoring.of(campaign, crafts).points(flown), whole=clean(flown))
    means = flown.groupby("design")[["score", "whole"]].mean()
    gains = float(means["score"].iloc[0]) - means["score"].to_numpy()[1:]
    shares = means["whole"].to_numpy()
    return rows.assign(true=gains, true_clean=shares[1:], true_before=shares[0], true_score=float(means["score"].iloc[0]))


def _next(rows: pd.DataFrame, score: float) -> Iterator[Told]:
    if rows.empty:
        return
    named = {f"{row['label']} from {row['was']} to {row['becomes']}": row for row in rows.to_dict("records")}
    for said in changes._next_sentences(rows):
        row = next((row for name, row in named.items() if name in said), None)
        if row is None:
            surely = rows["true"].max() <= 0.05 * score
            yield Told("no change is better", float(surely) if "predicted to help" in said else FACT[0], np.nan, said)
            continue
        inside = float(row["gain_low"] - 1e-9 <= row["true"] <= row["gain_high"] + 1e-9)
        lost = max(-float(row["true"]), 0.0) / score
        yield Told("next change" if "predicted" in said else "best of all changes", inside, lost, said)
        if match := re.search(rf"predicted ({NUMBER}) better", said):
            off = abs(float(match[1]) - float(row["true"])) / score
            yield Told("what was predicted, off by", np.nan, off, said)
        if "may be chance" not in said:
            way = row["gain"] > 0.0
            yield Told("surely better or worse", float((row["true"] > 0.0) == way), np.nan, said)


def _poorer(rows: pd.DataFrame, score: float) -> Iterator[Told]:
    """The poorest part that still does truly costs no more than is allowed; its clean flights are no promise of the page."""
    rows = rows.assign(
        does=rows["true"] >= -changes.COSTS * rows["true_score"],
        spoils=rows["true_clean"] < rows["true_before"] - changes.SPOILT - SURELY_MORE,
    )
    for told in changes._poorer(rows[rows["group"] == POORER], score):
        mine = rows[(rows["label"] == told.property) & (rows["becomes"] == told.does)]
        if len(mine):
            said, cost = f"{told.property}: {told.does} still does", -float(mine["true"].iloc[0]) / score
            yield Told("poorest part: what it costs", float(mine["does"].iloc[0]), cost, said)
            yield Told("poorest part: clean flights, not promised", float(not mine["spoils"].iloc[0]), np.nan, said)
    moved = rows[rows["group"] == BALANCE]
    said = changes._balance(moved, score)
    if match := re.search(rf"aft by (?:({NUMBER}) mm|none.*?), and forward by (?:({NUMBER}) mm|none)", said):
        off = 10.0 * (changes._centimetres(moved["becomes"]) - changes._centimetres(moved["was"]))
        for way, end in ((-1.0, match[1]), (1.0, match[2])):
            if end:
                within = (way * off > 0.0) & (way * off <= float(end) + 0.5)
                yield Told("balance", float(moved["does"][within].all()), np.nan, said)


def _tolerances(work: Work, cut: Truth, leader: int) -> Iterator[Told]:
    """The knob: what it truly costs, and what the costliest of all truly costs more."""
    if work.campaign.tolerances == "none":
        work = work._replace(campaign=work.campaign.model_copy(update={"tolerances": "usual"}))
    built = as_built(work.campaign, work.designs, [leader])

    def costs(campaign: Campaign) -> pd.DataFrame:
        flown = pd.concat(list(fly_as_built(work._replace(campaign=campaign), built)), ignore_index=True)
        scores = Scoring.of(campaign).points(flown)
        return flown[["design", "off", "side", "condition", "replicate"]].assign(score=scores)

    short = tolerance_costs(costs(work.campaign)).rename(columns={"off": "what", "side": "how"})
    long = pd.concat((costs(reseeded(work.campaign, OTHER_WAVES + at)) for at in range(LONG // REPLICATES)), ignore_index=True)
    mean = long.groupby(["off", "side"])["score"].mean()
    true = (mean - mean[mean.index.get_level_values("side") == ""].iloc[0]).rename("true")
    rows = short.merge(true, left_on=["what", "how"], right_index=True)
    described = float(mean[mean.index.get_level_values("side") == ""].iloc[0])
    for said in robust._knob(leader, short):
        largest = rows.loc[rows["cost"].idxmax()]
        lost = float(rows["true"].max() - largest["true"]) / described
        if "bears every tolerance" in said:
            yield Told("bears every tolerance", float(rows["true"].max() <= 0.05 * described), np.nan, said)
            continue
        yield Told("knob", float(largest["low"] <= largest["true"] <= largest["high"]), lost, said)
        if "surely" not in said:
            yield Told("knob surely costs", float(largest["true"] > 0.0), np.nan, said)
        elif "largest sure cost" in said:
            surest = rows[rows["low"] > 0.0].nlargest(1, "cost").iloc[0]
            yield Told("largest sure cost", float(surest["low"] <= surest["true"] <= surest["high"]), np.nan, said)


def _seas(work: Work, cut: Truth, leader: int) -> Iterator[Told]:
    """The highest waves up to which all short flights were clean, at every speed and heading: the share that so many show."""
    ride_map = plan_tail(work.campaign, len(work.designs), len(work.conditions)).map
    if ride_map is None:
        return
    *_, table = fly_map(work, ride_map, [leader, 0])
    results = results_of(cut)
    object.__setattr__(results, "rides", table)
    told = rides.ride_table(results)
    mine, conditions = told[told["design"] == leader], map_conditions(ride_map)
    campaign, craft = reseeded(work.campaign, OTHER_WAVES), craft_of(work.campaign, work.designs.iloc[leader])
    for (speed, heading), rows in mine.groupby(["speed", "heading_name"], sort=False):
        found = rides.reach(rows)
        if not np.isfinite(found.height):
            continue
        said = f"all {found.clean} clean up to {rides.limit_words(found)} cm, {heading}, {speed:g} m/s"
        cell = next(
            each
            for each in conditions
            if abs(100.0 * each.sea.height - found.height) < 0.05
            and each.heading.name == heading
            and abs(each.speed - speed) < 0.01
        )
        flown = fly_crafts(campaign, [craft], [cell], range(LONG), 1)
        _, high = share_bounds(np.array([clean(flown).sum()]), np.array([float(len(flown))]), 0.975)
        least = float(rows.loc[rows["height"] == found.height, "low"].iloc[0]) / 100.0
        yield Told("all clean up to", float(high[0] >= least), np.nan, said)


def _speeds(work: Work, leader: int) -> Iterator[Told]:
    """The lowest and the highest stable speed of the card: in smooth water nearly all flights there are clean, `ENOUGH`."""
    craft = craft_of(work.campaign, work.designs.iloc[leader])
    water = water_of(work.campaign)
    reach = reach_of(craft, water, work.campaign.speeds)
    if reach is None:
        return
    said = limit_words(spans_within(craft, water, reach, {}), reach)
    ends = re.findall(rf"({NUMBER}) to ({NUMBER})(?: m/s|,| and)", said)
    if ends and (least := re.search(rf"Under ({NUMBER}) m/s", said)):
        ends[0] = (least[1], ends[0][1])
    flying = reseeded(work.campaign, OTHER_WAVES)
    flying = flying.model_copy(update={"flight": flying.flight.model_copy(update={"start": "flying"})})
    for low, high in ends:
        for speed, word in ((low, "lowest"), (high, "highest")):
            there = replace(work.conditions[0], speed=float(speed), sea=FlatSea(name="calm"), fault=SOUND)
            flown = fly_crafts(flying, [craft], [there], range(CALM), 1)
            yield Told(f"{word} stable speed", float(clean(flown).mean() >= ENOUGH), np.nan, f"{speed} m/s: {said}")


def followed_choices(truth: Truth, replicates: int, at: int, over: NDArray[np.bool_]) -> Iterator[dict[str, object]]:
    """What one small campaign says to build, as its first page has it: the first, and the cheapest, lightest and sturdiest of
    those good enough. Its leading designs fly built a little off, as in a run, for the sturdiest.

    over: truly over a limit. Of each: word, regret as a share of the best, the share that was promised (NaN of the first),
    whether the promise was of how it rides, whether it held, and whether it is over a limit.
    """
    cut = truth.some(slice(at * replicates, (at + 1) * replicates))
    results = results_of(cut)
    campaign = results.campaign.model_copy(update={"tolerances": "usual"})
    order = in_order(results.standings)
    leaders = [design for design in results.leaders if design]
    work = Work(reseeded(campaign, 1000 * (at + 1)), truth.designs, list_conditions(campaign), 1)
    off = pd.concat(list(fly_as_built(work, as_built(campaign, truth.designs, leaders))), ignore_index=True)
    results = replace(results, campaign=campaign, tolerances=off)
    true, good = truth.scores.mean(axis=(1, 2)), order[order["good_enough"]]
    best = np.where(over, np.inf, true).min() if not over.all() else true.min()
    riding = bool(good["failing_high"].notna().any())
    share = promised(good) if len(good) else np.nan
    first = int(order["design"].iloc[0])
    yield {"word": "first", "regret": true[first] / best - 1.0, "over": over[first]}
    for word, design, _ in least(results, good):
        near = truth.clean[design] if riding else true[design]
        held = near <= (1.0 + share) * best + 1e-9
        regret = true[design] / best - 1.0
        yield {"word": word, "regret": regret, "share": share, "riding": riding, "held": float(held), "over": over[design]}


def flown_table(truth: Truth, replicates: int, cuts: Sequence[int]) -> pd.DataFrame:
    """Every sentence of so many cuts: kind, held, lost, said, cut."""
    rows = []
    for at in cuts:
        cut = truth.some(slice(at * replicates, (at + 1) * replicates))
        rows += [{**each._asdict(), "cut": at} for each in follow_flown(truth, cut, at)]
    return pd.DataFrame(rows)

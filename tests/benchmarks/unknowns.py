"""What it is worth to draw what is not known of a boat, and how often what the choice hangs on is named.

python -m tests.benchmarks.unknowns regret [CRAFTS] [SEEDS] [CASE]
    true crafts are drawn inside the unknowns of small campaigns. The boat that such a campaign puts first, with unknowns and
    without, is flown in each true craft through fresh waves, beside the best boat for that craft; CASE: 0, 1 or 2, or all;
python -m tests.benchmarks.unknowns hanging [CAMPAIGNS]
    campaigns of short flights in which the right gain hangs on the rangefinder's latency, and some in which nothing is;
    what is named for a low and a high latency is flown at both;
python -m tests.benchmarks.unknowns price [ROUNDS]
    processor time of the flights of these campaigns with unknowns and without, beside what `check` foretells.

Boats with settings are judged as they are tuned at the water: in each craft with the settings that half of the waves choose,
by the other half.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import t as student

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.unknowns import Unknowns
from sweep.flying.flights import fly_shards, warm_up
from sweep.flying.work import Work
from sweep.insight.builds import lay_builds
from sweep.insight.by_draw import draws_in
from sweep.insight.findings import Findings, find, gathered
from sweep.insight.hanging import first_to_measure
from sweep.insight.rank import Ranked, rank_flights
from sweep.insight.scores import Scoring
from sweep.preflight.unknown_price import pack_seconds
from sweep.results.shard_plan import plan_shards

Array = NDArray[np.float64]
CRAFT = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"
TEXT = """\
title: Unknowns
craft: {craft}
factors:
  foils.*.area: {areas}
  struts.height: {struts}
  control.height.proportional: {{kind: {kind}, levels: {gains}}}
plan: full-factorial
conditions:
  seas: {{chop: {{kind: jonswap, height: 6 cm, period: 1.8 s}}}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: {replicates}
flight: {{length: 12 s, settle: 3 s, seed: {seed}}}
fly_on: none
unknowns: {unknowns}
limits: {{touchdowns: 60 /min, upsets: 80 %}}
"""
WAVES, TRUE_SEED = 8, 900_001
"""Flights of each condition in a true craft, and the seed that true crafts are drawn by."""
DRAWS, ENDS = 200, (0.1, 0.9)
"""Draws that tell how an unknown is spread, and where it is low and high."""


class Case(NamedTuple):
    """A small campaign: its factors, what is unknown, and its replicates."""

    areas: str = "[40 cm^2, 50 cm^2, 60 cm^2]"
    struts: str = "[20 cm, 24 cm]"
    kind: str = "built"
    gains: str = "[0.2 deg/cm, 0.4 deg/cm, 0.8 deg/cm, 1.6 deg/cm]"
    unknowns: str = "usual"
    replicates: int = 16

    def campaign(self, seed: int, unknowns: bool = True) -> Campaign:
        """The campaign by one seed, or the same without unknowns."""
        text = TEXT.format(craft=CRAFT, seed=seed, **self._asdict() | ({} if unknowns else {"unknowns": "none"}))
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "unknowns.yaml"
            path.write_text(text, encoding="utf-8")
            return load_campaign(path)


FLIPPED = "{rangefinders.latency: 10 to 200 ms, wake.strength: +- 5 %, foils.*.section.drag_min: +- 10 %, body.mass: +- 2 %}"
NOTHING = (
    "{rangefinders.latency: +- 0.001 %, wake.strength: +- 0.001 %, foils.*.section.drag_min: +- 0.001 %, body.mass: +- 0.001 %}"
)
CASES = {
    "usual, gains built in": Case(),
    "usual, gains tuned at the water": Case(kind="set", replicates=32),
    "latency 10 to 200 ms, gains built in": Case(unknowns=FLIPPED),
}


def flights_of(campaign: Campaign) -> pd.DataFrame:
    """All flights of a campaign."""
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    shards = plan_shards(len(designs), len(conditions), campaign.replicates)
    return pd.concat([rows for _, rows in fly_shards(Work(campaign, designs, conditions), shards)], ignore_index=True)


def told(campaign: Campaign) -> tuple[Ranked, Findings]:
    """The standings and findings of a campaign."""
    rows, designs = flights_of(campaign), lay_out(campaign)
    names = [condition.name for condition in list_conditions(campaign)]
    ranked = rank_flights(campaign, [rows], names, len(designs))
    verdict = ranked.standings.set_index("design")["verdict"].sort_index().tolist()
    shape = ranked.scores.shape
    return ranked, find(campaign, designs, ranked.scores, verdict, lambda name: gathered([rows], name, shape), ranked.failures)


def boats(campaign: Campaign) -> NDArray[np.int64]:
    """The boat of each design: designs of one build are one boat, where its settings are chosen at the water."""
    layout = lay_builds(campaign.factors, lay_out(campaign))
    return np.arange(len(lay_out(campaign))) if layout is None else layout.build


def chosen(campaign: Campaign) -> int:
    """The boat that the campaign puts first."""
    ranked, found = told(campaign)
    if len(found.builds):
        return int(found.builds["build"].iloc[0])
    return int(ranked.standings["design"].iloc[0])


def pinned(campaign: Campaign, number: int) -> Campaign:
    """The campaign for one true craft, whose numbers are what one draw by another seed gives, in fresh waves."""
    assert campaign.unknowns is not None
    return with_numbers(campaign, campaign.unknowns.numbers(TRUE_SEED, number), TRUE_SEED + number)


def with_numbers(campaign: Campaign, numbers: Iterable[float], seed: int) -> Campaign:
    """The campaign for a craft of known numbers, in the waves of a seed."""
    assert campaign.unknowns is not None
    each = [
        unknown.model_copy(update={"low": value, "high": value})
        for unknown, value in zip(campaign.unknowns.each, numbers, strict=True)
    ]
    flight = campaign.flight.model_copy(update={"seed": seed})
    return campaign.model_copy(update={"unknowns": Unknowns(each=tuple(each)), "flight": flight, "replicates": WAVES})


def at_ends(campaign: Campaign, label: str) -> list[Array]:
    """What each design truly scores where an unknown is low and where it is high, all others in their middle; (designs,)."""
    assert campaign.unknowns is not None
    numbers = np.array([np.ravel(campaign.unknowns.numbers(TRUE_SEED, draw)) for draw in range(DRAWS)])
    middle, at = np.median(numbers, axis=0), [each.label for each in campaign.unknowns.each].index(label)
    found = []
    for share in ENDS:
        there = middle.copy()
        there[at] = np.quantile(numbers[:, at], share)
        true = with_numbers(campaign, there.tolist(), TRUE_SEED)
        rows = flights_of(true)
        rows = rows.assign(score=Scoring.of(true).points(rows))
        found.append(rows.groupby("design")["score"].mean().to_numpy())
    return found


def truth(campaign: Campaign, number: int) -> Array:
    """What each boat truly scores in one true craft, (boats,)."""
    true = pinned(campaign, number)
    rows = flights_of(true)
    rows = rows.assign(score=Scoring.of(true).points(rows))
    means = rows.groupby(["design", "replicate"])["score"].mean().unstack().to_numpy()
    first, second = means[:, : WAVES // 2].mean(axis=1), means[:, WAVES // 2 :].mean(axis=1)
    boat = boats(campaign)
    if len(np.unique(boat)) == len(boat):
        return np.asarray(means.mean(axis=1))
    settings = [np.flatnonzero(boat == each) for each in range(boat.max() + 1)]
    return np.array([second[some[first[some].argmin()]] for some in settings])


def spanned(values: Array) -> str:
    """A mean over crafts with its 95 % interval, in per cent."""
    half = student.ppf(0.975, len(values) - 1) * values.std(ddof=1) / np.sqrt(len(values))
    return f"{100.0 * values.mean():5.1f} ({100.0 * (values.mean() - half):.1f} to {100.0 * (values.mean() + half):.1f}) %"


def regret(crafts: int = 30, seeds: int = 3, case: int | None = None) -> None:
    """Print the regret of the choices with and without unknowns, in the share of the best boat's score."""
    some = CASES.items() if case is None else [list(CASES.items())[case]]
    print(f"{crafts} true crafts, {seeds} campaigns of 12 s flights each way, {WAVES} waves a condition in each true craft.")
    print("Regret: of the boat that comes first, over the best one for the craft. Intervals over the true crafts.\n")
    print("| campaign | without unknowns | with | less with | one boat for all crafts at best | other choice |")
    print("|---|---|---|---|---|---|")
    for name, each in some:
        first = each.campaign(1)
        warm_up(first, lay_out(first), list_conditions(first))
        scores = np.array([truth(first, number) for number in range(crafts)])
        over = scores / scores.min(axis=1, keepdims=True) - 1.0
        picks = {way: [chosen(each.campaign(seed, way)) for seed in range(1, seeds + 1)] for way in (False, True)}
        without, with_ = (over[:, picks[way]].mean(axis=1) for way in (False, True))
        other = sum(a != b for a, b in zip(picks[False], picks[True], strict=True))
        best = over[:, scores.mean(axis=0).argmin()]
        parts = (without, with_, without - with_, best)
        print(f"| {name} | {' | '.join(map(spanned, parts))} | {other} of {seeds} |", flush=True)


def hanging(campaigns: int = 20) -> None:
    """Print how often what the choice hangs on is named, and whether the designs named for it truly change places."""
    small = Case(areas="[50 cm^2, 60 cm^2]", struts="[20 cm, 24 cm]")
    print(f"{campaigns} campaigns of 17 designs and two conditions each, flights of 12 s.\n")
    print("| campaign | draws | latency named | of these truly changed | another named | silent |")
    print("|---|---|---|---|---|---|")
    planted = "rangefinders.latency"
    for name, unknowns in (("the right gain hangs on the latency", FLIPPED), ("hangs on nothing", NOTHING)):
        ends = at_ends(small._replace(unknowns=unknowns).campaign(1), planted)
        for draws in (12, 24):
            case = small._replace(unknowns=unknowns, replicates=draws)
            told = [list(first_to_measure(findings_of(case.campaign(seed)).hanging)) for seed in range(1, campaigns + 1)]
            named = [row for rows in told for row in rows if row["unknown"] == planted]
            changed = sum(changes(ends, int(row["below"]), int(row["above"])) for row in named)
            others = sum(any(row["unknown"] != planted for row in rows) for rows in told)
            silent = sum(not rows for rows in told)
            print(f"| {name} | {draws} | {len(named)} | {changed} | {others} | {silent} |", flush=True)


def findings_of(campaign: Campaign) -> Findings:
    """The findings of a campaign."""
    return told(campaign)[1]


def changes(ends: list[Array], below: int, above: int) -> bool:
    """Whether the design that is named for a low unknown truly is the better one there, and the other where it is high."""
    low, high = ends
    return bool(low[below] < low[above] and high[above] < high[below])


def price(rounds: int = 3) -> None:
    """Print the processor time of a campaign's flights with and without unknowns, and what `check` says that they cost."""
    print("| campaign | draws | without, s | with, s | dearer by | foretold |")
    print("|---|---|---|---|---|---|")
    for name, case in CASES.items():
        ways = [case.campaign(1, way) for way in (False, True)]
        taken = np.array([[seconds(each) for each in ways] for _ in range(1 + rounds)])[1:]  # the first makes the model ready
        without, with_ = np.median(taken, axis=0)
        campaign, draws = ways[1], draws_in(case.replicates, ways[1].unknowns)
        foretold = pack_seconds(campaign, lay_out(campaign), list_conditions(campaign)) * draws
        print(f"| {name} | {draws} | {without:.2f} | {with_:.2f} | {with_ - without:.2f} | {foretold:.2f} |", flush=True)


def seconds(campaign: Campaign) -> float:
    """Seconds of the processor that its flights take."""
    begun = time.process_time()
    flights_of(campaign)
    return time.process_time() - begun


if __name__ == "__main__":
    what, *numbers = sys.argv[1:] or ["regret"]
    {"regret": regret, "hanging": hanging, "price": price}[what](*map(int, numbers))

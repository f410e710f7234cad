"""The card for the water: what to set, what to expect, what to try in which order, and when to stop.

The first runs, the steps after them and the cures are flown in the model before they are told.
"""

from __future__ import annotations

import base64
import functools
import math
import pickle
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sweep.campaign.draws import water_of
from sweep.campaign.text.problems import ChoiceError
from sweep.export.code import as_zip, code_files
from sweep.linear.reach import reach as reach_of
from sweep.linear.stability import UNKNOWN_LAW, limit_words, share_headings, share_words, spans_within, speed_words
from sweep.linear.table import stability_table
from sweep.model.pack.foils import mix_of
from sweep.model.pack.mass import mass_properties
from sweep.model.quantities import RESPONSE
from sweep.preflight.cures import cures
from sweep.preflight.first_runs import FirstRuns, NoRuns, first_runs
from sweep.preflight.on_paper import on_paper
from sweep.report.craft_sheet import Rows, gains
from sweep.report.display import condition_names, craft_of_design
from sweep.report.headline import against_base, why_refused
from sweep.report.page import Made, Material
from sweep.report.pages.first_runs import cure_rows, evidence, no_recipe, steps
from sweep.report.pages.on_paper import Paper, paper_of
from sweep.report.pages.outings import NO_PROMISE, Outings, flights_words, outings_of
from sweep.report.pages.ready_made import ReadyMade, ready_made
from sweep.report.pages.rides import Reach, headings_of, reach, ride_table
from sweep.report.pages.rides import limit_words as highest_waves
from sweep.report.pages.strength import bench_loads
from sweep.words.numbers import number, with_unit
from sweep.words.phrases import called, together
from sweep.words.responses import response

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.results.store import Results

EXPECTED = ("ride_height_error", "ride_height_error_p99", "touchdowns")
MOST_ROWS, MOST_SPEEDS, MOST_HEADINGS = 6, 4, 9
"""What one sheet of paper holds, of A4 and of Letter; headings stand on a screen alone."""

MOST_TOUCHDOWNS = "six times a minute"


@dataclass(frozen=True)
class FirstRunsTold:
    """What to set, the steps and the cures as flown, and how far gains and speeds may go.

    set_headings: of the gains, where those of the first runs differ; steps, cures: none without a sound first run, and then
    `evidence` says why; shares: times the gains with which small motions fade, a row a gain under a speed each.
    """

    set_headings: list[str]
    gains: Rows
    steps: list[str]
    evidence: str
    share_headings: list[str]
    shares: Rows
    stable: str
    cures: list[tuple[str, str, str]] = field(default_factory=list)


@dataclass(frozen=True)
class CodeTold:
    """The design's control law as C: a zip as a link that holds it, and its name; or why there is none."""

    link: str
    name: str
    why: str


@dataclass(frozen=True)
class CardPage:
    """One sheet for the water: what to set, to expect and to try in which order, and when to stop.

    refused: what to think of a design that broke a limit; ready_made: None where the law is the builder's own, or no trim is
    known; costs: mass and price, a sentence; paper: None where it has no trim; trims, expected, reaches: rows of a name and
    its cells;
    expected_caption, reach_caption: of which flights they tell; signs: what to do on the bench, and what to see.
    """

    design: int
    name: str
    refused: str
    against_base: list[str]
    costs: str
    paper: Paper | None
    first_runs: FirstRunsTold
    ready_made: ReadyMade | None
    code: CodeTold
    trim_headings: list[str]
    trims: Rows
    expected_caption: str
    expected: Rows
    outings: Outings
    reach_caption: str
    reach_headings: list[str]
    reaches: Rows
    signs: list[tuple[str, str]]
    stops: list[str]


def make(material: Material, design: int) -> Made:
    """The card of a design; it has no files."""
    results = material.results
    return Made(card_page(results, design, craft_of_design(results, design)), {})


def fly_ahead(campaign: Campaign, craft: Craft) -> None:
    """Fly and work out what the card of a craft tells and keeps, which takes far longer than to write it."""
    asked = _Asked(campaign, craft)
    _paper(asked)
    _first_runs(asked)


def card_page(results: Results, design: int, craft: Craft) -> CardPage:
    """All that the card sets out; the first runs are flown for it."""
    flights = results.flights_of(design)
    trim_headings, trims = _trims(results, design, craft)
    reach_headings, reaches = _reaches(results, design)
    flown = flights["condition"].nunique()
    worst = f" (the worst of {flown} conditions)" if flown > MOST_ROWS else ""
    return CardPage(
        design=design,
        name=called(design),
        refused=_refused(results, design),
        against_base=against_base(results.standings),
        costs=_costs(results, design),
        paper=_paper(_Asked(results.campaign, craft)),
        first_runs=_first_runs(_Asked(results.campaign, craft)),
        ready_made=ready_made(craft, water_of(results.campaign), results.campaign.speeds),
        code=_code(_Asked(results.campaign, craft), design),
        trim_headings=trim_headings,
        trims=trims,
        expected_caption=f"Expect in {flights_words(results.campaign)}{worst}",
        expected=_expected(results, flights),
        outings=outings_of(results, design),
        reach_caption=f"Waves up to which all were clean of {flights_words(results.campaign, straight=True)}: significant "
        f"height in cm, and how many that were. {NO_PROMISE}",
        reach_headings=reach_headings,
        reaches=reaches,
        signs=list(signs(craft)),
        stops=list(_stops(results, flights)),
    )


def gives_no_first_run(results: Results, design: int) -> bool:
    """Whether a design has a card, and that one names no first run."""
    return design in results.leaders and not _first_runs(_Asked(results.campaign, craft_of_design(results, design))).steps


OWN_RUNS = (
    "No first run is given: the law is code of the builder's own, and which of its numbers to begin with, the model does not "
    "know. Nor was any of its flights on the water."
)
OWN_SIGNS = "The law is code of the builder's own: which way what must move, only its author knows. More lift is nose up."


class _Asked:
    """A craft and the campaign that it flies in, told apart by all that first runs depend on, so not by its name."""

    def __init__(self, campaign: Campaign, craft: Craft) -> None:
        self.campaign, self.craft = campaign, craft
        met = (campaign.water, campaign.seas, campaign.speeds, campaign.replicates, campaign.flight, campaign.unknowns)
        self.content = pickle.dumps((craft.model_copy(update={"name": ""}), *met))

    def __hash__(self) -> int:
        return hash(self.content)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self.content == other.content


@functools.lru_cache(maxsize=64)
def _first_runs(asked: _Asked) -> FirstRunsTold:
    """No step without a sound first run. Kept, for it takes a second or two: the same site is written more than once."""
    campaign, craft = asked.campaign, asked.craft
    if craft.control.traits.own:
        return FirstRunsTold([], _set(craft), [], OWN_RUNS, [], [], UNKNOWN_LAW)
    runs = first_runs(campaign, craft)
    fading = _shares(campaign, craft, runs)
    if isinstance(runs, NoRuns):
        return FirstRunsTold([], _set(craft), [], " ".join(no_recipe(runs)), *fading)
    less = runs.setting.share < 1.0
    both = [(*first, then) for first, (_, then) in zip(_set(runs.craft), _set(craft), strict=True)]
    return FirstRunsTold(
        ["first runs", "then"] if less else [],
        both if less else _set(craft),
        list(steps(runs, craft)),
        " ".join(evidence(campaign, craft, runs)),
        *fading,
        cure_rows(cures(campaign, craft, runs)),
    )


@functools.lru_cache(maxsize=64)
def _paper(asked: _Asked) -> Paper | None:
    """What to write down before launch. Kept, as `_first_runs`."""
    return paper_of(on_paper(asked.campaign, asked.craft))


@functools.lru_cache(maxsize=64)
def _code(asked: _Asked, design: int) -> CodeTold:
    """The zip lies in the page itself, so that it goes wherever the card goes. Kept, as `_first_runs`."""
    try:
        files = code_files(asked.campaign, asked.craft, called(design))
    except ChoiceError as error:
        return CodeTold("", "", str(error))
    folder = f"{asked.campaign.name}-design-{design}-code"
    held = base64.b64encode(as_zip(files, folder)).decode("ascii")
    return CodeTold(f"data:application/zip;base64,{held}", f"{folder}.zip", "")


def _refused(results: Results, design: int) -> str:
    """Of a design that broke a limit: what its card is for."""
    rows = results.standings
    reason = rows.loc[(rows["design"] == design) & (rows["verdict"] == "broken"), "reason"].astype(str)
    if reason.empty:
        return ""
    return f"In the flights of this campaign it {why_refused(reason.iloc[0])}. Its first runs are for flat water only."


def _costs(results: Results, design: int) -> str:
    """'It weighs 3.2 kg and costs 420.'"""
    verbs = {"mass": ("weighs", "kg"), "price": ("costs", "")}
    row = results.designs.loc[[design]].iloc[0].to_dict()
    said = [f"{verb} {with_unit(float(row[name]), unit, 4)}" for name, (verb, unit) in verbs.items() if name in row]
    return f"It {' and '.join(said)}." if said else ""


def _set(craft: Craft) -> Rows:
    return [("ride height of the keel", with_unit(100.0 * craft.control.ride_height, "cm")), *gains(craft)]


def _shares(campaign: Campaign, craft: Craft, runs: FirstRuns | NoRuns) -> tuple[list[str], Rows, str]:
    """Least and most of each gain at some speeds, a row a gain, and a sentence on the speeds that are stable."""
    water = water_of(campaign)
    found = reach_of(craft, water, campaign.speeds)
    if found is None:
        return [], [], ""
    if craft.control.traits.own:
        return [], [], UNKNOWN_LAW
    first = [] if isinstance(runs, NoRuns) else [runs.setting.speed]
    wanted = sorted({*first, *(speed for speed in campaign.speeds if found.low <= speed <= found.high)})[:MOST_SPEEDS]
    rows = [row for row in stability_table(craft, water, wanted) if row.trims]
    known = {row.speed: row.slowest.rate.real for row in rows}
    names = share_headings(rows)[1:]
    columns = [share_words(row) for row in rows]
    table: Rows = [(name, *(column[at] for column in columns)) for at, name in enumerate(names)]
    return [speed_words(row.speed) for row in rows], table, limit_words(spans_within(craft, water, found, known), found)


def _trims(results: Results, design: int, craft: Craft) -> tuple[list[str], Rows]:
    """Throttle, pitch and foil angles at each speed, on average in the calmest recorded flight that lasted."""
    history, flight = results.leaders[design], results.campaign.flight
    columns = {"throttle": ("throttle", "%"), "pitch": ("pitch", "deg")}
    columns |= {f"foil_{foil}": (f"foil {foil}", "deg") for foil in craft.foils}
    held = {name: column for name, column in columns.items() if name in history}
    lasted = history.groupby("condition")["time"].max() if len(history) else pd.Series(dtype=float)
    conditions = results.conditions[results.conditions["condition"].isin(lasted[lasted > 0.9 * flight.length].index)]
    means: dict[str, pd.Series] = {}
    for speed, some in list(conditions.groupby("speed"))[:MOST_SPEEDS]:
        calmest = history["condition"] == some.sort_values("sea_height", kind="stable")["condition"].iloc[0]
        scored = history["time"] >= flight.settle
        means[with_unit(float(str(speed)), "m/s")] = history.loc[calmest & scored, list(held)].mean()
    rows = [(name, *(_held(mean[key], unit) for mean in means.values())) for key, (name, unit) in held.items()]
    return list(means), rows if means else []


def _held(value: float, unit: str) -> str:
    return f"{100.0 * value:.0f} %" if unit == "%" else f"{round(math.degrees(value), 1) + 0.0:.1f} deg"  # no minus zero


def _expected(results: Results, flights: pd.DataFrame) -> Rows:
    """Ride-height error, what one moment in a hundred exceeds, touchdowns, and of how many flights; the worst of many."""
    groups = flights.groupby("condition")
    means = groups[list(EXPECTED)].mean().assign(flights=groups.size())
    worst = means.sort_values("ride_height_error", ascending=False, kind="stable").index[:MOST_ROWS]
    names = condition_names(results)
    return [
        (str(names[row["condition"]]), *(response(name, float(row[name])) for name in EXPECTED), str(int(row["flights"])))
        for row in means[means.index.isin(worst)].reset_index().to_dict("records")
    ]


def signs(craft: Craft) -> Iterator[tuple[str, str]]:
    """What must move which way on the bench: what to do, what to see."""
    centre = mass_properties(craft).centre
    if craft.control.traits.own:
        yield "Move each sensor by hand, propeller off.", OWN_SIGNS
    elif not craft.control.traits.levels:
        yield from _foil_by_foil(craft)
    else:
        height, pitch, roll = mix_of(craft, mass_properties(craft)).T
        yield "Hold a board under the rangefinders, closer than the ride height.", _every(craft, height)
        for name, foil in craft.foils.items():
            if foil.linkage is not None:
                what = f"The flap of foil {name} turns down" if foil.flap else f"Foil {name} turns nose up"
                yield f"Push the tip of wand {foil.linkage.wand} up.", f"{what}: more lift."
        yield "Lift the bow.", _answer(craft, -pitch)
        if roll.any():
            yield "Lower the starboard side.", _answer(craft, -roll)
    steering = craft.steering
    turning = [(f"The strut of foil {name}", craft.foils[name].x) for name in (steering.rudder, steering.second_rudder) if name]
    turning += [(f"Rudder {name}", rudder.x) for name, rudder in steering.rudders.items()]
    if turning:
        sides = [(what, "port" if x <= centre[0] else "starboard") for what, x in turning]
        said = " ".join(f"{what} turns its trailing edge to {side}." for what, side in sides)
        yield "Turn the bow to starboard of its course.", said
    yield from bench_loads(craft)


SEEN = 0.1
"""Share of what moves most under which a foil's answer is not seen on a bench (judgement)."""


def _every(craft: Craft, turns: np.ndarray) -> str:
    """The answer to a height, in short where every foil that moves turns up."""
    moving = [foil.moves for foil in craft.foils.values()]
    if not (turns[moving] > SEEN * np.abs(turns).max()).all():
        return _answer(craft, turns)
    fixed = [name for name, foil in craft.foils.items() if not foil.moves]
    still = "which no servo moves" if any(foil.linkage for foil in craft.foils.values()) else "which is fixed"
    return f"Every foil but {together(fixed)}, {still}, turns nose up." if fixed else "Every foil turns nose up."


def _answer(craft: Craft, turns: np.ndarray) -> str:
    """What foils do that the mixer turns by these angles, nose up; and which of those that servos move do not."""
    least = SEEN * np.abs(turns).max()
    of_each = dict(zip(craft.foils, turns, strict=True))
    down, up = [name for name, by in of_each.items() if by < -least], [name for name, by in of_each.items() if by > least]
    still = [name for name, foil in craft.foils.items() if foil.moves and name not in (*down, *up)]
    hardly = f"Foil {still[0]} hardly moves." if len(still) == 1 else f"Foils {together(still)} hardly move." if still else ""
    return " ".join(filter(None, [_turn(down, "down"), _turn(up, "up"), hardly]))


def _foil_by_foil(craft: Craft) -> Iterator[tuple[str, str]]:
    """Of the law without an inertial unit: foil i answers rangefinder i, or they take turns."""
    names, count = list(craft.foils), craft.rangefinders.number
    called = craft.rangefinders.names()
    for at in range(min(count, len(names))):
        which = "the rangefinder" if count == 1 else f"rangefinder {called[at]}"
        answer = [name for name in names[at::count] if craft.foils[name].moves]
        yield f"Hold a board under {which}, closer than the ride height.", f"{_turn(answer, 'up')} No other moves.".strip()


def _turn(names: list[str], way: str) -> str:
    """'Foil bow turns nose up.'"""
    if not names:
        return ""
    return f"{'Foil' if len(names) == 1 else 'Foils'} {together(names)} {'turns' if len(names) == 1 else 'turn'} nose {way}."


def _reaches(results: Results, design: int) -> tuple[list[str], Rows]:
    """Up to which waves all short flights were clean, by heading and speed with a trim, if it was mapped."""
    table = ride_table(results)
    mine = table[(table["design"] == design) & (table["flights"] > 0)]
    speeds = sorted(mine["speed"].unique())[:MOST_SPEEDS]
    rows: Rows = []
    for heading in headings_of(results)[:MOST_HEADINGS] if speeds else []:
        there = mine[mine["heading_name"] == heading]
        rows.append((heading, *(_all_clean(reach(there[there["speed"] == speed])) for speed in speeds)))
    return [with_unit(speed, "m/s") for speed in speeds], rows


def _all_clean(found: Reach) -> str:
    """'5 (12 of 12)'; where the lowest waves had a failure, how many were clean there."""
    return f"{highest_waves(found)} ({f'{found.clean} of {found.clean}' if found.clean else found.beyond})"


def _stops(results: Results, flights: pd.DataFrame) -> Iterator[str]:
    worst = float(flights.groupby("condition")["ride_height_error_p99"].mean().max())
    if math.isfinite(worst):
        off = response("ride_height_error_p99", worst)
        yield f"The keel is more than {off} off its ride height again and again: in the model that is 1 % of the time at most."
    limit = results.campaign.limits.get("touchdowns")
    often = f"{number(limit.value * RESPONSE['touchdowns'].scale)} times a minute" if limit else MOST_TOUCHDOWNS
    yield f"It touches down more than {often}, a foil comes out twice in a minute, or it rolls past 20 degrees."
    fastest = with_unit(max(results.campaign.speeds), "m/s")
    yield f"It would have to go faster than {fastest}, the fastest of this card's conditions."
    yield "The radio link drops once; a reading freezes; a motor, controller, wire or servo is hot."
    yield "Anything is loose, bent or wet inside."
    yield "A person, a boat or an animal comes within the distance that the boat needs to stop."

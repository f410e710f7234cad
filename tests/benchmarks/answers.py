"""Whether what the pages of a site answer is right: by the tables of its folder, and in a long truth where one is given.

The truth is of other waves. What scores do not tell is flown here in other waves too: the cells of the map, whole outings, and
the flights whose causes are named. They are named there by the same rules: whether these are right, `causes` beside this file
asks. An interval that misses the truth is called wrong, though one in twenty may.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from playwright.sync_api import Page
from scipy.stats import binom

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of
from sweep.campaign.follow_up_plan import plan_tail
from sweep.flying.flights import fly_crafts
from sweep.flying.outings import fly_outings
from sweep.flying.recording import Wanted, record_each
from sweep.flying.ride_map import clean, map_conditions
from sweep.flying.work import Work
from sweep.insight.causes import name_causes
from sweep.insight.events import list_events
from sweep.insight.good_enough import promised
from sweep.insight.limits import share_bounds
from sweep.insight.outings import count_outings
from sweep.insight.ranking import ranked
from sweep.model.quantities import FLEW
from sweep.report.display import craft_of_design
from sweep.report.headline import value_in_words
from sweep.report.pages.causes import PLAIN
from sweep.results.store import Results
from tests.benchmarks import advice
from tests.benchmarks.flown_advice import OTHER_WAVES, reseeded

LONG, OUTINGS, RECORDED = 64, 40, 8
"""Replicates of a cell of the map, outings of a design, recorded replicates of a condition (judgement)."""
ROUNDING = 1e-9
UNLIKELY = 0.05
"""Chance of counts as far apart, if no cause were more than twice as frequent, under which that is not believed (judgement)."""
NUMBER = r"-?[0-9.]+"
Array = NDArray[np.float64]


class Site(NamedTuple):
    """A site that is asked: its folder, what it tells of, the truth of it if one is known, and its first design."""

    folder: Path
    told: Results
    truth: advice.Truth | None
    best: int | None

    @property
    def other(self) -> Work:
        """Its campaign in other waves."""
        campaign = reseeded(self.told.campaign, OTHER_WAVES)
        return Work(campaign, self.told.designs, list_conditions(campaign), 1)


def true_scores(truth: advice.Truth) -> Array:
    """The mean score of each design over all conditions and replicates."""
    return np.asarray(np.nanmean(np.nanmean(truth.scores, axis=2), axis=1))


def truly_broken(truth: advice.Truth) -> NDArray[np.bool_]:
    """The designs that surely break a limit in the truth."""
    return np.asarray(advice.judged(truth)["verdict"].eq("broken"))


def true_best(truth: advice.Truth) -> int:
    """The design of the best score of those that do not surely break a limit."""
    return int(np.where(truly_broken(truth), np.inf, true_scores(truth)).argmin())


def not_within(site: Site, designs: list[int]) -> str:
    """Which of these that are told to be good enough are further from the true best than is promised, or break a limit."""
    order = ranked(site.told.standings)
    good = order[order["good_enough"]]
    if site.truth is None or good.empty or not designs:
        return ""
    broken, share, scores = truly_broken(site.truth), promised(good), true_scores(site.truth)
    near = site.truth.clean if good["failing_high"].notna().any() else scores
    most = (1.0 + share) * scores[true_best(site.truth)] + ROUNDING
    far = [f"{design} ({near[design] / most * (1.0 + share) - 1.0:.0%})" for design in designs if near[design] > most]
    over = [str(design) for design in designs if broken[design]]
    wrong = [f"{', '.join(far)} further than {share:.0%} from the best"] if far else []
    return "; ".join([*wrong, *([f"{', '.join(over)} break a limit"] if over else [])])


def others(site: Site, page: Page, text: str) -> str:
    """The chart colours those that are good enough, and in the truth they are as near to the best as is said."""
    drawn = page.evaluate("foilsweep.rows('leaders').filter(row => row.group === 'good enough').map(row => Number(row.design))")
    standings = ranked(site.told.standings)
    good = standings[standings["good_enough"]]["design"].tolist()
    told = [0] if "base craft is good enough too" in text else []
    if missing := [design for design in good[:20] if design not in [*drawn, *told]]:
        return f"designs {missing} are good enough and are not shown so"
    return not_within(site, good)


def sure(site: Site, page: Page, text: str) -> str:
    """The best in the truth is among those that may be the best; the gain is at least what is said."""
    if site.best is None:
        return ""
    order = ranked(site.told.standings)
    named = re.search(r"designs ([0-9, or]+);|Design (\d+) is the best of", text)
    many = re.search(r"(\d+) designs may be the best", text)
    flags = order.loc[order["may_be_best"], "design"].tolist()
    said = [int(each) for each in re.findall(r"\d+", named[0])] if named else flags
    if not named and not many:
        return "it names no design, and not how many may be the best"
    if sorted(said) != sorted(flags) or (many and int(many[1]) != len(flags)):
        return f"by the standings it is {flags}"
    if site.truth is None:
        return ""
    scores, best = true_scores(site.truth), true_best(site.truth)
    if best not in said:
        return f"in the truth design {best} is the best"
    least = re.search(rf"by at least ({NUMBER})", page.locator("main").inner_text())
    gain = float(scores[0] - scores[site.best])
    return f"in the truth it is {gain:.3f} better" if least and gain < float(least[1].rstrip(".")) else ""


def settings(site: Site, page: Page, text: str) -> str:
    """The card has every gain of the design as it flew; in the truth a design that is to be built is better, and whole."""
    card = page.locator(".card table.set").inner_text()
    craft = craft_of_design(site.told, site.best or 0)
    height = np.degrees(craft.control.height.proportional) / 100.0
    if f"{height:.3g}" not in card:
        return f"the height gain {height:.3g} deg/cm is not on it"
    if site.truth is None or not site.best:
        return ""
    first = site.told.standings.set_index("design").loc[site.best]
    if first["verdict"] == "kept" and truly_broken(site.truth)[site.best]:
        return "in the truth the design breaks a limit"
    scores = true_scores(site.truth)
    return (
        "in the truth it is no better than the boat as it is"
        if first["gain_sure"] > 0 and scores[site.best] >= scores[0]
        else ""
    )


def rough(site: Site, page: Page, text: str) -> str:
    """The waves up to which all flights were clean are those of the table; in other waves as large a share is clean there."""
    at = re.search(rf"Design {site.best or 0} at ({NUMBER}) m/s|base craft at ({NUMBER}) m/s", text)
    sentence = text[at.start() :].partition(". ")[0] if at else ""
    found = re.findall(rf"all (\d+) clean up to ({NUMBER}) cm(?:, the highest tried,)? in (\S+) seas", sentence)
    if not at or not (found or "not all clean" in sentence or "no trim" in text):
        return "no height and speed is named"
    speed = float(next(filter(None, at.groups())))
    rides = site.told.rides[(site.told.rides["design"] == (site.best or 0)) & np.isclose(site.told.rides["speed"], speed)]
    for clean_ones, height, heading in found:
        up_to = rides[(rides["heading_name"] == heading) & (100.0 * rides["height"] <= float(height) + 1e-6)]
        if (up_to["clean"] < up_to["flights"]).any() or int(up_to["clean"].sum()) != int(clean_ones):
            return f"by the cells {int(up_to['clean'].sum())} of {int(up_to['flights'].sum())} were clean in {heading} seas"
        if site.truth is not None and (wrong := _less_clean(site, speed, up_to)):
            return wrong
    return _outings_differ(site) if site.truth is not None else ""


def _less_clean(site: Site, speed: float, cells: pd.DataFrame) -> str:
    """Of which of these cells of the map fewer flights are clean in other waves than its flights leave open."""
    campaign = site.told.campaign
    ride_map = plan_tail(campaign, len(site.told.designs), len(site.told.conditions), site.told.manifest.spare).map
    assert ride_map is not None
    craft = craft_of(campaign, site.told.designs.loc[site.best or 0])
    for cell in cells.to_dict("records"):
        there = [
            each
            for each in map_conditions(ride_map)
            if each.heading.name == cell["heading_name"]
            and np.isclose(each.speed, speed)
            and np.isclose(each.sea.height, cell["height"])
        ]
        flown = fly_crafts(site.other.campaign, [craft], there, range(LONG), 1)
        _, high = share_bounds(np.array([float(clean(flown).sum())]), np.array([float(len(flown))]), 0.975)
        if high[0] < cell["share_low"]:
            return f"of {100 * cell['height']:g} cm {clean(flown).mean():.0%} are clean, {cell['share_low']:.0%} were promised"
    return ""


def _outings_differ(site: Site) -> str:
    """Whether in other waves another share of its outings is clean."""
    rows = site.told.outings
    own = rows[rows["design"] == (site.best or 0)] if len(rows) else rows
    if own.empty or not count_outings(own).shown:
        return ""
    work = site.other
    more = work._replace(campaign=work.campaign.model_copy(update={"outings": OUTINGS}))
    told, long = count_outings(own), count_outings(pd.concat(fly_outings(more, [site.best or 0]), ignore_index=True))
    return "" if told.low <= long.high and long.low <= told.high else f"of its outings {long.clean} of {long.flown} are clean"


def troubles(site: Site, page: Page, text: str) -> str:
    """Its most frequent cause is that of the table of events, and in other waves no other is surely twice as frequent."""
    design = int(re.findall(r"\d+", page.url.rpartition("/")[2])[0]) if "design-" in page.url else None
    if design is None:
        return _refused(site, text)
    rows = site.told.troubles[site.told.troubles["design"] == design] if len(site.told.troubles) else site.told.troubles
    if rows.empty and "Nothing went wrong" not in text:
        return "it does not say that nothing went wrong"
    first = str(rows["cause"].value_counts().index[0]) if len(rows) else ""
    if first and PLAIN[first] not in text:
        return f"the most frequent cause is {first}"
    if site.truth is None:
        return ""
    flights, counts = _events(site, design)
    if not first:
        mine = len(site.told.flights_of(design))
        _, high = share_bounds(np.array([0.0]), np.array([float(mine)]), 0.975)
        return f"of {flights} flights {sum(counts.values())} had an event" if sum(counts.values()) > high[0] * flights else ""
    most = max(counts, key=lambda cause: counts[cause], default=first)
    own, others = counts.get(first, 0), counts.get(most, 0)
    surely = most != first and binom.sf(others - 1, own + others, 2.0 / 3.0) < UNLIKELY
    return f"in other waves {others} are {most}, {own} {first}" if surely else ""


def _events(site: Site, design: int) -> tuple[int, dict[str, int]]:
    """How many flights of a design were recorded in other waves, and what causes their events had, how often."""
    work, craft = site.other, craft_of_design(site.told, design)
    wanted = [Wanted(0, condition, at) for condition in work.conditions for at in range(RECORDED)]

    def causes(place: int, history: pd.DataFrame) -> list[str]:
        flight, condition = site.told.campaign.flight, wanted[place].condition
        events = list_events(history, craft, flight.settle, flight.length)
        if events.empty:
            return []
        faults = {condition.index: condition.fault}
        return name_causes(history, events, craft, {condition.index: condition.speed}, faults)["cause"].astype(str).tolist()

    found = record_each(work.campaign, [craft], wanted, causes, 1)
    counts = pd.Series([cause for each in found for cause in each], dtype=str).value_counts()
    return len(wanted), {str(name): int(often) for name, often in counts.items()}


def _refused(site: Site, text: str) -> str:
    """Where every design is refused: how many broke each limit stands there, and in the truth they do break it."""
    broken = site.told.standings["verdict"].eq("broken")
    if not broken.all():
        return "some design is not refused, and the first has no page"
    if not re.search(rf"\b{len(broken)}\b", text) and not re.search(r"\d", text):
        return "it gives no numbers"
    if site.truth is None:
        return ""
    sound = np.flatnonzero(~truly_broken(site.truth)).tolist()
    return f"in the truth designs {sound} do not surely break a limit" if sound else ""


def cheaper(site: Site, page: Page, text: str) -> str:
    """The design that is said to do is that of least price among those good enough, and is near enough in the truth."""
    prices = site.told.designs["price"]
    order = ranked(site.told.standings)
    good = order.loc[order["good_enough"], "design"].tolist()
    found = re.search(
        rf"Design (\d+) would do, and costs ({NUMBER}):|(base craft) would do|design (\d+) costs ({NUMBER})\.", text
    )
    if not found:
        return "" if "not known" in text else "it does not say whether a cheaper design would do"
    design = next((int(each) for each in found.groups() if each), 0)
    if design not in good or prices[design] > prices[good].min() + ROUNDING:
        return f"the cheapest that is good enough costs {prices[good].min():g}"
    return not_within(site, [design])


def sensor(site: Site, page: Page, text: str) -> str:
    """The level that is told to be the best is the best in the truth, on average over the designs that fly."""
    found = re.search(r": (\S+)(?: \S+)? is the best of", text)
    unsure = "cannot" in text or "may be" in text or "not told" in text or "not known" in text
    if site.truth is None or not found:
        return "" if found or unsure else "no level is named"
    label = next(
        label
        for label, factor in site.told.campaign.factors.items()
        if text.lower().startswith(factor.name.lower()) and factor.levels
    )
    scores = pd.Series(true_scores(site.truth))[1:]
    levels = site.told.designs[label].iloc[1:].to_numpy()
    fails = (site.truth.status[1:] != FLEW).mean(axis=(1, 2)) > 0.5
    mean = scores[~fails].groupby(levels[~fails]).mean()
    factor = site.told.campaign.factors[label]
    best = value_in_words(factor, mean.idxmin())
    return "" if best in text.partition(" is the best")[0] else f"in the truth {best} is the best"


def base(site: Site, page: Page, text: str) -> str:
    """The base craft's score is the standings'; its interval holds the truth."""
    row = site.told.standings.set_index("design").loc[0]
    found = re.search(rf"its score is ({NUMBER}) \(({NUMBER}) to ({NUMBER})\)", text)
    if not found or not np.isclose(float(found[1]), row["score"], rtol=0.01):
        return f"the standings have {row['score']:.3g}"
    if site.truth is None:
        return ""
    true = float(true_scores(site.truth)[0])
    return "" if float(found[2]) <= true <= float(found[3].rstrip(".")) else f"in the truth it is {true:.3f}"


def lacks(site: Site, asked: str) -> bool:
    """Whether a question has no answer here, as the first page says."""
    addresses = [address for factor in site.told.campaign.factors.values() for address in factor.addresses]
    sensing = ("rangefinders.", "inertial.", "navigation.")
    absent: dict[str, Any] = {
        "How rough, how fast?": site.told.rides.empty,
        "Would cheaper parts do?": site.told.designs["price"].nunique() < 2,
        "What does another sensor buy?": not any(address.startswith(sensing) for address in addresses),
        "How good is my boat as it is?": 0 not in site.told.leaders,
    }
    return bool(absent.get(asked, site.best is None and asked != "What goes wrong?"))

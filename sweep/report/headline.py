"""The answer of a campaign, in a few sentences."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from sweep.campaign.plan import Search
from sweep.insight.good_enough import FEWEST, MOST_CHOSEN, SHARES, promised
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.insight.limits import NOT_FLOWN, share_bounds
from sweep.insight.rank import BREAKS, within
from sweep.insight.ranking import certain, ranked
from sweep.insight.scores import Scoring
from sweep.insight.searched import LEFT_OUT
from sweep.report.unknown_words import over_draws
from sweep.words.factors import level_name
from sweep.words.numbers import count, grouped, interval, number, percent, portion, with_unit
from sweep.words.phrases import called, called_within, listed, together
from sweep.words.responses import response
from sweep.words.units import in_unit

if TYPE_CHECKING:
    from sweep.campaign.factors import Factor
    from sweep.results.store import Results


def result(results: Results) -> list[str]:
    """The answer of a campaign, in a few sentences."""
    standings = results.standings
    order = ranked(standings)
    if order.empty:
        return [*_nobody(standings), *_unfinished(results)]
    best = order.iloc[0].to_dict()
    said = [
        _first(standings, order, best),
        *chosen(results, int(best["design"])),
        *_from_best(results, order),
        *_not_flown_on(order),
        *over_draws(results),
        *against_base(standings),
        *good_enough_sentences(results, order),
        *_ride(results, int(best["design"])),
        *_doubt(best),
        *_refused(standings),
    ]
    return [*said, *_unfinished(results)]


def _first(standings: pd.DataFrame, order: pd.DataFrame, best: Mapping[Hashable, Any]) -> str:
    name = called(int(best["design"]))
    score = f"its score is {number(best['score'])}{interval(best['score_low'], best['score_high'])}, and less is better"
    if len(order) == 1:
        return f"{name} is the only one of {len(standings)} designs that broke no limit; {score}."
    field = f"{len(order)} designs" + (" that broke no limit" if len(order) < len(standings) else "")
    if not certain(order):
        return f"{name} comes first of {field}; {score}. One replicate cannot tell how sure that is."
    outside_final = order["reason"].astype(str).str.contains(LEFT_OUT, regex=False).any()
    alone = best["may_be_best"] and order["may_be_best"].sum() == 1 and not outside_final
    return f"{name} {'is the best' if alone else 'comes first'} of {field}; {score}."


OF_FINAL = "the best score of the final"


def outside(results: Results) -> list[str]:
    """By how much a design outside the final of a search may be better than the best of the final; nothing if there is none."""
    rows = results.standings
    if not isinstance(results.campaign.plan, Search) or rows.empty:
        return []
    left = rows.loc[rows["reason"].astype(str).str.contains(LEFT_OUT, regex=False), "behind_low"].min()
    if not left < 0.0:
        return []
    most = f"by {number(-float(left), 2)} at most ({CONFIDENCE_SAID} sure)"
    return [f"Designs outside the final flew too little to be told apart: one of them may be better than its best, {most}."]


def _best_score(results: Results) -> str:
    """What designs are promised to be near: of a search the final's best, for those outside it were not compared so far."""
    return OF_FINAL if isinstance(results.campaign.plan, Search) else "the best score"


def _from_best(results: Results, order: pd.DataFrame) -> list[str]:
    """How far the first design may still be from the best."""
    first, searched = order.iloc[0], isinstance(results.campaign.plan, Search)
    if not certain(order) or len(order) < 2:
        return []
    if np.isfinite(first["failing_high"]):
        near = f"Unless it fails, it is surely within {portion(float(first['riding_high']))} of {_best_score(results)}"
        return [f"{near}, whichever design has that.", *outside(results)]
    if np.isfinite(first["above_high"]):
        near = f"It is surely within {portion(float(first['above_high']))} of {_best_score(results)}"
        return [f"{near}, whichever design has that.", *outside(results)]
    if searched:
        return outside(results)
    if np.isfinite(first["behind_high"]) and first["behind_high"] > 0.0:
        return [f"It may still be behind another design, by up to {number(float(first['behind_high']), 2)}."]
    return ["How far it may still be behind the best is not known."] if np.isnan(first["behind_high"]) else []


def _not_flown_on(order: pd.DataFrame) -> list[str]:
    """Of designs that kept their limits, flew less than the leading ones and yet seem better, or come first with few flights.

    Flights choose who flies on by the limits and scores of then; those may have changed.
    """
    first, remark = order.iloc[0], order["reason"].astype(str)
    chosen_out = remark.str.contains("Dropped out", regex=False) | remark.str.contains(LEFT_OUT, regex=False)
    most = int(order["flights"].max())
    if int(first["flights"]) < most:
        return [
            f"{called(int(first['design']))} has flown {grouped(int(first['flights']))} flights, others up to {grouped(most)}: "
            f"these were chosen to fly on before limits or scores changed. {AGAIN}"
        ]
    better = order[~chosen_out & (order["flights"] < first["flights"]) & (order["score"] < first["score"])]
    better = better[better["may_be_best"]]
    if better.empty:
        return []
    nearest = better.sort_values(["score", "design"]).iloc[0]
    by = number(float(first["score"] - nearest["score"]), 2)
    return [
        f"{called(int(nearest['design']))} scores {by} better in the flights that both have, but these are too few to tell: it "
        f"did not fly on with the leading designs. {AGAIN}"
    ]


AGAIN = "Run the campaign into another folder to have those fly on that are the best now."
MOST_NAMED = 8  # factors that a headline names: judgement


def chosen(results: Results, design: int) -> list[str]:
    """What a design has of each factor, in a sentence; nothing of the base craft."""
    factors = list(results.campaign.factors.items())
    if not design or len(factors) > MOST_NAMED:
        return []
    row = results.designs.loc[design]
    return [f"It has {together([f'{factor.name} {value_in_words(factor, row[label])}' for label, factor in factors])}."]


def factor_value(factor: Factor, value: Any) -> str:
    """A factor's SI value in the unit that its campaign file wrote: '65 cm²'; a word as it is."""
    if isinstance(value, str):
        return value
    shown = in_unit(float(value), factor.unit) if factor.unit else float(value)
    return with_unit(shown, factor.unit)


def value_in_words(factor: Factor, value: Any) -> str:
    """A factor's value with its unit: '65 cm²', 'dynamic pressure'; a name with digits, such as naca-2412, as it is written."""
    if not isinstance(value, str):
        return factor_value(factor, value)
    return level_name(value)


def good_enough_sentences(results: Results, order: pd.DataFrame) -> list[str]:
    """Which designs are good enough, and the cheapest, the lightest and the sturdiest of them; or what would tell."""
    if not certain(order) or len(order) < 2:
        return []
    good = order[order["good_enough"]]
    wider = order.loc[np.isfinite(order["above_high"]), "design"]
    if len(good) < FEWEST:
        if len(wider) >= FEWEST:
            few = "too few of those near the best keep their limits even probably"
            return [f"Which designs are good enough is not known: {few}. More flights would tell."]
        none = f"no two designs are surely within {portion(SHARES[-1])} of the best score"
        return [f"Which designs are good enough is not known: by these flights {none}. More replicates would tell."]
    share = promised(good)
    usual = within(results.campaign, results.standings["score"].to_numpy())
    least = share > usual + 1e-9
    known = ", the smallest share that these flights show for two designs" if least else ""
    riding = np.isfinite(good["failing_high"]).any()
    first = f"{count(len(good), 'design is', 'designs are').capitalize()} good enough{' unless they fail' if riding else ''}"
    said = [
        f"{first}: surely within {portion(share)} of {_best_score(results)}, whichever design that is{known}, "
        "and no limit broken as far as can be told."
    ]
    if riding:
        said.append(_fails_at_most(good))
    if least and share <= MOST_CHOSEN + 1e-9:
        said.append(f"More replicates would show which are within {portion(usual)}.")
    if share > max(MOST_CHOSEN, usual) + 1e-9:
        return [*said, _flights_wanted(good, share), *_unfailing(results)]
    return [*said, *_least(results, good), *_unfailing(results)]


def _fails_at_most(good: pd.DataFrame) -> str:
    """How often designs fail that are promised how they ride; what they may fail more is not in their shares."""
    fewest, most = (grouped(int(each)) for each in (good["flights"].min(), good["flights"].max()))
    flown = f"{fewest} flights" if fewest == most else f"{fewest} to {most} flights"
    failed, least = float(good["failed"].max()), math.ceil(1000.0 * float(good["failing_high"].max())) / 1000.0
    seen = f"they failed in at most {percent(failed)} of their {flown}" if failed else f"none failed in its {flown}"
    return (
        f"How often they fail is known less well, and is not in this share: {seen}, so that each surely fails in less than "
        f"{percent(least)} of its flights. Ten times the flights without a failure would show about a tenth of that."
    )


def _flights_wanted(good: pd.DataFrame, share: float) -> str:
    """What it takes to name the cheapest: a chance error falls as the root of the flights, what they may hide faster."""
    flights = int(good["flights"].median())
    wanted = grouped(10 * math.ceil(0.1 * flights * (share / MOST_CHOSEN) ** 2))
    return (
        f"That is too wide to choose by cost or strength. About {wanted} flights of each leading design, instead of "
        f"{grouped(flights)}, would show who is within {portion(MOST_CHOSEN)}."
    )


def _unfailing(results: Results) -> list[str]:
    """What is said where no flight failed: nothing that was promised has failures in it."""
    if (results.standings["failed"] > 0.0).any():
        return []
    flights = float(results.standings["flights"].sum())
    most = 100.0 * float(share_bounds(np.zeros(1), np.array([flights]))[1][0])
    return [
        f"None of the {grouped(int(flights))} flights ended early, and no figure here has that in it (touchdowns and broaches "
        f"are counted by themselves). On average fewer than {number(most, 2)} % of flights end early, {CONFIDENCE_SAID} sure; "
        "one design may do so more often."
    ]


class Least(NamedTuple):
    """The cheapest, the lightest or the sturdiest of the designs good enough, and its price, mass or score in words."""

    word: str
    design: int
    value: str


def least(results: Results, good: pd.DataFrame) -> Iterator[Least]:
    """The cheapest, the lightest and the sturdiest, where that makes a difference; good: the standings' rows good enough.

    None where the share that was shown is too wide to choose by.
    """
    usual = within(results.campaign, results.standings["score"].to_numpy())
    if len(good) < FEWEST or not promised(good) <= max(MOST_CHOSEN, usual) + 1e-9:
        return
    designs = results.designs.loc[good["design"]]
    for name, word in (("price", "cheapest"), ("mass", "lightest")):
        if name in designs and designs[name].max() > (1.0 + SAME) * designs[name].min():
            cost = with_unit(float(designs[name].min()), "kg" if name == "mass" else "", 4)
            yield Least(word, int(designs.index.to_numpy()[designs[name].to_numpy().argmin()]), cost)
    if (worst := sturdiness(results, good["design"].tolist())) is not None and len(worst) > 1:
        yield Least("sturdiest", int(worst.index.to_numpy()[worst.to_numpy().argmin()]), number(float(worst.min())))


def _least(results: Results, good: pd.DataFrame) -> list[str]:
    said = []
    for word, design, value in least(results, good):
        if word == "sturdiest":
            built = f"built a little off, it scores {value} at worst"
            said.append(f"of those with pages the sturdiest is {called_within(design)} ({built})")
        else:
            said.append(f"the {word} is {called_within(design)} ({value})")
    return [f"Of these, {listed(said, 'and')}."] if said else []


SAME = 0.005
"""Share by which two costs must differ to be told apart (judgement)."""


def sturdiness(results: Results, designs: list[int]) -> pd.Series | None:
    """The worst mean score of each of these designs over the ways of being built a little off, by design; None if not flown."""
    rows = results.tolerances
    if results.campaign.tolerances == "none" or not len(rows):
        return None
    flown = rows[rows["design"].isin(designs)]
    scores = Scoring.of(results.campaign).scores(flown)
    means = flown.assign(score=scores).groupby(["design", "off", "side"])["score"].mean()
    return means.groupby("design").max() if len(means) else None


def against_base(standings: pd.DataFrame) -> list[str]:
    """How the first design compares with the base craft: one sentence, the same on every page."""
    order = ranked(standings)
    if order.empty:
        return []
    best = order.iloc[0]
    name, gain = called(int(best["design"])), float(best["gain"])
    if best["design"] == 0 or not math.isfinite(gain):
        return ["The base craft itself comes first."] if best["design"] == 0 else []
    if gain <= 0.0:
        base = standings.loc[standings["design"] == 0].iloc[0]
        short = "" if base["verdict"] == "broken" else "breaks a limit by its own flights, though not surely"
        broke = refused_for(str(base["reason"]), short)
        return [f"The base craft scores {number(-gain)} better in these flights, but it {broke}."]
    if float(best["gain_sure"]) > 0.0:
        least = number(float(best["gain_sure"]), 2)
        sure = f"{name} is surely better than the base craft: by {number(gain)} in these flights, and by at least {least}"
        if (standings["failed"] > 0.0).any():
            return [f"{sure}, what so few flights may hide of its failures counted in."]
        return [f"{sure}, unless it fails, which no flight has done yet."]
    if not certain(standings):
        return [
            f"{name} is {number(gain)} better than the base craft in these flights, and one replicate cannot tell how surely."
        ]
    return [f"{name} is {number(gain)} better than the base craft in these flights, but not surely: it may be chance."]


def all_together(results: Results) -> str:
    """' Design 7 is ...': that all its choices together surely do something, where none by itself can be seen to; or ''."""
    order = ranked(results.standings)
    if order.empty or order.iloc[0]["design"] == 0 or not order.iloc[0]["gain_sure"] > 0.0:
        return ""
    name = called(int(order.iloc[0]["design"]))
    return f" {name} is surely better than the boat as it is all the same, with all its choices together."


def why_refused(reason: str) -> str:
    """In short why a design has no place; reason: that of the standings."""
    return "breaks a rule of the campaign" if reason.startswith(BREAKS) else "broke a limit"


def refused_for(reason: str, short: str = "") -> str:
    """Why a design has no place, with the limits or rules by name; short: instead of `why_refused`."""
    said = reason.strip().rstrip(".")
    if said.startswith(BREAKS):
        return f"{said[0].lower()}{said[1:]}".removeprefix("it ")
    return f"{short or why_refused(reason)}{f' ({said[0].lower()}{said[1:]})' if said else ''}"


def _doubt(best: Mapping[Hashable, Any]) -> list[str]:
    if best["verdict"] != "not yet known":
        return []
    return ["Whether it keeps every limit is not yet known" + (f": {best['reason'].rstrip('.')}." if best["reason"] else ".")]


def _ride(results: Results, design: int) -> list[str]:
    """Where the best design rides worst, by its ride-height error."""
    flights = results.flights_of(design)
    means = flights.groupby("condition")["ride_height_error"].mean().dropna()
    if means.empty:
        return []
    names = dict(zip(results.conditions["condition"], results.conditions["name"], strict=True))
    errors = {names[condition]: response("ride_height_error", error) for condition, error in means.sort_values().items()}
    calmest, worst = next(iter(errors)), next(reversed(errors))
    if calmest == worst:
        return [f"{called(design)} follows its wanted height within {errors[worst]} in {worst} (root mean square)."]
    return [
        f"{called(design)} follows its wanted height within {errors[calmest]} in {calmest}, "
        f"and within {errors[worst]} in {worst}, its worst (root mean square)."
    ]


def _refused(standings: pd.DataFrame) -> list[str]:
    reasons = standings.loc[standings["verdict"] == "broken", "reason"]
    ruled = int(reasons.str.startswith(BREAKS).sum())  # the base craft, if any
    broken = len(reasons) - ruled
    said = ["The base craft breaks a rule of the campaign and has no place."] if ruled else []
    if broken:
        some = f"{count(broken, 'design', 'designs')} broke a limit and {'has' if broken == 1 else 'have'} no place."
        said.append(some.capitalize())
    return said


def _nobody(standings: pd.DataFrame) -> list[str]:
    if standings.empty:
        return ["No design has been scored yet."]
    grounded = standings["reason"].astype(str).str.contains(NOT_FLOWN, regex=False)
    if grounded.all():
        return [
            f"None of the {len(standings)} designs could be flown in every condition: none can be recommended. Where they have "
            "no trim, foilsweep check says what the base craft is short of."
        ]
    return [f"Each of the {len(standings)} designs broke a limit: none can be recommended."]


def _unfinished(results: Results) -> list[str]:
    """What a run that stopped early has not flown."""
    if results.campaign.budget or isinstance(results.campaign.plan, Search):  # what these did not fly they left out on purpose
        return []
    flown = results.column("design").nunique()
    missing = len(results.designs) - flown
    return [f"The run is not finished: {count(missing, 'design has', 'designs have')} not flown."] if missing else []

"""The answer of a campaign, in a few sentences."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.insight.ranking import certain, ranked
from sweep.words.numbers import count, interval, number, portion, spelled, with_unit
from sweep.words.phrases import called, together
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
    first, *more = _first(standings, order, best)
    said = [
        first,
        *chosen(results, int(best["design"])),
        *more,
        *_cheapest(results, order),
        *_gain(order, best),
        *_ride(results, int(best["design"])),
        *_doubt(best),
        *_refused(standings),
    ]
    return [*said, *_unfinished(results)]


def _first(standings: pd.DataFrame, order: pd.DataFrame, best: Mapping[Hashable, Any]) -> list[str]:
    name = called(int(best["design"]))
    score = f"its score is {number(best['score'])}{interval(best['score_low'], best['score_high'])}, and less is better"
    if len(order) == 1:
        return [f"{name} is the only one of {len(standings)} designs that broke no limit; {score}."]
    field = f"{len(order)} designs" + (" that broke no limit" if len(order) < len(standings) else "")
    if not certain(order):
        return [f"{name} comes first of {field}; {score}. One replicate cannot tell how sure that is."]
    peers = int(order["level_with_best"].sum()) - 1
    if peers > 0:
        return [
            f"{name} is level with {count(peers, 'other', 'others')} at the top of {field}; {score}.",
            "These flights cannot tell them apart; more replicates may.",
        ]
    return [f"{name} is the best of {field}; {score}."]


MOST_CHOSEN = 8  # factors that a headline names: judgement


def chosen(results: Results, design: int) -> list[str]:
    """What a design has of each factor, in a sentence; nothing of the base craft."""
    factors = list(results.campaign.factors.items())
    if not design or len(factors) > MOST_CHOSEN:
        return []
    row = results.designs.loc[design]
    return [f"It has {together([f'{label} {factor_value(factor, row[label])}' for label, factor in factors])}."]


def factor_value(factor: Factor, value: Any) -> str:
    """A factor's SI value in the unit that its campaign file wrote: '65 cm²'; a word as it is."""
    if isinstance(value, str):
        return value
    shown = in_unit(float(value), factor.unit) if factor.unit else float(value)
    return with_unit(shown, factor.unit)


CLOSE = 0.1
"""Share of the first score within which cost may decide (judgement). A design that is level may be far worse, which chance
hides: in small campaigns cut from long ones of four shipped boats, the lightest of all that were level scored up to 4.3 times
the best, the lightest within a tenth at most 1.15 times."""


def _cheapest(results: Results, order: pd.DataFrame) -> list[str]:
    """Of designs that are level and score about as well, which costs least: what to choose by if nothing else decides."""
    near = order["level_with_best"] & (order["score"] <= (1.0 + CLOSE) * order["score"].iloc[0])
    if not certain(order) or near.sum() < 2:
        return []
    costs = results.designs.loc[order.loc[near, "design"]]
    them = f"Of the {spelled(int(near.sum()))} of them that score within {portion(CLOSE)} of the first"
    for name, word in (("price", "cheapest"), ("mass", "lightest")):
        if name in costs and costs[name].nunique() > 1:
            least = int(costs[name].idxmin())
            cost = with_unit(float(costs[name].min()), "kg" if name == "mass" else "", 4)
            return [f"{them}, the {word} is {'the base craft' if least == 0 else f'design {least}'} ({cost})."]
    return []


def _gain(order: pd.DataFrame, best: Mapping[Hashable, Any]) -> list[str]:
    gain, low, high, design = best["gain"], best["gain_low"], best["gain_high"], f"design {int(best['design'])}"
    if best["design"] == 0 or not math.isfinite(gain):
        return []
    if certain(order) and order.loc[order["design"] == 0, "level_with_best"].any():
        return [f"The base craft is among them: that the best of many leads it by {number(gain)} may be luck."]
    if gain < 0.0:
        broke = "" if (order["design"] == 0).any() else ", but broke a limit"
        return [f"The base craft scores {number(-gain)}{interval(-high, -low)} better{broke}."]
    if math.isfinite(low) and low <= 0.0:
        return [f"That {design} beats the base craft is not certain: the gain is {number(gain)}{interval(low, high)}."]
    return [f"{design.capitalize()} is {number(gain)}{interval(low, high)} better than the base craft."]


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
    broken = int((standings["verdict"] == "broken").sum())
    return (
        [f"{count(broken, 'design', 'designs')} broke a limit and {'has' if broken == 1 else 'have'} no place.".capitalize()]
        if broken
        else []
    )


def _nobody(standings: pd.DataFrame) -> list[str]:
    if standings.empty:
        return ["No design has been scored yet."]
    return [f"Each of the {len(standings)} designs broke a limit: none can be recommended."]


def _unfinished(results: Results) -> list[str]:
    """What a run that stopped early has not flown."""
    if results.campaign.budget:  # what a race did not fly it left out on purpose
        return []
    flown = results.column("design").nunique()
    missing = len(results.designs) - flown
    return [f"The run is not finished: {count(missing, 'design has', 'designs have')} not flown."] if missing else []

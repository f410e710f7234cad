"""What differs between two campaigns, line by line, in the units that their files are written in."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from sweep.campaign.plan import Search
from sweep.campaign.text.dimensions import in_unit
from sweep.report.display import said_factor
from sweep.results.fingerprint import differences
from sweep.words.numbers import number, pretty, with_unit
from sweep.words.responses import response, response_title

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.factors import Factor
    from sweep.campaign.water import WaterBody
    from sweep.results.store import Results

MOST_LEVELS = 8  # of a factor that are named: judgement


def differing(now: Results, former: Results) -> list[str]:
    """Each thing that was chosen otherwise: what it was and what it is. What the seas or the craft are made of is in SI."""
    before, after = _stated(former.campaign), _stated(now.campaign)
    said = [
        _change(name, before.get(name), after.get(name))
        for name in dict.fromkeys([*after, *before])
        if before.get(name) != after.get(name)
    ]
    return [*said, *_deeper(now.campaign, former.campaign), *_models(now, former)]


def _change(name: str, before: str | None, after: str | None) -> str:
    if before is None:
        return f"{name}: added, {after}"
    if after is None:
        return f"{name}: removed, was {before}"
    return f"{name}: was {before}, is {after}"


def _kind(campaign: Campaign) -> str:
    return "search" if isinstance(campaign.plan, Search) else "race"


def _stated(campaign: Campaign) -> dict[str, str]:
    """The choices of a campaign in words, by what they are of."""
    flight, budget = campaign.flight, campaign.budget
    speeds = ", ".join(number(speed) for speed in campaign.speeds)
    return {
        **{f"choice of {factor.name}": _levels(factor) for factor in campaign.factors.values()},
        "plan": campaign.plan.kind.replace("-", " "),
        "race": f"a {_kind(campaign)} within a budget" if budget else "everything flown",
        "water": _water(campaign.water),
        **{f"sea {sea.name}": sea.text for sea in campaign.seas},
        "headings": ", ".join(heading.name for heading in campaign.headings),
        "speeds": f"{speeds} m/s",
        "faults": ", ".join(fault.name for fault in campaign.faults),
        "replicates": str(campaign.replicates),
        "length of a flight": with_unit(flight.length, "s"),
        "settling": with_unit(flight.settle, "s"),
        "seed of the flights": str(flight.seed),
        **{f"limit on {response_title(name)}": _limit(limit) for name, limit in campaign.limits.items()},
        **{f"score of {response_title(name)}": _weight(name, weight) for name, weight in campaign.score.items()},
    }


def _levels(factor: Factor) -> str:
    unit = f" {pretty(factor.unit)}" if pretty(factor.unit) else ""
    values: Sequence[Any] = factor.levels or [factor.low, factor.high]
    shown = [number(each) if isinstance(each, float) else str(each) for each in said_factor(factor, pd.Series(values))]
    if factor.continuous:
        return f"from {' to '.join(shown)}{unit}"
    if len(shown) > MOST_LEVELS:
        return f"{len(shown)} levels from {shown[0]} to {shown[-1]}{unit}"
    return f"{', '.join(shown)}{unit}"


def _water(water: WaterBody) -> str:
    warmth = with_unit(in_unit(water.temperature, "degC"), "°C")
    return f"{water.kind}, {warmth}, {with_unit(water.depth, 'm')} deep"


def _limit(limit: Any) -> str:
    return f"{number(60.0 * limit.value)} /min" if limit.kind == "rate" else f"{number(100.0 * limit.value)} % of flights"


def _weight(name: str, weight: Any) -> str:
    return f"weight {number(weight.weight)}, one point for each {response(name, weight.scale)}"


def _deeper(now: Campaign, former: Campaign) -> Iterator[str]:
    """The craft, and what the words of a sea, a heading or a fault leave out."""
    yield from differences(_flown(former.craft, {"name"}), _flown(now.craft, {"name"}), "craft")
    for name in ("seas", "headings", "faults"):
        before, after = ({part.name: part for part in getattr(campaign, name)} for campaign in (former, now))
        for one in before.keys() & after.keys():
            if name != "seas" or before[one].text == after[one].text:
                yield from differences(_flown(before[one], {"name"}), _flown(after[one], {"name"}), f"{name}.{one}")


def _flown(part: Any, without: set[str] | None = None) -> Any:
    return _rounded(part.model_dump(mode="json", exclude=without))


def _rounded(value: Any) -> Any:
    """Numbers at six digits, which is more than anybody measures."""
    if isinstance(value, dict):
        return {key: _rounded(each) for key, each in value.items()}
    if isinstance(value, float) and math.isfinite(value):
        return float(f"{value:.6g}")
    return value


def _models(now: Results, former: Results) -> list[str]:
    before, after = (results.manifest.model for results in (former, now))
    return [] if before == after else ["the model: the two were flown by different versions of the program"]

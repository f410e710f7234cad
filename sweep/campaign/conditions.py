"""Conditions: every sea with every heading, speed and fault of a campaign."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sweep.campaign.campaign import Campaign
from sweep.campaign.faults import NONE, NamedFault
from sweep.campaign.named_seas import NamedSea
from sweep.campaign.water import NamedHeading, cases

if TYPE_CHECKING:
    import pandas as pd


SOUND = NamedFault()


@dataclass(frozen=True)
class Condition:
    """One condition, which the builder cannot choose; speed in m/s."""

    index: int
    name: str
    sea: NamedSea
    heading: NamedHeading
    speed: float
    fault: NamedFault = SOUND


def list_conditions(campaign: Campaign) -> tuple[Condition, ...]:
    """All conditions, in the file's order: seas, in each the headings, in each the speeds, in each the faults.

    A flat sea without wind has no direction: it stands once for each speed and fault, with the first heading.
    """
    met = cases(campaign.seas, campaign.headings, campaign.speeds, campaign.faults)
    return tuple(Condition(index, _name(*case), *case) for index, case in enumerate(met))


def season_shares(campaign: Campaign) -> list[str]:
    """How often seas, headings and faults occur, a text for each of these that differ: 'calm 60 %, chop 40 %'."""
    if not campaign.season:
        return []
    whole = len(campaign.season)
    groups: dict[str, dict[str, float]] = {"sea": {}, "heading": {}, "fault": {}}
    for condition, often in zip(list_conditions(campaign), campaign.season, strict=True):
        heading = condition.heading.name if condition.sea.directed else "no heading"
        for group, name in (("sea", condition.sea.name), ("heading", heading), ("fault", condition.fault.name)):
            groups[group][name] = groups[group].get(name, 0.0) + often / whole
    told = [each for each in groups.values() if len(each) > 1 and max(each.values()) > min(each.values()) * (1.0 + 1e-9)]
    return [", ".join(f"{name} {100.0 * share:.3g} %" for name, share in each.items()) for each in told]


def _name(sea: NamedSea, heading: NamedHeading, speed: float, fault: NamedFault) -> str:
    parts = [sea.name, *([heading.name] if sea.directed else []), f"{speed:.6g} m/s"]
    return ", ".join([*parts, *([fault.name] if fault.name != NONE else [])])


def condition_table(conditions: tuple[Condition, ...]) -> pd.DataFrame:
    """One row per condition; sea_height in m, sea_period in s, heading_deg in degrees, speed in m/s.

    A flat sea has no period, and without wind no heading: NaN there.
    """
    import pandas as pd

    rows = [
        {
            "condition": condition.index,
            "name": condition.name,
            "sea": condition.sea.name,
            "sea_height": condition.sea.height,
            "sea_period": condition.sea.period if condition.sea.has_waves else math.nan,
            "heading_deg": math.degrees(condition.heading.angle) if condition.sea.directed else math.nan,
            "heading_name": condition.heading.name if condition.sea.directed else "",
            "speed": condition.speed,
            "fault": condition.fault.name,
        }
        for condition in conditions
    ]
    return pd.DataFrame(rows)

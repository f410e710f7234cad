"""Conditions: every sea with every heading, speed, fault and course of a campaign."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sweep.campaign.campaign import Campaign
from sweep.campaign.courses import STRAIGHT, NamedCourse, Row
from sweep.campaign.faults import NONE, NamedFault
from sweep.campaign.named_seas import NamedSea
from sweep.campaign.water import NamedHeading, cases
from sweep.model.onboard.course import SPEED

if TYPE_CHECKING:
    import pandas as pd


SOUND, NO_TURN = NamedFault(), NamedCourse()


@dataclass(frozen=True)
class Condition:
    """One condition, which the builder cannot choose; speed in m/s."""

    index: int
    name: str
    sea: NamedSea
    heading: NamedHeading
    speed: float
    fault: NamedFault = SOUND
    course: NamedCourse = NO_TURN

    @property
    def legs(self) -> tuple[Row, ...]:
        """Rows of its course, see `sweep.model.onboard.course`."""
        return self.course.rows(self.speed, self.heading.angle)

    @property
    def speeds(self) -> tuple[float, ...]:
        """What is wanted at the start and then in each leg, m/s."""
        return (self.speed, *(leg[SPEED] for leg in self.legs))


def list_conditions(campaign: Campaign) -> tuple[Condition, ...]:
    """All conditions, in the file's order: seas, in each the headings, the speeds, the faults, the courses.

    A flat sea without wind has no direction: it stands once for each speed, fault and course, with the first heading.
    A packet of waves passes a craft that goes straight: it stands once for each, without the courses that have legs.
    """
    met = cases(campaign.seas, campaign.headings, campaign.speeds, campaign.faults, campaign.courses)
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


def _name(sea: NamedSea, heading: NamedHeading, speed: float, fault: NamedFault, course: NamedCourse) -> str:
    parts = [sea.name, *([heading.name] if sea.directed else []), f"{speed:.6g} m/s"]
    more = [fault.name] if fault.name != NONE else []
    return ", ".join([*parts, *more, *([course.name] if course.name != STRAIGHT else [])])


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
            "course": condition.course.name,
        }
        for condition in conditions
    ]
    return pd.DataFrame(rows)

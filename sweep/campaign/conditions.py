"""Conditions: every sea with every heading, speed, fault and course of a campaign."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from sweep.campaign.campaign import Campaign
from sweep.campaign.courses import STRAIGHT, NamedCourse, Row
from sweep.campaign.faults import NONE, NamedFault
from sweep.campaign.named_seas import NamedSea
from sweep.campaign.water import NamedHeading
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
    cases = [
        (sea, heading, speed, fault, course)
        for sea in campaign.seas
        for heading in (campaign.headings if sea.directed else campaign.headings[:1])
        for speed, fault, course in product(campaign.speeds, campaign.faults, campaign.courses)
        if not (course.legs and sea.passes)
    ]
    return tuple(Condition(index, _name(*case), *case) for index, case in enumerate(cases))


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

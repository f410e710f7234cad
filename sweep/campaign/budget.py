"""The budget of a campaign: so much is flown and no more, by simulated seconds or by the clock."""

from __future__ import annotations

import re
from datetime import datetime, time, timedelta
from typing import Annotated, Self

from pydantic import Field, field_validator, model_validator

from sweep.campaign.text.base import Part, ShortForm
from sweep.campaign.text.dimensions import Duration
from sweep.campaign.text.problems import wrong

WANTED = "a time that the run may take, such as 20 min or until 07:00, or what it may fly: {simulated: 40000 s}"
UNTIL = "until "
OF_DAY = re.compile(r"^([01]?[0-9]|2[0-3]):[0-5][0-9]$")


class Budget(Part):
    """The budget of a run: simulated seconds of a race's flights, time on the clock, s, or a time of day; one of the three."""

    simulated: Duration | None = Field(None, gt=0, description="seconds of all flights together: the same rows on any machine")
    clock: Duration | None = Field(
        None, gt=0, description="time that the run may take, everything included: compiling, the flights, the pages"
    )
    until: str | None = Field(
        None,
        json_schema_extra={"pattern": OF_DAY.pattern},
        description="time of day here at which everything is to be done, such as 07:00: the next one after the start",
    )

    @field_validator("until")
    @classmethod
    def _a_time_of_day(cls, value: str | None) -> str | None:
        if value is not None and not OF_DAY.match(value):
            raise wrong("a time of day from 00:00 to 23:59, such as until 07:00", repr(value))
        return value

    @model_validator(mode="after")
    def _one_of_three(self) -> Self:
        given = [name for name in ("simulated", "clock", "until") if getattr(self, name) is not None]
        if len(given) != 1:
            raise wrong(WANTED, " and ".join(given) or "none of simulated, clock and until")
        return self

    @property
    def on_clock(self) -> bool:
        """Whether the clock ends it."""
        return self.simulated is None

    def ends(self, begun: datetime) -> datetime | None:
        """When a run that begins at this local time is to end, if the budget names a time of day; with its zone."""
        if self.until is None:
            return None
        hour, minute = map(int, self.until.split(":"))
        day = begun.date()
        ends = datetime.combine(day, time(hour, minute)).astimezone()
        return ends if ends > begun else datetime.combine(day + timedelta(days=1), time(hour, minute)).astimezone()

    def seconds(self, begun: datetime) -> float | None:
        """How long a run that begins at this local time may take, s; None if no clock ends it."""
        ends = self.ends(begun)
        return (ends - begun).total_seconds() if ends else self.clock


def _of_a_time(value: object) -> object:
    """'20 min' and 'until 07:00' are times on the clock."""
    if isinstance(value, str) and value.startswith(UNTIL):
        return {"until": value.removeprefix(UNTIL).strip()}
    if isinstance(value, str | int | float):
        return {"clock": value}
    return value


BudgetFile = Annotated[Budget, ShortForm(_of_a_time, {"type": "string", "examples": ["20 min", "until 07:00"]})]

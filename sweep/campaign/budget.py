"""The budget of a campaign: instead of everything, a race that spends so much and no more."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from sweep.campaign.text.base import Part, ShortForm
from sweep.campaign.text.dimensions import Duration
from sweep.campaign.text.problems import wrong

WANTED = "a time that the run may take, such as 20 min, or what it may fly: {simulated: 40000 s}"


class Budget(Part):
    """The budget of a race: simulated seconds of all its flights together, or time on the clock, s; one of the two."""

    simulated: Duration | None = Field(None, gt=0, description="seconds of all flights together: the same rows on any machine")
    clock: Duration | None = Field(
        None, gt=0, description="time the flights may take here: how many that are is measured once, at the start"
    )

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if (self.simulated is None) == (self.clock is None):
            raise wrong(WANTED, "neither simulated nor clock" if self.clock is None else "both simulated and clock")
        return self


def _of_a_time(value: object) -> object:
    """'20 min' is time on the clock."""
    if isinstance(value, str | int | float):
        return {"clock": value}
    return value


BudgetFile = Annotated[Budget, ShortForm(_of_a_time, {"type": "string", "examples": ["20 min"]})]

"""How much a campaign may fly: instead of everything, a race that spends so much and no more."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, model_validator
from pydantic_core import CoreSchema, core_schema

from sweep.campaign.part import Part
from sweep.campaign.problems import wrong
from sweep.campaign.units import Duration

WANTED = "a time that the run may take, such as 20 min, or what it may fly: {simulated: 40000 s}"


class Budget(Part):
    """What a race may spend: simulated seconds of all its flights together, or time on the clock, s; one of the two."""

    simulated: Duration | None = Field(None, gt=0, description="seconds of all flights together: the same rows on any machine")
    clock: Duration | None = Field(
        None, gt=0, description="time the flights may take here: how many that are is measured once, at the start"
    )

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if (self.simulated is None) == (self.clock is None):
            raise wrong(WANTED, "neither simulated nor clock" if self.clock is None else "both simulated and clock")
        return self


class _TimeAlone:
    """Metadata of the budget: '20 min' is time on the clock."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(_of_a_time, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [{"type": "string", "examples": ["20 min"]}, handler(schema)]}


def _of_a_time(value: object) -> object:
    if isinstance(value, str | int | float):
        return {"clock": value}
    return value


BudgetFile = Annotated[Budget, _TimeAlone()]

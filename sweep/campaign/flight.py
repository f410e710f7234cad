"""The times of a flight."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Count, Duration
from sweep.campaign.text.problems import wrong


class Flight(Part):
    """How a flight begins, how long it is, and how much of its start is not scored."""

    start: Literal["flying", "rest"] = Field("flying", description="in trim at the speed, or afloat with the throttle shut")
    length: Duration = Field(30.0, gt=0, le=3600, description="of a whole flight")
    settle: Duration = Field(5.0, gt=0, description="at the start, not scored; from rest, how long it lies before it takes off")
    seed: Count = Field(0, ge=0, lt=2**63, description="another one draws other waves and noise")

    @model_validator(mode="after")
    def _something_is_scored(self) -> Self:
        if self.settle >= self.length:
            raise wrong("settle shorter than length: only what follows is scored", at=("settle",))
        return self

    @property
    def scored(self) -> float:
        """Scored time of a whole flight, s."""
        return self.length - self.settle

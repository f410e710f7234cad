"""The cascaded law's gains: for pitch and for roll a loop on the angle, and a loop on the rate of turning that it asks for."""

from __future__ import annotations

from pydantic import Field

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import (
    Angle,
    AngleGain,
    AngleIntegralGain,
    AngleTimeSquared,
    AngularRate,
    Duration,
    Frequency,
)


class AngleLoop(Part):
    """From an angle that is off to the rate of turning that mends it."""

    proportional: AngleIntegralGain = Field(ge=0, description="rate of turning asked for an error of the angle")
    limit: AngularRate = Field(1.0, gt=0, description="largest rate of turning that it asks for")
    filter: Frequency = Field(10.0, gt=0, le=1000, description="corner of the low-pass on the angle that is wanted")


class RateLoop(Part):
    """From a rate of turning that is off to angles of the foils against each other."""

    proportional: Duration = Field(ge=0, description="angle of the foils for an error of the rate of turning: seconds times it")
    integral: AngleGain = Field(0.0, ge=0, description="angle gained a second for an error of the rate that stays")
    derivative: AngleTimeSquared = Field(0.0, ge=0, description="angle against the change of the filtered rate of turning")
    limit: Angle = Field(0.10, gt=0, description="largest command of this loop, and of its integral")
    filter: Frequency = Field(20.0, gt=0, le=1000, description="corner of the low-pass on the gyro's rate of turning")


class CascadeAxis(Part):
    """Pitch or roll: the loop on its angle around the loop on its rate."""

    angle: AngleLoop
    rate: RateLoop


class Cascade(Part):
    """Gains of the law `cascaded`, in the place of those of `pitch` and `roll`."""

    pitch: CascadeAxis
    roll: CascadeAxis

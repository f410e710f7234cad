"""The ten measurements that make a craft file, each with how to take it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Self

from pydantic import BeforeValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from sweep.campaign.text.dimensions import Force, Mass, Speed
from sweep.campaign.text.problems import wrong
from sweep.starter.foil_sizes import FoilSizes, Placed, Unlike, check_unlike, foils_of
from sweep.starter.groups import (
    Asked,
    Balance,
    BatteryPrint,
    HullSize,
    MotorWatts,
    OtherRangefinder,
    RangefinderLog,
    RudderBlade,
    ServoTimes,
    StrutSizes,
    Swing,
)

NONE = "none"
"""What a builder who has none answers for a group that may be left out."""
OrNone = BeforeValidator(lambda value: None if value == NONE else value)


class Measurements(Asked):
    """Everything that is asked for."""

    optional: ClassVar[dict[str, str]] = {
        "unlike": "Are two foils of the pair unlike, has a foil no servo, or other struts or another section than the pair? "
        "yes, or Enter for no: ",
        "rudder": "Does a blade of its own steer, and not a foil's strut? yes, or Enter for no: ",
        "second": "Is there another rangefinder, elsewhere along the boat or of another kind? yes, or Enter for no: ",
        "battery": "Do you know the battery? Then its sag and the range are told. yes, or Enter for no: ",
    }
    """What else may be said, each with the question whether there is any."""

    name: str = Field(min_length=1, max_length=60, pattern=r"^[A-Za-z][A-Za-z0-9 _-]*$", description="of the boat")
    mass: Mass = Field(gt=0, description="ready to go: battery in, foils on")
    balance: Balance
    swing: Swing = Field(default_factory=Swing, description="if left out, it is guessed from the size of the hull")
    hull: HullSize
    foils: FoilSizes
    unlike: Annotated[Unlike | None, OrNone] = Field(None, description="what of a foil is unlike its fellow")
    struts: StrutSizes
    rudder: Annotated[RudderBlade | None, OrNone] = Field(None, description="the blade that steers, if no strut does")
    servo: ServoTimes
    rangefinder: RangefinderLog
    second: Annotated[OtherRangefinder | None, OrNone] = Field(None, description="another rangefinder, elsewhere or unlike")
    cruise: Speed = Field(ge=0.5, le=15, description="the speed that it should fly at")
    pull: Force | None = Field(
        None,
        gt=0,
        description="at full throttle, read on a luggage scale, the boat tied to a post; else its watts are asked for",
    )
    motor: MotorWatts | None = Field(None, description="its watts, if there is no pull")
    battery: Annotated[BatteryPrint | None, OrNone] = Field(None, description="what is printed on it, and its voltages")

    @classmethod
    def needless(cls, key: str, answers: Mapping[str, Any]) -> str:
        """The pull says more than the watts, and several rangefinders side by side have no other."""
        if key == "second":
            several = str((answers.get("rangefinder") or {}).get("count", 1)) != "1"
            return "for there are several side by side" if several else ""
        return "for you know its pull" if key == "motor" and "pull" in answers else ""

    @property
    def alike(self) -> bool:
        """Whether all foils are of one size."""
        return len({(foil.span, foil.chord) for foil in self.placed.values()}) == 1

    @property
    def area(self) -> float:
        """Of all foils, m2."""
        return sum(foil.span * foil.chord for foil in self.placed.values())

    @property
    def own(self) -> Unlike:
        """What is unlike; nothing, if nothing is."""
        return self.unlike or Unlike()

    @property
    def placed(self) -> dict[str, Placed]:
        """The foils by name."""
        return foils_of(self.foils, self.own)

    def section_of(self, foil: Placed) -> str | None:
        """The polar of a foil, if it is named."""
        return self.own.other_section if foil.other else self.own.section

    @classmethod
    def clash(cls, name: str, answers: Mapping[str, Any]) -> str:
        """What would be right instead of answers to a group that do not go with those before; '' if they do."""
        if name != "unlike":
            return ""
        try:
            foils, own = FoilSizes.model_validate(answers["foils"]), Unlike.model_validate(answers["unlike"])
            check_unlike(foils, own, HullSize.model_validate(answers["hull"]))
        except PydanticCustomError as error:
            return error.message()
        return ""

    @model_validator(mode="after")
    def _pulls(self) -> Self:
        if (self.pull is None) == (self.motor is None):
            found = "neither pull nor motor" if self.pull is None else "both pull and motor"
            raise wrong("the pull at full throttle, or else motor: {power: 150 W, diameter: 6 cm}", found, at=("pull",))
        return self

    @model_validator(mode="after")
    def _unlike_foils_fly(self) -> Self:
        if self.unlike is not None:
            check_unlike(self.foils, self.unlike, self.hull, self.struts)
        return self

    @model_validator(mode="after")
    def _one_or_side_by_side(self) -> Self:
        if self.second is not None and self.rangefinder.count > 1:
            raise wrong("count: 1 beside a second rangefinder", at=("rangefinder", "count"))
        return self

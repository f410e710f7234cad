"""What measures the distance to the water: several alike in a layout, or each by itself with a name."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator

from sweep.campaign.text.base import Name, OneOf, Part
from sweep.campaign.text.dimensions import Angle, Count, Duration, Frequency, Length, Mass, Number, Price, Share, quantity
from sweep.campaign.text.problems import wrong
from sweep.model.onboard.choices import FINDERS, FOOTPRINTS

ONE_LAYOUT = {"count": 1, "layout": "bow", "spacing": 0.2}
"""What the layout of rangefinders must be where each is by itself: what a file that does not give it has."""


OF_A_KIND = {
    "beam": (
        *("ahead", "aside", "blind", "far", "beam", "footprint"),
        *("tilt_limit", "tilt_loss", "spray_loss", "spray_height"),
    ),
    "wand": ("wand", "angle_step"),
    "pressure": ("pressure_coefficient", "tube_lag"),
}
"""What only rangefinders of a kind have."""

NOT_OF_A_WAND = ("x", "y", "height", "resolution")
"""What the sensor of a wand's angle has not: it is where the wand is, and its steps are of the angle."""


class Rangefinder(Part):
    """One rangefinder by itself; what it leaves out is as for all."""

    instead: ClassVar[dict[str, str]] = {"tilt": "ahead: 15 deg, or aside: the angle at which it looks off straight down"}

    kind: Annotated[str, OneOf(FINDERS)] = Field(
        "beam",
        description="beam: an echo of sound or light; wand: the angle of a wand, which tells how high its hinge is; "
        "pressure: a tap under water, as in a strut, which tells how deep it is",
    )
    wand: Name | None = Field(None, description="of kind wand: the name of the wand whose angle it reads")
    angle_step: Angle = Field(0.0, ge=0, lt=0.5, description="of kind wand: smallest step of the angle")
    pressure_coefficient: Number = Field(
        0.0, ge=-3, le=1, description="of kind pressure: what the flow adds at the tap, over the dynamic pressure of the speed"
    )
    tube_lag: Duration = Field(0.0, ge=0, le=2, description="of kind pressure: time constant of tube and sensor")
    x: Length | None = Field(None, description="of its mounting, forward of the datum; none: as for all")
    y: Length = Field(0.0, description="of its mounting, to starboard")
    height: Length | None = Field(None, description="of its mounting, above the keel; none: as for all")
    ahead: Angle = Field(0.0, gt=-1.2, lt=1.2, description="by how much it looks ahead of straight down, seen from the side")
    aside: Angle = Field(0.0, gt=-1.2, lt=1.2, description="by how much it looks to starboard, seen from ahead")
    trust: Number = Field(1.0, ge=0, le=100, description="weight of its height among the others'; 0: it is read, but not used")
    rate: Frequency | None = Field(None, gt=0, le=100, description="its own readings a second; none: they take turns")
    latency: Duration | None = Field(None, ge=0, le=0.3, description="age of a reading when the code has it")
    noise: Length | None = Field(None, ge=0, description="standard deviation")
    resolution: Length | None = Field(None, ge=0, description="smallest step of its readings")
    blind: Length | None = Field(None, ge=0, description="closer than this it reads this")
    far: Length | None = Field(None, gt=0, description="farther than this it reads nothing")
    beam: Angle | None = Field(None, ge=0, lt=1.2, description="full width of its beam; 0 for a point")
    footprint: Annotated[str, OneOf(FOOTPRINTS)] | None = Field(None, description="what it reports of the water in its beam")
    tilt_limit: Angle | None = Field(None, gt=0, le=1.5, description="its beam tilted further, it gets no echo")
    dropout: Share | None = Field(None, ge=0, le=1, description="share of readings that do not come")
    burst: Duration | None = Field(None, ge=0, le=10, description="mean time for which readings are lost; 0: one by one")
    tilt_loss: Share | None = Field(None, ge=0, le=1, description="share lost besides by tilt, at the tilt limit")
    spray_loss: Share | None = Field(None, ge=0, le=1, description="share lost besides in spray, at the water")
    spray_height: Length | None = Field(None, gt=0, description="over the water, where no more are lost in spray")
    spikes: Share | None = Field(None, ge=0, le=1, description="share of readings that are wrong")
    spike_size: Length | None = Field(None, ge=0, description="largest error of a wrong reading, either way")
    mass: Mass | None = Field(None, ge=0, description="of this one")
    price: Price | None = Field(None, ge=0, description="of this one")


OVERRIDDEN = [name for name, field in Rangefinder.model_fields.items() if field.default is None and name not in ("x", "wand")]
"""What one rangefinder may have of its own instead of what is said for all."""


class Rangefinders(Part):
    """Distance to the water, straight down along the mounting: several alike, or each by itself."""

    instead: ClassVar[dict[str, str]] = dict.fromkeys(
        ("tilt", "ahead", "aside"),
        "each: {bow: {x: 40 cm, ahead: 15 deg}}, by a name of yours, in place of count, layout and spacing",
    )

    count: Count = Field(1, ge=1, le=4, description="how many, all alike")
    layout: Literal["bow", "across-bow", "over-foils"] = Field("bow", description="where they sit")
    x: Length = Field(description="of the bow mounting, forward of the datum")
    height: Length = Field(0.0, description="of the mounting, above the keel")
    spacing: Length = Field(0.2, gt=0, description="between the outermost two, across the bow")
    rate: Frequency = Field(20.0, gt=0, le=100, description="readings a second")
    latency: Duration = Field(0.06, ge=0, le=0.3, description="age of a reading when the code has it")
    noise: Length = Field(0.003, ge=0, description="standard deviation")
    resolution: Length = Field(0.001, ge=0, description="smallest step of its readings")
    blind: Length = Field(0.02, ge=0, description="closer than this it reads this")
    far: Length = Field(1.0, gt=0, description="farther than this it reads nothing")
    beam: Angle = Field(0.0, ge=0, lt=1.2, description="full width of its beam; 0 for a point")
    footprint: Annotated[str, OneOf(FOOTPRINTS)] = Field("mean", description="what it reports of the water in its beam")
    tilt_limit: Angle = Field(0.52, gt=0, le=1.5, description="tilted further it gets no echo")
    dropout: Share = Field(0.0, ge=0, le=1, description="share of readings that do not come")
    burst: Duration = Field(0.0, ge=0, le=10, description="mean time for which readings are lost; 0: one by one")
    tilt_loss: Share = Field(0.0, ge=0, le=1, description="share lost besides by tilt, at the tilt limit")
    spray_loss: Share = Field(0.0, ge=0, le=1, description="share lost besides in spray, at the water")
    spray_height: Length = Field(0.05, gt=0, description="over the water, where no more are lost in spray")
    spikes: Share = Field(0.0, ge=0, le=1, description="share of readings that are wrong")
    spike_size: Length = Field(0.1, ge=0, description="largest error of a wrong reading, either way")
    mass: Mass = Field(0.01, ge=0, description="of each")
    price: Price = Field(0.0, ge=0, description="of each")
    each: Annotated[dict[Name, Rangefinder], Field(min_length=1, max_length=4)] | None = Field(
        None, description="rangefinders by name, each by itself, instead of count, layout and spacing"
    )

    @model_validator(mode="before")
    @classmethod
    def _placed_each_by_itself(cls, data: Any) -> Any:
        """A place for all is not asked for where every one has its own: the first's stands for it."""
        each = data.get("each") if isinstance(data, dict) else None
        if not isinstance(each, dict) or "x" in data:
            return data
        places = [one["x"] for one in each.values() if isinstance(one, dict) and one.get("x") is not None]
        return {**data, "x": places[0]} if places and len(places) == len(each) else data

    @property
    def number(self) -> int:
        """How many there are."""
        return self.count if self.each is None else len(self.each)

    def of_each(self, name: str) -> list[Any]:
        """One property of every rangefinder, in order: its own, or else that of all. Not for places, see `mass`."""
        usual = getattr(self, name, Rangefinder.model_fields[name].default)
        own = [usual] * self.count if self.each is None else [getattr(one, name) for one in self.each.values()]
        return [usual if value is None else value for value in own]

    def first(self, name: str) -> Any:
        """One property of the first rangefinder, which is the one that a log has."""
        return self.of_each(name)[0]

    def address(self, name: str, which: int = 0) -> str:
        """The address in a craft at which this property of a rangefinder is: its own, or that of all."""
        if self.each is not None and getattr([*self.each.values()][which], name) is not None:
            return f"rangefinders.each.{[*self.each][which]}.{name}"
        return f"rangefinders.{name}"

    def addresses(self, name: str) -> list[str]:
        """The addresses at which this property of all rangefinders is, each once."""
        return list(dict.fromkeys(self.address(name, which) for which in range(self.number)))

    def names(self) -> list[str]:
        """What each is called: by its name, or by its number from 1 on."""
        return [*self.each] if self.each is not None else [str(i + 1) for i in range(self.count)]

    def own_rates(self) -> list[float]:
        """Readings a second of every rangefinder: its own rate, or its turns among all of them."""
        if self.each is None:
            return [self.rate / self.count] * self.count
        return [self.rate / self.number if one.rate is None else one.rate for one in self.each.values()]

    @model_validator(mode="after")
    def _of_its_kind(self) -> Self:
        for name, one in (self.each or {}).items():
            others = [each for kind, own in OF_A_KIND.items() if kind != one.kind for each in own]
            for each in (*others, *(NOT_OF_A_WAND if one.kind == "wand" else ())):
                if getattr(one, each) != Rangefinder.model_fields[each].default:
                    raise wrong(f"no {each} of a rangefinder of kind {one.kind}", at=("each", name, each))
            if one.kind == "wand" and one.wand is None:
                raise wrong("wand beside it: the name of the wand whose angle it reads", at=("each", name, "kind"))
        return self

    @model_validator(mode="after")
    def _sees(self) -> Self:
        kinds, limits = self.of_each("kind"), zip(self.of_each("blind"), self.of_each("far"), strict=True)
        for name, kind, (blind, far) in zip(self.each or ("",), kinds, limits, strict=False):
            if kind == "beam" and blind >= far:
                raise wrong(
                    f"a blind range under the far limit, {quantity(far, 'cm')}: beyond it nothing is ever read",
                    f"a blind range of {quantity(blind, 'cm')}",
                    at=("each", name, "blind") if name else ("blind",),
                )
        return self

    @model_validator(mode="after")
    def _one_description(self) -> Self:
        if self.each is None:
            return self
        for name, usual in ONE_LAYOUT.items():
            if getattr(self, name) != usual:
                raise wrong(f"no {name} where each rangefinder is by itself, with its own place", at=(name,))
        for name in OVERRIDDEN:
            said = getattr(self, name) != type(self).model_fields[name].default
            if said and f"rangefinders.{name}" not in self.addresses(name):
                raise wrong(f"no {name} for all where each rangefinder has its own", at=(name,))
        if not any(one.trust > 0.0 for one in self.each.values()):
            raise wrong("a rangefinder with some trust: the control code uses none of these", at=("each",))
        return self

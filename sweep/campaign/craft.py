"""What a craft is: typed, frozen, in SI units.

Build axes: x forward of the datum, y to starboard, height above the keel's lowest line (all metres);
the model turns them into body axes at the centre of gravity.
"""

from __future__ import annotations

import math
import re
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, ValidationInfo, field_validator, model_validator

from sweep.campaign.cascade import Cascade as Cascade
from sweep.campaign.cascade import CascadeAxis as CascadeAxis
from sweep.campaign.drives import Battery as Battery
from sweep.campaign.drives import Propeller as Propeller
from sweep.campaign.drives import Propulsor as Propulsor
from sweep.campaign.foils import Foil as Foil
from sweep.campaign.foils import Struts
from sweep.campaign.rangefinders import Rangefinders as Rangefinders
from sweep.campaign.servos import Servo as Servo
from sweep.campaign.steering import Rudder as Rudder
from sweep.campaign.steering import Steering as Steering
from sweep.campaign.text.base import Filled, Name, OneOf, Part, of_a_file
from sweep.campaign.text.dimensions import (
    Acceleration,
    Angle,
    AngleGain,
    AngleIntegralGain,
    AnglePerLength,
    AnglePerLengthTime,
    AngleTimePerLength,
    AngularRate,
    Area,
    Count,
    Duration,
    Frequency,
    Length,
    Mass,
    Number,
    OneOrMore,
    Price,
    Quantity,
    Share,
    Speed,
    ThrottlePerLength,
    ThrottlePerSpeed,
    ThrottlePerSpeedTime,
    quantity,
)
from sweep.campaign.text.problems import wrong
from sweep.campaign.wands import Linkage as Linkage
from sweep.campaign.wands import Wand as Wand
from sweep.model.layout import MOST_SETTINGS
from sweep.model.onboard.choices import COMBINED, LAWS, Law
from sweep.model.physics.section_nodes import SectionNodes
from sweep.words.phrases import listed


class Body(Part):
    """All but the foils, struts and rangefinders: one mass with its centre and radii of gyration."""

    mass: Mass = Field(gt=0, description="mass without foils, struts and rangefinders")
    x: Length = Field(0.0, description="its centre, forward of the datum")
    height: Length = Field(gt=0, description="its centre, above the keel")
    roll_radius: Length = Field(gt=0, description="radius of gyration about the fore-and-aft axis")
    pitch_radius: Length = Field(gt=0, description="radius of gyration about the athwartships axis")
    yaw_radius: Length = Field(gt=0, description="radius of gyration about the vertical axis")
    price: Price = Field(0.0, ge=0, description="price of the boat without the parts below")


class Ballast(Part):
    """A mass at a place, with no size of its own, as lead that is moved by hand between runs."""

    mass: Mass = Field(ge=0, description="of this piece")
    x: Length = Field(description="forward of the datum")
    y: Length = Field(0.0, description="to starboard")
    height: Length = Field(0.0, description="above the keel")


class Hull(Part):
    """A prismatic hull or pontoon with a vee bottom."""

    length: Length = Field(gt=0, description="along the boat")
    beam: Length = Field(gt=0, description="breadth at the chine")
    deadrise: Angle = Field(gt=0.05, lt=1.0, description="rise of the bottom from keel to chine")
    depth: Length = Field(gt=0, description="keel to deck")
    x: Length = Field(0.0, description="middle of its length, forward of the datum")
    y: Length = Field(0.0, description="its keel, to starboard")
    stations: Count = Field(6, ge=3, le=12, description="how many slices it is cut into")


class Inertial(Part):
    """Gyro and accelerometer, and the filter that makes roll and pitch of them."""

    x: Length = Field(0.0, description="forward of the datum")
    y: Length = Field(0.0, description="to starboard")
    height: Length = Field(0.05, description="above the keel")
    gyro_noise: AngularRate = Field(0.005, ge=0, description="standard deviation of a reading")
    gyro_bias: AngularRate = Field(0.003, ge=0, description="spread of the bias from flight to flight")
    accelerometer_noise: Acceleration = Field(0.1, ge=0, description="standard deviation of a reading")
    accelerometer_bias: Acceleration = Field(0.03, ge=0, description="spread of the bias from flight to flight")
    vibration: Acceleration = Field(0.0, ge=0, description="of the drive at full throttle, standard deviation")
    levelling_time: Duration = Field(4.0, gt=0.05, description="time constant of levelling by the accelerometer")


class Navigation(Part):
    """Speed over ground and heading."""

    rate: Frequency = Field(10.0, gt=0, le=100, description="readings a second")
    speed_noise: Speed = Field(0.05, ge=0, description="standard deviation of a reading of the speed")
    heading_noise: Angle = Field(0.01, ge=0, description="standard deviation of a reading of the heading")


class HeightGains(Part):
    """All foils together; positive angles lift."""

    proportional: AnglePerLength = Field(ge=0, description="angle of all foils for an error of the height")
    integral: AnglePerLengthTime = Field(0.0, ge=0, description="angle gained a second for an error of the height that stays")
    derivative: AngleTimePerLength = Field(0.0, ge=0, description="angle against a speed up or down")
    limit: Angle = Field(0.10, gt=0, description="largest height command")
    smoothing: Duration = Field(0.08, gt=0, description="time constant of the height whose rate is taken")


class AttitudeGains(Part):
    """Foils against each other, fore and aft or port and starboard."""

    proportional: AngleGain = Field(ge=0, description="angle of the foils against each other for an error of this angle")
    integral: AngleIntegralGain = Field(0.0, ge=0, description="angle gained a second for an error that stays")
    derivative: Duration = Field(0.0, ge=0, description="angle against the rate of turning: its seconds times that rate")
    limit: Angle = Field(0.10, gt=0, description="largest command of this loop")


class HeadingGains(Part):
    """The rudder on the course."""

    proportional: AngleGain = Field(1.0, ge=0, description="angle of the rudder for an error of the heading")
    derivative: Duration = Field(0.15, ge=0, description="angle against the rate of turning: its seconds times that rate")
    limit: Angle = Field(0.175, gt=0, description="largest angle of the rudder that it asks for")


class SpeedGains(Part):
    """The throttle on the speed."""

    proportional: ThrottlePerSpeed = Field(0.3, ge=0, description="throttle for an error of the speed")
    integral: ThrottlePerSpeedTime = Field(0.15, ge=0, description="throttle gained a second for an error that stays")


def _code_name(name: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]*\.c", name):
        raise wrong("the name of a C file beside the craft file, as my_control.c: no folders")
    return name


SettingName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
"""Of a number of the builder's own code, as C writes it."""


class Control(Part):
    """The control code."""

    law: Annotated[str, OneOf(LAWS)] = Field(next(iter(LAWS)), description="how readings become angles of the foils")
    code: Annotated[str, Field(max_length=80), AfterValidator(_code_name)] | None = Field(
        None, description="own-code: a C file beside the craft file that has control_start and control_tick"
    )
    settings: dict[SettingName, Quantity] = Field(
        {}, max_length=MOST_SETTINGS, description="own-code: numbers that it reads as s->own.NAME, in SI"
    )
    rate: Frequency = Field(100.0, ge=1, le=200, description="ticks of the code a second")
    delay: Duration = Field(0.01, ge=0, le=0.1, description="from reading the sensors to moving the servos")
    ride_height: Length = Field(gt=0, description="wanted height of the keel above the water")
    pitch_trim: Angle = Field(0.0, description="wanted pitch, bow up")
    trim_speeds: (
        Annotated[tuple[Annotated[Speed, Field(gt=0, le=30)], ...], Field(min_length=1, max_length=50), OneOrMore()] | None
    ) = Field(
        None,
        description="speeds at which the trims of foils and throttle were set: linear between them, the last one held beyond; "
        "without it they are right at every speed",
    )
    height: HeightGains
    pitch: AttitudeGains
    roll: AttitudeGains
    cascade: Cascade | None = Field(None, description="cascaded: loops of pitch and roll on the angle, and on the rate within")
    heading: HeadingGains = HeadingGains()
    speed: SpeedGains = SpeedGains()
    scheduled_at: Speed | None = Field(
        None,
        gt=0,
        description="speed of the gains: foil and rudder angles then follow the dynamic pressure; none for fixed gains",
    )
    scheduling: Literal["fixed", "dynamic-pressure"] | None = Field(
        None, description="of the gains; by dynamic-pressure wherever scheduled_at is given, unless this says fixed"
    )
    combine: Annotated[str, OneOf(COMBINED)] = Field(
        "mean", description="of several rangefinders: mean, median, or a plane fitted"
    )
    median: Count = Field(1, ge=1, le=5, description="readings of one rangefinder whose median is taken")
    gate: Length = Field(0.0, ge=0, description="a reading that jumps by more is refused, three times at most; 0 for no gate")
    corner: AngularRate = Field(
        2.5, gt=0, description="fused-height, cascaded: above it the accelerometer rules, below it the rangefinders"
    )
    turn_rate: AngularRate = Field(0.52, gt=0, description="at which it changes course")
    bank_share: Share = Field(0.0, ge=0, le=1.5, description="of the bank of a coordinated turn")
    preview: Number = Field(
        0.0,
        ge=0,
        le=2,
        description="share of the foil angle that matches the rate of the water seen ahead, given when it comes to the foils",
    )
    throttle_share: ThrottlePerLength = Field(0.0, ge=0, description="throttle added for height that is missing")
    pitch_share: AnglePerLength = Field(0.0, ge=0, description="bow up for height that is missing")

    @model_validator(mode="after")
    def _scheduled_at_a_speed(self) -> Self:
        if self.scheduling == "dynamic-pressure" and self.scheduled_at is None:
            raise wrong("scheduled_at beside it: the speed that the gains are set for", at=("scheduling",))
        return self

    @model_validator(mode="after")
    def _own_code_is_there(self) -> Self:
        if self.traits.own and self.code is None:
            raise wrong("code beside it: a C file beside the craft file, as my_control.c", self.law, at=("law",))
        return self

    @model_validator(mode="after")
    def _cascade_is_there(self) -> Self:
        if self.traits.cascades and self.cascade is None:
            raise wrong("cascade beside it, with the gains of both loops of pitch and of roll", self.law, at=("law",))
        return self

    @property
    def traits(self) -> Law:
        """What its law does."""
        return LAWS[self.law]

    def gains_of(self, loop: str) -> tuple[str, ...]:
        """Addresses of the numbers that its law multiplies for the command of height, pitch, roll or heading."""
        cascaded = self.traits.cascades and loop in ("pitch", "roll")
        first = f"control.cascade.{loop}.rate" if cascaded else f"control.{loop}"
        parts = ("proportional", "derivative") if loop == "heading" else ("proportional", "integral", "derivative")
        return tuple(f"{first}.{part}" for part in parts)

    @property
    def schedule_speed(self) -> float | None:
        """Speed at which the gains are as written, m/s; None if they do not change with speed."""
        return None if self.scheduling == "fixed" else self.scheduled_at


class Wake(Part):
    """The wake that the foils leave to those behind: between a flat sheet and a rolled-up pair of vortices."""

    strength: Number = Field(1.0, ge=0, le=3, description="downwash over what lifting-line theory gives")
    rolled_up: Share | None = Field(
        None, ge=0, le=1, description="share that is rolled up into a pair of vortices; none: as it rolls up on its way"
    )


class Windage(Part):
    """The craft in the air."""

    area: Area = Field(0.0, ge=0, description="drag area: frontal area times drag coefficient")
    x: Length = Field(0.0, description="its centre, forward of the datum")
    height: Length = Field(0.1, description="its centre, above the keel")


class Window(Part):
    """The ride window: least clearance of the keel and least depth of the foils."""

    clearance: Length = Field(0.01, ge=0, description="least height of the keel above the water")
    submergence: Number = Field(1.0, ge=0, description="least depth of the foils, in chords")


class Craft(Part):
    """One boat."""

    name: str = Field(min_length=1, max_length=80, description="what the pages call the boat")
    body: Body
    hulls: dict[Name, Hull] = Field(min_length=1, max_length=3, description="hulls, pontoons and floats, by name")
    ballast: dict[Name, Ballast] = Field({}, max_length=6, description="masses at a place, by name")
    foils: dict[Name, Foil] = Field(min_length=2, max_length=6, description="the underwater wings, by name")
    struts: Struts
    servos: Servo = Servo()
    rangefinders: Rangefinders
    wands: dict[Name, Wand] = Field({}, max_length=2, description="arms that feel the water, by name")
    inertial: Inertial = Inertial()
    navigation: Navigation = Navigation()
    propulsor: Propulsor
    battery: Battery = Battery()
    steering: Steering = Steering()
    control: Control
    windage: Windage = Windage()
    wake: Wake = Wake()
    window: Window = Window()
    polars: Annotated[dict[str, SectionNodes], Filled()] = Field({}, description="the contents of the polars' files, by name")
    codes: Annotated[dict[str, str], Filled()] = Field({}, description="the texts of the files of control code, by name")

    @field_validator("polars", "codes", mode="before")
    @classmethod
    def _not_from_a_craft_file(cls, value: object, info: ValidationInfo) -> object:
        if of_a_file(info):
            key, named = (
                ("polars", "foils.NAME.section.polar names a polar")
                if info.field_name == "polars"
                else ("codes", "control.code names a C file")
            )
            raise wrong(f"no such key: {named}", key)
        return value

    @model_validator(mode="after")
    def _rudder_is_a_foil(self) -> Self:
        for key in ("rudder", "second_rudder"):
            name = getattr(self.steering, key)
            if name is not None and name not in self.foils:
                raise wrong(f"the name of a foil: {listed(self.foils)}", repr(name), at=("steering", key))
        return self

    @model_validator(mode="after")
    def _reads_a_wand(self) -> Self:
        for name, one in (self.rangefinders.each or {}).items():
            if one.kind == "wand" and one.wand not in self.wands:
                known = f": {listed(self.wands)}" if self.wands else ", of which the craft has none: wands: {NAME: {...}}"
                raise wrong(f"the name of a wand{known}", repr(one.wand), at=("rangefinders", "each", name, "wand"))
        for name, foil in self.foils.items():
            if foil.linkage is not None and foil.linkage.wand not in self.wands:
                raise wrong("the name of a wand", repr(foil.linkage.wand), at=("foils", name, "linkage", "wand"))
        return self

    @model_validator(mode="after")
    def _struts_are_slender(self) -> Self:
        for name, foil in self.foils.items():
            strut = self.strut_of(foil)
            if strut.thickness >= strut.chord:
                chord = quantity(strut.chord, "mm")
                raise wrong(f"a strut thinner than its chord, {chord}", at=("foils", name, "strut", "thickness"))
            if strut.wall is not None and strut.wall > 0.5 * strut.thickness:
                half, own = quantity(0.5 * strut.thickness, "mm"), foil.strut.wall is not None
                at = ("foils", name, "strut", "wall") if own else ("struts", "wall")
                raise wrong(f"at most half a strut's thickness, {half}: a solid one", at=at)
        return self

    @model_validator(mode="after")
    def _enough_foils_move(self) -> Self:
        if sum(foil.moves for foil in self.foils.values()) < 2:
            raise wrong("at least two foils that servos move: height and pitch are both held by foils", at=("foils",))
        return self

    def strut_of(self, foil: Foil) -> Struts:
        """The struts of a foil: those of the craft, with what the foil says of its own."""
        return foil.strut.over(self.struts)

    def without_material(self) -> list[str]:
        """The foils, struts and rudders whose material is not said."""
        foils = [f"foil {name}" for name, foil in self.foils.items() if foil.material is None]
        struts = [f"the strut of foil {name}" for name, foil in self.foils.items() if self.strut_of(foil).material is None]
        return [*foils, *struts, *(f"rudder {name}" for name, each in self.steering.rudders.items() if each.material is None)]

    def servo_of(self, foil: Foil) -> Servo:
        """The servo of a foil: that of the craft, with what the foil says of its own."""
        return foil.servo.over(self.servos)

    @model_validator(mode="after")
    def _propellers_that_steer(self) -> Self:
        if self.steering.differential > 0.0 and self.propulsor.count != 2:
            raise wrong("two propellers to steer with", "one", at=("steering", "differential"))
        return self


def ride_window(craft: Craft) -> tuple[float, float]:
    """Least and largest ride height, m, of a level craft on flat water within its ride window."""
    foils = craft.foils.values()
    tips = [-craft.strut_of(foil).height + foil.span_length / 2 * math.tan(max(foil.dihedral, 0.0)) for foil in foils]
    depths = [craft.window.submergence * foil.chord for foil in foils]
    return craft.window.clearance, -max(tip + depth for tip, depth in zip(tips, depths, strict=True))

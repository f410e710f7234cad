"""The rows that repeat in the workspace: foils, struts, hull stations, strips and waves, field by field.

Units are SI; axes as in MODEL.md.
"""

from __future__ import annotations

from typing import Annotated

from sweep.model.records import (
    Across,
    Flap,
    FoilAir,
    FoilLoad,
    FoilStrength,
    Hinge,
    Mix,
    Parabola,
    Sea,
    SeaBefore,
    Servo,
    ServoState,
    StrutStrength,
    Turn,
    Vector,
)
from sweep.model.slots import Record

MAX_FOILS = 6  # of a craft (judgement)
RAMPS = 9  # of a wake's influence, see `downwash.NODES`
SECTION_NODES = 5  # Reynolds numbers, see `section.NODES`


class SectionValues(Record):
    """A section at a Reynolds number, in the order of `section.SectionNodes`."""

    lift_slope: int
    lift_max: int
    zero_lift: int
    log_drag: int
    drag_rise: int
    drag_steep: int
    least_drag: int


class Section(Record):
    """A foil's section at every Reynolds number."""

    nodes: Annotated[SectionValues, SECTION_NODES]  # at the lowest node of the Reynolds number, then the changes to the next
    chord_log: int  # log10(chord / viscosity)


class FoilInputs(Record):
    """The part of a foil's row that is copied to where it is worked on."""

    chord: int  # the mean one
    span: int
    half_spans: int  # in a metre
    aspect: int
    lift_slope: int  # of the section at the Reynolds number of now, as are the six after it
    lift_max: int
    zero_lift: int  # angle
    profile: int  # least drag coefficient
    drag_rise: int
    drag_steep: int
    least_drag: int  # lift of it
    lag_share: int
    fixed_angle: int  # incidence
    lift_factor: int  # what ventilation and weed leave of its lift
    servo_mid: int  # angle of the foil or of its flap
    flapped: int  # 1 if it has a flap in any lane
    weed_area: int  # drag area of what hangs on it
    lift_shift: int  # what its flap adds to the largest lift coefficient, and takes from the least
    moment_shift: int  # and to the section's moment coefficient


class FoilAtWork(FoilInputs):
    """The foil at work: its inputs, and the results that are copied back."""

    lift_mean: int  # mean lift coefficient of its strips, times their wetted share
    tip_depth: int  # of the shallower tip
    loaded: int  # largest angle from zero lift of its strips, either way
    turned: int  # gain in angle of attack from the servo's angle


class Foil(FoilAtWork):
    """One row a foil."""

    servo: ServoState
    moved_by: Servo  # the constants of its servo
    led: int  # 1 if a wand moves it, else 0
    led_by: int  # the wand
    gearing: int  # turn of the foil for one of the wand's arm
    led_rest: int  # the wand's angle in trim
    link: int  # angle of the foil after the slack of its linkage
    mix: Mix
    middle: Vector  # body axes
    air: FoilAir
    ventilated: int
    washing: int  # s since it went deep
    weed_lift: int  # share of its lift that weed leaves
    stuck: int  # 1 while its servo does not move
    downwash: Annotated[int, MAX_FOILS]  # lagged lift coefficient of foil i that acts on this foil
    downwash_mid: Annotated[int, MAX_FOILS]
    section: Section
    polar_low: int  # where the section's data end: log10 of two Reynolds numbers, angle from zero lift
    polar_high: int
    polar_angle: int
    strength: FoilStrength
    load: FoilLoad
    suction: Parabola  # minus the least pressure coefficient, by lift coefficient
    hinge: Hinge
    flap: Flap
    centre_depth: int  # of its middle below the calm level, now
    wake_nearness: Annotated[int, MAX_FOILS]  # 1 / distance that the wake of foil i travels to it
    wake_rolling: Annotated[int, MAX_FOILS]  # share of the wake of foil i that is rolled up, for a lift coefficient of one
    wake_sink: Annotated[int, MAX_FOILS]  # depth to which it has sunk as a sheet, for a lift coefficient of one
    wake_sink_change: Annotated[int, MAX_FOILS]  # and what it sinks less when it is rolled up


class Strut(Vector):
    """One row a strut; its place is that of its foot."""

    sea: Sea
    length: int
    chord: int
    thickness: int
    form: int  # 2 x form factor
    junction: int  # drag area of both junctions
    steers: int  # its angle for one of the first rudder's servo
    steers_own: int  # its angle for one of another servo, and which one that is
    own_servo: int
    own_angle: int  # its angle by that
    chord_log: int  # log10(chord / viscosity)
    foil: int  # that it carries; -1 for a rudder of its own
    angle: int  # side angle of the flow now, either way
    ventilated: int
    washing: int
    wet: int  # length
    side: int  # force to starboard
    share: int  # of its foil's side force
    alone: int  # 1 for the only strut of its foil
    aside: int  # what the foil does to it: force to starboard, moment about the x axis
    roll: int
    strength: StrutStrength
    sea_before: SeaBefore


class RudderServo(ServoState):
    """One row a servo of the rudders beside that of the first."""

    moved_by: Servo
    link: int  # angle of what it turns after the slack of its linkage


class Wand(Vector):
    """One row a wand; its place is that of its hinge. Angles are below straight aft."""

    arm: int
    inertia: int  # about the hinge
    weight: int  # mass x arm / 2
    spring: int  # moment that presses it down, weight aside
    drag: int  # half the density x coefficient x width
    least: int  # angles of its stops
    most: int
    angle: int
    rate: int  # of the angle, against the craft
    level: int  # depth of the hinge below the water at the tip, at the end of the last half step
    tip: Vector  # body axes
    sea: Sea  # at the tip
    sea_before: SeaBefore


class Station(Vector):
    """One row a hull station; its place is that of its keel point."""

    sea: Sea
    slice: int
    beam: int
    slope: int  # tan(deadrise)
    sine: int
    hull_depth: int
    length_log: int  # log10(length / viscosity)
    depth: int  # of the keel now
    froude: int  # 1 / sqrt(g length)
    follows: int  # 1 if the station before it is of the same hull, one slice further aft
    sea_before: SeaBefore


class Influence(Record):
    """A wake's effect on a strip, per unit lift coefficient."""

    sheet: Annotated[int, RAMPS + 1]  # the flat sheet's influence at no vertical distance, then what each ramp adds
    change: Annotated[int, RAMPS + 1]  # the same of the rolled-up pair, less the sheet's


class StripResults(Record):
    """What a strip's work leaves."""

    lag_mid: int
    depth: int
    lift: int


class StripAtWork(StripResults):
    """The strip at work: its results, which are copied to its row, and the downwash there."""

    downwash: int


class Strip(Vector):
    """One row a strip; its place is that of its centre, body axes."""

    normal: Across
    sea: Sea
    lag: int
    tip: Vector  # its outer end
    chord: int
    chords: int  # in a metre
    area: int
    share: int  # its area over the foil's
    lag_rate: int  # 2 B / chord
    lag_mid: int  # its results, in the order of StripResults
    depth: int
    lift: int
    sea_before: SeaBefore
    influence: Annotated[Influence, MAX_FOILS]  # of each foil's wake


class Component(Record):
    """The constants of a component of the sea."""

    amplitude: int
    number: int  # wave number
    towards_x: int  # where it runs: a vector of length 1
    towards_y: int
    deep: int  # orbital speed at the surface: what falls with the depth ...
    shallow: int  # ... and what the ground sends back, which grows with it


class Wave(Component):
    """One row a component."""

    x: int  # wave number along X, along Y
    y: int
    phase: int
    omega: int
    cosine: int  # of its phase at the point being sampled
    sine: int


class SingleWave(Component):
    """The same in single precision."""

    turns_x: int  # of the phase over a metre along X, along Y
    turns_y: int
    phase: int  # at the craft's reference place, in turns
    cosine: int  # at the point being sampled
    sine: int
    turn: Turn  # of the phase from one hull station to the next

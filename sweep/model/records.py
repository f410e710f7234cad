"""Small records that the workspace is made of, field by field.

Units are SI; axes as in MODEL.md.
"""

from __future__ import annotations

from sweep.model.slots import Record


class Plane(Record):
    """Two coordinates."""

    x: int
    y: int


class Across(Record):
    """Two coordinates across the craft."""

    y: int
    z: int


class Vector(Record):
    """Three coordinates."""

    x: int
    y: int
    z: int


class Angles(Record):
    """Roll, pitch and yaw."""

    phi: int
    theta: int
    psi: int


class Pose(Vector):
    """Position in the earth's axes, and angles."""

    phi: int
    theta: int
    psi: int


class Motion(Pose):
    """The twelve states of the rigid body, or their rates of change."""

    u: int
    v: int
    w: int
    p: int
    q: int
    r: int


class Load(Vector):
    """Force and moment in body axes."""

    k: int
    m: int
    n: int


class Matrix(Record):
    """Row by row; of a rotation, earth from body axes."""

    xx: int
    xy: int
    xz: int
    yx: int
    yy: int
    yz: int
    zx: int
    zy: int
    zz: int


class Turn(Record):
    """Sine and cosine of an angle."""

    sine: int
    cosine: int


class Cubic(Record):
    """Factors of a polynomial, the constant first."""

    c0: int
    c1: int
    c2: int
    c3: int


class Parabola(Record):
    """Factors of a polynomial, the constant first."""

    c0: int
    c1: int
    c2: int


class Sea(Record):
    """Elevation, then velocity of the water in the earth's axes, w down."""

    eta: int
    u: int
    v: int
    w: int


class SeaBefore(Record):
    """The sea as it was last sampled, then its change a quarter of the way on."""

    sampled: Sea
    quarter: Sea


class SurfaceBefore(Record):
    """The same of an elevation."""

    sampled: int
    quarter: int


class SeaPoint(Vector):
    """The point where the sea is sampled: z below the calm level; depth below the surface, at which the velocity is taken."""

    depth: int


class Footprint(Plane):
    """Centre and radius."""

    radius: int


class Inertia(Record):
    """Moments and products of inertia."""

    xx: int
    yy: int
    zz: int
    xy: int
    xz: int
    yz: int


class Windage(Record):
    """Drag area, and its centre in body axes."""

    area: int
    x: int
    z: int


class StrutAir(Record):
    """Side angle at which a strut ventilates, share of its side force that this leaves, wash-out time."""

    angle: int
    side_left: int
    washout: int


class Transition(Record):
    """The terms that carry a servo's (angle - command, speed) over half a step: first those of the new angle."""

    angle_by_angle: int
    angle_by_speed: int
    speed_by_angle: int
    speed_by_speed: int


class Servo(Record):
    """Constants of a servo; torque at the foil."""

    bandwidth: int
    damping: int
    transition: Transition
    rate: int
    travel: int
    quantum: int
    torque: int
    backlash: int


class Sag(Record):
    """A battery: voltage at rest, inner resistance, and the voltage that thrust and shaft speed are given for."""

    rest: int
    resistance: int
    given: int


class ServoState(Record):
    """Angle and speed of a servo."""

    angle: int
    speed: int


class ServoAtWork(ServoState):
    """A servo's state, and 1 where it cannot move."""

    held: int


class WandFlow(Record):
    """What swings a wand: velocity of its hinge through the water, pitch rate and its rate of change, acceleration less gravity
    of the hinge, all body axes; the vertical parts of the body's x and z axes; depth of the hinge below the water.
    """

    u: int
    w: int
    q: int
    q_rate: int
    force_x: int
    force_z: int
    upright_x: int
    upright_z: int
    level: int


class Trim(Record):
    """Height and pitch command, throttle."""

    height: int
    pitch: int
    throttle: int


class Bins(Record):
    """The bin of each histogram, in the order of `quantities.HISTOGRAM`."""

    error: int
    level: int
    clearance: int
    submergence: int


class Wish(Record):
    """Commands to all foils together, rad, positive for more lift, bow up, starboard down."""

    height: int
    pitch: int
    roll: int


class SpeedGains(Record):
    """Gains of the speed loop."""

    proportional: int
    integral: int


class Gains(SpeedGains):
    """Gains of a loop with a rate; limit: of its command and of its integral."""

    derivative: int
    limit: int


class HeightGains(Gains):
    """smoothing: s, of the height from which the rate is taken."""

    smoothing: int


class CascadeGains(Record):
    """Gains of an angle loop (rate of turning; its limit; lag of its filter) and of the rate loop in it (angle)."""

    angle_proportional: int
    angle_limit: int
    angle_lag: int
    proportional: int
    integral: int
    derivative: int
    limit: int
    lag: int


class CascadeMemory(Record):
    """What the filters hold: the angle wanted beside the trim's, and the rate of turning."""

    wanted: int
    rate: int


class HeadingGains(Record):
    """Gains of the heading loop."""

    proportional: int
    derivative: int
    limit: int


class KnownPlace(Plane):
    """Place of a rangefinder: x and y in body axes, height above the keel."""

    height: int


class Spikes(Record):
    """Share of readings, and size."""

    share: int
    size: int


class Payload(Record):
    """Mass, and its place in build axes."""

    mass: int
    x: int
    y: int


class Mix(Record):
    """Angle of a foil for one unit of each command."""

    height: int
    pitch: int
    roll: int


class FoilAir(Record):
    """The conditions at which a foil ventilates, and at which the air leaves."""

    depth: int  # chords
    angle: int  # from zero lift
    lift_left: int
    rewet_depth: int  # chords
    washout: int  # s


class StrutStrength(Record):
    """How a strut strains, in the order of `strength.StrutTerms`."""

    strength: int
    stress: int
    bend: int
    twist: int


class HalfStrength(Record):
    """How half of a foil strains, in the order of `strength.HalfTerms`."""

    stress: int
    bend: int
    twist: int
    moment: int


class HalfLoad(Record):
    """Lift of half of a foil, and the dynamic pressure times wetted area that it has."""

    lift: int
    pushed: int


class FoilLoad(Record):
    """What loads a foil now."""

    port: HalfLoad
    starboard: HalfLoad
    aside: int  # force to starboard, and down
    down: int
    roll: int  # moment about the x axis through its middle


class FoilStrength(Record):
    """A foil as a beam."""

    strength: int  # one over that of its material; 0 without one
    moment: int  # coefficient of the section
    port: HalfStrength
    starboard: HalfStrength


class Strain(Record):
    """The largest of all parts: Pa, m, rad; below 0 where no part has a material."""

    strut_stress: int
    strut_bend: int
    strut_twist: int
    foil_stress: int
    foil_bend: int
    foil_twist: int
    used: int  # stress over strength
    bent: int  # bend or twist over what makes a part another than the one that flies


class Hinge(Record):
    """Load on a servo, see `flap.hinge_terms`; the angle is `servo_mid`."""

    constant: int
    by_lift: int
    by_turned: int
    by_angle: int


class Flap(Record):
    """Constants of a flap, in the order of `flap.flap_terms`."""

    ideal_lift: int
    per_slope: int
    friction: int
    friction_squared: int
    kept: int
    start: int
    beyond: int
    per_width: int
    most_lift: int
    moment_slope: int
    drag: int

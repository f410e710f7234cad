"""Where everything lies in the flat workspace of a batch of flights.

The workspace is one float64 array; slot s of lane l is `workspace[s * LANES + l]`. Slots are compile-time constants, so
that a loop over lanes is a loop over neighbouring numbers. Rows of foils, strips, struts and stations repeat with a stride.
Units are SI; axes as in MODEL.md.
"""

from __future__ import annotations

from sweep.model.compiled import LANES, part

MAX_FOILS = 6
MAX_STRIPS = 96
MAX_STRIPS_OF_A_FOIL = 16
RAMPS = 9  # of a wake's influence, see `downwash.NODES`
MAX_STRUTS = 18
MAX_STATIONS = 36
MAX_RANGEFINDERS = 4
MAX_COMPONENTS = 256

FIRST_STRIP = 7  # in the counts of a structure: of each foil, then how many there are

# Slots that go together. Kernels pass these on by name: a bare number would have the called part compiled for it alone.
STATES = 12
SERVO_STATES = 2  # angle and speed
SEA_SLOTS = 4  # elevation, then velocity
SURFACE_SLOTS = 1  # elevation alone
ONE = 1
NO_FOIL = -1

# Motion: twelve states each: X Y Z phi theta psi u v w p q r
STATE = 0
MID = 12
RATE = 24  # Euler and position rates (6), then accelerations (6)
FORCE = 36  # X Y Z K M N in body axes
HULL_LIFT = 42
ROTATION = 43  # nine, row by row
PREDICTED = 52  # position (3) and angles (3) at which the sea is sampled
PREDICTED_ROTATION = 58
REFERENCE_SEA = 67  # elevation at the reference point
THRUST = 68  # lagged throttle
THRUST_MID = 69
THROTTLE = 70
RUDDER_MID = 71
FRICTION_LOG = 72  # log10 of the forward speed
POWER = 73  # from the battery
POINT = 74  # where the sea is being sampled: x, y, depth below the calm level; depth below the surface
RANGE_SEA = 78  # elevation where the rangefinder looks
RANGE_AIM = 79  # centre of its footprint: x, y, and the footprint's radius
FOOTPRINT_SEA = 82  # elevation at one point of it
PROPELLER_SEA = 83  # elevation over the propeller
WIND = 84  # of the air over the water: along X, along Y
AGROUND = 86  # 1 where the craft touches the ground
LOWEST = 87  # depth of its lowest part below the calm level, where that is sought
SCRATCH = 88
REFERENCE_SEA_BEFORE = 89  # as last sampled, and a quarter of its change
PROPELLER_SEA_BEFORE = 91

# The design: constants of a flight
DESIGN = 96
MASS = DESIGN
INERTIA = DESIGN + 1  # Ixx Iyy Izz Ixy Ixz Iyz
INVERSE = DESIGN + 7  # inverse of the mass matrix, 36
KEEL = DESIGN + 43  # centre of gravity above the keel
STATIC_THRUST = DESIGN + 44
NO_THRUST_SPEED = DESIGN + 45
THRUST_LAG = DESIGN + 46
THRUST_X = DESIGN + 87
THRUST_Y = DESIGN + 88
THRUST_Z = DESIGN + 89
EFFICIENCY = DESIGN + 49
ELECTRONICS = DESIGN + 50
TIME_SCALE = DESIGN + 51
HULL_DEPTH = DESIGN + 52
WINDOW_CLEARANCE = DESIGN + 53
WINDOW_CHORDS = DESIGN + 54
SERVO = DESIGN + 55  # exact half step: 4 transition terms, rate, travel, quantum, torque at the foil, backlash
RUDDER_SERVO = DESIGN + 64
DISC = DESIGN + 73  # 2 rho x disc area of the propeller
PROPELLER_RADIUS = DESIGN + 75
TRIM_HEIGHT = DESIGN + 76  # height command, pitch command, throttle that the control code holds as its trim
TRIM_PITCH = DESIGN + 77
TRIM_THROTTLE = DESIGN + 78
CENTRE_X = DESIGN + 79  # of gravity, build axes
CENTRE_Y = DESIGN + 80
WINDAGE = DESIGN + 81  # drag area, body x and z of its centre
STRUT_VENTILATION = DESIGN + 84  # side angle, side force left, wash-out time
WATER_DEPTH = DESIGN + 90
REACH = DESIGN + 91  # from the centre of gravity to the craft's furthest part

CONTROL = 192
RIDE_HEIGHT = CONTROL
PITCH_TRIM = CONTROL + 1
HEIGHT_GAINS = CONTROL + 2  # proportional, integral, derivative, limit, smoothing
PITCH_GAINS = CONTROL + 7  # proportional, integral, derivative, limit
ROLL_GAINS = CONTROL + 11
HEADING_GAINS = CONTROL + 15  # proportional, derivative, limit
SPEED_GAINS = CONTROL + 18  # proportional, integral
THROTTLE_SHARE = CONTROL + 20
PITCH_SHARE = CONTROL + 21
DELAY = CONTROL + 22
RUDDER_SIDE = CONTROL + 23
RANGE_RATE = CONTROL + 24
RANGE_LATENCY = CONTROL + 25
RANGE_NOISE = CONTROL + 26
RANGE_RESOLUTION = CONTROL + 27
RANGE_BLIND = CONTROL + 28
RANGE_FAR = CONTROL + 29
RANGE_DROPOUT = CONTROL + 30
RANGE_SPIKES = CONTROL + 31
RANGE_SPIKE_SIZE = CONTROL + 32
RANGE_PLACE = CONTROL + 33  # body x, y, z of each
INERTIAL_PLACE = CONTROL + 49
GYRO_NOISE = CONTROL + 52
GYRO_BIAS = CONTROL + 53
ACCELEROMETER_NOISE = CONTROL + 54
ACCELEROMETER_BIAS = CONTROL + 55
LEVELLING_TIME = CONTROL + 56
NAVIGATION_RATE = CONTROL + 57
SPEED_NOISE = CONTROL + 58
HEADING_NOISE = CONTROL + 59
WANTED_SPEED = CONTROL + 60

SCHEDULE_SPEED = CONTROL + 61  # 0: gains are fixed
COMBINE = CONTROL + 62  # one of `choices.COMBINED`
MEDIAN = CONTROL + 63
GATE = CONTROL + 64  # half a step of the readings over the largest jump that passes
CORNER = CONTROL + 65
PLANE_WEIGHT = CONTROL + 66  # of each rangefinder: its height's share in the plane's height at the centre of gravity

TURN_RATE = CONTROL + 70
BANK_SHARE = CONTROL + 71
BANK_LIMIT = CONTROL + 72
VIBRATION = CONTROL + 73
RANGE_BEAM = CONTROL + 74  # tangent of half the beam
RANGE_NEAREST = CONTROL + 75
RANGE_TILT = CONTROL + 76  # cosine of the largest tilt that still echoes
# Of the craft as designed, whose settings the control code has (RUDDER_SIDE, BANK_LIMIT, PLANE_WEIGHT, GATE, MIX too)
KNOWN_PLACE = CONTROL + 77  # of each rangefinder: body x, y, height above the keel
KNOWN_LATENCY = CONTROL + 89  # of a rangefinder's reading
KNOWN_AGE = CONTROL + 90  # control ticks by which the readings in use are old
START_TRIM = CONTROL + 91  # the commands that hold the craft as built level: as TRIM_HEIGHT

# What the control code remembers
MEMORY = 288
HEIGHT_INTEGRAL = MEMORY
PITCH_INTEGRAL = MEMORY + 1
ROLL_INTEGRAL = MEMORY + 2
SPEED_INTEGRAL = MEMORY + 3
SMOOTHED_HEIGHT = MEMORY + 4
ROLL_ESTIMATE = MEMORY + 5
PITCH_ESTIMATE = MEMORY + 6
SPEED_READING = MEMORY + 7
HEADING_READING = MEMORY + 8
RANGE_TICK = MEMORY + 10  # next tick to be taken
NAVIGATION_TICK = MEMORY + 11
RUDDER_ANGLE = MEMORY + 12  # then its speed
RANGE_LAST = MEMORY + 14  # last usable reading of each rangefinder, NaN before the first
ALIVE = MEMORY + 20
FAULT_READINGS = MEMORY + 21
BLIND_READINGS = MEMORY + 22
SEEN_TICK = MEMORY + 23  # first tick that the control code has not seen
BROKEN = MEMORY + 24  # 1 once the numbers have left the model's range
RECENT = MEMORY + 25  # last five readings of each rangefinder, newest first
REFUSED_IN_A_ROW = MEMORY + 45  # of each rangefinder
REFUSED = MEMORY + 49
FUSED_RATE = MEMORY + 50  # upward, m/s
HEADING_RATE = MEMORY + 51
AT_REST = MEMORY + 52  # 1 while the flight waits to take off
COURSE = MEMORY + 53  # heading that the control code steers now, and the one it will reach
COURSE_WANTED = MEMORY + 54
# What faults do, see `faults`
RANGE_SILENT = MEMORY + 56  # of each rangefinder
RANGE_STUCK = MEMORY + 60
FAULT_SPIKES = MEMORY + 64  # share of readings, and size
THRUST_LEFT = MEMORY + 66
PAYLOAD = MEMORY + 67  # mass, and its place in build axes: x, y
FLYING = MEMORY + 70  # 1 while the control code takes the craft to fly
QUICK_TIME = MEMORY + 71  # for which it has been about as quick as wanted

# The drive, the air, and what the control code looks ahead with
DRIVE = MEMORY + 80
HALF_SPACING = DRIVE  # of two propellers; 0 for one
THRUST_CURVE = DRIVE + 1  # of the propeller: KT as a cubic in J
TORQUE_CURVE = DRIVE + 5  # KQ
PROPELLER_DIAMETER = DRIVE + 9
TOP_SPEED = DRIVE + 10  # of the shaft at full throttle, 1/s
SHAFT_LIMIT = DRIVE + 11  # of the power of each shaft
MOST_ADVANCE = DRIVE + 12  # J beyond which the curves are held
DIFFERENTIAL = DRIVE + 13  # throttle that one propeller gains and the other loses for a radian of rudder command
SIDE_THROTTLE = DRIVE + 14  # commanded difference, positive turns to starboard; then as the propellers feel it
SIDE_THRUST = DRIVE + 15
SIDE_THRUST_MID = DRIVE + 16
WIND_SHARE = DRIVE + 17  # of the wind 10 m up that blows at the windage's height
AIR_PRESSURE = DRIVE + 18  # atmospheric less vapour pressure, over half the density
BANK_WANTED = DRIVE + 19
PREVIEW = DRIVE + 20  # share of the angle that matches what comes, and how far ahead it is seen
PREVIEW_DISTANCE = DRIVE + 21
BATTERY = DRIVE + 22  # energy
PROPELLER_COUNT = DRIVE + 23

# The foil and the strip at work: copies of their rows at fixed places. A loop over lanes whose places are all known when
# it is compiled needs no check for overlap; with two moving rows the compiler gives up on this long loop.
AT_WORK = DRIVE + 24
STRIP_AT_WORK = AT_WORK + 24
SECTION_AT_WORK = STRIP_AT_WORK + 24  # the nodes of its section, then CHORD_LOG
FLAP_AT_WORK = SECTION_AT_WORK + 36

# One row a foil
FOIL = FLAP_AT_WORK + 12
FOIL_STRIDE = 140
CHORD = 0
SPAN = 1
ASPECT = 2
SECTION_SLOPE = 3  # the section at the Reynolds number of now, in the order of section.SectionNodes
LIFT_MAX = 4
ZERO_LIFT = 5  # angle
PROFILE = 6  # least drag coefficient
DRAG_RISE = 7
DRAG_STEEP = 8
LEAST_DRAG = 9  # lift of it
LAG_SHARE = 10
LAG_RATE = 11  # 2 B / chord
FIXED_ANGLE = 12  # incidence
STRIP_AREA = 13
LIFT_FACTOR = 14  # what ventilation and weed leave of its lift
SERVO_MID = 15  # angle of the foil or of its flap
FLAPPED = 16  # 1 if it has a flap in any lane
WEED_AREA = 17  # drag area of what hangs on it
LIFT_SHIFT = 18  # what its flap adds to the largest lift coefficient, and takes from the least
MOMENT_SHIFT = 19  # and to the section's moment coefficient
FIRST_RESULT = 20
LIFT_MEAN = 20  # mean lift coefficient of its strips, times their wetted share
TIP_DEPTH = 21  # of the shallower tip
LOADED = 22  # largest angle from zero lift of its strips, either way
TURNED = 23  # what the angle of the servo counts for in the angle of attack
AFTER_RESULT = 24
SERVO_ANGLE = 24
SERVO_SPEED = 25
LINK = 26  # angle of the foil after the slack of its linkage
MIX = 27  # height, pitch, roll
FORE = 30  # x, body
VENTILATION = 31  # depth, angle, lift left, rewetting depth (chords), wash-out time
VENTILATED = 36
WASHING = 37  # s since it went deep
WEED_LIFT = 38  # share of its lift that weed leaves
STUCK = 39  # 1 while its servo does not move
DOWNWASH = 42  # lagged lift coefficient of foil i as this foil feels it, six of them
DOWNWASH_MID = 48
SECTION = 54  # seven values at the lowest node of the Reynolds number, then their changes to the next, four times
SECTION_VALUES = 7
CHORD_LOG = 89  # log10(chord / viscosity)
POLAR_LOW = 90  # where the section's data end: log10 of two Reynolds numbers, angle from zero lift
POLAR_HIGH = 91
POLAR_ANGLE = 92
SUCTION = 93  # minus the least pressure coefficient: a square in the lift coefficient
HINGE = 96  # load on the servo: constant, per lift coefficient, per TURNED, per SERVO_MID, see `flap.hinge_terms`
FLAP = 100  # see `flap.flap_terms`
FLAP_VALUES = 11
BESIDE = 112  # y, z of its middle, body
BELOW = 113
HALF_SPANS = 114  # half spans in a metre
CENTRE_DEPTH = 115  # of its middle below the calm level, now
WAKE_DISTANCE = 116  # that the wake of foil i travels to it, six of them
WAKE_ROLLING = 122  # share of the wake of foil i that is rolled up, for a lift coefficient of one
WAKE_SINK = 128  # depth to which it has sunk as a sheet, for a lift coefficient of one
WAKE_SINK_CHANGE = 134  # and what it sinks less when it is rolled up

# One row a strut; its first three slots are the place of its foot
STRUT = FOIL + MAX_FOILS * FOIL_STRIDE
STRUT_STRIDE = 28
STRUT_SEA = 3
STRUT_LENGTH = 7
STRUT_CHORD = 8
STRUT_THICKNESS = 9
STRUT_FORM = 10  # 2 x form factor
STRUT_JUNCTION = 11  # drag area of both junctions
STRUT_STEERS = 12
STRUT_LOG = 13  # log10(chord / viscosity)
STRUT_FOIL = 14  # the foil that it carries
STRUT_ANGLE = 15  # side angle of the flow now, either way
STRUT_VENTILATED = 16
STRUT_WASHING = 17
STRUT_SEA_BEFORE = 18

# One row a hull station; its first three slots are the place of its keel point
STATION = STRUT + MAX_STRUTS * STRUT_STRIDE
STATION_STRIDE = 24
STATION_SEA = 3
STATION_SLICE = 7
STATION_BEAM = 8
STATION_SLOPE = 9  # tan(deadrise)
STATION_SINE = 10
STATION_DEPTH = 11  # of the hull
STATION_LOG = 12
STATION_WET = 13  # keel depth now
STATION_FROUDE = 14  # 1 / sqrt(g length)
STATION_SEA_BEFORE = 15
STATION_FOLLOWS = 23  # 1 if the station before it is of the same hull, one slice further aft

# One row a strip, the last of a design's numbers: a fleet has no more of them than its strips need. The first three slots are
# the place of its centre, body axes
STRIP = STATION + MAX_STATIONS * STATION_STRIDE
STRIP_STRIDE = 24 + 2 * (RAMPS + 1) * MAX_FOILS
STRIP_NORMAL = 3  # y, z
STRIP_SEA = 5  # eta, u, v, w (earth, w down)
STRIP_LAG = 9
STRIP_TIP = 10  # y, z of its outer end; x is the strip's
STRIP_DOWNWASH = 12
STRIP_LAG_MID = 13
STRIP_DEPTH = 14
STRIP_LIFT = 15
STRIP_FIRST_RESULT = 13
STRIP_AFTER_RESULT = 16
STRIP_SEA_BEFORE = 16  # the sea as it was last sampled, then its change a quarter of the way on, four each
# What it feels of the wake of each foil, per unit lift coefficient: the flat sheet's influence at no vertical distance and
# what each ramp adds; then the same of the rolled-up pair, less the sheet's.
STRIP_INFLUENCE = 24
INFLUENCES = 2 * (RAMPS + 1)

PARAMETERS = STRIP + MAX_STRIPS * STRIP_STRIDE  # a design is described by the slots before this one

# The sea of every lane, one row a component
WAVE = PARAMETERS
WAVE_STRIDE = 11
WAVE_AMPLITUDE = 0
WAVE_X = 1  # wave number along X, along Y, in all
WAVE_Y = 2
WAVE_NUMBER = 3
WAVE_DEEP = 4  # orbital speed at the surface over the wave number: what falls with the depth ...
WAVE_SHALLOW = 5  # ... and what the ground sends back, which grows with it
WAVE_PHASE = 6
WAVE_OMEGA = 7
WAVE_COSINE = 8  # of its phase at the point being sampled
WAVE_SINE = 9
WAVE_GROUND = WAVE + MAX_COMPONENTS * WAVE_STRIDE  # one number a component: 1 if it feels the ground in any lane

# Rates of the height estimate that the preview remembers, by control tick
PREVIEW_RING = WAVE_GROUND + MAX_COMPONENTS // LANES + 1
PREVIEW_TICKS = 64  # a power of two
HEIGHT_ESTIMATE = PREVIEW_RING + PREVIEW_TICKS  # now, then what it was 1, 2 ... control ticks ago, as it is known now
HEIGHT_TICKS = 64

# Whether foil i feels the wake of foil j in any lane: MAX_FOILS flags a foil
WAKES = HEIGHT_ESTIMATE + HEIGHT_TICKS
COMMANDED = WAKES + MAX_FOILS * MAX_FOILS  # what the servo at work is told

SERVO_AT_WORK = COMMANDED + 1  # its angle, its speed, 1 where it cannot move
# What the inertial unit reads at a control tick, and the attitude that the control code makes of it
GYRO_READING = COMMANDED + 4  # about x, y, z
FORCE_READING = COMMANDED + 7  # along x, y, z
ROLL_SINE = COMMANDED + 10  # of the estimates, sine and cosine
PITCH_SINE = COMMANDED + 12
# What a flight's record takes of a step, see `measure`
DEEPEST = COMMANDED + 14  # depth of the keel where it is deepest, and its mean
MEAN_DEPTH = COMMANDED + 15
SHALLOWEST = COMMANDED + 16  # depth of the shallowest foil tip, and the least in chords of its foil
SHALLOWEST_CHORDS = COMMANDED + 17
FOIL_AIR = COMMANDED + 18  # 1 where any foil is ventilated, where any strut is
STRUT_AIR = COMMANDED + 19
SERVO_TRAVEL = COMMANDED + 20  # speed of the foil servos, all together; 1 where one is at its limit
SERVO_STOPPED = COMMANDED + 21
BEYOND_DATA = COMMANDED + 22  # 1 where a foil is beyond its section's data
CAVITATION_MARGIN = COMMANDED + 23
VERTICAL_ACCELERATION = COMMANDED + 24  # of the centre of gravity, down
BIAS_DRAWN = COMMANDED + 25  # of the accelerometer along x, y, z, before it is multiplied by the craft's
COMMAND_TICK = COMMANDED + 28  # the newer of the two commands that a servo feels in half a step, and its share
COMMAND_NEWER = COMMANDED + 29
# Of the wake that a strip feels
WAKE_SHARE = COMMANDED + 30  # rolled up
WAKE_APART = COMMANDED + 31  # vertical distances from the wake and from its image, in half spans of the foil ahead
WAKE_IMAGE = COMMANDED + 32
WAKE_INFLUENCE = COMMANDED + 33

# The sea in single precision: two of its rows lie in one slot
SINGLE = 2 * (COMMANDED + 34)
SINGLE_POINT = SINGLE  # x, y from the reference place; depth below the surface
SINGLE_SEA = SINGLE + 3  # elevation, then velocity along X, Y and down
SINGLE_WAVE = SINGLE + 7  # one row a component, its first six columns as above
SINGLE_STRIDE = 11
SINGLE_PHASE = 6  # at the craft's reference place
SINGLE_COSINE = 7  # at the point being sampled
SINGLE_SINE = 8
SINGLE_TURN = 9  # cosine and sine of the phase from one hull station to the next
SINGLE_END = SINGLE_WAVE + MAX_COMPONENTS * SINGLE_STRIDE

SLOTS = SINGLE // 2 + (SINGLE_END + 1 - SINGLE) // 2


@part
def row(slot: int) -> int:
    """Index of lane 0 of a slot.

    The bounds never bite: they tell the compiler that the index is not negative, without which it must check for wrap-around
    at every access and cannot vectorise the loop over lanes.
    """
    return min(max(slot, 0), SLOTS) * LANES


@part
def single_row(slot: int) -> int:
    """The same for a row of single-precision numbers."""
    return min(max(slot, 0), 2 * SLOTS) * LANES

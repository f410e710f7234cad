"""Where everything lies in the flat workspace of a batch of flights.

The workspace is one array, of float64 or, in flights, of float32; slot s of lane l is `workspace[row(s) + l]`. Slots are dealt
out here in order, and are compile-time constants, so that a loop over lanes is a loop over neighbouring numbers. Rows of foils,
strips, struts, stations and waves repeat: slot s of foil 0 is slot `s + n * FOIL.width` of foil n. Units are SI; axes as in
MODEL.md.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import DTypeLike

from sweep.model import records, rows
from sweep.model.compiled import LANES, index, part
from sweep.model.slots import Deal

MAX_FOILS = rows.MAX_FOILS
MAX_RANGEFINDERS = 4
MAX_WANDS = 2
MAX_RUDDER_SERVOS = 3  # beside that of the first rudder
MAX_STRIPS = 96
MAX_STRIPS_OF_A_FOIL = 16
MAX_STRUTS = 20
MAX_STATIONS = 36
MAX_COMPONENTS = 256
LONGEST_MEDIAN = 5  # readings
PREVIEW_TICKS = 64  # a power of two
HEIGHT_TICKS = 64
MOST_SETTINGS = 24  # of a law of the builder's own (judgement)
MOST_LEGS = 16  # of a course (judgement)
CACHE_LINE = 64  # bytes, also of a vector of the widest processors

# Kernels pass numbers of slots on by name: a bare number would have the called part compiled for it alone
SURFACE_SLOTS = 1  # elevation alone
ONE = 1
MID_STEP, END_STEP = 0, 1  # where half a step ends


class PartCounts(NamedTuple):
    """How many parts of each kind flights side by side have.

    rudder_servos: beside that of the first rudder; law, propeller: which, see `control.LAWS` and
    `propulsion_forces.PROPELLER_KINDS`; strip_starts: first strip of each foil, (MAX_FOILS + 1,), filled up with how many
    strips there are.
    """

    foils: int
    strips: int
    struts: int
    stations: int
    rangefinders: int
    wands: int
    rudder_servos: int
    law: int
    propeller: int
    strip_starts: tuple[int, ...]


# Places within any record of the kind
ACROSS = records.Across()
VECTOR = records.Vector()
ANGLES = records.Angles()
LOAD = records.Load()
MOTION = records.Motion()
MATRIX = records.Matrix()
SEA = records.Sea()
SERVO_STATE = records.ServoState()
SERVO_CONSTANTS = records.Servo()
GAINS = records.Gains()
CASCADE = records.CascadeGains()
CASCADE_MEMORY = records.CascadeMemory()
CUBIC = records.Cubic()
HALF_STRENGTH = records.HalfStrength()
HALF_LOAD = records.HalfLoad()
INFLUENCE = rows.Influence()
COMPONENT = rows.Component()

_slots = Deal()

# Motion
STATE = _slots.record(records.Motion)
ROUNDED = _slots.record(records.Motion)  # what rounding has added to the STATE
MID = _slots.record(records.Motion)
RATE = _slots.record(records.Motion)
FORCE = _slots.record(records.Load)
HULL_LIFT = _slots.one()
ROTATION = _slots.record(records.Matrix)
PREDICTED = _slots.record(records.Pose)  # at which the sea is sampled
PREDICTED_ROTATION = _slots.record(records.Matrix)
REFERENCE_SEA = _slots.one()  # elevation at the reference point
THRUST = _slots.one()  # lagged throttle
THRUST_MID = _slots.one()
VOLTAGE = _slots.one()  # lagged, over the one that thrust is given for
VOLTAGE_MID = _slots.one()
THROTTLE = _slots.one()
RUDDER_MID = _slots.one()
FRICTION_LOG = _slots.one()  # log10 of the forward speed
POWER = _slots.one()  # from the battery
TAP_SEA = _slots.one()  # elevation over a tap, and what the waves add to the depth that its pressure shows
TAP_HEAD = _slots.one()
POINT = _slots.record(records.SeaPoint)
RANGE_SEA = _slots.one()  # elevation where the rangefinder looks
RANGE_DOWN = _slots.one()  # cosine of the tilt of the beam that looks there
RANGE_AIM = _slots.record(records.Footprint)
FOOTPRINT_SEA = _slots.one()  # elevation at one point of it
PROPELLER_SEA = _slots.one()  # elevation over the propeller
WIND = _slots.record(records.Plane)  # of the air over the water: along X, along Y
AGROUND = _slots.one()  # 1 where the craft touches the ground
LOWEST = _slots.one()  # depth of its lowest part below the calm level, where that is sought
SCRATCH = _slots.one()
REFERENCE_SEA_BEFORE = _slots.record(records.SurfaceBefore)
PROPELLER_SEA_BEFORE = _slots.record(records.SurfaceBefore)

# The design: constants of a flight
MASS = _slots.one()
INERTIA = _slots.record(records.Inertia)
INVERSE = _slots.record(records.Load, count=6)  # of the mass matrix, row by row
KEEL = _slots.one()  # centre of gravity above the keel
STATIC_THRUST = _slots.one()
NO_THRUST_SPEED = _slots.one()
THRUST_LAG = _slots.one()
EFFICIENCY = _slots.one()
ELECTRONICS = _slots.one()
TIME_SCALE = _slots.one()
HULL_DEPTH = _slots.one()
WINDOW_CLEARANCE = _slots.one()
WINDOW_CHORDS = _slots.one()
SERVO = _slots.record(records.Servo)  # of foils that name none of their own
RUDDER_SERVO = _slots.record(records.Servo)  # of the first rudder, and of all without another
DISC = _slots.one()  # 2 rho x disc area of the propeller
PROPELLER_RADIUS = _slots.one()
TRIM = _slots.record(records.Trim)  # that the control code holds
CENTRE = _slots.record(records.Plane)  # of gravity, build axes
WINDAGE = _slots.record(records.Windage)
STRUT_VENTILATION = _slots.record(records.StrutAir)
THRUST_PLACE = _slots.record(records.Vector)
WATER_DEPTH = _slots.one()
HALF_DENSITY = _slots.one()  # of the water
MATERIAL = _slots.one()  # 1 if any strut, rudder or foil of any lane has one
SERVO_SHARE = _slots.one()  # one over how many foils move
REACH = _slots.one()  # from the centre of gravity to the craft's furthest part

# Control code and sensors
RIDE_HEIGHT = _slots.one()
PITCH_TRIM = _slots.one()
HEIGHT_GAINS = _slots.record(records.HeightGains)
PITCH_GAINS = _slots.record(records.Gains)
ROLL_GAINS = _slots.record(records.Gains)
PITCH_CASCADE = _slots.record(records.CascadeGains)
ROLL_CASCADE = _slots.record(records.CascadeGains)
HEADING_GAINS = _slots.record(records.HeadingGains)
SPEED_GAINS = _slots.record(records.SpeedGains)
THROTTLE_SHARE = _slots.one()
PITCH_SHARE = _slots.one()
DELAY = _slots.one()
RUDDER_SIDE = _slots.one()
RANGE_RATE = _slots.many(MAX_RANGEFINDERS)  # readings a second of each, times how many there are
RANGE_LATENCY = _slots.many(MAX_RANGEFINDERS)
RANGE_NOISE = _slots.many(MAX_RANGEFINDERS)
RANGE_RESOLUTION = _slots.many(MAX_RANGEFINDERS)
RANGE_BLIND = _slots.many(MAX_RANGEFINDERS)
RANGE_FAR = _slots.many(MAX_RANGEFINDERS)
RANGE_DROPOUT = _slots.many(MAX_RANGEFINDERS)
RANGE_BURST = _slots.many(MAX_RANGEFINDERS)  # mean length of a loss, in readings
RANGE_TILT_LOSS = _slots.many(MAX_RANGEFINDERS)
RANGE_SPRAY_LOSS = _slots.many(MAX_RANGEFINDERS)
RANGE_SPRAY_HEIGHT = _slots.many(MAX_RANGEFINDERS)
RANGE_SPIKES = _slots.many(MAX_RANGEFINDERS)
RANGE_SPIKE_SIZE = _slots.many(MAX_RANGEFINDERS)
RANGE_PLACE = _slots.record(records.Vector, MAX_RANGEFINDERS)  # of each, body axes
RANGE_LOOK = _slots.record(records.Vector, MAX_RANGEFINDERS)  # along its beam, body axes, of length 1
INERTIAL_PLACE = _slots.record(records.Vector)
GYRO_NOISE = _slots.one()
GYRO_BIAS = _slots.one()
ACCELEROMETER_NOISE = _slots.one()
ACCELEROMETER_BIAS = _slots.one()
LEVELLING_TIME = _slots.one()
NAVIGATION_RATE = _slots.one()
SPEED_NOISE = _slots.one()
HEADING_NOISE = _slots.one()
WANTED_SPEED = _slots.one()
SCHEDULE_SPEED = _slots.one()  # 0: gains are fixed
COMBINE = _slots.one()  # one of `choices.COMBINED`
MEDIAN = _slots.one()
GATE = _slots.many(MAX_RANGEFINDERS)  # half a step of the readings over the largest jump that passes
CORNER = _slots.one()
PLANE_WEIGHT = _slots.many(MAX_RANGEFINDERS)  # share of each one's height in the plane's height at the centre of gravity
TURN_RATE = _slots.one()
BANK_SHARE = _slots.one()
BANK_LIMIT = _slots.one()
VIBRATION = _slots.one()
RANGE_KIND = _slots.many(MAX_RANGEFINDERS)  # one of `choices.FINDERS`
RANGE_WAND = _slots.many(MAX_RANGEFINDERS)  # the wand whose angle it reads
RANGE_ANGLE_STEP = _slots.many(MAX_RANGEFINDERS)
RANGE_PRESSURE = _slots.many(MAX_RANGEFINDERS)  # what a tap reads too much for the square of the speed, m/(m/s)2
RANGE_TUBE_LAG = _slots.many(MAX_RANGEFINDERS)
RANGE_BEAM = _slots.many(MAX_RANGEFINDERS)  # tangent of half the beam
RANGE_NEAREST = _slots.many(MAX_RANGEFINDERS)
RANGE_TILT = _slots.many(MAX_RANGEFINDERS)  # cosine of the largest tilt that still echoes
# Of the craft as designed, whose settings the control code has (RUDDER_SIDE, BANK_LIMIT, PLANE_WEIGHT, GATE, mixers too)
KNOWN_PLACE = _slots.record(records.KnownPlace, MAX_RANGEFINDERS)
KNOWN_ARM = _slots.many(MAX_RANGEFINDERS)  # length of the wand that it reads; -1 of a tap under water; else 0
KNOWN_TRUST = _slots.many(MAX_RANGEFINDERS)  # weight of its height among the others'
KNOWN_LOOK = _slots.record(records.Vector, MAX_RANGEFINDERS)  # as RANGE_LOOK
KNOWN_LATENCY = _slots.one()  # of a rangefinder's reading
KNOWN_AGE = _slots.one()  # control ticks by which the readings in use are old
RANGE_PATIENCE = _slots.one()  # without a reading of a rangefinder in use, half a tick before the boat is stopped
START_TRIM = _slots.record(records.Trim)  # the commands that hold the craft as built level
LEG_TRIM = _slots.record(records.Trim, MOST_LEGS)  # that the control code holds in each leg of a course

# What the control code remembers
HEIGHT_INTEGRAL = _slots.one()
PITCH_INTEGRAL = _slots.one()
ROLL_INTEGRAL = _slots.one()
PITCH_HELD = _slots.record(records.CascadeMemory)
ROLL_HELD = _slots.record(records.CascadeMemory)
SPEED_INTEGRAL = _slots.one()
SMOOTHED_HEIGHT = _slots.one()
ROLL_ESTIMATE = _slots.one()
PITCH_ESTIMATE = _slots.one()
SPEED_READING = _slots.one()
HEADING_READING = _slots.one()
RANGE_TICK = _slots.many(MAX_RANGEFINDERS)  # of each, next reading to be taken
RANGE_TURN = _slots.one()  # rangefinder that is due and reads next, -1 for none
NAVIGATION_TICK = _slots.one()
RUDDER = _slots.record(records.ServoState)
RUDDER_LINK = _slots.one()  # angle of the first rudder after the slack of its linkage
RUDDER_WISH = _slots.one()  # command to the rudders before any servo rounds it
RANGE_LAST = _slots.many(MAX_RANGEFINDERS)  # last usable reading of each rangefinder, NaN before the first
RANGE_LOST = _slots.many(MAX_RANGEFINDERS)  # 1 where its last reading did not come
TAP_DEPTH = _slots.many(MAX_RANGEFINDERS)  # that the pressure at a tap shows, when it was last read, and behind its tube
TAP_BEHIND = _slots.many(MAX_RANGEFINDERS)
ALIVE = _slots.one()
FAULT_READINGS = _slots.one()
BLIND_READINGS = _slots.one()
SEEN_TICK = _slots.many(MAX_RANGEFINDERS)  # of each, first reading that the control code has not seen
BROKEN = _slots.one()  # 1 once the numbers have left the model's range; 1 + the kind of `own.FAILURES` if own code failed
RECENT = _slots.many(MAX_RANGEFINDERS * LONGEST_MEDIAN)  # last readings of each rangefinder, newest first
REFUSED_IN_A_ROW = _slots.many(MAX_RANGEFINDERS)
REFUSED = _slots.one()
FUSED_RATE = _slots.one()  # upward, m/s
HEADING_RATE = _slots.one()
AT_REST = _slots.one()  # 1 while the flight waits to take off
COURSE = _slots.one()  # heading that the control code steers now, and the one it will reach
COURSE_WANTED = _slots.one()
FLYING = _slots.one()  # 1 while the control code takes the craft to fly
QUICK_TIME = _slots.one()  # for which it has been about as quick as wanted
LEG = _slots.one()  # of the course, from 1; 0 before the first
LEG_TICK = _slots.one()  # control tick at which it began
LEG_PATH = _slots.one()  # since then, by the speed readings
LEG_HEADING = _slots.one()  # that it wants, added to COURSE_WANTED
LEG_RATE = _slots.one()  # of its turn; 0: TURN_RATE

STOPPED_BY = _slots.one()  # 0 while the control code runs, else one of those in `safety`
RANGE_HEARD = _slots.many(MAX_RANGEFINDERS)  # time of the control tick at which a reading of each last arrived

# What faults do, see `faults`
DISARMED = _slots.one()  # 1 while the arming switch is off
LINK_AGE = _slots.one()  # since the last message of the person in charge; 0 while they come
RANGE_SILENT = _slots.many(MAX_RANGEFINDERS)
RANGE_STUCK = _slots.many(MAX_RANGEFINDERS)
FAULT_SPIKES = _slots.record(records.Spikes)
THRUST_LEFT = _slots.one()
PAYLOAD = _slots.record(records.Payload)

# The drive, the air, and what the control code looks ahead with
HALF_SPACING = _slots.one()  # of two propellers; 0 for one
THRUST_CURVE = _slots.record(records.Cubic)  # of the propeller: KT in J
TORQUE_CURVE = _slots.record(records.Cubic)  # KQ
PROPELLER_DIAMETER = _slots.one()
TOP_SPEED = _slots.one()  # of the shaft at full throttle, 1/s
SHAFT_LIMIT = _slots.one()  # of the power of each shaft
MOST_ADVANCE = _slots.one()  # J beyond which the curves are constant
DIFFERENTIAL = _slots.one()  # throttle that one propeller gains and the other loses for a radian of rudder command
SIDE_THROTTLE = _slots.one()  # commanded difference, positive turns to starboard; then as the propellers feel it
SIDE_THRUST = _slots.one()
SIDE_THRUST_MID = _slots.one()
WIND_SHARE = _slots.one()  # of the wind 10 m up that blows at the windage's height
AIR_PRESSURE = _slots.one()  # atmospheric less vapour pressure, over half the density
BANK_WANTED = _slots.one()
PREVIEW = _slots.one()  # share of the angle that matches what comes, and how far ahead it is seen
PREVIEW_DISTANCE = _slots.one()
BATTERY = _slots.one()  # energy
SAG = _slots.record(records.Sag)
SAGS = _slots.one()  # 1 if a battery sags in any lane
PROPELLER_COUNT = _slots.one()
OWN_SETTING = _slots.many(MOST_SETTINGS)  # that the builder's own code has, in the order of the craft file

# The foil and the strip at work: copies at fixed places of what changes in their rows. A loop over lanes that writes only to
# places known when it is compiled needs few checks for overlap; else the compiler gives up on a long loop.
FOIL_AT_WORK = _slots.record(rows.FoilAtWork)
STRIP_AT_WORK = _slots.record(rows.StripAtWork)
SECTION_AT_WORK = _slots.record(rows.Section)
FLAP_AT_WORK = _slots.record(records.Flap)
SECTION_VALUES = rows.SectionValues().width
FOIL_INPUTS = rows.FoilInputs().width
FOIL_RESULTS = FOIL_AT_WORK.width - FOIL_INPUTS
STRIP_RESULTS = rows.StripResults().width

# The parts, strips last: a fleet has no more of a design's numbers than its strips need
FOIL = _slots.record(rows.Foil, MAX_FOILS)
STRUT = _slots.record(rows.Strut, MAX_STRUTS)
STATION = _slots.record(rows.Station, MAX_STATIONS)
WAND = _slots.record(rows.Wand, MAX_WANDS)
OWN_SERVO = _slots.record(rows.RudderServo, MAX_RUDDER_SERVOS)
STRIP = _slots.record(rows.Strip, MAX_STRIPS)
PARAMETERS = _slots.next  # a design is described by the slots before this one

WAVE_GROUND = _slots.many(MAX_COMPONENTS // LANES + 1)  # one number a component: 1 if it feels the ground in any lane

PREVIEW_RING = _slots.many(PREVIEW_TICKS)  # rates of the height estimate that the preview remembers, by control tick
HEIGHT_ESTIMATE = _slots.many(HEIGHT_TICKS)  # now, then what it was 1, 2 ... control ticks ago, as it is known now
WAKES = _slots.many(MAX_FOILS * MAX_FOILS)  # whether foil i feels the wake of foil j in any lane: MAX_FOILS flags a foil
COMMANDED = _slots.one()  # mean command to the servo at work, rad
WAND_ROTATION = _slots.record(records.Matrix)  # at the end of the half step
WAND_FLOW = _slots.record(records.WandFlow)  # of the wand at work
SERVO_AT_WORK = _slots.record(records.ServoAtWork)
# What the inertial unit reads at a control tick, and the attitude that the control code makes of it
HEIGHT_RATE = _slots.one()  # of the height estimate, m/s
AHEAD = _slots.one()  # angle for the water to come, see `control.foresee`
ANGLE_SHARE = _slots.one()  # of commanded angles, see `control.pressure_share`
WISH = _slots.record(records.Wish)  # commands to all foils together
GYRO_READING = _slots.record(records.Vector)
FORCE_READING = _slots.record(records.Vector)
ROLL_TURN = _slots.record(records.Turn)  # of the estimates
PITCH_TURN = _slots.record(records.Turn)
# What a flight's record takes of a step, see `measure`
DEEPEST = _slots.one()  # depth of the keel where it is deepest, and its mean
MEAN_DEPTH = _slots.one()
SHALLOWEST = _slots.one()  # depth of the shallowest foil tip, and the least in chords of its foil
SHALLOWEST_CHORDS = _slots.one()
FOIL_AIR = _slots.one()  # 1 where any foil is ventilated, where any strut is
STRUT_AIR = _slots.one()
SERVO_TRAVEL = _slots.one()  # speed of the foil servos, all together; 1 where one is at its limit
SERVO_STOPPED = _slots.one()
BEYOND_DATA = _slots.one()  # 1 where a foil is beyond its section's data
CAVITATION_MARGIN = _slots.one()
STRAIN = _slots.record(records.Strain)
VERTICAL_ACCELERATION = _slots.one()  # of the centre of gravity, down
LOAD_NOW = _slots.one()  # hull lift over weight
BIN = _slots.record(records.Bins)  # of the histograms
BIAS_DRAWN = _slots.record(records.Vector)  # of the accelerometer, before it is multiplied by the craft's
COMMAND_TICK = _slots.one()  # the newer of the two commands that act on a servo in half a step, and its share
COMMAND_NEWER = _slots.one()
COMMAND_AFTER = _slots.one()  # the newer one, and the one before
COMMAND_BEFORE = _slots.one()
SHAFT_TURNS = _slots.one()  # speed of the propeller at work, 1/s
# Of the wake at the strip at work
WAKE_SHARE = _slots.one()  # rolled up
WAKE_APART = _slots.one()  # vertical distances from the wake and from its image, in half spans of the foil ahead
WAKE_IMAGE = _slots.one()
WAKE_INFLUENCE = _slots.one()

# The sea of every lane, in double precision in any workspace: rows of `workspace.view(np.float64)`
WAVE = _slots.record(rows.Wave, MAX_COMPONENTS)
WAVE_FROM = _slots.record(records.Plane)  # the craft's place, from which phases are taken

# The sea in single precision in any workspace: rows of `workspace.view(np.float32)`, two of which lie in one slot
_singles = Deal(2 * _slots.next)
SINGLE_POINT = _singles.record(records.Vector)  # from the reference place along X and Y; below the surface
SINGLE_SEA = _singles.record(records.Sea)
SINGLE_WAVE = _singles.record(rows.SingleWave, MAX_COMPONENTS)

SLOTS = (_singles.next + 1) // 2


@index
def row(slot: int) -> int:
    """Index of lane 0 of a slot.

    The clamp never takes effect: it tells the compiler that the index is not negative, without which it must check for
    wrap-around at every access and cannot vectorise the loop over lanes.
    """
    return min(max(slot, 0), SLOTS) * LANES


@part
def alike(workspace: np.ndarray, number: float) -> float:
    """A number in the precision of a workspace: a double would make every operation with it double precision."""
    return workspace.dtype.type(number)


def vector_zeros(shape: tuple[int, ...], dtype: DTypeLike = np.float64) -> np.ndarray:
    """Zeros, the first of which begins a line of the processor's cache, so that no vector of lanes lies across two lines.

    A load across two costs twice; where the system places an array, the kernels would run up to a sixth slower.
    """
    size = math.prod(shape) * np.dtype(dtype).itemsize
    room = np.zeros(size + CACHE_LINE, dtype=np.uint8)
    first = -room.ctypes.data % CACHE_LINE
    return room[first : first + size].view(dtype).reshape(shape)


def in_single_precision(workspace: np.ndarray, strips: int) -> np.ndarray:
    """A single-precision copy of a double-precision workspace for `strips` strips, without the sea."""
    single = vector_zeros((2 * len(workspace),), np.float32)
    give_back(single, workspace, strips)
    return single


def give_back(workspace: np.ndarray, source: np.ndarray, strips: int) -> None:
    """Copy all but the sea from a workspace of the other precision."""
    mine, theirs = workspace.reshape(-1, LANES), source.reshape(-1, LANES)
    for first, after in ((0, STRIP.first + strips * STRIP.width), (PARAMETERS, WAVE.first)):
        mine[first:after] = theirs[first:after]


@part
def keep(workspace: np.ndarray, slot: int, lane: int, value: float) -> None:
    """Put a number into a slot of a lane that flies. A lane whose flight has ended does not change."""
    place = row(slot) + lane
    workspace[place] = value if workspace[row(ALIVE) + lane] > 0.0 else workspace[place]


@index
def single_row(slot: int) -> int:
    """The same for a row of single-precision numbers."""
    return min(max(slot, 0), 2 * SLOTS) * LANES

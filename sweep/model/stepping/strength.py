"""How near struts and foils come to their strength, how far they bend and twist, at most (MODEL.md, section 18)."""

from __future__ import annotations

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, smoothstep
from sweep.model.events import FAR_BENT, FAR_TWISTED
from sweep.model.kernels.frame import LEAST_SPEED, Triple, point_depth, relative_velocity, vector
from sweep.model.kernels.strut_forces import steered
from sweep.model.layout import alike, row
from sweep.model.physics.strut import helmbold_slope, side_coefficient
from sweep.model.quantities import SUM


@kernel
def measure_strength(workspace: np.ndarray, counts: at.PartCounts) -> None:
    """Set STRAIN: the largest stress, bend and twist of all struts, and of all foils (M18.2 to M18.8)."""
    for slot in range(at.STRAIN.first, at.STRAIN.first + at.STRAIN.width):
        for lane in range(LANES):
            workspace[row(slot) + lane] = -1.0
    for foil in range(counts.foils):
        load_foil(workspace, foil, counts)
        strain_half(workspace, foil, at.FOIL.strength.port.first, at.FOIL.load.port.first)
        strain_half(workspace, foil, at.FOIL.strength.starboard.first, at.FOIL.load.starboard.first)
    for strut in range(counts.struts):
        load_strut(workspace, strut)
        strain_strut(workspace, strut, counts.foils)


@kernel
def load_foil(workspace: np.ndarray, foil: int, counts: at.PartCounts) -> None:
    """Sum up the lift of the strips of a foil: of each half, and its force and moment on its struts (M18.2, M18.3)."""
    f = row(foil * at.FOIL.width)
    for slot in range(at.FOIL.load.first, at.FOIL.load.first + at.FOIL.load.width):
        for lane in range(LANES):
            workspace[f + row(slot) + lane] = 0.0
    first, last = counts.strip_starts[foil], counts.strip_starts[foil + 1]
    for strip in range(first, last):
        port = 2 * (strip - first) < last - first
        load = row(at.FOIL.load.port.first if port else at.FOIL.load.starboard.first)
        s = row(strip * at.STRIP.width)
        for lane in range(LANES):
            place = vector(workspace, s + row(at.STRIP.x) + lane)
            u, v, w = relative_velocity(workspace, lane, place, vector(workspace, s + row(at.STRIP.sea.u) + lane))
            normal_y, normal_z = workspace[s + row(at.STRIP.normal.y) + lane], workspace[s + row(at.STRIP.normal.z) + lane]
            across, u = v * normal_y + w * normal_z, max(u, LEAST_SPEED)
            pressure = workspace[row(at.HALF_DENSITY) + lane] * (u * u + across * across)
            pushed = pressure * workspace[s + row(at.STRIP.area) + lane]
            lift = pushed * workspace[s + row(at.STRIP.lift) + lane]
            deep = workspace[s + row(at.STRIP.depth) + lane] / workspace[s + row(at.STRIP.chord) + lane]
            side, down = -lift * normal_y, -lift * normal_z
            workspace[f + load + row(at.HALF_LOAD.lift) + lane] += lift
            workspace[f + load + row(at.HALF_LOAD.pushed) + lane] += pushed * smoothstep(4.0 * deep + 0.5)
            out = place[1] - workspace[f + row(at.FOIL.middle.y) + lane]
            below = place[2] - workspace[f + row(at.FOIL.middle.z) + lane]
            workspace[f + row(at.FOIL.load.aside) + lane] += side
            workspace[f + row(at.FOIL.load.down) + lane] += down
            workspace[f + row(at.FOIL.load.roll) + lane] += out * down - below * side


@kernel
def strain_half(workspace: np.ndarray, foil: int, terms: int, load: int) -> None:
    """Take in half a foil. terms, load: places of its HalfStrength and HalfLoad in the foil's row (M18.6 to M18.8)."""
    f = row(foil * at.FOIL.width)
    t, now = f + row(terms), f + row(load)
    for lane in range(LANES):
        lift = workspace[now + row(at.HALF_LOAD.lift) + lane]
        moment = workspace[f + row(at.FOIL.strength.moment) + lane] + workspace[f + row(at.FOIL.moment_shift) + lane]
        push = moment * workspace[now + row(at.HALF_LOAD.pushed) + lane]
        twist = (
            workspace[t + row(at.HALF_STRENGTH.twist) + lane] * lift + workspace[t + row(at.HALF_STRENGTH.moment) + lane] * push
        )
        strain = (
            workspace[t + row(at.HALF_STRENGTH.stress) + lane] * abs(lift),
            workspace[t + row(at.HALF_STRENGTH.bend) + lane] * abs(lift),
            abs(twist),
        )
        length = 1.0 / workspace[f + row(at.FOIL.half_spans) + lane]
        note(workspace, lane, at.STRAIN.foil_stress, strain, workspace[f + row(at.FOIL.strength.strength) + lane], length)


@kernel
def load_strut(workspace: np.ndarray, strut: int) -> None:
    """Wetted length and side force of a strut or rudder, worked out again: no other craft pays for it (M7.1, M7.3)."""
    s = row(strut * at.STRUT.width)
    for lane in range(LANES):
        foot, chord = vector(workspace, s + row(at.STRUT.x) + lane), workspace[s + row(at.STRUT.chord) + lane]
        depth = point_depth(workspace, lane, foot) + workspace[s + row(at.STRUT.sea.eta) + lane]
        wet = clip(depth, 0.0, workspace[s + row(at.STRUT.length) + lane])
        place = (foot[0], foot[1], foot[2] - 0.5 * wet)
        u, v, _ = relative_velocity(workspace, lane, place, vector(workspace, s + row(at.STRUT.sea.u) + lane))
        u = max(u, LEAST_SPEED)
        air = workspace[s + row(at.STRUT.ventilated) + lane]
        left = 1.0 - air * (1.0 - workspace[row(at.STRUT_VENTILATION.side_left) + lane])
        side = left * side_coefficient(helmbold_slope(wet / chord), clip(v / u + steered(workspace, s, lane), -1.0, 1.0))
        pressure = workspace[row(at.HALF_DENSITY) + lane] * (u * u + v * v)
        workspace[s + row(at.STRUT.wet) + lane] = wet
        workspace[s + row(at.STRUT.side) + lane] = -pressure * chord * wet * side


@kernel
def strain_strut(workspace: np.ndarray, strut: int, foils: int) -> None:
    """Take in a strut or rudder, under its own side force and under its foil's (M18.3 to M18.5)."""
    s = row(strut * at.STRUT.width)
    for slot in (at.STRUT.aside, at.STRUT.roll):
        for lane in range(LANES):
            workspace[s + row(slot) + lane] = 0.0
    for foil in range(foils):
        f, this = row(foil * at.FOIL.width), alike(workspace, foil)
        for lane in range(LANES):
            carries = workspace[s + row(at.STRUT.foil) + lane] == this
            beside = workspace[f + row(at.FOIL.middle.y) + lane] - workspace[s + row(at.STRUT.y) + lane]
            moment = workspace[f + row(at.FOIL.load.roll) + lane] + beside * workspace[f + row(at.FOIL.load.down) + lane]
            aside = workspace[s + row(at.STRUT.share) + lane] * workspace[f + row(at.FOIL.load.aside) + lane]
            workspace[s + row(at.STRUT.aside) + lane] += aside if carries else 0.0
            workspace[s + row(at.STRUT.roll) + lane] += workspace[s + row(at.STRUT.alone) + lane] * moment if carries else 0.0
    for lane in range(LANES):
        length, side = workspace[s + row(at.STRUT.length) + lane], workspace[s + row(at.STRUT.side) + lane]
        arm = length - 0.5 * workspace[s + row(at.STRUT.wet) + lane]
        aside, roll = workspace[s + row(at.STRUT.aside) + lane], workspace[s + row(at.STRUT.roll) + lane]
        own = side * arm
        moment = own + aside * length - roll
        bent = own * arm * (3.0 * length - arm) * (1.0 / 6.0)  # times E I
        bent += length * length * (aside * length * (1.0 / 3.0) - 0.5 * roll)
        strain = (
            workspace[s + row(at.STRUT.strength.stress) + lane] * abs(moment),
            workspace[s + row(at.STRUT.strength.bend) + lane] * abs(bent),
            workspace[s + row(at.STRUT.strength.twist) + lane] * abs(own),
        )
        note(workspace, lane, at.STRAIN.strut_stress, strain, workspace[s + row(at.STRUT.strength.strength) + lane], length)


@part
def note(workspace: np.ndarray, lane: int, first: int, strain: Triple, strength: float, length: float) -> None:
    """Keep the stress (Pa), bend (m) and twist (rad) of a part where they are the largest so far.

    first: slot of the stress of its kind; strength: 1/Pa, 0 without a material: nothing is known; length: that its bend is held
    against, m.
    """
    known = strength > 0.0
    stress, bend, twist = strain
    keep(workspace, row(first) + lane, known, stress)
    keep(workspace, row(first) + row(1) + lane, known, bend)
    keep(workspace, row(first) + row(2) + lane, known, twist)
    keep(workspace, row(at.STRAIN.used) + lane, known, stress * strength)
    keep(workspace, row(at.STRAIN.bent) + lane, known, bend / (length * FAR_BENT))
    keep(workspace, row(at.STRAIN.bent) + lane, known, twist / FAR_TWISTED)


@part
def keep(workspace: np.ndarray, place: int, known: bool, value: float) -> None:
    """Keep a known value where it is larger than the one before."""
    before = workspace[place]
    workspace[place] = value if known and value > before else before


@kernel
def add_strength(workspace: np.ndarray, sums: np.ndarray, counts: at.PartCounts) -> None:
    """Keep the largest strains of all scored time, in lanes that fly (M18.9)."""
    measure_strength(workspace, counts)
    for each in range(at.STRAIN.width):
        kept, now = row(SUM.strut_stress_most + each), row(at.STRAIN.first + each)
        for lane in range(LANES):
            before, value = sums[kept + lane], workspace[now + lane]
            sums[kept + lane] = value if workspace[row(at.ALIVE) + lane] > 0.0 and value > before else before

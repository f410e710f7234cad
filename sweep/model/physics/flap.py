"""Trailing-edge flaps as measured: what a flap adds to lift, largest lift, moment and drag, and its hinge moment.

Thin-aerofoil theory (Glauert 1927) times the corrections of the USAF DATCOM (Hoak & Finck 1978, section 6.1) for real
sections. The fits here are within 0.03 of it (`tests/references/flaps.toml`). Angles in rad, deflection positive trailing edge
down. A flap's share is its chord over the section's.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel, part
from sweep.model.elementary import clip, smoothstep
from sweep.model.layout import row
from sweep.model.physics.foil import flap_effectiveness

if TYPE_CHECKING:
    from sweep.campaign.foils import Foil

LEAST_SLOPE = 0.7  # of the theoretical slope: where the handbook's charts end
LEAST_LIFT = 0.3  # least share of the section's largest lift that is left with a flap turned the wrong way (judgement)
OPEN_LIFT = 0.85  # share of the effectiveness left by an open gap of 0.5 % of the chord: 0.79 and 0.93 measured

# Charts of largest lift, by thickness and by the flap's share of the chord: USAF DATCOM, section 6.1
_THICK = (0.0, 0.02, 0.04, 0.05, 0.06, 0.08, 0.09, 0.10, 0.11, 0.12, 0.14, 0.15, 0.16, 0.17, 0.18, 0.19, 0.20)
_MOST_LIFT = (1.0, 1.0, 0.979, 0.95, 0.92, 0.82, 0.80, 0.82, 0.85, 0.91, 1.09, 1.19, 1.31, 1.43, 1.51, 1.57, 1.60)
_SHARES = (0.0, 0.02, 0.04, 0.06, 0.08, 0.10, 0.12, 0.14, 0.16, 0.20, 0.24, 0.28, 0.30)
_BY_SHARE = (0.0, 0.20, 0.34, 0.47, 0.57, 0.65, 0.72, 0.78, 0.83, 0.92, 0.99, 1.04, 1.06)


def theoretical_slope(thickness_ratio: float) -> float:
    """Lift slope of a section without friction, per rad."""
    return 2.0 * math.pi * (1.0 + 0.77 * thickness_ratio)


def ideal_lift(share: float, thickness_ratio: float) -> float:
    """Section lift coefficient per rad of flap angle, without friction: within 2.5 % of DATCOM figure 6.1.1.1-39a."""
    return 2.0 * math.pi * flap_effectiveness(share) * (1.0 + (3.16 - 2.12 * share) * share * thickness_ratio)


def friction_terms(share: float) -> tuple[float, float]:
    """a and b in 1 - d (a + b d), the share of its ideal lift that a flap has; d is from `lacking`.

    Within 0.02 of DATCOM figure 6.1.1.1-39b.
    """
    share = min(share, 0.5)
    return 2.007 - 1.997 * share, 0.590 + 1.991 * share


def lacking(slope: float, thickness_ratio: float) -> float:
    """Share of the theoretical lift slope that a section lacks, up to the end of the charts (M6.2). slope: per rad."""
    return min(max(1.0 - slope / theoretical_slope(thickness_ratio), 0.0), 1.0 - LEAST_SLOPE)


def effectiveness(share: float, thickness_ratio: float, slope: float, sealed: bool = True) -> float:
    """Change of zero-lift angle per flap angle, for small angles (M6.3). slope: of the section, per rad."""
    first, second = friction_terms(share)
    missing = lacking(slope, thickness_ratio)
    gap = 1.0 if sealed else OPEN_LIFT
    return gap * ideal_lift(share, thickness_ratio) / slope * (1.0 - missing * (first + second * missing))


def of_foil(foil: Foil, slope: float) -> float:
    """Gain in angle of attack per small servo angle: 1 for a foil that moves as a whole (M6.3, M6.5)."""
    if foil.flap is None:
        return 1.0
    return effectiveness(foil.flap, foil.thickness_ratio, slope, foil.flap_gap == "sealed")


def separation(share: float) -> tuple[float, float, float, float]:
    """Terms of the loss of a flap at large angles (M6.4): kept, start (rad), first (rad) and width (rad).

    A flap at an angle d acts as one at d - smoothstep((d - first) / width) max(kept d - start, 0). This is within 0.026 d of
    DATCOM figure 6.1.1.1-40, for shares of 0.1 to 0.5.
    """
    share = min(max(share, 0.1), 0.5)
    degree = math.pi / 180.0
    return (
        0.57 + 0.29 * share,
        (9.79 - 4.06 * share) * degree,
        (10.06 - 0.73 * share) * degree,
        (17.51 - 9.90 * share) * degree,
    )


def most_lift(share: float, thickness_ratio: float) -> float:
    """Gain in the section's largest lift coefficient from a flap at 60 degrees: DATCOM 6.1.1.3-12a and b; M6.6."""
    return float(np.interp(thickness_ratio, _THICK, _MOST_LIFT) * np.interp(share, _SHARES, _BY_SHARE))


def moment_slope(share: float) -> float:
    """Section moment coefficient about the quarter chord per rad: 0.85 of thin-aerofoil theory, by DATCOM 6.1.2.1-35b; M6.7."""
    hinge = math.acos(2.0 * share - 1.0)
    return -0.85 * 0.5 * math.sin(hinge) * (1.0 - math.cos(hinge))


def drag_term(share: float) -> float:
    """Gain in profile drag coefficient over the square of the sine of the flap's angle (M6.8).

    Fitted to the values at 15 degrees in a handbook's chart (Roskam 1990, part VI, figure 4.44).
    """
    return 1.8 * share**1.17


def hinge_by_angle(share: float, thickness_ratio: float, slope: float) -> float:
    """Hinge moment coefficient, on the flap's chord squared, per rad of the section's angle from zero lift: negative (M6.9).

    Thin-aerofoil theory with a thickness term, within 0.02 of DATCOM figure 6.1.3.1-11a, times the share that friction leaves,
    within 0.02 of 11b.
    """
    theory = -_of_attack(share) / share**2 + thickness_ratio * (0.807 - 0.290 * share)
    missing, held = lacking(slope, thickness_ratio), min(max(share, 0.1), 0.4)
    return theory * (1.0 - missing * (2.826 - 3.657 * held + (3.739 + 3.338 * held) * missing))


def hinge_by_deflection(share: float, thickness_ratio: float, slope: float) -> float:
    """Hinge moment coefficient per rad of the flap's angle: within 0.02 of DATCOM figures 6.1.3.2-12a and b (M6.9)."""
    angle = math.acos(2.0 * share - 1.0)
    left, sine, cosine = math.pi - angle, math.sin(angle), math.cos(angle)
    theory = left / math.pi * _of_attack(share) + 0.5 * sine / math.pi * (cosine * left + sine)
    missing, held = lacking(slope, thickness_ratio), min(max(share, 0.1), 0.4)
    thick = -theory / share**2 + thickness_ratio * (1.839 - 3.222 * share)
    return thick * (1.0 - missing * (0.704 + 0.206 * held + (2.672 * held - 0.046) * missing))


def hinge_by_camber(share: float) -> float:
    """Hinge moment coefficient at zero lift over the section's moment coefficient: thin aerofoil, parabolic camber; M6.9."""
    angle = math.acos(2.0 * share - 1.0)
    left, sine, cosine = math.pi - angle, math.sin(angle), math.cos(angle)
    curved = 0.5 * cosine * (left + sine * cosine) + sine**3 / 3.0
    return 4.0 / math.pi * (curved - 0.5 * _of_attack(share)) / share**2


def _of_attack(share: float) -> float:
    """Moment about the hinge of a flat plate's loading at one rad, over dynamic pressure x chord squared."""
    angle = math.acos(2.0 * share - 1.0)
    sine, cosine = math.sin(angle), math.cos(angle)
    return (math.pi - angle) * (cosine - 0.5) + sine * (1.0 - 0.5 * cosine)


def hinge_terms(foil: Foil, slope: float, moment: float) -> tuple[float, float, float, float]:
    """Terms of the load on a foil's servo over dynamic pressure x chord squared x span (M6.9, M13.5).

    Four terms: a constant, per lift coefficient, per rad of the flap's effective angle and per rad of its true angle.
    slope, per rad, and moment are the section's. For a foil that moves as a whole, the terms follow from its
    section's moment, its pivot and how far its sweep has the lift aft of that.
    """
    if foil.flap is None:
        return moment, foil.pivot - foil.swept_back / foil.chord, 0.0, 0.0
    square = foil.flap**2
    by_angle = square * hinge_by_angle(foil.flap, foil.thickness_ratio, slope)
    by_deflection = square * hinge_by_deflection(foil.flap, foil.thickness_ratio, slope)
    return square * hinge_by_camber(foil.flap) * moment, by_angle / slope, -by_angle, by_deflection


def flap_terms(foil: Foil) -> np.ndarray:
    """The constants that `flap_now` reads, in the order of `records.Flap`; zeros for a foil that moves as a whole."""
    if foil.flap is None:
        return np.zeros(at.FLAP_AT_WORK.width)
    kept, start, first, width = separation(foil.flap)
    gap = 1.0 if foil.flap_gap == "sealed" else OPEN_LIFT
    return np.array(
        [
            gap * ideal_lift(foil.flap, foil.thickness_ratio),
            1.0 / theoretical_slope(foil.thickness_ratio),
            *friction_terms(foil.flap),
            kept,
            start,
            first,
            1.0 / width,
            most_lift(foil.flap, foil.thickness_ratio),
            moment_slope(foil.flap),
            drag_term(foil.flap),
        ]
    )


@part
def growth(angle: float) -> float:
    """Share of `most_lift` that a flap has at an angle (rad, >= 0): within 0.01 of DATCOM figure 6.1.1.3-13a (M6.6)."""
    held = angle if angle < 1.0472 else 1.0472
    return held * (2.126 - held * (1.502 - 0.364 * held))


@kernel
def flap_now(workspace: np.ndarray) -> None:
    """Set the effects of the flap of the foil at work: its effective angle and its shifts; add its drag to `profile`.

    M6.4 to M6.8.
    """
    for lane in range(LANES):
        angle = workspace[row(at.FOIL_AT_WORK.servo_mid) + lane]
        slope = workspace[row(at.FOIL_AT_WORK.lift_slope) + lane]
        ideal = workspace[row(at.FLAP_AT_WORK.ideal_lift) + lane]
        missing = clip(1.0 - slope * workspace[row(at.FLAP_AT_WORK.per_slope) + lane], 0.0, 1.0 - LEAST_SLOPE)
        left = 1.0 - missing * (
            workspace[row(at.FLAP_AT_WORK.friction) + lane] + missing * workspace[row(at.FLAP_AT_WORK.friction_squared) + lane]
        )
        size = abs(angle)
        side = 1.0 if angle > 0.0 else -1.0
        beyond = workspace[row(at.FLAP_AT_WORK.kept) + lane] * size - workspace[row(at.FLAP_AT_WORK.start) + lane]
        gone = smoothstep(
            (size - workspace[row(at.FLAP_AT_WORK.beyond) + lane]) * workspace[row(at.FLAP_AT_WORK.per_width) + lane]
        )
        counts = side * (size - gone * (beyond if beyond > 0.0 else 0.0))
        sine = clip(size - size * size * size * (1.0 / 6.0), 0.0, 1.0)
        workspace[row(at.FOIL_AT_WORK.turned) + lane] = ideal / slope * left * counts if ideal > 0.0 else angle
        workspace[row(at.FOIL_AT_WORK.lift_shift) + lane] = (
            side * workspace[row(at.FLAP_AT_WORK.most_lift) + lane] * growth(size)
        )
        workspace[row(at.FOIL_AT_WORK.moment_shift) + lane] = workspace[row(at.FLAP_AT_WORK.moment_slope) + lane] * counts
        workspace[row(at.FOIL_AT_WORK.profile) + lane] += workspace[row(at.FLAP_AT_WORK.drag) + lane] * sine * sine


@part
def largest_lift(lift_max: float, shift: float, angle: float) -> float:
    """Largest lift coefficient, with a flap's shift, on the side (up or down) of an angle from zero lift (rad; M6.6)."""
    most = lift_max + (shift if angle > 0.0 else -shift)
    least = LEAST_LIFT * lift_max
    return most if most > least else least

"""Hulls: buoyancy, impact and drag of one slice of a vee bottom."""

from __future__ import annotations

import math

from sweep.model.compiled import part
from sweep.model.elementary import clip
from sweep.model.physics.spectra import GRAVITY

CROSS_FLOW_DRAG = 0.5  # judgement (M8.4)
SIDE_DRAG = 1.0  # judgement (M8.5)


@part
def wedge_area(depth: float, beam: float, slope: float) -> tuple[float, float, float]:
    """Immersed area (m2), half breadth (m) and depth under the chine (m) of a section whose keel is `depth` (m) deep; M8.1.

    slope: tangent of the deadrise.
    """
    chine = 0.5 * beam * slope
    below = depth if depth < chine else chine
    half_breadth = below / slope
    above = depth - below
    return half_breadth * below + beam * above, half_breadth, above


@part
def impact_per_length(density: float, depth: float, beam: float, slope: float, entering: float) -> float:
    """Impact force per length (N/m) of a vee section entering at `entering` (m/s, positive going in); 0 going out (M8.3).

    From the momentum of von Karman's added mass rho (pi/2) c^2 (NACA TN 321, 1929) until the chine is wet. It then fades over
    half the chine's height (judgement).
    """
    speed = entering if entering > 0.0 else 0.0
    chine = 0.5 * beam * slope
    below = depth if depth < chine else chine
    fading = clip(3.0 - 2.0 * depth / chine, 0.0, 1.0)
    return density * math.pi * below * fading / (slope * slope) * speed * speed


@part
def cross_flow_per_length(density: float, half_breadth: float, entering: float) -> float:
    """Cross-flow drag per length (N/m) of an immersed section (M8.4). It opposes the motion `entering` (m/s)."""
    return density * CROSS_FLOW_DRAG * half_breadth * abs(entering) * entering


@part
def buoyancy_per_length(density: float, area: float) -> float:
    """Buoyancy per length (N/m; M8.2). density in kg/m3; area immersed, m2."""
    return density * GRAVITY * area


@part
def hump_drag(froude: float) -> float:
    """Wave-making drag over the hull's present buoyancy, by the Froude number on its length (M8.6).

    Judgement: a hump of 12 % at Froude number 0.5, as for slender hulls; almost zero when planing and zero at rest.
    """
    off = (froude - 0.5) * 4.0
    hill = 1.0 / (1.0 + off * off)
    slow = clip(froude * (1.0 / 0.3), 0.0, 1.0)
    slow *= slow
    return 0.12 * hill * hill * slow * slow

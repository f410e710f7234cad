"""Flaps in the kernel: what they add, where they separate, what stalls their servos, and what they leave alone."""

from __future__ import annotations

from math import degrees, radians
from typing import Any

import numpy as np
import pytest

from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import fly
from sweep.model.kernels.rigid_body import evaluate
from sweep.model.onboard.servo import RING, hold, move_half, reach_back
from sweep.model.pack.trim import FOREVER
from sweep.model.physics import flap
from tests.model.crafts import WATER, Bench, block_of, changed, courier, fleet_of, jonswap

WIDE = {"servos.travel": 0.69, "servos.rate": 1e3, "servos.quantum": 0.0, "control.delay": 0.0}
FLAPPED = WIDE | {f"foils.{name}.flap": 0.3 for name in courier().foils}
TURN = radians(10.0)


def stand(values: dict[str, Any], angle: float, incidence: float = 0.0) -> Bench:
    """The courier at 4 m/s and its ride height, all servos at an angle and all foils rigged by another (rad), lags settled."""
    bench = Bench(changed(courier(), values))
    for foil in range(3):
        bench.put(bench.foil(foil) + at.FOIL.servo_mid, angle)
        bench.put(bench.foil(foil) + at.FOIL.fixed_angle, incidence)
    for _ in range(8):
        evaluate(bench.flat, bench.counts, bench.fleet.density, FOREVER)
    return bench


def turned(values: dict[str, Any], angle: float) -> float:
    """What the port servo's angle counts for, rad."""
    bench = stand(values, angle)
    return float(bench.get(bench.foil(0) + at.FOIL.turned))


def test_a_foil_that_moves_as_a_whole_turns_by_its_servo() -> None:
    assert turned(WIDE, 0.3) == 0.3
    assert turned(WIDE, -0.3) == -0.3


def test_a_small_angle_counts_by_the_effectiveness() -> None:
    """0.60 of it, of a flap of 30 % on the default section: under thin-aerofoil theory's 0.66 (Glauert 1927)."""
    wanted = flap.effectiveness(0.3, 0.12, 5.97)
    assert wanted == pytest.approx(0.604, abs=0.001)
    assert turned(FLAPPED, radians(5.0)) == pytest.approx(wanted * radians(5.0), rel=1e-7)
    assert turned(FLAPPED, radians(-5.0)) == pytest.approx(-wanted * radians(5.0), rel=1e-7)


@pytest.mark.parametrize(("deflection", "left"), [(10.0, 1.0), (16.0, 0.963), (20.0, 0.8), (30.0, 0.61)])
def test_a_flap_turned_far_separates(deflection: float, left: float) -> None:
    """DATCOM figure 6.1.1.1-40, plain flap of 30 %."""
    small = turned(FLAPPED, radians(1.0)) / radians(1.0)
    assert turned(FLAPPED, radians(deflection)) / radians(deflection) / small == pytest.approx(left, abs=0.03)


def test_a_poor_section_makes_a_poor_flap() -> None:
    """A slope of 5.2 is 76 % of the theoretical one: DATCOM's charts leave 60 % of the ideal lift, 0.52 of the angle."""
    poor = {f"foils.{name}.section.lift_slope": 5.2 for name in courier().foils}
    assert turned(FLAPPED | poor, radians(5.0)) / radians(5.0) == pytest.approx(0.598 * 4.55 / 5.2, rel=0.03)


def test_an_open_gap_takes_lift_from_the_flap_and_the_foil() -> None:
    """On the NACA 0015 0.46 of 0.58, and 0.089 of 0.096 a degree (Hoerner & Borst 1975, ch. 9), the most that was measured."""
    opened = {f"foils.{name}.flap_gap": "open" for name in courier().foils}
    angle = radians(5.0)
    lift = [stand(FLAPPED | gap, angle, 0.05).get(Bench(courier()).foil(0) + at.FOIL.lift_mean) for gap in ({}, opened)]
    assert 0.75 < turned(FLAPPED | opened, angle) / turned(FLAPPED, angle) < 0.95
    assert 0.83 < lift[1] / lift[0] < 0.95


@pytest.mark.parametrize(("rigged", "sign"), [(0.30, 1.0), (-0.37, -1.0)])
def test_a_flap_moves_the_largest_lift_by_what_the_handbook_has(rigged: float, sign: float) -> None:
    """Far up, and far down: more lift that way with the flap turned that way, less with it turned the other.

    10 degrees: DATCOM figure 6.1.1.3: 0.91 x 1.06 x 0.33 = 0.32 of lift coefficient, of a section whose own is 1.1.
    """
    bench = stand(FLAPPED, TURN)
    shift = bench.get(at.FOIL_AT_WORK.lift_shift)
    assert shift == pytest.approx(0.32, abs=0.01)
    assert stand(FLAPPED, -TURN).get(at.FOIL_AT_WORK.lift_shift) == pytest.approx(-shift, rel=1e-12)
    effective = sign * 0.25
    most = [float(flap.largest_lift(1.1, each, effective)) for each in (shift, 0.0, -shift)]
    assert most == pytest.approx([1.1 + sign * shift, 1.1, 1.1 - sign * shift])
    assert float(flap.largest_lift(1.1, -2.0, 0.1)) == pytest.approx(0.33)
    lifts = [
        sign * stand(FLAPPED, angle, rigged - 0.6 * angle).get(bench.foil(0) + at.FOIL.lift_mean)
        for angle in (-TURN, 0.0, TURN)
    ]
    assert np.all(sign * np.diff(lifts) > 0.02)  # the same angle from zero lift every time, near the stall


def test_a_turned_flap_drags() -> None:
    """0.3 of the chord at 15 degrees: 0.030 more (Roskam 1990, figure 4.44), at the same angle from zero lift."""
    drags = []
    for angle in (0.0, radians(15.0)):
        bench = stand(FLAPPED, angle)
        drags.append(bench.get(at.FOIL_AT_WORK.profile))
    assert drags[1] - drags[0] == pytest.approx(0.0299, rel=0.05)


def hinge_moment(values: dict[str, Any], angle: float, lift: float) -> float:
    """N m, by seeking the torque at which the port servo gives way."""

    def moves(torque: float) -> bool:
        bench = stand(values | {"servos.torque": torque}, angle)
        slot, foil = bench.foil(0) + at.FOIL.servo.angle, bench.foil(0)
        bench.put(slot, [angle, 0.0])
        bench.put(foil + at.FOIL.lift_mean, lift)
        reach_back(bench.flat, 0.0, 0.5, 0.01)
        hold(bench.flat, foil, WATER.density)
        move_half(bench.flat, slot, at.SERVO.first, np.full((RING, LANES), angle + 0.1), 0.005)
        return bool(bench.get(slot) != angle)

    low, high = 1e-6, 1.0
    for _ in range(18):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if moves(middle) else (middle, high)
    return 0.5 * (low + high)


def test_a_flap_loads_its_servo_by_its_own_chord() -> None:
    """At 10 degrees, lift 0.4, by DATCOM's charts: 12 % thick, 0.3 of the chord, slope 87 % of the ideal.

    b1 = -0.53 x 0.69, b2 = -0.85 x 0.89, the section at 0.4 / 5.97 less what the flap counts for; camber: 0.99 x -0.03.
    """
    section = 0.4 / 5.97 - 0.604 * TURN
    coefficient = 0.99 * -0.03 - 0.53 * 0.69 * section - 0.85 * 0.89 * TURN
    foil = courier().foils["port"]
    flow = 0.5 * WATER.density * 4.0**2 * foil.span_length * (0.3 * foil.chord) ** 2
    assert hinge_moment(FLAPPED, TURN, 0.4) == pytest.approx(abs(coefficient) * flow, rel=0.05)


def test_the_load_on_a_flap_grows_with_its_share_and_forgets_the_pivot() -> None:
    small = {f"foils.{name}.flap": 0.15 for name in courier().foils}
    pivot = {"foils.port.pivot": 0.4}
    loads = [hinge_moment(FLAPPED | values, TURN, 0.4) for values in (small, {}, pivot)]
    assert loads[2] == loads[1]
    assert 3.5 < loads[1] / loads[0] < 5.5


def test_flaps_beside_a_foil_that_moves_as_a_whole_do_not_touch_it() -> None:
    """A craft among others of which some have flaps gives the same numbers to the bit."""
    block = block_of(jonswap(2.0, height=0.04, period=1.2), 6.0, settle=2.0)
    craft, other = courier(), changed(courier(), {"foils.aft.flap": 0.4})
    among = fly(fleet_of([other, craft, other]), block)
    assert np.array_equal(fly(fleet_of(craft), block).responses[0], among.responses[1], equal_nan=True)
    assert np.array_equal(fly(fleet_of(other), block).responses[0], among.responses[2], equal_nan=True)
    assert not np.array_equal(among.responses[0], among.responses[1])


def test_effectiveness_is_never_over_thin_aerofoil_theory() -> None:
    """Of the sections that ship, at every share: under 1.0 of Glauert's, over half of it."""
    for share in np.arange(0.1, 0.55, 0.05):
        for slope in (5.0, 5.5, 5.97, 6.28):
            found = flap.effectiveness(float(share), 0.12, slope)
            assert 0.5 * flap.flap_effectiveness(float(share)) < found < 1.02 * flap.flap_effectiveness(float(share))
    assert degrees(flap.separation(0.3)[2]) == pytest.approx(9.84, abs=0.01)

"""What the control code believes of attitude and height: against kinematics, trigonometry and filters by the textbook."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import atan, cos, pi, sin

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.onboard.estimates import estimate_attitude, estimate_height, measure_height, upward
from tests.model.crafts import GRAVITY, RIDE, Bench, changed, courier, rotation

PERIOD = 0.01


# Attitude


def level_for(bench: Bench, gyro: Sequence[float], force: Sequence[float], ticks: int) -> tuple[float, float]:
    """Roll and pitch that the filter makes of steady readings."""
    bench.put(at.GYRO_READING, gyro)
    bench.put(at.FORCE_READING, force)
    for _ in range(ticks):
        estimate_attitude(bench.flat, PERIOD)
    return bench.get(at.ROLL_ESTIMATE), bench.get(at.PITCH_ESTIMATE)


def at_rest(roll: float, pitch: float) -> np.ndarray:
    """What an accelerometer reads at rest."""
    return rotation(roll, pitch, 0.0).T @ [0.0, 0.0, -GRAVITY]


def test_held_still_the_filter_settles_on_the_true_angles() -> None:
    """And goes there with its time constant: 63.2 % after it (first order)."""
    bench = Bench(changed(courier(), {"inertial.levelling_time": 2.0}))
    roll, pitch = level_for(bench, (0.0, 0.0, 0.0), at_rest(0.3, -0.2), 200)
    assert roll / 0.3 == pytest.approx(0.632, abs=2e-3)
    assert pitch / -0.2 == pytest.approx(0.632, abs=2e-3)
    assert level_for(bench, (0.0, 0.0, 0.0), at_rest(0.3, -0.2), 4000) == pytest.approx((0.3, -0.2), abs=1e-8)


@pytest.mark.parametrize(("roll", "pitch", "yaw_rate"), [(0.2, 0.0, 0.0), (0.3, -0.25, 1.5), (-0.4, 0.3, -2.0)])
def test_the_gyro_carries_true_angles_through_a_manoeuvre(roll: float, pitch: float, yaw_rate: float) -> None:
    """Angles that swing, with the rates and the gravity that go with them (kinematics of Euler angles): the filter follows."""
    bench = Bench(courier())
    step = 1e-3
    for n in range(3000):
        t = n * step
        phi, theta = roll * sin(2.0 * t), pitch * sin(3.0 * t)
        phi_rate, theta_rate = 2.0 * roll * cos(2.0 * t), 3.0 * pitch * cos(3.0 * t)
        p = phi_rate - yaw_rate * sin(theta)
        q = theta_rate * cos(phi) + yaw_rate * cos(theta) * sin(phi)
        r = -theta_rate * sin(phi) + yaw_rate * cos(theta) * cos(phi)
        found = (bench.get(at.ROLL_ESTIMATE), bench.get(at.PITCH_ESTIMATE))
        assert found == pytest.approx((phi, theta), abs=5e-3), f"{t} s"
        bench.put(at.GYRO_READING, [p, q, r])
        bench.put(at.FORCE_READING, at_rest(phi, theta))
        estimate_attitude(bench.flat, step)


def test_a_gyro_s_bias_costs_its_size_times_the_levelling_time() -> None:
    bench = Bench(courier())
    roll, pitch = level_for(bench, (0.003, -0.002, 0.0), at_rest(0.0, 0.0), 6000)
    assert (roll, pitch) == pytest.approx((0.003 * 4.0, -0.002 * 4.0), rel=1e-3)


@pytest.mark.parametrize("rate", [0.05, -0.1])
def test_a_steady_turn_reads_as_a_lean_outwards_of_v_r_over_g(rate: float) -> None:
    """A flat turn at speed v and yaw rate r pushes sideways by v r, which looks like a roll of atan(v r / g) (textbook)."""
    speed = 4.0
    bench = Bench(changed(courier(), {"inertial.levelling_time": 0.2}))
    roll, pitch = level_for(bench, (0.0, 0.0, rate), (0.0, rate * speed, -GRAVITY), 1000)
    assert roll == pytest.approx(-atan(speed * rate / GRAVITY), rel=2e-3)
    assert abs(pitch) < 0.03 * abs(roll)


def test_a_slow_filter_turns_its_error_with_the_craft() -> None:
    """With r tau not small the lean is carried round: roll falls by 1 + (r tau)^2, and pitch gets r tau (small angles)."""
    rate, tau = 0.25, 4.0
    bench = Bench(courier())
    roll, pitch = level_for(bench, (0.0, 0.0, rate), (0.0, 0.004, -GRAVITY), 8000)
    lean = -0.004 / GRAVITY
    assert roll == pytest.approx(lean / (1.0 + (rate * tau) ** 2), rel=1e-2)
    assert pitch == pytest.approx(-rate * tau * roll, rel=1e-2)


def believe(bench: Bench, roll: float, pitch: float) -> None:
    """Put the estimates of attitude in, with their sines and cosines."""
    bench.put(at.ROLL_ESTIMATE, [roll, pitch])
    bench.put(at.ROLL_TURN, [sin(roll), cos(roll)])
    bench.put(at.PITCH_TURN, [sin(pitch), cos(pitch)])


# Height


def true_height(bench: Bench, roll: float, pitch: float, above: float, readings: Callable[[int, np.ndarray], float]) -> float:
    """Put an attitude and the rangefinders' readings in; returns the reference point's true height over flat water."""
    turned = rotation(roll, pitch, 0.0)
    believe(bench, roll, pitch)
    for i in range(int(bench.counts.rangefinders)):
        bench.put(at.RANGE_LAST + i, readings(i, turned))
    return above - (turned @ [0.0, 0.0, bench.get(at.KEEL)])[2]


@pytest.mark.parametrize(
    ("layout", "count"), [("bow", 1), ("across-bow", 2), ("across-bow", 3), ("over-foils", 3), ("over-foils", 4)]
)
@pytest.mark.parametrize("combine", ["mean", "vote", "plane"])
def test_over_flat_water_height_is_exact_at_any_attitude(combine: str, layout: str, count: int) -> None:
    values = {
        "rangefinders.count": count,
        "rangefinders.layout": layout,
        "control.combine": combine,
        "rangefinders.height": 0.02,
    }
    bench = Bench(changed(courier(), values))
    draws = np.random.default_rng(3)
    for _ in range(20):
        roll, pitch, above = draws.uniform(-0.6, 0.6), draws.uniform(-0.6, 0.6), draws.uniform(0.3, 0.6)

        def distance(i: int, turned: np.ndarray, above: float = above) -> float:
            return float((above - (turned @ bench.get(at.RANGE_PLACE, further=i * at.RANGE_PLACE.width))[2]) / turned[2, 2])

        wanted = true_height(bench, roll, pitch, above, distance)
        assert measure_height(bench.flat, 0, count) == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_a_vote_is_the_median_and_a_mean_the_mean_of_those_that_read(count: int) -> None:
    values = {"rangefinders.count": count, "rangefinders.layout": "over-foils"}
    draws = np.random.default_rng(count)
    for missing in range(count):
        readings = draws.uniform(0.05, 0.5, count)
        readings[:missing] = np.nan
        if missing == 0:
            readings[0] = readings[1]  # a tie
        for combine, wanted in (("vote", np.nanmedian(readings)), ("mean", np.nanmean(readings))):
            bench = Bench(changed(courier(), values | {"control.combine": combine}))
            bench.put(at.RANGE_LAST, readings)
            believe(bench, 0.0, 0.0)
            assert measure_height(bench.flat, 0, count) == pytest.approx(wanted, abs=1e-15)


def test_before_the_first_reading_there_is_no_height() -> None:
    assert np.isnan(measure_height(Bench(courier()).flat, 0, 1))


def test_a_plane_is_read_at_the_centre_of_gravity() -> None:
    """Level craft over water that slopes both ways: three rangefinders over the foils know it where there is none."""
    bench = Bench(
        changed(courier(), {"rangefinders.count": 3, "rangefinders.layout": "over-foils", "control.combine": "plane"})
    )
    places = [bench.get(at.RANGE_PLACE, further=i * at.RANGE_PLACE.width) for i in range(3)]
    believe(bench, 0.0, 0.0)
    bench.put(at.RANGE_LAST, [0.10 - (0.01 + 0.08 * x - 0.15 * y) for x, y, _ in places])
    assert measure_height(bench.flat, 0, 3) == pytest.approx(0.10 - 0.01, abs=1e-12)
    mean = Bench(changed(courier(), {"rangefinders.count": 3, "rangefinders.layout": "over-foils"}))
    believe(mean, 0.0, 0.0)
    mean.put(at.RANGE_LAST, [0.10 - (0.01 + 0.08 * x - 0.15 * y) for x, y, _ in places])
    assert abs(measure_height(mean.flat, 0, 3) - 0.09) > 5e-4


@pytest.mark.parametrize("count", [1, 2])
def test_what_spans_no_plane_is_a_mean(count: int) -> None:
    """One or two rangefinders know the height of flat water, asked for a plane or not."""
    craft = changed(courier(), {"rangefinders.count": count, "rangefinders.layout": "across-bow", "control.combine": "plane"})
    bench = Bench(craft)
    believe(bench, 0.0, 0.0)
    bench.put(at.RANGE_LAST, [0.11] * count)
    assert measure_height(bench.flat, 0, count) == pytest.approx(0.11 - craft.rangefinders.height, abs=1e-12)


def test_upward_acceleration_is_nothing_at_rest_at_any_attitude() -> None:
    bench = Bench(courier())
    for roll, pitch in ((0.0, 0.0), (0.4, -0.3), (-0.5, 0.6)):
        believe(bench, roll, pitch)
        bench.put(at.FORCE_READING, at_rest(roll, pitch))
        assert upward(bench.flat, 0) == pytest.approx(0.0, abs=1e-12)
        rising = rotation(roll, pitch, 0.0).T @ [0.0, 0.0, -(GRAVITY + 2.0)]
        bench.put(at.FORCE_READING, rising)
        assert upward(bench.flat, 0) == pytest.approx(2.0, abs=1e-12)


def follow(
    craft: Craft, measured: Callable[[float], float], acceleration: Callable[[float], float], length: float, age: int = 0
) -> np.ndarray:
    """The fused estimate of height and rate over time, (ticks, 2); age: ticks by which it takes what is measured to be old."""
    bench = Bench(craft)
    bench.put(at.HEIGHT_ESTIMATE, [0.0] * at.HEIGHT_TICKS)
    bench.put(at.KNOWN_AGE, age)
    out = []
    for n in range(round(length / PERIOD)):
        t = n * PERIOD
        rate = estimate_height(bench.flat, 0, measured(t), acceleration(t), True, PERIOD)
        out.append((bench.get(at.HEIGHT_ESTIMATE), rate))
    return np.array(out)


@pytest.mark.parametrize(("corner", "bias", "cost"), [(0.3, 0.03, 0.33), (2.5, 0.03, 0.0048), (1.0, -0.1, -0.1)])
def test_an_accelerometer_s_bias_costs_itself_over_the_corner_squared(corner: float, bias: float, cost: float) -> None:
    craft = changed(courier(), {"control.corner": corner})
    height, rate = follow(craft, lambda t: 0.0, lambda t: bias, 25.0 / corner)[-1]
    assert height == pytest.approx(bias / corner**2, rel=1e-3)
    assert bias / corner**2 == pytest.approx(cost, rel=0.02)
    # a constant height has no rate; what the bias pushes, the rangefinder takes back
    assert rate == pytest.approx(-1.4 * corner * (0.0 - height), rel=2e-2)


@pytest.mark.parametrize("ratio", [0.1, 0.5, 1.0, 2.0, 8.0])
def test_the_rangefinder_alone_passes_a_second_order_low_pass(ratio: float) -> None:
    """(2 zeta w s + w^2) / (s^2 + 2 zeta w s + w^2) with zeta 0.7: size and lag at a frequency."""
    corner = 1.5
    omega = ratio * corner
    s = 1j * omega
    wanted = (1.4 * corner * s + corner**2) / (s**2 + 1.4 * corner * s + corner**2)
    craft = changed(courier(), {"control.corner": corner})
    length = 20.0 + 4.0 * pi / omega
    times = np.arange(round(length / PERIOD)) * PERIOD
    height = follow(craft, lambda t: sin(omega * t), lambda t: 0.0, length)[:, 0]
    window = times > length - 2.0 * pi / omega  # one period
    found = 2.0 * np.mean(height[window] * np.exp(-1j * omega * (times[window] + PERIOD))) * 1j
    assert abs(found - wanted) < 0.03


def test_above_the_corner_the_accelerometer_rules() -> None:
    """A heave of 2 Hz that the rangefinder does not see at all comes through whole."""
    omega = 4.0 * pi
    craft = changed(courier(), {"control.corner": 0.5})
    height = follow(craft, lambda t: 0.0, lambda t: -0.05 * omega**2 * sin(omega * t), 40.0)[-200:, 0]
    assert np.ptp(height) / 2.0 == pytest.approx(0.05, rel=0.02)


@pytest.mark.parametrize("corner", [1.0, 4.0, 10.0])
def test_readings_that_are_known_to_be_old_disturb_no_right_estimate(corner: float) -> None:
    """A heave of 0.8 Hz read 80 ms late: taken for what it is, height and rate stay right; taken for new, they go wrong."""
    omega, late = 1.6 * pi, 0.08
    craft = changed(courier(), {"control.corner": corner})

    def height(t: float) -> float:
        return 0.05 * sin(omega * t)

    def follow_it(age: int) -> float:
        found = follow(craft, lambda t: height(t - late), lambda t: -0.05 * omega**2 * sin(omega * t), 20.0, age)[-400:, 0]
        times = (np.arange(1600, 2000) + 1) * PERIOD
        return float(np.abs(found - 0.05 * np.sin(omega * times)).max())

    assert follow_it(8) < 0.0035  # what steps of a tick leave
    assert follow_it(0) > 1.8 * follow_it(8)


@pytest.mark.parametrize("age", [0, 1, 8, 40])
@pytest.mark.parametrize("corner", [1.0, 10.0])
def test_it_is_the_filter_run_late_and_carried_on_to_now(corner: float, age: int) -> None:
    """The same filter on readings and accelerations of that time, then dead reckoning to now; stable however old they are."""
    draws = np.random.default_rng(age)
    measured, felt = draws.normal(0.0, 0.02, 1500), draws.normal(0.0, 1.0, 1500)
    craft = changed(courier(), {"control.corner": corner})
    found = follow(craft, lambda t: measured[round(t / PERIOD)], lambda t: felt[round(t / PERIOD)], len(measured) * PERIOD, age)
    before = np.concatenate([np.zeros(age), felt])  # what was felt that many ticks before
    height = rate = 0.0
    for n in range(len(measured)):
        off = measured[n] - height
        height += PERIOD * (rate + 1.4 * corner * off)
        rate += PERIOD * (before[n] + corner**2 * off)
        now, climb = height, rate
        for tick in range(n + 1, n + 1 + age):
            now += PERIOD * climb
            climb += PERIOD * before[tick]
        assert found[n] == pytest.approx([now, climb], abs=1e-9)
    assert np.abs(found).max() < 2.0


def test_the_rate_of_a_steady_climb_is_its_slope() -> None:
    bench = Bench(courier())
    found = [estimate_height(bench.flat, 0, RIDE + 0.05 * n * PERIOD, 0.0, False, PERIOD) for n in range(200)]
    assert found[-1] == pytest.approx(0.05, rel=1e-6)
    assert found[8] == pytest.approx(0.05 * (1.0 - (1.0 - PERIOD / 0.08) ** 8), abs=2e-3)  # and grows with the smoothing, 80 ms
    held = bench.get(at.HEIGHT_ESTIMATE)
    estimate_height(bench.flat, 0, float("nan"), 0.0, False, PERIOD)
    assert bench.get(at.HEIGHT_ESTIMATE) == held

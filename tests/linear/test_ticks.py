"""The closed loop from tick to tick beside python-control, its own frequency response, and released flights."""

from __future__ import annotations

from itertools import pairwise

import control
import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from sweep.campaign.addresses import value_at
from sweep.campaign.craft import Craft
from sweep.linear.craft import LinearCraft, with_servos
from sweep.linear.plant import MOTION, moving
from sweep.linear.sensing import known_ages
from sweep.linear.table import loop_margins
from sweep.linear.ticks import closed_loop, eigenvalues, modes, settles
from sweep.model import layout as at
from sweep.model.flight import History, run_lanes, start_lanes
from sweep.model.history import RECORDED
from tests.linear.crafts import LAWS, courier, linear, linear_of, shipped
from tests.model.crafts import Floats, calm, fleet_of, silent, with_foils


def by_python_control(craft: LinearCraft) -> Floats:
    """Poles, per tick, of the same matrices put together by python-control; the rangefinder's latency whole ticks."""
    moved, code, period = with_servos(craft), craft.code, craft.period
    measured = np.vstack([moved.direct, moved.held])
    plant = control.ss(moved.a, moved.b, measured, np.zeros((len(measured), moved.b.shape[1])))
    sampled = control.sample_system(plant, period, "zoh")
    commands = moved.b.shape[1]
    late = control.ss(
        np.zeros((commands - 1, commands - 1)),
        np.eye(commands)[:-1],
        np.eye(commands)[:, :-1],
        np.diag(np.eye(commands)[-1]),
        period,
    )
    waited = [control.tf([1.0], [1.0], period)] * len(moved.direct)
    for ages, rate in (
        (craft.sensing.range_ages[0], None),
        (craft.sensing.navigation_ages, None),
        (craft.sensing.navigation_ages, 1),
    ):
        ticks = np.round(ages.ages / period).astype(int)
        assert ages.ages == pytest.approx(ticks * period)
        before = round(craft.sensing.navigation_period / period) if rate else 0
        taps = np.zeros(ticks.max() + before + 1)
        taps[ticks] += ages.shares
        if rate:
            taps[ticks + before] -= ages.shares
            taps /= craft.sensing.navigation_period
        kept = control.tf(taps, [1.0] + [0.0] * (len(taps) - 1), period)
        waited += [kept] * (2 if (rate is None and ages is craft.sensing.navigation_ages) else 1)
    known = control.append(*[control.tf2ss(each) for each in waited])
    brain = control.ss(code.a, code.b, code.c, code.d, period)
    return np.asarray(control.feedback(control.series(late, sampled, known), brain, sign=1).poles())


@pytest.mark.parametrize("law", LAWS)
def test_modes_as_python_control_has_them(law: str) -> None:
    """Every mode of which a thousandth is left after a tick; a command delay of one tick, as the courier has."""
    craft = linear(law, 5.0)
    assert craft.delay == craft.period
    ours, theirs = np.exp(eigenvalues(craft) * craft.period), by_python_control(craft)
    ours = ours[np.abs(ours) > 0.02]
    assert np.abs(ours[:, None] - theirs).min(axis=1).max() < 1e-6
    most = theirs[np.abs(theirs) > 0.02]
    neutral = np.abs(most - 1.0) < 1e-9  # integrals without gain
    assert np.abs(most[~neutral][:, None] - ours).min(axis=1).max() < 1e-6


def scaled(craft: Craft, loop: str, factor: float) -> Craft:
    gains = {address: factor * value_at(craft, address) for address in craft.control.gains_of(loop)}
    return courier(craft.control.law, **{address.replace(".", "__"): value for address, value in gains.items()})


@pytest.mark.parametrize("law", LAWS)
def test_modes_and_gain_margins_agree(law: str) -> None:
    """A loop's gains 2 % short of its margin are stable, 2 % past it not: one from tick to tick, one over frequency."""
    for loop, margin in loop_margins(linear(law, 4.0)).items():
        for share, stable in ((0.98, True), (1.02, False)):
            found = eigenvalues(linear_of(scaled(courier(law), loop, share * margin.gain), 4.0))
            assert (found[0].real < 0.0) == stable, (loop, share)


FOUR = {
    "port": {"x": 0.25, "y": -0.17},
    "starboard": {"x": 0.25, "y": 0.17, "area": 35e-4, "mounting": "fixed"},
    "aft-port": {"x": -0.35, "y": -0.15, "area": 40e-4},
    "aft-starboard": {"x": -0.35, "y": 0.15, "area": 40e-4},
}


@pytest.mark.parametrize("law", LAWS)
def test_where_a_fixed_foil_stands_in_the_file_changes_no_mode(law: str) -> None:
    """A file's order is no physics. It is stable, as its flights are, wherever the fixed foil is named."""
    modes = []
    for first in range(len(FOUR)):
        names = ["port", "aft-port", "aft-starboard"]
        names.insert(first, "starboard")
        found = eigenvalues(linear_of(with_foils(courier(law), {name: FOUR[name] for name in names}), 4.0))
        modes.append(found[np.abs(found) < 100.0])
        assert found[0].real < 1e-6
    for other in modes[1:]:
        assert np.abs(other[:, None] - modes[0]).min(axis=1).max() < 1e-4


def test_a_delay_of_part_of_a_tick_is_between_those_of_whole_ticks() -> None:
    """Less than whole ticks either side would differ: a third of a tick moves the pitch mode by a third."""
    modes = [eigenvalues(linear_of(courier(control__delay=0.01 + share * 0.01), 4.0)) for share in (0.0, 1 / 3, 1.0)]
    first, third, last = (found[np.argmax((np.abs(found.imag) > 30) * 100 + found.real)].real for found in modes)
    assert last - first > 0.2
    assert (third - first) / (last - first) == pytest.approx(1 / 3, abs=0.1)


def test_ages_of_readings() -> None:
    """20 Hz and 60 ms beside 100 Hz: 60 to 100 ms, each as often; two sensors by turns: to 150 ms; 37 Hz by the mean."""
    one, two = known_ages(20.0, 0.06, 0.01, 0.01, 1, 0), known_ages(20.0, 0.06, 0.01, 0.01, 2, 0)
    assert one.ages == pytest.approx(np.arange(6, 11) * 0.01)
    assert one.shares == pytest.approx([0.2] * 5)
    assert two.ages == pytest.approx(np.arange(6, 16) * 0.01)
    odd = known_ages(37.0, 0.05, 0.01, 0.005, 1, 0)
    assert odd.mean == pytest.approx(0.05 + 0.5 / 37.0, abs=0.003)
    assert odd.ages.min() >= 0.05 - 0.005
    assert odd.ages.max() <= 0.05 + 1 / 37.0 + 0.01


def released(craft: Craft, speed: float, change: Floats, length: float, dt: float | None = None) -> tuple[float, Floats]:
    """Step, and time history from trim plus a change of MOTION, calm water: half the difference of pushing either way."""
    fleet = fleet_of(craft, speed, step=dt)
    structure, block = fleet.structure, silent(calm(length, 0.0))
    steps = round(length / structure.step)
    lanes = start_lanes(fleet)
    slots = lanes.workspace.reshape(-1, lanes.commands.shape[-1])
    slots[moving(at.STATE), 0] += change
    slots[moving(at.STATE), 1] -= change
    record = np.full((steps, len(RECORDED) + structure.foils, slots.shape[1]), np.nan)
    run_lanes(fleet, block, lanes, History(record, 1), precise=True)  # rounding in single precision pushes too
    return structure.step, 0.5 * (record[:, :, 0] - record[:, :, 1])


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("speed", [3.0, 4.0, 6.0])
def test_a_released_craft_settles_as_its_linear_companion_says(law: str, speed: float) -> None:
    """Pitch, roll and heading over two seconds from a push of all of them: within 2 % of the push.

    With headings read at every tick: in one flight slower ones come at one phase of their hold, in the companion at the mean.
    """
    craft = courier(law, navigation__rate=100.0)
    push = np.zeros(10)
    push[[MOTION.index(name) for name in ("phi", "theta", "psi")]] = 0.004, 0.004, 0.01
    step, flown = released(craft, speed, push, 2.0)
    companion = linear_of(craft, speed)
    matrix = closed_loop(companion)
    state = np.zeros(len(matrix))
    state[:10] = push
    ours = [state]
    for _ in range(round(2.0 / companion.period)):
        ours.append(matrix @ ours[-1])
    ticks = np.arange(len(ours)) * companion.period
    times = (np.arange(len(flown)) + 0.5) * step
    for name, column in (("theta", "pitch"), ("phi", "roll"), ("psi", "heading")):
        expected = CubicSpline(ticks, np.array(ours)[:, MOTION.index(name)])(times)
        off = flown[:, RECORDED.index(column)] - expected
        assert np.abs(off).max() < 0.02 * np.abs(push[MOTION.index(name)]), name


def rings(signal: Floats, step: float) -> tuple[float, float]:
    """Growth (1/s) and frequency (rad/s) of the fast swing in a signal, by the zeros of its second derivative."""
    turned = np.diff(signal, 2)
    at_zero = np.flatnonzero(turned[1:] * turned[:-1] < 0)
    zeros = at_zero + turned[at_zero] / (turned[at_zero] - turned[at_zero + 1])
    peaks = np.array([np.abs(turned[a + 1 : b + 1]).max() for a, b in pairwise(at_zero)])
    half = np.diff(zeros).mean() * step
    return float(np.polyfit(np.arange(len(peaks)) * half, np.log(peaks), 1)[0]), float(np.pi / half)


@pytest.mark.parametrize("speed", [6.75, 7.75])
def test_the_least_damped_swing_of_a_flight(speed: float) -> None:
    """The pitch mode just under and over the courier's limit: growth within 0.25 1/s, frequency within 2 %."""
    push = np.zeros(10)
    push[MOTION.index("theta")] = 2e-4
    step, flown = released(shipped("courier"), speed, push, 2.0, 0.001)
    growth, frequency = rings(flown[round(0.5 / step) :, RECORDED.index("pitch")], step)
    found = eigenvalues(linear("level-and-height", speed))
    mode = found[np.argmin(np.abs(found - 1j * frequency))]
    assert frequency == pytest.approx(mode.imag, rel=0.02)
    assert growth == pytest.approx(mode.real, abs=0.25)
    assert (growth > 0.0) == (speed > 7.5)


@pytest.mark.parametrize(("loop", "motion"), [("pitch", "nose up and down"), ("roll", "rolling")])
def test_a_mode_is_named_after_the_motion_whose_loop_drives_it(loop: str, motion: str) -> None:
    """Near the most gain that a loop bears, the swing that is about to grow is of what that loop turns."""
    margin = loop_margins(linear("level-and-height", 4.0))[loop].gain
    found = modes(linear_of(scaled(courier("level-and-height"), loop, 0.98 * margin), 4.0))
    assert max(found, key=lambda mode: mode.rate.real if mode.rate.imag > 3.0 else -np.inf).motion == motion
    assert [mode.rate.real for mode in found] == sorted((mode.rate.real for mode in found), reverse=True)


def test_the_swing_that_a_flight_pitches_in_is_named_so() -> None:
    found = [mode for mode in modes(linear("level-and-height", 7.75)) if mode.rate.real > 0.0 and mode.rate.imag > 0.0]
    assert {mode.motion for mode in found} == {"nose up and down"}


@pytest.mark.parametrize("seed", range(12))
def test_motions_fade_as_numpys_eigenvalues_say(seed: int) -> None:
    random = np.random.default_rng(seed)
    matrix = random.normal(size=(40, 40)) * 10.0 ** random.uniform(-3.0, 3.0, 40)  # far from normal: some motions grow first
    matrix /= np.abs(np.linalg.eigvals(matrix)).max()
    for radius in (0.3, 0.99, 1.0 - 1e-5, 1.0 + 1e-5, 1.01, 3.0):
        assert settles(radius * matrix) == (radius < 1.0)
    assert not settles(np.array([[0.0, 1.0], [-1.0, 0.0]]) * (1.0 + 1e-9))
    assert settles(np.zeros((3, 3)))

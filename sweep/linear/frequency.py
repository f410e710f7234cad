"""The closed loop in the frequency domain, its delays and holds exact, with the aliases of the rangefinders' sampling."""

from __future__ import annotations

from math import ceil
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweep.linear.craft import LinearCraft, Moved, with_servos
from sweep.linear.differences import Complexes, Floats
from sweep.linear.sensing import Ages

STANDING = 1e-6  # rad/s: the slowest; integrals have no finite response to a constant (judgement)
FOLDS = 3.0  # times half the control rate: aliases from further away are small (judgement)


class Motion(NamedTuple):
    """Complex amplitudes of states, commands and rangefinders, one row a frequency (rad/s)."""

    frequency: Floats
    states: Complexes
    commands: Complexes
    ranges: Complexes


def loop_gains(craft: LinearCraft, frequency: Floats) -> Complexes:
    """The loop response: what returns of a command, sign turned, all other loops closed: (frequencies, loops) as `Code.loops`.

    frequency: rad/s, above 0 and under half the control rate. Of sensitivity S at a command, 1 / S - 1.
    """
    moved = with_servos(craft)
    there = _of_commands(craft, moved, frequency)[1]
    returned = _code(craft, frequency) @ there
    sensitivity: Complexes = np.diagonal(np.linalg.inv(np.eye(returned.shape[-1]) - returned), axis1=1, axis2=2)
    gains: Complexes = 1.0 / sensitivity[:, :-1] - 1.0
    return gains


def respond(craft: LinearCraft, frequency: Floats, water: Complexes, feet: Complexes) -> Motion:
    """The craft moved by the water, loops closed.

    frequency: of encounter, rad/s, either sign, not 0; water: (frequencies, points, 4), elevation (m) and velocity (m/s) at
    the points of the plant; feet: (frequencies, rangefinders), elevation that each sees, m.
    """
    moved = with_servos(craft)
    by_commands, there = _of_commands(craft, moved, frequency)
    push = np.einsum("spi,wpi->ws", moved.waves, water)
    alone: Complexes = np.linalg.solve(_resolvent(moved, frequency), push[:, :, None])[:, :, 0]
    direct = alone @ moved.direct.T
    direct[:, -6:] += push[:, 4:10]
    held = alone @ moved.held.T
    held[:, : feet.shape[1]] += feet * craft.sensing.by_water
    known = np.concatenate([direct, _held(craft, frequency) * held], axis=1)
    commands = _closed(craft, frequency, there, known)
    states = alone + (by_commands @ commands[:, :, None])[:, :, 0]
    sensors = feet.shape[1]
    ranges = states @ moved.held[:sensors].T + feet * craft.sensing.by_water
    return Motion(frequency, states, commands, ranges)


def sampled(craft: LinearCraft, motion: Motion) -> list[tuple[NDArray[np.intp], Motion]]:
    """What the rangefinders' sampling adds to a motion: the aliases of every frequency that the control code can follow.

    Pairs: which frequencies have the alias, and the motion at it. A reading that is held between samples contains the true
    frequency plus whole multiples of the sampling rate, folded by the rate of the control code. The aliases' own aliases are
    left out.
    """
    periods = np.array(craft.sensing.range_periods)
    return [pair for period in dict.fromkeys(periods.tolist()) for pair in _sampled(craft, motion, periods == period)]


def _sampled(craft: LinearCraft, motion: Motion, alike: NDArray[np.bool_]) -> list[tuple[NDArray[np.intp], Motion]]:
    """The aliases that the rangefinders of one rate add; alike: (rangefinders,), which these are."""
    sensing, highest = craft.sensing, np.pi / craft.period
    rate = 2.0 * np.pi / np.array(sensing.range_periods)[alike][0]
    lines = max(len(np.unique(ages.moments)) for ages in sensing.range_ages)  # as many before they come again
    reach = min(0.5 * lines * rate, FOLDS * highest)
    most = ceil((float(np.abs(motion.frequency).max()) + reach) / rate)
    found = []
    for multiple in range(-most, most + 1):
        away = motion.frequency + multiple * rate
        folded = (away + highest) % (2.0 * highest) - highest
        some = np.flatnonzero((away >= -reach) & (away < reach) & (np.abs(folded - motion.frequency) > STANDING))
        if some.size:
            found.append(
                (some, _alias(craft, motion.frequency[some], motion.ranges[some] * alike, multiple * rate, folded[some]))
            )
    return found


def _alias(craft: LinearCraft, true: Floats, ranges: Complexes, away: float, folded: Floats) -> Motion:
    """The motion at a folded frequency, so far (rad/s) away from the ranges' true one, which excites it."""
    moved, sensing = with_servos(craft), craft.sensing
    turns = away * np.array(sensing.range_periods) / len(sensing.range_periods)
    frequency = np.where(np.abs(folded) < STANDING, STANDING, folded)
    by_commands, there = _of_commands(craft, moved, frequency)
    sensors, first = ranges.shape[1], len(moved.direct)
    share = np.column_stack(
        [np.exp(-1j * true[:, None] * own.ages - 1j * away * own.moments) @ own.shares for own in sensing.range_ages]
    )
    known: Complexes = np.zeros(there.shape[:2], dtype=complex)
    known[:, first : first + sensors] = ranges * share * np.exp(-1j * turns * np.arange(sensors))
    commands = _closed(craft, frequency, there, known)
    states = (by_commands @ commands[:, :, None])[:, :, 0]
    return Motion(frequency, states, commands, states @ moved.held[:sensors].T)


def _closed(craft: LinearCraft, frequency: Floats, there: Complexes, known: Complexes) -> Complexes:
    """(frequencies, commands) by what is known without them; there: what they add to it."""
    code = _code(craft, frequency)
    result: Complexes = np.linalg.solve(np.eye(code.shape[1]) - code @ there, code @ known[:, :, None])[:, :, 0]
    return result


def _resolvent(moved: Moved, frequency: Floats) -> Complexes:
    s = 1j * frequency[:, None, None]
    result: Complexes = s * np.eye(len(moved.a)) - moved.a
    return result


def _of_commands(craft: LinearCraft, moved: Moved, frequency: Floats) -> tuple[Complexes, Complexes]:
    """(frequencies, states or known, commands): response to a command that is held for a tick and delayed."""
    half = 0.5 * craft.period
    hold = np.sinc(frequency * half / np.pi) * np.exp(-1j * frequency * half)
    late = np.full((len(frequency), moved.b.shape[1]), hold[:, None])
    late[:, :-1] *= np.exp(-1j * frequency * craft.delay)[:, None]
    states = np.linalg.solve(_resolvent(moved, frequency), moved.b[None] * late[:, None, :])
    held = _held(craft, frequency)[:, :, None] * (moved.held @ states)
    return states, np.concatenate([moved.direct @ states, held], axis=1)


def _held(craft: LinearCraft, frequency: Floats) -> Complexes:
    """(frequencies, held readings): the factor by which their age delays them."""
    sensing = craft.sensing
    ranges = [_aged(ages, frequency) for ages in sensing.range_ages]
    navigation = _aged(sensing.navigation_ages, frequency)
    turned = (1.0 - np.exp(-1j * frequency * sensing.navigation_period)) / sensing.navigation_period
    return np.column_stack([*ranges, navigation, navigation, navigation * turned])


def _aged(ages: Ages, frequency: Floats) -> Complexes:
    result: Complexes = np.exp(-1j * frequency[:, None] * ages.ages) @ ages.shares
    return result


def _code(craft: LinearCraft, frequency: Floats) -> Complexes:
    """(frequencies, commands, known): the control code's own response."""
    code = craft.code
    z: Complexes = np.exp(1j * frequency * craft.period)[:, None, None]
    remembered: Complexes = np.linalg.solve(z * np.eye(len(code.a)) - code.a, code.b[None].repeat(len(frequency), axis=0))
    result: Complexes = code.c @ remembered + code.d
    return result

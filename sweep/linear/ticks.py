"""The closed loop from one control tick to the next: its eigenvalues. Holds of commands are exact, delays whole or not."""

from __future__ import annotations

from math import floor
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweep.linear.craft import LinearCraft, with_servos
from sweep.linear.differences import Complexes, Floats
from sweep.linear.exponential import exponential
from sweep.linear.plant import MOTION
from sweep.linear.sensing import Ages

GONE = 1e-9  # a mode of which less is left after one tick is a delay, not a motion (judgement)
TURNED = 0.3  # m from the centre of gravity, where a turn counts as far as it moves (judgement)
LEAST_RATE = 0.01  # 1/s (judgement)
SQUARINGS = 45  # of a tick: beyond any motion's time; rounding decides what is still open then (judgement)


def closed_loop(craft: LinearCraft) -> Floats:
    """The matrix of one control tick: for the craft, its servos, commands and readings under way, and the code's memory.

    A reading that is held between its samples is the mean over the ages that it may have, each between two whole ticks. The
    states of `with_servos` come first, then commands under way, past readings, and the code's memory.
    """
    moved, code = with_servos(craft), craft.code
    fade, (newer, older), lag = _over_a_tick(craft)
    weights = _weights(craft)
    sent, kept = lag + 1, weights.shape[1] - 1
    commands = moved.b.shape[1] - 1
    n, readings, memory = len(moved.a), len(moved.held), len(code.a)
    size = n + sent * commands + kept * readings + memory
    ends = np.cumsum([n, sent * commands, kept * readings])
    state, ways, held, remembered = np.split(np.eye(size), ends)
    queue = ways.reshape(sent, commands, size)
    past = held.reshape(kept, readings, size)

    seen = np.concatenate([(moved.held @ state)[None], past])
    known = np.concatenate([moved.direct @ state, np.einsum("rk,krs->rs", weights, seen)])
    sending = code.c @ remembered + code.d @ known
    queue = np.concatenate([sending[None, :-1], queue])
    state = fade @ state + newer[:, :-1] @ queue[lag] + older[:, :-1] @ queue[lag + 1] + (newer + older)[:, -1:] @ sending[-1:]
    parts = [state, queue[:-1].reshape(-1, size), seen[:-1].reshape(-1, size), code.a @ remembered + code.b @ known]
    return np.concatenate(parts)


class Mode(NamedTuple):
    """A way in which the boat moves by itself: its rate, 1/s, and where it shows most, in words."""

    rate: complex
    motion: str


def modes(craft: LinearCraft) -> list[Mode]:
    """All modes as `eigenvalues` has them, each with the motion in which it shows most.

    A turn counts by how far it moves what is `TURNED` away, a speed by how far it goes within the mode's own time.
    """
    matrix = closed_loop(craft)
    kept = np.flatnonzero(felt(matrix))
    found, shapes = np.linalg.eig(matrix[np.ix_(kept, kept)])
    real = np.abs(found) > GONE
    rates = np.log(found[real].astype(complex)) / craft.period
    order = np.argsort(-rates.real, kind="stable")
    whole = np.zeros((len(matrix), len(rates)), dtype=complex)
    whole[kept] = shapes[:, real]
    return [Mode(complex(rates[at]), _motion(rates[at], np.abs(whole[: len(MOTION), at]))) for at in order]


def _motion(rate: complex, shape: Floats) -> str:
    """shape: how far each state of MOTION goes."""
    part = dict(zip(MOTION, shape.tolist(), strict=True))
    time = 1.0 / max(abs(rate), LEAST_RATE)
    shown = {
        "up and down": part["Z"],
        "nose up and down": TURNED * part["theta"],
        "rolling": TURNED * part["phi"],
        "off its course": max(TURNED * part["psi"], time * part["v"]),
        "faster and slower": time * part["u"],
    }
    return max(shown, key=lambda name: shown[name])


def eigenvalues(craft: LinearCraft) -> Complexes:
    """Rates of all modes of the closed loop, 1/s, the slowest-fading (or fastest-growing) first.

    Left out: states that nothing depends on and that stay as they are (a heading without a rudder), integrals without gain.
    """
    matrix = closed_loop(craft)
    kept = felt(matrix)
    found = np.linalg.eigvals(matrix[np.ix_(kept, kept)]).astype(complex)
    rates = np.log(found[np.abs(found) > GONE]) / craft.period
    result: Complexes = rates[np.argsort(-rates.real, kind="stable")]
    return result


def stable(craft: LinearCraft) -> bool:
    """Whether all motions of the closed loop fade, of those that `eigenvalues` tells."""
    matrix = closed_loop(craft)
    kept = felt(matrix)
    return settles(matrix[np.ix_(kept, kept)])


def settles(matrix: Floats) -> bool:
    """Whether all motions of a closed loop fade; matrix: of one tick, what `felt` leaves of it.

    By its powers, in a third of the time of eigenvalues: a norm of one under 1 proves that they fade; a trace is the sum of the
    eigenvalues, so that one over the number of states proves that they do not (Horn & Johnson 2013, 5.6).
    """
    power = matrix
    for _ in range(SQUARINGS):
        if np.abs(power).sum(axis=1).max() < 1.0:
            return True
        if not abs(np.trace(power)) <= len(power):
            return False
        power = power @ power
    return bool(np.abs(np.linalg.eigvals(matrix)).max() < 1.0)


def _over_a_tick(craft: LinearCraft) -> tuple[Floats, tuple[Floats, Floats], int]:
    """Over a tick: effect of the state, of the command `lag` ticks old, and of the one before it."""
    moved = with_servos(craft)
    lag = floor(craft.delay / craft.period + 1e-9)
    late = max(craft.delay - lag * craft.period, 0.0)
    left, ended = _hold(moved.a, moved.b, craft.period - late)
    if late == 0.0:  # the usual delay is a whole number of ticks
        return left, (ended, np.zeros_like(ended)), lag
    begun, fed = _hold(moved.a, moved.b, late)
    return left @ begun, (ended, left @ fed), lag


def _hold(a: Floats, b: Floats, time: float) -> tuple[Floats, Floats]:
    """State and effect of a constant input after a time (s), exactly (Van Loan 1978)."""
    n, inputs = b.shape
    both = np.zeros((n + inputs, n + inputs))
    both[:n, :n], both[:n, n:] = a * time, b * time
    moved = exponential(both)
    return moved[:n, :n], moved[:n, n:]


def _weights(craft: LinearCraft) -> Floats:
    """(held readings, ticks): share of the reading of each whole number of ticks ago in what the code knows."""
    sensing = craft.sensing
    before = sensing.navigation_ages.later(sensing.navigation_period)
    found = [_spread(ages, craft.period) for ages in (*sensing.range_ages, sensing.navigation_ages, before)]
    longest = max(map(len, found))
    *ranges, now, then = (np.pad(weights, (0, longest - len(weights))) for weights in found)
    return np.array([*ranges, now, now, (now - then) / sensing.navigation_period])


def _spread(ages: Ages, period: float) -> Floats:
    """Shares of ages by whole ticks; one between two ticks is shared by them, so that the mean stays."""
    ticks = ages.ages / period
    whole = np.floor(ticks + 1e-6).astype(int)
    over = np.maximum(ticks - whole, 0.0)
    weights: Floats = np.zeros(whole.max() + 2)
    np.add.at(weights, whole, ages.shares * (1.0 - over))
    np.add.at(weights, whole + 1, ages.shares * over)
    return weights


def felt(matrix: Floats) -> NDArray[np.bool_]:
    """(states,): without those that nothing depends on and that stay or vanish, and those that nothing moves and that stay."""
    neutral = np.abs(np.diagonal(matrix) - 1.0) < 1e-12
    gone = np.diagonal(matrix) == 0.0
    linked = (matrix != 0.0).astype(np.float32)  # products of numbers are quicker than of bits
    np.fill_diagonal(linked, 0.0)
    kept = np.ones(len(matrix), dtype=bool)
    while True:
        heard, moved = kept @ linked > 0.0, linked @ kept > 0.0
        drop = kept & ((~heard & (neutral | gone)) | (~moved & neutral))
        if not drop.any():
            return kept
        kept &= ~drop

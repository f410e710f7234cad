"""A block: the sea's components and the sensors' noise that all designs meet in one condition and replicate."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.model.kernels import sea as column
from sweep.model.onboard.course import COLUMNS as LEG_COLUMNS
from sweep.model.onboard.faults import COLUMNS as FAULT_COLUMNS
from sweep.model.onboard.noise import NoiseTables, TickRates, draw_tables
from sweep.model.physics.waves import Sea

FASTEST_TICKS = 200.0  # Hz: no sensor or control code ticks faster ...
FASTEST_PINGS = 400.0  # ... but for the rangefinders all together


class Block(NamedTuple):
    """components: (waves, COLUMNS) as `sea` reads them; omegas, phases: (waves,), rad/s and rad; times in s.

    faults: (rows, columns), see `faults`; wind: of the air, along X and along Y, m/s;
    from_rest: the craft lies afloat until `settle`, then takes off; course: (legs, columns), see `course`.
    """

    components: np.ndarray
    omegas: np.ndarray
    phases: np.ndarray
    noise: NoiseTables
    length: float
    settle: float
    from_rest: bool = False
    faults: np.ndarray = np.zeros((0, FAULT_COLUMNS))
    wind: tuple[float, float] = (0.0, 0.0)
    course: np.ndarray = np.zeros((0, LEG_COLUMNS))


def make_block(sea: Sea, seed: int, content: str, replicate: int, length: float, settle: float) -> Block:
    """The block of a drawn sea. Its noise depends only on the seed, the content of the condition and the replicate.

    All designs fly through the same block. length, settle: s.
    """
    noise = draw_tables(seed, content, replicate, length, TickRates(FASTEST_PINGS, FASTEST_TICKS, FASTEST_TICKS))
    return Block(wave_table(sea), sea.omega, sea.phase, noise, length, settle)


def wave_table(sea: Sea) -> np.ndarray:
    """The components of a sea as the kernels read them, (waves, COLUMNS)."""
    table = np.zeros((len(sea.amplitude), column.COLUMNS))
    shallow = np.exp(-2.0 * sea.wave_number * sea.depth)
    table[:, column.AMPLITUDE] = sea.amplitude
    table[:, column.WAVE_X] = sea.kx
    table[:, column.WAVE_Y] = sea.ky
    table[:, column.WAVE_NUMBER] = sea.wave_number
    table[:, column.SURFACE_SPEED] = sea.amplitude * sea.omega
    table[:, column.TOWARDS_X] = sea.kx / sea.wave_number
    table[:, column.TOWARDS_Y] = sea.ky / sea.wave_number
    table[:, column.DEEP] = 1.0 / (1.0 - shallow)
    table[:, column.SHALLOW] = np.where(shallow < 1e-9, 0.0, shallow / (1.0 - shallow))
    return table

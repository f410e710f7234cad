"""A block: what all designs meet in one condition and replicate. The sea's components and the sensors' noise."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweep.model import sea as column
from sweep.model.faults import COLUMNS as FAULT_COLUMNS
from sweep.model.noise import NoiseTables, draw_tables, generator
from sweep.model.waves import Sea, SeaDescription, make_sea

FASTEST_TICKS = 200.0  # Hz: no sensor or control code ticks faster


class Block(NamedTuple):
    """components: (waves, COLUMNS) as `sea` reads them; omegas, phases: (waves,), rad/s and rad; times in s.

    faults: (rows, columns), see `faults`; wind: of the air, along X and along Y, m/s;
    from_rest: the craft lies afloat until `settle`, then takes off.
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


def draw_block(
    seed: int,
    content: str,
    replicate: int,
    description: SeaDescription,
    heading: float,
    depth: float,
    length: float,
    settle: float,
    from_rest: bool = False,
) -> Block:
    """Draw the sea (heading in rad, depth in m) and the noise of one replicate of a condition.

    Nothing but seed, content of the condition and replicate decides the draws: two designs meet the very same block.
    """
    sea = make_sea(description, heading, depth, generator(seed, content, replicate, "sea"))
    return make_block(sea, seed, content, replicate, length, settle)._replace(from_rest=from_rest)


def make_block(sea: Sea, seed: int, content: str, replicate: int, length: float, settle: float) -> Block:
    """The block of a drawn sea; its noise depends on seed, content of the condition and replicate alone."""
    noise = draw_tables(seed, content, replicate, length, FASTEST_TICKS, FASTEST_TICKS, FASTEST_TICKS)
    some = sea.amplitude > 0.0
    components = wave_table(sea)[some]
    return Block(components, sea.omega[some].copy(), sea.phase[some].copy(), noise, length, settle)


def wave_table(sea: Sea) -> np.ndarray:
    """The sea as the kernels read it, (waves, COLUMNS)."""
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

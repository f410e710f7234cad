"""The random numbers of a flight: generators keyed by content, and the sensors' noise tables.

No number depends on the design: all designs of a condition and replicate get the same draws. A number depends only on the
campaign's seed, the content of the condition, the replicate and the name of the stream. The order of the work and other
draws do not change it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from hashlib import blake2b
from math import ceil
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweep.model.physics.spectra import Floats


class NoiseTables(NamedTuple):
    """Draws per sensor tick: standard normals, except the uniforms in 0 ... 1. Biases are drawn once a flight."""

    range_normal: Floats  # (ticks,)
    range_uniform: Floats  # (ticks, 3): drop-out, spike, size of the spike
    gyro: Floats  # (ticks, 3) about x, y, z
    accelerometer: Floats  # (ticks, 3) along x, y, z
    gyro_bias: Floats  # (3,)
    accelerometer_bias: Floats  # (3,)
    speed: Floats  # (ticks,)
    heading: Floats  # (ticks,)


class TickRates(NamedTuple):
    """Highest tick rates of the sensors, Hz."""

    rangefinders: float = 100.0
    control: float = 100.0
    navigation: float = 100.0


USUAL_RATES = TickRates()


class LaneNoise(NamedTuple):
    """Noise tables stacked along a first axis. of_lane: index of the table that each lane uses."""

    range_normal: Floats  # (tables, ticks)
    range_uniform: Floats  # (tables, ticks, 3)
    gyro: Floats
    accelerometer: Floats
    gyro_bias: Floats  # (tables, 3)
    accelerometer_bias: Floats
    speed: Floats
    heading: Floats
    of_lane: NDArray[np.int64]  # (lanes,)


def side_by_side(tables: Sequence[NoiseTables], of_lane: NDArray[np.int64]) -> LaneNoise:
    """Stack tables of equal length. of_lane: index of the table that each lane uses."""
    return LaneNoise._make([*(np.stack(columns) for columns in zip(*tables, strict=True)), of_lane])


def generator(seed: int, content: str, replicate: int, stream: str) -> np.random.Generator:
    """The generator of one stream: Philox (Salmon et al. 2011), its 128-bit key a digest of the four arguments."""
    words = json.dumps([seed, content, replicate, stream]).encode()
    key = int.from_bytes(blake2b(words, digest_size=16).digest(), "little")
    return np.random.Generator(np.random.Philox(key=key))


def draw_tables(seed: int, content: str, replicate: int, length: float, rates: TickRates = USUAL_RATES) -> NoiseTables:
    """Draw the noise of one flight of `length` s, for sensors that tick no faster than `rates`; first tick at 0 s (M14.1).

    Every table has its own stream and is drawn tick by tick. The tables of a longer flight so begin with those of a shorter.
    """

    def normal(stream: str, *shape: int) -> Floats:
        return generator(seed, content, replicate, stream).standard_normal(shape)

    pings, readings, fixes = (ceil(length * rate) + 1 for rate in rates)
    return NoiseTables(
        range_normal=normal("rangefinder", pings),
        range_uniform=generator(seed, content, replicate, "rangefinder faults").random((pings, 3)),
        gyro=normal("gyro", readings, 3),
        accelerometer=normal("accelerometer", readings, 3),
        gyro_bias=normal("gyro bias", 3),
        accelerometer_bias=normal("accelerometer bias", 3),
        speed=normal("speed", fixes),
        heading=normal("heading", fixes),
    )

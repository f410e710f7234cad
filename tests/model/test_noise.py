"""Noise tables: keyed by content, the same for every design, growing at the end, and truly standard."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from sweep.model.onboard.noise import NoiseTables, TickRates, draw_tables, generator

TABLES = draw_tables(7, "chop 4 cm, head, 4 m/s", 0, length=120.0)
BIASES = ("gyro_bias", "accelerometer_bias")
NORMALS = ("range_normal", "gyro", "accelerometer", "speed", "heading")


def test_the_same_words_give_the_same_noise() -> None:
    again = draw_tables(7, "chop 4 cm, head, 4 m/s", 0, length=120.0)
    assert all(np.array_equal(a, b) for a, b in zip(TABLES, again, strict=True))


def test_every_word_of_the_key_counts() -> None:
    """The last pair: words that would run together if they were only strung together."""
    keys = [
        (7, "a", 0, "s"),
        (8, "a", 0, "s"),
        (7, "b", 0, "s"),
        (7, "a", 1, "s"),
        (7, "a", 0, "t"),
        (7, "a,0", 0, "s"),
        (0, "", 0, ""),
    ]
    keys += [(1, "2", 3, "s"), (12, "", 3, "s")]
    first = [generator(*key).standard_normal() for key in keys]
    assert len(set(first)) == len(keys)


@pytest.mark.parametrize("shorter", [0.005, 1.0, 30.0, 77.77])
def test_a_longer_flight_starts_with_the_shorter_ones_noise(shorter: float) -> None:
    short = draw_tables(7, "chop 4 cm, head, 4 m/s", 0, length=shorter)
    for name, table in short._asdict().items():
        longer = getattr(TABLES, name)
        assert np.array_equal(table, longer[: len(table)]), name
        assert len(table) < len(longer) or name in BIASES


def test_the_rate_of_one_sensor_does_not_touch_another() -> None:
    slow = draw_tables(7, "chop 4 cm, head, 4 m/s", 0, length=120.0, rates=TickRates(rangefinders=20.0))
    assert len(slow.range_normal) < len(TABLES.range_normal)
    assert all(np.array_equal(getattr(slow, name), getattr(TABLES, name)) for name in ("gyro", "speed", *BIASES))


def test_there_is_a_draw_for_every_tick_from_the_first_to_the_last() -> None:
    tables = draw_tables(1, "", 0, length=30.0, rates=TickRates(20.0, 100.0, 10.0))
    shapes = {name: table.shape for name, table in tables._asdict().items()}
    assert shapes == {
        "range_normal": (601,),
        "range_uniform": (601, 3),
        "gyro": (3001, 3),
        "accelerometer": (3001, 3),
        "gyro_bias": (3,),
        "accelerometer_bias": (3,),
        "speed": (301,),
        "heading": (301,),
    }


@pytest.mark.parametrize("name", NORMALS)
def test_normals_are_standard(name: str) -> None:
    """Kolmogorov-Smirnov on a fixed draw of 12 001 to 36 003 numbers."""
    assert stats.kstest(getattr(TABLES, name).ravel(), "norm").pvalue > 1e-3


def test_uniforms_are_uniform() -> None:
    assert stats.kstest(TABLES.range_uniform.ravel(), "uniform").pvalue > 1e-3


def test_biases_are_standard_over_flights() -> None:
    flights = [draw_tables(7, "chop", replicate, length=0.1) for replicate in range(300)]
    for name in BIASES:
        draws = np.concatenate([getattr(tables, name) for tables in flights])
        assert stats.kstest(draws, "norm").pvalue > 1e-3


def test_streams_replicates_and_ticks_are_independent() -> None:
    """Correlations of unrelated columns stay under 4.5 / sqrt(n): one in 150 000 each."""
    other = draw_tables(7, "chop 4 cm, head, 4 m/s", 1, length=120.0)
    columns = np.array([column for tables in (TABLES, other) for column in _columns(tables)])
    ticks = columns.shape[1]
    off = np.corrcoef(columns) - np.eye(len(columns))
    assert np.abs(off).max() < 4.5 / ticks**0.5
    assert all(abs(np.corrcoef(column[1:], column[:-1])[0, 1]) < 4.5 / ticks**0.5 for column in columns)


def _columns(tables: NoiseTables) -> list[np.ndarray]:
    return [column for name in (*NORMALS, "range_uniform") for column in np.atleast_2d(getattr(tables, name).T)]

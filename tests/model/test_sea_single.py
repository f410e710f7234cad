"""Single-precision seas of flights against those in double precision."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from sweep.model.flight import fly, fly_record
from sweep.model.history import RECORDED
from sweep.model.kernels.sea_single import exp_negative, sine_cosine
from sweep.model.quantities import RESPONSE_NAMES
from tests.model.crafts import block_of, changed, courier, fleet_of, jonswap, quiet

MEANS = (
    "ride_height_error",
    "ride_height_deviation",
    "vertical_acceleration",
    "pitch_rms",
    "speed_mean",
    "power_mean",
    "servo_travel",
)


def test_sine_cosine_and_exponential_are_those_of_numpy() -> None:
    """The angle in turns as rounded; whole and half turns, where the polynomials meet, are among them."""
    turns = np.append(np.linspace(-15.0, 15.0, 6001), [-0.5, 0.5, 7.5]).astype(np.float32)
    found = np.array([sine_cosine(x) for x in turns])
    angles = 2.0 * pi * turns.astype(float)
    assert np.abs(found - np.column_stack([np.sin(angles), np.cos(angles)])).max() < 2e-6
    falls = np.linspace(-12.0, 0.0, 4001).astype(np.float32)
    assert np.array([exp_negative(x) for x in falls]) == pytest.approx(np.exp(falls.astype(float)), rel=1e-5)
    assert exp_negative(np.float32(0.0)) == 1.0


@pytest.mark.parametrize("heading", [pi, pi / 4])
def test_the_first_second_is_the_same(heading: float) -> None:
    """Before the craft's own loops magnify it: metres, radians, m/s to 1e-6; some difference there is."""
    exact = quiet(courier())
    block = block_of(jonswap(heading, height=0.05), 1.0, settle=0.0)
    single, double = (fly_record(fleet_of(exact), block, 100.0, precise=precise)[0] for precise in (False, True))
    compared = [i for i, name in enumerate(RECORDED) if name not in ("power", "vertical_acceleration")]
    apart = np.abs(single[:, compared] - double[:, compared]).max(axis=0)
    assert apart.max() < 1e-6, dict(zip([RECORDED[i] for i in compared], apart, strict=True))
    assert apart.max() > 0.0


def test_means_and_events_do_not_know_the_difference() -> None:
    """Over 384 flights of designs that hardly fail: means within 0.1 %; events within what chance leaves."""
    gains = [changed(courier(), {"control.height.proportional": gain}) for gain in np.linspace(0.4, 0.9, 32)]
    fleet = fleet_of(gains)
    blocks = [block_of(jonswap(pi, height=0.04, seed=seed), 10.0, settle=2.0, replicate=seed) for seed in range(12)]
    single, double = (np.array([fly(fleet, block, precise=precise).responses for block in blocks]) for precise in (False, True))
    for name in MEANS:
        column = RESPONSE_NAMES.index(name)
        assert single[..., column].mean() == pytest.approx(double[..., column].mean(), rel=1e-3), name
    for name in ("touchdowns", "foil_outs"):
        one, two = (part[..., RESPONSE_NAMES.index(name)] for part in (single, double))
        error = (one - two).std(ddof=1) / np.sqrt(one.size)
        assert abs(one.mean() - two.mean()) < 4.0 * error + 1e-6, name

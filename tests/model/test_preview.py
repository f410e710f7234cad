"""The bow's preview: what a rangefinder ahead of the foils sees, answered when it comes to them.

It helps in waves that are met less than about once a second, and only adds in those that are met more often; there a
rangefinder far ahead helps by itself, as the height loop answers what it sees early.
"""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from sweep.model.flight import fly
from sweep.model.physics import waves
from tests.model.crafts import block_of, calm, changed, courier, fleet_of, history, jonswap, quiet, response, silent
from tests.second.courier import FRESH
from tests.second.sea import regular_sea

SHARES = (0.0, 0.5, 0.75, 1.0, 2.0)


def head_waves(height: float, period: float) -> waves.Sea:
    sea = regular_sea(height, period, pi, FRESH.depth)
    return waves.Sea(sea.amplitude, sea.omega, np.hypot(sea.kx, sea.ky), sea.kx, sea.ky, sea.phase, FRESH.depth)


def errors(place: float, sea: waves.Sea) -> np.ndarray:
    """Ride-height error with each of the shares, the rangefinder at a place ahead of the datum, m."""
    crafts = [changed(quiet(courier()), {"rangefinders.x": place, "control.preview": share}) for share in SHARES]
    return response(fly(fleet_of(crafts), silent(block_of(sea, 12.0))), "ride_height_error")


def test_water_seen_ahead_is_followed() -> None:
    """Waves 8 cm high that meet the craft every 1.2 s: a tenth of the error is left, at equal gains. Too much is worse."""
    none, half, most, whole, double = errors(0.8, head_waves(0.08, 2.5))
    assert none > 8e-3
    assert half < 0.4 * none
    assert most < 0.15 * none
    assert whole < 0.4 * none
    assert double > 1.5 * none


def test_a_rangefinder_over_the_foils_sees_it_too_late() -> None:
    """It gains far less than one ahead, which sees the same waves before the foils do."""
    sea = head_waves(0.08, 2.0)
    ahead, over = errors(0.8, sea), errors(0.0, sea)
    assert ahead[1] / ahead[0] < 0.5
    assert over[1] / over[0] > 0.7
    assert ahead[1:4].min() < 0.4 * over[1:4].min()


@pytest.mark.parametrize("place", [0.0, 0.8])
def test_short_waves_are_not_followed(place: float) -> None:
    """Met 2.6 times a second they are over before servos, smoothing and heave have answered: the more, the worse."""
    found = errors(place, head_waves(0.05, 1.2))
    assert np.all(np.diff(found) > 0.0)
    assert errors(1.2, head_waves(0.05, 1.2))[0] < 0.6 * found[0]  # the height loop alone, its rangefinder far ahead


def test_in_calm_water_it_changes_nothing() -> None:
    """Nothing at all without noise; with noise, a part of what the height loop makes of it."""
    still = [changed(quiet(courier()), {"control.preview": share}) for share in SHARES]
    record = history(fleet_of(still), silent(calm(4.0)), precise=True)
    for column in ("keel_height", "pitch", "foils"):
        assert np.abs(record[column] - record[column][0]).max() < 1e-6, column
    noisy = fly(fleet_of([changed(courier(), {"control.preview": share}) for share in SHARES[:4]]), calm(20.0))
    assert np.all(response(noisy, "ride_height_error") < 3e-3)


def test_it_stays_within_the_limit_of_the_height_command() -> None:
    """However much: the foils turn together by no more than that, and by as much as that where it is small."""
    free, bound = (
        history(
            fleet_of(
                changed(
                    quiet(courier()),
                    {"control.preview": 2.0, "rangefinders.x": 0.8, "control.height.limit": limit, "servos.rate": 50.0},
                )
            ),
            silent(block_of(jonswap(pi, height=0.06, period=1.3), 8.0)),
        )["foils"][0].mean(axis=1)
        for limit in (0.10, 0.02)
    )
    assert np.abs(bound - bound[0]).max() < 0.02 + 1e-3
    assert np.abs(free - free[0]).max() > 0.03

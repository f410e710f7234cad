"""The sea as the kernels sum it, against the same sea summed by numpy; orbital velocities, ramp and places too."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.compiled import LANES
from sweep.model.flight import ramp
from sweep.model.kernels import sea as compiled
from sweep.model.kernels.frame import turn
from sweep.model.physics import waves
from sweep.model.stepping.sampling import near_water, sample_sea
from tests.model.crafts import Bench, block_of, courier, jonswap, rotation

OUT = at.STRIP.sea.eta
TOLERANCE = 1e-8  # m and m/s, of seas a decimetre high that move at a metre a second

SEAS: dict[str, Callable[[], waves.Sea]] = {
    "deep": lambda: jonswap(np.radians(150.0), height=0.10, period=1.2, depth=np.inf),
    "pond": lambda: jonswap(np.radians(-60.0), height=0.08, period=1.3, depth=0.6),
    "shallow": lambda: jonswap(np.radians(20.0), height=0.02, period=1.5, depth=0.10),
    "swell": lambda: waves.regular_sea(0.10, 3.0, np.radians(200.0), 0.8, phase=1.1),
    "two": lambda: waves.join([jonswap(1.0, depth=0.5), waves.regular_sea(0.05, 2.0, -2.0, 0.5)]),
}


def tabled(sea: waves.Sea) -> Block:
    """The sea without ramp."""
    return block_of(sea, length=1.0, settle=0.0)


def put(bench: Bench, sea: waves.Sea) -> int:
    """Give every lane a sea; how many components it has."""
    block = tabled(sea)
    compiled.put_sea(bench.flat, np.ones(LANES, dtype=bool), block.components, block.omegas, block.phases)
    return len(block.omegas)


def points(sea: waves.Sea, seed: int) -> np.ndarray:
    """X, Y and depth below the calm level of one random point a lane: from a little above the water to near the ground."""
    draws = np.random.default_rng(seed)
    reach = min(sea.depth, 3.0)
    return np.array(
        [draws.uniform(-300.0, 300.0, LANES), draws.uniform(-50.0, 50.0, LANES), draws.uniform(-0.1, 0.9, LANES) * reach]
    )


@pytest.mark.parametrize("time", [0.0, 17.3, 600.0])
@pytest.mark.parametrize("name", SEAS)
def test_elevation_and_orbital_velocity_are_those_of_the_sum(name: str, time: float) -> None:
    sea = SEAS[name]()
    bench = Bench(courier())
    count = put(bench, sea)
    for seed in range(3):
        x, y, down = points(sea, seed)
        bench.put(at.POINT, np.array([x, y, down]))
        compiled.elevation(bench.flat, count, time, 1.0, OUT)
        eta = waves.elevation(sea, x, y, time)
        assert np.abs(bench.slots[OUT] - eta).max() < TOLERANCE
        for share in (0.0, 0.5, 1.0):
            compiled.velocity(bench.flat, count, 1.0, OUT, share)
            wanted = waves.orbital_velocity(sea, x, y, share * np.maximum(down + eta, 0.0), time)
            assert np.abs(bench.slots[OUT + 1 : OUT + 4].T - wanted).max() < TOLERANCE


def test_far_below_the_shortest_waves_nothing_is_left_of_them() -> None:
    """Where exp(-k d) is held (k d over 24) the error stays under 4e-11 of the surface speed."""
    sea = waves.regular_sea(0.01, 0.4, 0.0, np.inf)
    bench = Bench(courier())
    count = put(bench, sea)
    bench.put(at.POINT, [0.0, 0.0, 5.0])
    compiled.elevation(bench.flat, count, 0.0, 1.0, OUT)
    compiled.velocity(bench.flat, count, 1.0, OUT, 1.0)
    assert np.abs(bench.slots[OUT + 1 : OUT + 4]).max() < 1e-10 * sea.amplitude[0] * sea.omega[0]


@pytest.mark.parametrize("settle", [0.0, 4.0])
def test_the_sea_grows_over_half_the_settling_time(settle: float) -> None:
    bench, sea = Bench(courier()), jonswap(np.pi, depth=0.5)
    count = put(bench, sea)
    for time in (0.0, 0.5, 1.0, 2.0, 3.0):
        share = 1.0 if settle == 0.0 else float(np.interp(time, [0.0, 0.5, 1.0, 2.0], [0.0, 0.15625, 0.5, 1.0]))
        assert ramp(time, settle) == pytest.approx(share, abs=1e-15)
        bench.put(at.POINT, [1.0, 2.0, 0.1])
        compiled.elevation(bench.flat, count, time, share, OUT)
        compiled.velocity(bench.flat, count, share, OUT, 1.0)
        eta = share * waves.elevation(sea, 1.0, 2.0, time)
        wanted = share * waves.orbital_velocity(sea, 1.0, 2.0, 0.1 + eta, time)
        assert bench.get(OUT, 4) == pytest.approx([eta, *wanted], abs=TOLERANCE)


def test_phases_are_right_through_an_hour() -> None:
    bench, sea = Bench(courier()), jonswap(np.pi)
    count = put(bench, sea)
    bench.put(at.POINT, [0.0, 0.0, 0.0])
    for time in (3600.0, 36000.0):
        compiled.elevation(bench.flat, count, time, 1.0, OUT)
        assert bench.get(OUT) == pytest.approx(waves.elevation(sea, 0.0, 0.0, time), abs=TOLERANCE)


def test_every_lane_meets_a_sea_of_its_own() -> None:
    """Seas of few and of many components, in shallow and in deep water, side by side."""
    bench, seas = Bench(courier()), [make() for make in SEAS.values()]
    of_lane = np.arange(LANES) % len(seas)
    blocks = [tabled(sea) for sea in seas]
    for number, block in enumerate(blocks):
        compiled.put_sea(bench.flat, of_lane == number, block.components, block.omegas, block.phases)
    count = max(len(block.omegas) for block in blocks)
    bench.put(at.POINT, [1.0, -2.0, 0.05])
    compiled.elevation(bench.flat, count, 4.0, 1.0, OUT)
    compiled.velocity(bench.flat, count, 1.0, OUT, 1.0)
    for lane in range(LANES):
        sea = seas[of_lane[lane]]
        eta = waves.elevation(sea, 1.0, -2.0, 4.0)
        wanted = [eta, *waves.orbital_velocity(sea, 1.0, -2.0, max(0.05 + eta, 0.0), 4.0)]
        assert bench.slots[OUT : OUT + 4, lane] == pytest.approx(wanted, abs=TOLERANCE)


def test_every_part_meets_the_sea_where_it_is() -> None:
    """Strips, struts, stations and the reference point of a craft that heels and yaws, each against its own place."""
    sea = jonswap(np.radians(120.0), height=0.06)
    bench = Bench(courier())
    position, angles, time = np.array([12.0, -3.0, -0.05]), (0.3, -0.2, 2.0), 4.2
    bench.put(at.PREDICTED, [*position, *angles])
    turn(bench.flat, at.PREDICTED.phi, at.PREDICTED_ROTATION.first)
    turned = rotation(*angles)
    sample_sea(bench.flat, put(bench, sea), time, 1.0, bench.counts)

    def held(first: int, place: int, sea_slot: int, share: float) -> None:
        x, y, z = position + turned @ bench.get(place + first, 3)
        eta = waves.elevation(sea, x, y, time)
        assert bench.get(first + sea_slot) == pytest.approx(eta, abs=TOLERANCE)
        if z + eta > -0.03:  # further up the water's velocity is never used
            wanted = waves.orbital_velocity(sea, x, y, share * max(z + eta, 0.0), time)
            assert bench.get(first + sea_slot + 1, 3) == pytest.approx(wanted, abs=TOLERANCE)

    for strip in range(6):
        held(strip * at.STRIP.width, at.STRIP.x, at.STRIP.sea.first, 1.0)
    for strut in range(3):
        held(strut * at.STRUT.width, at.STRUT.x, at.STRUT.sea.first, 0.5)
    for station in range(6):
        held(station * at.STATION.width, at.STATION.x, at.STATION.sea.first, 0.0)
    x, y, _ = position + turned @ [0.0, 0.0, bench.get(at.KEEL)]
    assert bench.get(at.REFERENCE_SEA) == pytest.approx(waves.elevation(sea, x, y, time), abs=TOLERANCE)


def test_the_rotation_is_yaw_pitch_roll() -> None:
    bench = Bench(courier())
    draws = np.random.default_rng(1)
    angles = draws.uniform(-1.5, 1.5, (3, LANES)) + np.array([0.0, 0.0, 40.0])[:, None]
    bench.put(at.MID.phi, angles)
    turn(bench.flat, at.MID.phi, at.ROTATION.first)
    for lane in range(LANES):
        found = bench.slots[at.ROTATION.slots(), lane].reshape(3, 3)
        assert np.abs(found - rotation(*angles[:, lane])).max() < 3e-10


@pytest.mark.parametrize(
    ("scale", "height", "near"), [(1.0, 0.025, True), (1.0, 0.05, False), (2.0, 0.05, True), (2.0, 0.13, False)]
)
def test_a_hull_is_near_the_water_by_its_own_size(scale: float, height: float, near: bool) -> None:
    """3 cm for a hull of the usual length, four times as far for one that is four times as long."""
    bench, elevation_slot = Bench(courier()), at.STATION.sea.eta
    bench.put(at.TIME_SCALE, scale)
    bench.put(elevation_slot, 0.01)
    bench.put(at.POINT.z, -height - 0.01)
    assert near_water(bench.flat, elevation_slot) == near

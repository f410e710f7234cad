"""A flight's result depends on its design and its block: not on its lane, its neighbours, or how the fleet was cut."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.campaign.addresses import leaves, value_at
from sweep.campaign.craft import Craft
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import Flown, fly, fly_record
from sweep.model.history import RECORDED
from sweep.model.pack.fleet import Fleet
from sweep.model.physics import waves
from sweep.model.quantities import RESPONSE_NAMES
from tests.model.crafts import HEADINGS, block_of, changed, courier, fleet_of, jonswap, statuses

BLOCK = block_of(jonswap(HEADINGS["quartering"], height=0.08, period=1.2), 8.0, settle=2.0)
SIZE = 70  # two full workspaces and a bit


def jitter(draws: np.random.Generator) -> dict[str, float]:
    """Every number of the courier a few per cent off, but for what the structure is made of: no lane may read another's."""
    known = leaves(courier().model_dump())
    values = {address: value_at(courier(), address) for address, leaf in known.items() if leaf.kind == "number"}
    kept = ("control.rate", "steering.", "section.lift_max", "linkage", "charge")
    return {
        address: value * draws.uniform(0.96, 1.0)
        for address, value in values.items()
        if isinstance(value, float) and not any(word in address for word in kept)
    }


def designs(count: int) -> list[Craft]:
    """Good, poor and hopeless designs, one after the other."""
    draws = np.random.default_rng(11)
    return [
        changed(
            courier(),
            {
                **jitter(draws),
                "foils.port.area": draws.uniform(30e-4, 70e-4),
                "foils.aft.area": draws.uniform(30e-4, 70e-4),
                "struts.height": draws.uniform(0.14, 0.30),
                "control.height.proportional": 10.0 ** draws.uniform(-1.0, 0.6),
                "rangefinders.latency": draws.uniform(0.0, 0.2),
                "body.mass": draws.choice([2.5, 3.0, 4.0, 9.0]),
            },
        )
        for _ in range(count)
    ]


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return fleet_of(designs(SIZE), step=0.01)


@pytest.fixture(scope="module")
def flown(fleet: Fleet) -> Flown:
    return fly(fleet, BLOCK)


def same(first: Flown, second: Flown) -> bool:
    return np.array_equal(first.status, second.status) and np.array_equal(first.responses, second.responses, equal_nan=True)


def picked(fleet: Fleet, which: np.ndarray | list[int]) -> Fleet:
    return fleet._replace(parameters=fleet.parameters[which], feasible=fleet.feasible[which], trim=fleet.trim[which])


def of(flown: Flown, which: np.ndarray | list[int]) -> Flown:
    return Flown(flown.status[which], flown.responses[which])


def test_the_designs_differ_and_some_fail(flown: Flown) -> None:
    """Or the tests below would show nothing."""
    ends = statuses(flown)
    assert ends.count("flew") > 10
    assert ends.count("no-trim") > 5
    assert ends.count("upset") + ends.count("under-water") > 2
    errors = flown.responses[np.array(ends) == "flew", 0]
    assert len(np.unique(errors)) == len(errors)


def test_twice_is_the_same_to_the_bit(fleet: Fleet, flown: Flown) -> None:
    assert same(fly(fleet, BLOCK), flown)


def test_alone_is_as_in_company(fleet: Fleet, flown: Flown) -> None:
    for design in range(0, SIZE, 7):
        assert same(fly(fleet.part(design, design + 1), BLOCK), of(flown, [design]))


def test_any_order_and_any_part(fleet: Fleet, flown: Flown) -> None:
    shuffled = np.random.default_rng(0).permutation(SIZE)
    assert same(fly(picked(fleet, shuffled), BLOCK), of(flown, shuffled))
    for start, stop in ((0, 33), (5, 38), (31, 32), (40, SIZE)):
        assert same(fly(fleet.part(start, stop), BLOCK), of(flown, np.arange(start, stop)))


def test_every_lane_gives_the_same(fleet: Fleet, flown: Flown) -> None:
    """One design in all lanes, and the last of a full workspace alone in the next."""
    good = int(np.flatnonzero(flown.status == 0)[0])
    everywhere = fly(picked(fleet, [good] * LANES), BLOCK)
    assert same(everywhere, of(flown, [good] * LANES))
    over = fly(picked(fleet, [0] * LANES + [good]), BLOCK)
    assert same(of(over, [LANES]), of(flown, [good]))


def test_other_waters_beside_it_change_nothing(fleet: Fleet, flown: Flown) -> None:
    """Lanes in seas of fewer and of more components, in shallow and in deep water, in calm, with other noise and wind."""
    others = [
        block_of(waves.flat_sea(5.0), BLOCK.length, BLOCK.settle, replicate=1),
        block_of(waves.regular_sea(0.04, 1.5, 2.0, 0.3), BLOCK.length, BLOCK.settle, replicate=2),
        block_of(waves.join([jonswap(1.0), jonswap(2.0, seed=1)]), BLOCK.length, BLOCK.settle)._replace(wind=(-3.0, 1.0)),
    ]
    good = np.flatnonzero(flown.status == 0)[:12]
    blocks = [BLOCK if i % 4 == 0 else others[i % 4 - 1] for i in range(12)]
    together = fly(picked(fleet, good), blocks)
    for i, design in enumerate(good):
        assert same(of(together, [i]), fly(fleet.part(design, design + 1), blocks[i]))
    assert same(of(together, list(range(0, 12, 4))), of(flown, good[::4]))
    assert len(np.unique(together.responses[:, 0])) == 12
    records = fly_record(picked(fleet, good), blocks)
    assert np.array_equal(records[[5]], fly_record(fleet.part(good[5], good[5] + 1), blocks[5]), equal_nan=True)


def test_blocks_side_by_side_must_be_alike(fleet: Fleet) -> None:
    with pytest.raises(ValueError, match="alike in length"):
        fly(fleet.part(0, 2), [BLOCK, BLOCK._replace(length=1.0)])
    with pytest.raises(ValueError, match="3 blocks"):
        fly(fleet.part(0, 2), [BLOCK] * 3)


def test_built_alone_is_as_built_in_company(fleet: Fleet, flown: Flown) -> None:
    """The trim too: nobody's iterations end by somebody else's."""
    for design, craft in list(enumerate(designs(SIZE)))[::9]:
        alone = fleet_of(craft, step=0.01)
        assert np.array_equal(alone.parameters[0], fleet.parameters[design], equal_nan=True)
        assert same(fly(alone, BLOCK), of(flown, [design]))


def test_failing_neighbours_are_not_noticed(fleet: Fleet, flown: Flown) -> None:
    """Lanes that upset, that cannot be trimmed, whose numbers run away or are not numbers at all."""
    good = np.flatnonzero(flown.status == 0)[:8]
    bad = np.flatnonzero(flown.status != 0)[:8]
    for neighbours in (good, bad):
        mixed = np.column_stack([good, neighbours]).ravel()
        assert same(of(fly(picked(fleet, mixed), BLOCK), np.arange(0, 16, 2)), of(flown, good))
    sick = picked(fleet, np.column_stack([good, good]).ravel())
    parameters = sick.parameters.copy()
    for row, (slot, value) in zip(
        range(1, 16, 2),
        [
            (at.MASS, np.nan),
            (at.INVERSE.x, 1e9),
            (at.FOIL.mix.height, np.inf),
            (at.INERTIAL_PLACE.x, np.nan),
            (at.STRIP.chords, np.inf),
            (at.FOIL.moved_by.bandwidth, -5.0),
            (at.STATIC_THRUST, -np.inf),
            (at.STRUT.chord, np.nan),
        ],
        strict=True,
    ):
        parameters[row, slot] = value
    result = fly(sick._replace(parameters=parameters), BLOCK)
    assert same(of(result, np.arange(0, 16, 2)), of(flown, good))
    for row in range(1, 16, 2):
        assert result.status[row] != 0, f"row {row} flew"
        assert result.status[row] != 4 or np.isnan(result.responses[row]).all()


@pytest.mark.parametrize("speed", [5.0, 7.0])
def test_a_neighbour_in_the_water_is_not_noticed(speed: float) -> None:
    """What is worked out for hulls near the water only must be the same for a hull whose neighbour is in it all the time."""
    crafts = [changed(courier(), {"control.ride_height": height, "control.scheduled_at": 4.0}) for height in (0.06, 0.025)]
    fleet = fleet_of(crafts, speed, step=0.005)
    block = block_of(jonswap(HEADINGS["head"], height=0.10, period=1.2, seed=2), 12.0, settle=2.0)
    together, alone = fly(fleet, block), fly(fleet.part(0, 1), block)
    assert same(alone, of(together, [0]))
    touched = RESPONSE_NAMES.index("touchdowns")
    assert together.responses[0, touched] > 0.0
    assert together.responses[1, RESPONSE_NAMES.index("wet_share")] > 0.02


def test_absurd_gains_are_a_row_with_a_status() -> None:
    """What a campaign can ask for: no exception, and numbers or none."""
    absurd = [
        changed(courier(), {"control.height.proportional": 1e6, "control.height.limit": 1.5}),
        changed(courier(), {"control.height.derivative": 1e6, "control.height.limit": 1.5}),
        changed(courier(), {"control.pitch.derivative": 1e4, "control.pitch.limit": 1.5}),
        changed(courier(), {"control.roll.proportional": 1e6, "control.roll.limit": 1.5}),
        changed(courier(), {"control.speed.proportional": 1e9, "control.throttle_share": 1e9}),
        changed(courier(), {"body.roll_radius": 1e-3}),
        changed(courier(), {"servos.bandwidth": 1e5, "servos.rate": 1e5}),
        courier(),
    ]
    fleet = fleet_of(absurd, step=0.01)
    flown = fly(fleet, BLOCK)
    assert len(flown.status) == len(absurd)
    assert np.all((flown.status >= 0) & (flown.status <= 4))
    assert not np.isinf(flown.responses).any()
    assert same(of(flown, [7]), fly(fleet_of(courier(), step=0.01), BLOCK))
    whole = flown.status == 0
    assert np.isfinite(flown.responses[whole][:, RESPONSE_NAMES.index("speed_mean")]).all()


def test_a_record_is_of_the_same_flight(fleet: Fleet, flown: Flown) -> None:
    """Mean speed of the scored rows is the response, whatever lane it flew in; rows end where the flight did."""
    some = fleet.part(0, LANES)
    record = fly_record(some, BLOCK, rate=100.0)
    assert record.shape == (LANES, 800, len(RECORDED) + some.structure.foils)
    time, speed = record[:, :, RECORDED.index("time")], record[:, :, RECORDED.index("speed")]
    for design in range(LANES):
        rows = time[design] >= 2.0
        if flown.status[design] == 0:
            assert speed[design][rows].mean() == pytest.approx(
                flown.responses[design, RESPONSE_NAMES.index("speed_mean")], rel=1e-12
            )
        elif flown.status[design] == 3:
            assert np.isnan(time[design]).all()
        else:
            ended = np.flatnonzero(np.isnan(time[design]))[0]
            assert ended < 800
            assert np.isnan(time[design][ended:]).all()


@pytest.mark.parametrize("longer", [9.0, 14.0])
def test_a_longer_flight_begins_with_the_shorter(fleet: Fleet, longer: float) -> None:
    """Nothing of the future leaks back: neither the sea nor the noise depends on the length."""
    some = fleet.part(0, 8)
    short = fly_record(some, BLOCK, rate=50.0)
    sea = jonswap(HEADINGS["quartering"], height=0.08, period=1.2)
    long = fly_record(some, block_of(sea, longer, settle=2.0), rate=50.0)
    assert np.array_equal(short, long[:, : short.shape[1]], equal_nan=True)

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from sweep.campaign.designs import lay_out
from sweep.campaign.draws import draw_block, draw_of
from sweep.campaign.ride_map import RideMap
from sweep.flying.flights import fly_shards
from sweep.flying.ride_map import CellCounts, clean, fly_map, map_conditions, map_done, next_cells
from sweep.flying.work import Work
from sweep.insight.contour import sides
from sweep.insight.intervals import CONFIDENCE
from sweep.model.quantities import FLEW
from sweep.results.shard_plan import Shard
from tests.flying.test_flights import blocks_equal, campaign

UPSET = 1
CHOSEN = [7, 0]
FRESH = 2 + 32
"""The first replicate that no design was chosen by: two of the campaign, and what leading designs may have flown on."""


def ride_map(chosen, **changes):
    head, following = chosen.headings
    usual = {"sea": chosen.seas[0], "speeds": (4.0,), "heights": (0.05, 0.15), "headings": (head, following), "replicates": 3}
    return RideMap(**(usual | changes))


@pytest.fixture(scope="module")
def rounds():
    """The map after every round."""
    chosen = campaign()
    return list(fly_map(Work(chosen, lay_out(chosen), ()), ride_map(chosen), CHOSEN))


@pytest.fixture(scope="module")
def flown(rounds):
    return rounds[-1]


def test_a_cell_counts_the_flights_that_were_flown_there(flown):
    """The same flights by `fly_shards`, counted by pandas from their rows."""
    chosen = campaign()
    designs, conditions = lay_out(chosen).loc[CHOSEN], map_conditions(ride_map(chosen))
    blocks = flown["blocks"].to_numpy()[::2]
    shards = [Shard(0, cell, FRESH + at, 0, 2) for cell, count in enumerate(blocks) for at in range(count)]
    rows = pd.concat([table for _, table in fly_shards(Work(chosen, designs, conditions), shards)])
    bad = (rows[["touchdowns", "broaches", "upsets", "lost_flights"]].sum(axis=1) > 0) | (rows["status"] != FLEW)
    expected = (~bad).groupby([rows["condition"], rows["design"]]).sum()
    assert flown["clean"].tolist() == expected.tolist()
    assert 0 < expected.sum() < flown["flights"].sum()
    assert (flown["flights"] == flown["blocks"]).all()
    assert flown["design"].tolist() == CHOSEN * 4


def test_every_cell_gets_a_first_look_and_the_budget_is_kept(rounds):
    assert (rounds[0]["blocks"] == 2).all()
    for before, after in pairwise(rounds):
        assert (after["blocks"] >= before["blocks"]).all()
    assert rounds[-1]["blocks"].sum() / 2 <= 4 * 3


def test_cells_stand_in_order_and_say_what_they_are(flown):
    table = flown[::2]
    assert table["height"].tolist() == [0.05, 0.05, 0.15, 0.15]
    assert table["heading_name"].tolist() == ["head", "following"] * 2
    assert table["heading"].tolist() == pytest.approx([np.pi, 0.0] * 2)
    assert table["period"].tolist() == pytest.approx([1.1, 1.1, 1.1 * 3**0.5, 1.1 * 3**0.5])


def test_the_interval_is_clopper_and_pearson_s(flown):
    for row in flown.itertuples():
        exact = stats.binomtest(row.clean, row.flights).proportion_ci(0.95, method="exact")
        assert (row.share_low, row.share_high) == (pytest.approx(exact.low), pytest.approx(exact.high))


def test_a_map_that_goes_on_gives_the_rest(rounds):
    chosen = campaign()
    rest = list(fly_map(Work(chosen, lay_out(chosen), (), workers=1), ride_map(chosen), CHOSEN, rounds[0]))
    assert len(rest) == len(rounds) - 1
    for one, other in zip(rest, rounds[1:], strict=True):
        pd.testing.assert_frame_equal(one, other, check_exact=True)
    assert map_done(ride_map(chosen), rounds[-1], 2)
    assert not map_done(ride_map(chosen), rounds[0], 2) or len(rounds) == 1


def test_a_design_without_a_trim_has_no_flights_and_draws_none():
    chosen = campaign()
    slow = ride_map(chosen, speeds=(1.0,), heights=(0.05,), headings=chosen.headings[:1])
    (table,) = fly_map(Work(chosen, lay_out(chosen), ()), slow, CHOSEN)
    assert table["flights"].tolist() == table["clean"].tolist() == [0, 0]
    assert table["blocks"].tolist() == [2, 2]
    assert table[["share_low", "share_high"]].isna().all(axis=None)


def test_the_waves_are_fresh(monkeypatch):
    """A cell that is a condition of the campaign meets none of the blocks that the leaders were chosen by."""
    chosen = campaign()
    drawn = []
    monkeypatch.setattr("sweep.flying.flights.draw_of", lambda *arguments: drawn.append(draw_of(*arguments)) or drawn[-1])
    same = ride_map(chosen, heights=(0.05,), headings=chosen.headings[:1], replicates=1)
    list(fly_map(Work(chosen, lay_out(chosen), ()), same, CHOSEN))
    (condition,) = map_conditions(same)
    assert blocks_equal(drawn[0].block(), draw_block(chosen, condition, FRESH))
    assert not any(blocks_equal(drawn[0].block(), draw_block(chosen, condition, replicate)) for replicate in range(FRESH))


def bounds(clean, flights):
    """How many of the lowest heights are surely over, and how many are not surely under, the share that the map looks for."""
    found = sides(clean, flights)
    sure, open_ = found.over >= CONFIDENCE, found.under < CONFIDENCE
    first = np.where(sure.any(axis=-1), clean.shape[-1] - np.argmax(sure[..., ::-1], axis=-1), 0)
    last = np.where(open_.all(axis=-1), clean.shape[-1], np.argmin(open_, axis=-1))
    return np.minimum(first, last), last


def edge_found(adaptive, seed):
    """Of a made-up map: between how many steps of height the edge surely is, on average, and how often it truly is."""
    chosen, draws = campaign(), np.random.default_rng(seed)
    heights = tuple(0.02 * step for step in range(1, 9))
    wanted = ride_map(chosen, speeds=(3.0, 4.0, 5.0), heights=heights, replicates=8)
    edges = draws.uniform(2.0, 7.0, size=(3, 2))  # in steps: there 90 % are clean
    steps = np.arange(1, 9)[None, :, None]
    share = 1.0 / (1.0 + np.exp((steps - edges[:, None, :]) / 0.5 - np.log(9.0))).reshape(-1)
    counts = CellCounts(np.zeros(48, dtype=int), np.zeros((48, 1), dtype=int), np.zeros((48, 1), dtype=int))
    while more := next_cells(wanted, counts) if adaptive else ({} if counts.blocks.any() else dict.fromkeys(range(48), 8)):
        for cell, blocks in more.items():
            counts.blocks[cell] += blocks
            counts.flights[cell] += blocks
            counts.clean[cell] += draws.binomial(blocks, share[cell])
    assert counts.blocks.sum() <= 48 * 8
    clean_flights, flights = (
        np.moveaxis(each.reshape(3, 8, 2), 1, -1).astype(float) for each in (counts.clean, counts.flights)
    )
    sure, open_ = bounds(clean_flights, flights)
    held = (sure <= np.floor(edges)) & (np.ceil(edges) <= open_ + 1)
    return (open_ - sure).mean(), held.mean()


def test_flights_go_where_the_edge_is():
    """With the same budget the edge is known more narrowly than from a map flown evenly, and still where it is."""
    widths, held = (
        np.array([[edge_found(adaptive, seed)[of] for seed in range(30)] for adaptive in (True, False)]) for of in (0, 1)
    )
    assert widths[0].mean() < 0.8 * widths[1].mean()
    assert held[0].mean() >= 0.93


@pytest.mark.parametrize(
    ("change", "good"),
    [
        ({}, True),
        ({"touchdowns": 0.1}, False),
        ({"broaches": 0.1}, False),
        ({"lost_flights": 1.0}, False),
        ({"upsets": 1.0, "status": UPSET}, False),
        ({"touchdowns": np.nan, "broaches": np.nan}, False),
    ],
    ids=["clean", "touchdown", "broach", "loss of flight", "upset", "never flew"],
)
def test_what_a_clean_flight_is(change, good):
    usual = {"status": FLEW, "touchdowns": 0.0, "broaches": 0.0, "lost_flights": 0.0, "upsets": 0.0}
    assert clean(pd.DataFrame([usual | change])).tolist() == [good]

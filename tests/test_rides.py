import numpy as np
import pandas as pd
import pytest
from scipy import stats

from sweep.campaign.mapping import RideMap
from sweep.designs import lay_out
from sweep.flights import draw_block, fly_shards, plan_shards
from sweep.rides import clean, fly_map, map_conditions
from sweep.scores import FLEW
from tests.test_flights import blocks_equal, campaign

UPSET = 1
CHOSEN = [7, 0]


def ride_map(chosen, **changes):
    head, following = chosen.headings
    usual = {"sea": chosen.seas[0], "speeds": (4.0,), "heights": (0.05, 0.15), "headings": (head, following), "replicates": 3}
    return RideMap(**(usual | changes))


@pytest.fixture(scope="module")
def flown():
    chosen = campaign()
    return list(fly_map(chosen, ride_map(chosen), lay_out(chosen), CHOSEN))


def test_a_cell_counts_the_flights_that_were_flown_there(flown):
    """The same flights by `fly_shards`, counted by pandas from their rows."""
    chosen = campaign()
    designs, conditions = lay_out(chosen).loc[CHOSEN], map_conditions(ride_map(chosen))
    shards = [shard for shard in plan_shards(2, 4, 2 + 3) if shard.replicate >= 2]
    rows = pd.concat([table for _, table in fly_shards(chosen, designs, conditions, shards)])
    bad = (rows[["touchdowns", "broaches", "upsets", "lost_flights"]].sum(axis=1) > 0) | (rows["status"] != FLEW)
    table = pd.concat(flown)
    expected = (~bad).groupby([rows["condition"], rows["design"]]).sum()
    assert table["clean"].tolist() == expected.tolist()
    assert 0 < expected.sum() < 24
    assert (table["flights"] == 3).all()
    assert table["design"].tolist() == CHOSEN * 4


def test_cells_stand_in_order_and_say_what_they_are(flown):
    table = pd.concat(flown)[::2]
    assert table["height"].tolist() == [0.05, 0.05, 0.15, 0.15]
    assert table["heading_name"].tolist() == ["head", "following"] * 2
    assert table["heading"].tolist() == pytest.approx([np.pi, 0.0] * 2)
    assert table["period"].tolist() == pytest.approx([1.1, 1.1, 1.1 * 3**0.5, 1.1 * 3**0.5])


def test_the_interval_is_clopper_and_pearson_s(flown):
    for row in pd.concat(flown).itertuples():
        exact = stats.binomtest(row.clean, row.flights).proportion_ci(0.95, method="exact")
        assert (row.share_low, row.share_high) == (pytest.approx(exact.low), pytest.approx(exact.high))


def test_a_map_that_goes_on_gives_the_rest(flown):
    chosen = campaign()
    rest = list(fly_map(chosen, ride_map(chosen), lay_out(chosen), CHOSEN, first=3, workers=1))
    pd.testing.assert_frame_equal(rest[0], flown[3], check_exact=True)
    assert len(rest) == 1


def test_a_design_without_a_trim_has_no_flights():
    chosen = campaign()
    slow = ride_map(chosen, speeds=(1.0,), heights=(0.05,), headings=chosen.headings[:1])
    (table,) = fly_map(chosen, slow, lay_out(chosen), CHOSEN)
    assert table["flights"].tolist() == table["clean"].tolist() == [0, 0]
    assert table[["share_low", "share_high"]].isna().all(axis=None)


def test_the_waves_are_fresh(monkeypatch):
    """A cell that is a condition of the campaign meets none of the blocks that the leaders were chosen by."""
    chosen = campaign()
    drawn = []
    monkeypatch.setattr("sweep.flights.draw_block", lambda *arguments: drawn.append(draw_block(*arguments)) or drawn[-1])
    same = ride_map(chosen, heights=(0.05,), headings=chosen.headings[:1], replicates=1)
    list(fly_map(chosen, same, lay_out(chosen), CHOSEN))
    (condition,) = map_conditions(same)
    assert blocks_equal(drawn[0], draw_block(chosen, condition, chosen.replicates))
    assert not any(blocks_equal(drawn[0], draw_block(chosen, condition, replicate)) for replicate in range(chosen.replicates))


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

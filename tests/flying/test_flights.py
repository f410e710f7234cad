from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import Condition, list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.draws import draw_block
from sweep.campaign.flight import Flight
from sweep.flying import flights
from sweep.flying.flights import blocks_at_once, cut_pieces, fly_shards, measure_pace
from sweep.flying.progress import Watcher
from sweep.flying.recording import record_flights
from sweep.flying.work import Work
from sweep.model.quantities import RESPONSE_NAMES, STATUS_NAMES
from sweep.results import shard_plan
from sweep.results.shard_plan import Shard, plan_shards
from sweep.results.store import as_parquet

QUICK = Path(__file__).parents[2] / "configs" / "quick.yaml"
FLEW, NO_TRIM = STATUS_NAMES.index("flew"), STATUS_NAMES.index("no-trim")


def campaign(**changes):
    short = {"flight": Flight(length="4 s", settle="1 s", seed=3), "replicates": 2}
    return load_campaign(QUICK).model_copy(update=short | changes)


def flown(chosen, **options):
    """All flights of a campaign, sorted."""
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    shards = plan_shards(len(designs), len(conditions), chosen.replicates)
    tables = [table for _, table in fly_shards(Work(chosen, designs, conditions, **options), shards)]
    return pd.concat(tables).sort_values(["design", "condition", "replicate"], ignore_index=True)


@pytest.fixture(scope="module")
def whole():
    return flown(campaign())


def test_shards_hold_every_flight_once(monkeypatch):
    monkeypatch.setattr(shard_plan, "DESIGNS_A_SHARD", 4)
    shards = plan_shards(10, 3, 2)
    held = [(design, shard.condition, shard.replicate) for shard in shards for design in range(shard.first, shard.last)]
    assert len(held) == len(set(held)) == 10 * 3 * 2
    assert [shard.number for shard in shards] == list(range(len(shards)))
    assert sum(shard.flights for shard in shards) == 60


def test_a_row_for_every_flight(whole):
    assert len(whole) == 13 * 2 * 2
    assert list(whole.columns) == ["design", "condition", "replicate", "status", *RESPONSE_NAMES]
    assert (whole["status"] == FLEW).all()
    np.testing.assert_allclose(whole["time_foilborne"], 3.0, atol=0.02)


@pytest.mark.parametrize("workers", [1, 3])
def test_workers_change_nothing(whole, workers):
    pd.testing.assert_frame_equal(flown(campaign(), workers=workers), whole, check_exact=True)


@pytest.mark.parametrize(
    ("module", "name", "value"),
    [
        (flights, "LANES", 5),
        (shard_plan, "DESIGNS_A_SHARD", 4),
        (flights, "IDLE_LANES", 0.0),
        (flights, "IDLE_LANES", 1.0),
    ],
)
def test_pieces_and_shards_change_nothing(whole, monkeypatch, module, name, value):
    monkeypatch.setattr(module, name, value)
    pd.testing.assert_frame_equal(flown(campaign()), whole, check_exact=True)


def test_few_designs_fill_the_lanes_with_blocks():
    """A tenth of the lanes may idle."""
    assert [blocks_at_once([size]) for size in (1, 4, 13, 20, 32, 185, 512)] == [29, 8, 7, 3, 1, 1, 1]
    assert blocks_at_once([3, 1]) == 29


def test_chosen_shards_give_their_rows_alone(whole):
    chosen = campaign()
    ((shard, rows),) = fly_shards(Work(chosen, lay_out(chosen), list_conditions(chosen)), [Shard(0, 1, 1, 3, 7)])
    expected = whole[whole["design"].between(3, 6) & (whole["condition"] == 1) & (whole["replicate"] == 1)]
    assert shard.flights == 4
    pd.testing.assert_frame_equal(rows, expected.reset_index(drop=True), check_exact=True)


def test_flights_are_counted_as_they_are_flown():
    class Counter(Watcher):
        done = 0

        def flown(self, flights):
            self.done += flights

    counter = Counter()
    flown(campaign(), watcher=counter)
    assert counter.done == 13 * 2 * 2


def test_a_shard_is_given_before_the_next_ones_are_cut(monkeypatch):
    chosen = campaign(replicates=40)
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    cut = []

    def counted(*arguments):
        for piece in cut_pieces(*arguments):
            cut.append(piece.shards[-1].number)
            yield piece

    monkeypatch.setattr(flights, "cut_pieces", counted)
    results = fly_shards(Work(chosen, designs, conditions, workers=1), plan_shards(len(designs), len(conditions), 40))
    next(results)
    assert len(cut) < 40
    results.close()


def blocks_equal(one, two):
    return np.array_equal(one.phases, two.phases) and np.array_equal(one.noise.gyro, two.noise.gyro)


def test_a_block_depends_on_seed_content_and_replicate_alone():
    chosen = campaign()
    head, following = list_conditions(chosen)
    block = draw_block(chosen, head, 0)
    renamed = Condition(17, "another name", head.sea.model_copy(update={"name": "x"}), head.heading, head.speed)
    assert blocks_equal(block, draw_block(chosen, renamed, 0))
    assert not blocks_equal(block, draw_block(chosen, head, 1))
    assert not blocks_equal(block, draw_block(chosen, following, 0))
    assert not blocks_equal(block, draw_block(campaign(flight=Flight(length="4 s", settle="1 s", seed=4)), head, 0))


def test_what_has_no_trim_is_a_row_without_numbers():
    rows = flown(campaign(speeds=(1.0,), replicates=1))
    assert (rows["status"] == NO_TRIM).all()
    assert rows[list(RESPONSE_NAMES)].isna().all(axis=None)


def test_a_record_is_the_flight_that_was_flown(whole):
    """The root mean square of the recorded ride height against the wanted one is the response, but for 50 rows a second."""
    chosen = campaign()
    history = record_flights(Work(chosen, lay_out(chosen), list_conditions(chosen)), [3])[3]
    assert list(history.columns[:2]) == ["condition", "time"]
    assert [name for name in history if name.startswith("foil_")] == ["foil_port", "foil_starboard", "foil_aft"]
    for number in (0, 1):
        scored = history[(history["condition"] == number) & (history["time"] >= 1.0)]
        error = np.sqrt(((scored["ride_height"] - chosen.craft.control.ride_height) ** 2).mean())
        row = whole[(whole["design"] == 3) & (whole["condition"] == number) & (whole["replicate"] == 0)].iloc[0]
        assert error == pytest.approx(row["ride_height_error"], rel=0.02)
        assert scored["speed"].mean() == pytest.approx(row["speed_mean"], rel=0.01)


def test_the_pace_is_of_flights_that_start():
    chosen = campaign()
    assert measure_pace(chosen, lay_out(chosen), list_conditions(chosen)).batches > 0.0
    stuck = campaign(speeds=(1.0,))
    assert np.isnan(measure_pace(stuck, lay_out(stuck), list_conditions(stuck)).batches)


def test_shards_take_the_bytes_that_were_foreseen(whole):
    chosen = campaign()
    pace = measure_pace(chosen, lay_out(chosen), list_conditions(chosen))
    rows = whole[(whole["condition"] == 0) & (whole["replicate"] == 0)]
    assert len(as_parquet(rows)) == pytest.approx(pace.bytes_a_shard + pace.bytes_a_flight * len(rows), rel=0.15)

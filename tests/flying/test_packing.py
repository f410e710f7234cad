"""Ranges of designs that are packed ahead fly to the same rows."""

import pickle

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import crafts_of, lay_out
from sweep.campaign.draws import water_of
from sweep.campaign.flight import Flight
from sweep.flying import packing
from sweep.flying.flights import fly_shards
from sweep.flying.packing import PackedAhead, RangeFleets
from sweep.flying.work import Work
from sweep.model.pack.fleet import build_fleets, fleets_at, pack_crafts
from sweep.results import shard_plan
from sweep.results.shard_plan import plan_shards
from tests.flying.test_flights import QUICK


@pytest.fixture
def chosen():
    return load_campaign(QUICK).model_copy(update={"flight": Flight(length="2 s", settle="1 s", seed=3), "replicates": 1})


def flown(chosen, workers):
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    shards = plan_shards(len(designs), len(conditions), chosen.replicates)
    return pd.concat([rows for _, rows in fly_shards(Work(chosen, designs, conditions, workers), shards)], ignore_index=True)


@pytest.mark.parametrize("workers", [1, 3])
def test_rows_are_the_same_whoever_packs(chosen, workers, monkeypatch):
    monkeypatch.setattr(shard_plan, "DESIGNS_A_SHARD", 2)
    taken = []
    usual = PackedAhead.take

    def noted(self, first):
        taken.append(usual(self, first))
        return taken[-1]

    monkeypatch.setattr(PackedAhead, "take", noted)
    ahead = flown(chosen, workers)
    assert len(taken) == 7
    assert taken[0] is None
    if workers == 1:
        assert sum(fleets is not None for fleets in taken) >= 3
    monkeypatch.setattr(packing, "AHEAD", 0)
    pd.testing.assert_frame_equal(flown(chosen, workers), ahead, check_exact=True)
    assert taken[7:] == [None] * 7


def test_a_range_is_asked_for_once_and_taken_once(chosen):
    ahead = PackedAhead([(0, 4), (4, 8), (8, 12)])
    asked = [each for at in range(3) for each in ahead.ask(at, chosen, lay_out(chosen), list_conditions(chosen))]
    assert [(each.first, len(each.designs)) for each in asked] == [(4, 4), (8, 4)]
    assert ahead.take(4) is None
    ahead.keep(4, asked[0].fleets())
    (key, fleets), *_ = ahead.take(4).items()
    assert ahead.take(4) is None
    crafts = list(crafts_of(chosen, lay_out(chosen).iloc[4:8]))
    wanted = RangeFleets(chosen, crafts, crafts).at(key[0], list_conditions(chosen)[0].fault)
    assert fleets[0][1].parameters.tobytes() == wanted[0][1].parameters.tobytes()


def test_a_fleet_travels_whole_and_light(chosen):
    crafts = list(crafts_of(chosen, lay_out(chosen)))
    for some in (crafts, crafts[:1]):
        ((_, fleet),) = build_fleets(some, water_of(chosen), 4.0)
        sent = pickle.dumps(fleet)
        back = pickle.loads(sent)
        assert back.parameters.tobytes() == fleet.parameters.tobytes()
        assert (back.structure, back.speed) == (fleet.structure, fleet.speed)
        np.testing.assert_array_equal(back.feasible, fleet.feasible)
    assert len(pickle.dumps(build_fleets(crafts, water_of(chosen), 4.0)[0][1])) < 0.3 * 8 * len(crafts) * fleet.structure.slots


def test_a_craft_is_packed_once_for_all_speeds(chosen):
    crafts, water = list(crafts_of(chosen, lay_out(chosen))), water_of(chosen)
    packed = pack_crafts(crafts, water)
    for speed in (3.0, 5.0, 3.0):
        for (these, one), (those, other) in zip(fleets_at(packed, speed), build_fleets(crafts, water, speed), strict=True):
            np.testing.assert_array_equal(these, those)
            assert one.parameters.tobytes() == other.parameters.tobytes()
            assert one.structure == other.structure

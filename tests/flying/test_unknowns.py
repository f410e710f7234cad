"""Each flight is that of the craft as its replicate draws it, whose control code is set up for the craft as designed."""

from __future__ import annotations

import pandas as pd
import pytest

import sweep
from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of, lay_out
from sweep.campaign.draws import boat_of, draw_block, water_of
from sweep.campaign.flight import Flight
from sweep.campaign.follow_up_plan import first_fresh
from sweep.campaign.ride_map import RideMap
from sweep.campaign.unknowns import Unknown, Unknowns
from sweep.flying import flights, packing
from sweep.flying.flights import fly_crafts, fly_shards
from sweep.flying.recording import Wanted, fly_single, record_each
from sweep.flying.ride_map import fly_map, map_conditions
from sweep.flying.tolerances import as_built, fly_as_built
from sweep.flying.work import Work
from sweep.linear.prediction import predict_rides
from sweep.model.flight import fly
from sweep.model.pack.fleet import build_fleets
from sweep.model.quantities import RESPONSE_NAMES
from sweep.results.manifest import read_manifest
from sweep.results.plain_files import StoreError
from sweep.results.shard_plan import plan_shards
from sweep.results.store import load_results
from tests.flying.test_flights import QUICK, campaign, flown
from tests.test_workflow import SMALL, Listener
from tests.test_workflow import campaign as small

WAKE = Unknown(label="wake.strength", addresses=("wake.strength",), way="times", low=0.75, high=1.25, described=(1.0,))
LATE = Unknown(
    label="rangefinders.latency", addresses=("rangefinders.latency",), way="to", low=0.0, high=0.12, described=(0.06,)
)
do = flights._do
PAIRS = Unknowns(each=(WAKE, LATE), waves=2, shared=4)
TOLD = ["ride_height_error", "pitch_rms", "vertical_acceleration"]


def doubtful(**changes):
    return campaign(**({"unknowns": PAIRS, "replicates": 4} | changes))


@pytest.fixture(scope="module")
def whole():
    return flown(doubtful())


def by_hand(chosen, craft, condition, replicate, described=None):
    """The responses of one flight, its craft changed value by value."""
    described = described or craft
    numbers = PAIRS.numbers(chosen.flight.seed, replicate // 2 if replicate < 4 else replicate)
    drawn = replace_values(
        craft,
        {
            "wake.strength": value_at(craft, "wake.strength") * numbers[0],
            "rangefinders.latency": value_at(craft, "rangefinders.latency") + numbers[1] - 0.06,
        },
    )
    ((_, fleet),) = build_fleets([drawn], water_of(chosen), condition.speed, designed=[described])
    return dict(zip(RESPONSE_NAMES, fly(fleet, draw_block(chosen, condition, replicate)).responses[0], strict=True))


@pytest.mark.parametrize(("design", "condition", "replicate"), [(0, 0, 0), (7, 1, 1), (12, 0, 3)])
def test_a_flight_is_that_of_the_drawn_craft(whole, design, condition, replicate):
    chosen = doubtful()
    assert value_at(chosen.craft, "rangefinders.latency") == 0.06
    alone = by_hand(chosen, craft_of(chosen, lay_out(chosen).iloc[design]), list_conditions(chosen)[condition], replicate)
    told = whole.query("design == @design and condition == @condition and replicate == @replicate")
    for name in TOLD:
        assert told[name].item() == pytest.approx(alone[name], rel=1e-9)


def test_the_control_code_does_not_know_the_draw(whole):
    """If it knew, its trims and delays would be others, and so would the flight."""
    chosen = doubtful()
    craft, condition = craft_of(chosen, lay_out(chosen).iloc[7]), list_conditions(chosen)[0]
    numbers = PAIRS.numbers(chosen.flight.seed, 0)
    ((_, knowing),) = build_fleets([PAIRS.of(craft, numbers)], water_of(chosen), condition.speed)
    knows = dict(zip(RESPONSE_NAMES, fly(knowing, draw_block(chosen, condition, 0)).responses[0], strict=True))
    told = whole.query("design == 7 and condition == 0 and replicate == 0")
    assert told["ride_height_error"].item() != pytest.approx(knows["ride_height_error"], rel=1e-6)


def test_without_unknowns_a_flight_is_what_it_was():
    plain = campaign(replicates=4)
    pd.testing.assert_frame_equal(flown(plain), flown(plain.model_copy(update={"unknowns": None})), check_exact=True)
    nothing = WAKE.model_copy(update={"low": 1.0, "high": 1.0})
    pd.testing.assert_frame_equal(
        flown(plain.model_copy(update={"unknowns": Unknowns(each=(nothing,))})), flown(plain), check_exact=False, rtol=1e-12
    )


@pytest.mark.parametrize(
    ("module", "name", "value"),
    [(flights, "LANES", 5), (flights, "IDLE_LANES", 0.0), (flights, "IDLE_LANES", 1.0), (packing, "KEPT", 1)],
)
def test_pieces_and_what_is_kept_change_nothing(whole, monkeypatch, module, name, value):
    monkeypatch.setattr(module, name, value)
    pd.testing.assert_frame_equal(flown(doubtful(), workers=2), whole, check_exact=True)


def test_flights_of_several_draws_share_lanes(monkeypatch):
    chosen = doubtful()
    few = lay_out(chosen).iloc[:2]
    sizes = []
    monkeypatch.setattr(flights, "_do", lambda task, sources: sizes.append(task.fleet.size) or do(task, sources))
    list(fly_shards(Work(chosen, few, list_conditions(chosen), workers=1), plan_shards(2, 2, 4)))
    assert max(sizes) > 2 * PAIRS.waves


def test_a_recorded_flight_is_the_same_flight(whole):
    chosen = doubtful()
    craft, condition = craft_of(chosen, lay_out(chosen).iloc[7]), list_conditions(chosen)[1]
    single = fly_single(chosen, craft, condition, 3, 50.0)
    row = whole.query("design == 7 and condition == 1 and replicate == 3")
    for name in TOLD:
        assert single.responses[name] == pytest.approx(row[name].item(), rel=1e-9)
    wanted = [Wanted(0, condition, replicate) for replicate in range(4)]
    (*_, last) = record_each(chosen, [craft], wanted, lambda place, history: history)
    pd.testing.assert_frame_equal(last.reset_index(drop=True), single.history, check_exact=False, rtol=1e-9)


def test_crafts_of_no_design_table_are_drawn_too():
    chosen = doubtful()
    craft, conditions = craft_of(chosen, lay_out(chosen).iloc[3]), list_conditions(chosen)
    fresh = first_fresh(chosen)
    rows = fly_crafts(chosen, [chosen.craft, craft], conditions, range(fresh, fresh + 3))
    told = rows.query("design == 1 and condition == 1 and replicate == @fresh + 2")
    alone = by_hand(chosen, craft, conditions[1], fresh + 2)
    assert told["ride_height_error"].item() == pytest.approx(alone["ride_height_error"], rel=1e-9)


def test_a_boat_built_a_little_off_is_off_from_what_is_drawn():
    chosen = doubtful()
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    built = as_built(chosen, designs, [7])
    rows = pd.concat(fly_as_built(Work(chosen, designs, conditions), built))
    craft, fresh = craft_of(chosen, designs.iloc[7]), first_fresh(chosen)
    off = next(off for off in built.offs if off.name == "rangefinder delay")
    as_off = replace_values(craft, off.of(craft))
    told = rows.query("off == 'rangefinder delay' and condition == 0 and replicate == @fresh + 1")
    alone = by_hand(chosen, as_off, conditions[0], fresh + 1, craft)
    assert told["ride_height_error"].item() == pytest.approx(alone["ride_height_error"], rel=1e-9)


def test_a_cell_of_the_map_meets_a_draw_a_block(monkeypatch):
    chosen = load_campaign(QUICK).model_copy(update={"unknowns": PAIRS, "flight": Flight(length="4 s", settle="1 s", seed=3)})
    assert isinstance(chosen.map, RideMap)
    asked = set()
    at = packing.RangeFleets.at
    monkeypatch.setattr(
        packing.RangeFleets, "at", lambda self, speed, fault, boat=0: asked.add(boat) or at(self, speed, fault, boat)
    )
    work = Work(chosen, lay_out(chosen), map_conditions(chosen.map))
    next(iter(fly_map(work, chosen.map, [0, 3])))
    assert asked == {boat_of(chosen, first_fresh(chosen)), boat_of(chosen, first_fresh(chosen) + 1)}


def test_the_linear_forecast_is_that_of_the_drawn_crafts():
    chosen = doubtful()
    craft, conditions = craft_of(chosen, lay_out(chosen).iloc[3]), list_conditions(chosen)
    plain = predict_rides(campaign(replicates=4), craft, conditions)["ride_height_error"]
    drawn = predict_rides(chosen, craft, conditions)["ride_height_error"]
    assert (plain != drawn).all()
    near = WAKE.model_copy(update={"low": 0.99999, "high": 1.00001})
    same = predict_rides(doubtful(unknowns=Unknowns(each=(near,), waves=2, shared=4)), craft, conditions)["ride_height_error"]
    pd.testing.assert_series_equal(same, plain, rtol=1e-4)


UNKNOWN = SMALL.replace("limits:", "unknowns: {{wake.strength: +- 25 %}}\nlimits:", 1)


@pytest.mark.usefixtures("unpublished", "undoubted")
def test_a_folder_knows_its_flights_by_what_was_drawn(tmp_path):
    """Gone on with, it is the same; more replicates keep what flew; another range keeps nothing."""
    folder = tmp_path / "results"
    order = ["design", "condition", "replicate"]
    before = sweep.run(small(tmp_path, UNKNOWN), folder).flights.sort_values(order, ignore_index=True)
    listener = Listener()
    sweep.run(small(tmp_path, UNKNOWN), folder, watcher=listener)
    assert listener.told == 0
    more = sweep.run(small(tmp_path, UNKNOWN.replace("replicates: 2\nflight", "replicates: 3\nflight")), folder)
    assert read_manifest(folder).kept == 5 * 2 * 2
    kept = more.flights[more.flights["replicate"] < 2].sort_values(order, ignore_index=True)
    pd.testing.assert_frame_equal(kept, before, check_exact=True)
    with pytest.raises(StoreError, match=r"unknowns\.each\[0\]\.low: was 0\.75, is 0\.8"):
        sweep.run(small(tmp_path, UNKNOWN.replace("+- 25 %", "+- 20 %")), folder)


@pytest.mark.usefixtures("unpublished", "undoubted")
def test_the_folder_has_the_file_of_draws(tmp_path):
    rows = [f"{90 + each},{40 + each}" for each in range(21)]
    (tmp_path / "fit.csv").write_text("\n".join(["wake.strength (%),rangefinders.latency (ms)", *rows]))
    chosen = small(tmp_path, UNKNOWN.replace("{{wake.strength: +- 25 %}}", "{{file: fit.csv}}"))
    sweep.run(chosen, tmp_path / "results")
    (tmp_path / "fit.csv").unlink()
    assert load_results(tmp_path / "results").campaign.unknowns == chosen.unknowns

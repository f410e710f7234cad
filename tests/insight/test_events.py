"""Events read off a record: by hand, and as the model itself counted them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of, lay_out
from sweep.flying.flights import fly_shards
from sweep.flying.recording import record_flights
from sweep.flying.work import Work
from sweep.insight.events import foilborne, list_events
from sweep.model.pack.ground import lowest_part
from sweep.results.shard_plan import plan_shards
from tests.site_results import CRAFT, campaign

CONFIG = f"""\
title: Rough water
craft: {CRAFT}
factors:
  struts.height: [14 cm, 20 cm]
conditions:
  seas:
    rough: {{kind: jonswap, height: 11 cm, period: 1.3 s}}
  headings: [head, bow, following]
  speeds: [4 m/s]
  replicates: 1
flight: {{length: 16 s, settle: 4 s, seed: 4}}
"""


@pytest.fixture(scope="module")
def rough(tmp_path_factory: pytest.TempPathFactory) -> Campaign:
    path = tmp_path_factory.mktemp("campaign") / "rough.yaml"
    path.write_text(CONFIG, encoding="utf-8")
    return load_campaign(path)


def test_the_record_tells_what_the_model_counted(rough: Campaign) -> None:
    """Every touchdown and foil out of six rough flights; the record has 50 rows a second, the model counts every step."""
    designs, conditions = lay_out(rough), list_conditions(rough)
    shards = plan_shards(len(designs), len(conditions), 1)
    flights = pd.concat([rows for _, rows in fly_shards(Work(rough, designs, conditions, 1), shards)])
    seen = counted = 0
    for design, history in record_flights(Work(rough, designs, conditions, 1), [1, 2]).items():
        events = list_events(history, craft_of(rough, designs.loc[design]), 4.0, 16.0)
        mine = flights[flights["design"] == design]
        for kind, response in (("touchdown", "touchdowns"), ("foil out", "foil_outs"), ("ventilated", "ventilations")):
            if kind == "ventilated" and not any(str(name).startswith("ventilated") for name in history):
                continue
            seen += int((events["kind"] == kind).sum())
            counted += round(float((mine[response] * mine["time_foilborne"]).sum()))
        ended = set(events.loc[events["kind"] == "ended", "condition"])
        assert ended == set(mine.loc[mine["status"] != 0, "condition"])
    assert counted > 10, "a test of events needs some"
    assert abs(seen - counted) <= 0.1 * counted


def record(**columns: object) -> pd.DataFrame:
    time = np.arange(0.01, 10.0, 0.02)
    return pd.DataFrame({"condition": 0, "time": time, "hull_load": 0.0, "clearance": 0.1, "submergence": 0.1, **columns})


def during(*spans: tuple[float, float]) -> np.ndarray:
    time = np.arange(0.01, 10.0, 0.02)
    return np.any([(time > low) & (time < high) for low, high in spans], axis=0)


def events(history: pd.DataFrame, tmp_path: Path, length: float = 10.0) -> list[tuple[str, float]]:
    found = list_events(history, campaign(tmp_path).craft, 2.0, length)
    return [(kind, round(begin, 1)) for kind, begin in zip(found["kind"], found["begin"], strict=True)]


def test_a_touch_soon_after_another_is_the_same(tmp_path: Path) -> None:
    """MODEL.md: a new one after 0.3 s dry; what happens while the boat settles is not scored."""
    wet = during((1.0, 1.2), (4.0, 4.2), (4.4, 4.6), (6.0, 6.1))
    assert events(record(clearance=np.where(wet, -0.01, 0.1)), tmp_path) == [("touchdown", 4.0), ("touchdown", 6.0)]


def test_a_tip_is_out_after_fifty_milliseconds(tmp_path: Path) -> None:
    """MODEL.md: a tip under half a chord (here 14.4 mm) for 50 ms; over after 0.3 s deeper."""
    shallow = during((3.0, 3.04), (5.0, 5.2), (5.3, 5.6), (8.0, 8.4))
    assert events(record(submergence=np.where(shallow, 0.014, 0.1)), tmp_path) == [("foil out", 5.1), ("foil out", 8.1)]
    assert events(record(submergence=np.where(shallow, 0.015, 0.1)), tmp_path) == []


def test_air_on_any_foil_is_an_event(tmp_path: Path) -> None:
    told = record(ventilated_port=during((3.0, 3.5)) * 1.0, ventilated_aft=during((3.4, 4.0), (7.0, 7.1)) * 1.0)
    assert events(told, tmp_path) == [("ventilated", 3.0), ("ventilated", 7.0)]


def test_a_flight_that_stops_early_says_when(tmp_path: Path) -> None:
    assert events(record().iloc[:300], tmp_path) == [("ended", 6.0)]
    assert events(record(), tmp_path) == []
    assert events(record().iloc[:0], tmp_path) == []


def test_columns_that_are_missing_make_no_events(tmp_path: Path) -> None:
    assert events(record()[["condition", "time"]], tmp_path) == []


def test_a_floating_boat_does_not_touch_down(tmp_path: Path) -> None:
    """MODEL.md: flight is lost with over half the weight on the hull for 1 s, found again with under 5 % for 1 s."""
    time = np.arange(0.01, 10.0, 0.02)
    load = np.where(during((3.0, 6.0)), 0.9, 0.0)
    flying = foilborne(time, load, 1.0, np.zeros(len(time), dtype=bool))
    assert not flying[(time > 4.1) & (time < 6.9)].any()
    assert flying[(time < 3.9) | (time > 7.1)].all()
    wet = during((5.0, 5.5))
    assert events(record(hull_load=load, clearance=np.where(wet, -0.1, 0.1)), tmp_path) == []


def test_a_flight_that_ends_at_the_ground_touched_it(tmp_path: Path) -> None:
    """It comes down by 1 cm a row, and would be in the ground with the next; over deeper water it just ended."""
    craft = campaign(tmp_path).craft
    sinking = record(keel_height=0.0, pitch=0.0, roll=0.0).head(100)
    sinking["keel_height"] = np.linspace(1.0, 0.01, 100)
    lowest = float(lowest_part(craft, np.array(0.01), np.array(0.0), np.array(0.0)))
    for depth, kind in ((lowest + 0.009, "aground"), (lowest + 0.02, "ended")):
        found = list_events(sinking, craft, 0.5, 10.0, depth)
        assert found["kind"].tolist() == [kind]
        assert found["begin"].tolist() == [sinking["time"].iloc[-1]]

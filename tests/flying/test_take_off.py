"""Flights from rest, from the campaign file to the take-off that they report."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.draws import draw_block
from sweep.flying.flights import fly_shards
from sweep.flying.recording import record_flights
from sweep.flying.work import Work
from sweep.results.shard_plan import plan_shards

CRAFT = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"
CAMPAIGN = """\
title: Off the water
craft: {craft}
factors:
  body.mass: [3 kg, 4 kg]
  propulsor.static_thrust: [8 N, 10 N]
conditions:
  seas: {{calm: {{kind: flat}}}}
  speeds: [4 m/s]
  replicates: 1
flight: {{start: {start}, length: 16 s, settle: 2 s, seed: 3}}
"""


def flown(folder: Path, start: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """All flights by mass (kg) and thrust (N), and the time history of the base craft."""
    path = folder / "take-off.yaml"
    path.write_text(CAMPAIGN.format(craft=CRAFT, start=start))
    campaign = load_campaign(path)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    assert draw_block(campaign, conditions[0], 0).from_rest == (start == "rest")
    shards = plan_shards(len(designs), len(conditions), campaign.replicates)
    rows = pd.concat(rows for _, rows in fly_shards(Work(campaign, designs, conditions), shards))
    rows = rows.merge(designs, on="design")
    return rows.set_index(["body.mass", "propulsor.static_thrust"]), record_flights(Work(campaign, designs, conditions), [0])[0]


def test_a_flight_from_rest_lies_afloat_then_takes_off(tmp_path: Path) -> None:
    rows, history = flown(tmp_path, "rest")
    lying = history[history["time"] < 2.0]
    assert lying["x"].abs().max() < 0.01
    assert lying["hull_load"].mean() == pytest.approx(1.0, abs=0.01)  # Archimedes
    assert (rows["take_off_time"] > 0).all()
    assert (rows["time_foilborne"] < 14.0).all()
    # A heavier boat of the same thrust takes longer and farther, one of more thrust less long (common practice, no source).
    time, way = rows["take_off_time"], rows["take_off_distance"]
    for thrust in (8.0, 10.0):
        assert time[4.0, thrust] > time[3.0, thrust]
        assert way[4.0, thrust] > way[3.0, thrust]
        # No faster than full static thrust without any drag could take it that far: x = F t^2 / 2 m.
        assert time[4.0, thrust] > (2 * way[4.0, thrust] * 4.0 / thrust) ** 0.5
    assert time[3.0, 10.0] < time[3.0, 8.0]


def test_a_flight_that_starts_flying_has_no_take_off(tmp_path: Path) -> None:
    rows, history = flown(tmp_path, "flying")
    assert rows["take_off_time"].isna().all()
    assert history["speed"].iloc[0] == pytest.approx(4.0, abs=0.1)
    assert rows["time_foilborne"].iloc[0] == pytest.approx(14.0, abs=0.02)

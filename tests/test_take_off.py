"""Flights from rest, from the campaign file to the take-off that they report."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.conditions import list_conditions
from sweep.designs import lay_out
from sweep.flights import draw_block, fly_shards, plan_shards
from sweep.recording import record_flights

CRAFT = Path(__file__).parents[1] / "configs" / "craft" / "courier.yaml"
CAMPAIGN = """\
title: Off the water
craft: {craft}
factors:
  body.mass: [3 kg, 4 kg]
conditions:
  seas: {{calm: {{kind: flat}}}}
  speeds: [4 m/s]
  replicates: 1
flight: {{start: {start}, length: 12 s, settle: 2 s, seed: 3}}
"""


def flown(folder: Path, start: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """All flights, and the time history of the base craft."""
    path = folder / "take-off.yaml"
    path.write_text(CAMPAIGN.format(craft=CRAFT, start=start))
    campaign = load_campaign(path)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    assert draw_block(campaign, conditions[0], 0).from_rest == (start == "rest")
    shards = plan_shards(len(designs), len(conditions), campaign.replicates)
    rows = pd.concat(rows for _, rows in fly_shards(campaign, designs, conditions, shards))
    return rows.set_index("design"), record_flights(campaign, designs, conditions, [0])[0]


def test_a_flight_from_rest_lies_afloat_then_takes_off(tmp_path: Path) -> None:
    rows, history = flown(tmp_path, "rest")
    lying = history[history["time"] < 2.0]
    assert lying["x"].abs().max() < 0.01
    assert lying["hull_load"].mean() == pytest.approx(1.0, abs=0.01)  # Archimedes
    assert (rows["take_off_time"] > 0).all()
    assert (rows["time_foilborne"] < 10.0).all()
    # A heavier boat of the same thrust takes longer and farther (common practice, no source).
    assert rows.loc[2, "take_off_time"] > rows.loc[1, "take_off_time"]
    assert rows.loc[2, "take_off_distance"] > rows.loc[1, "take_off_distance"]
    # No faster than full static thrust without any drag could take it that far: x = F t^2 / 2 m.
    fastest = (2 * rows.loc[2, "take_off_distance"] * 4.0 / 30.0) ** 0.5
    assert rows.loc[2, "take_off_time"] > fastest


def test_a_flight_that_starts_flying_has_no_take_off(tmp_path: Path) -> None:
    rows, history = flown(tmp_path, "flying")
    assert rows["take_off_time"].isna().all()
    assert history["speed"].iloc[0] == pytest.approx(4.0, abs=0.1)
    assert rows.loc[0, "time_foilborne"] == pytest.approx(10.0, abs=0.02)

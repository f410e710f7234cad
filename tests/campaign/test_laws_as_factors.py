"""Words as levels, down to the flights: every law, layout and way to combine rangefinders in one campaign."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of, lay_out
from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.results.shard_plan import plan_shards

CRAFT = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"
CAMPAIGN = f"""\
title: Laws
craft: {CRAFT}
factors:
  control.law: [each-foil, level-and-height, fused-height]
  rangefinders.layout: [bow, over-foils]
  control.combine: [mean, vote, plane]
  firmness: {{addresses: [control.height.proportional], levels: [0.4 deg/cm, 0.8 deg/cm]}}
  rangefinders.count: [3, 4]
conditions:
  seas: {{chop: {{kind: jonswap, height: 4 cm, period: 1.1 s}}}}
  speeds: [4 m/s]
  replicates: 1
flight: {{length: 12 s, settle: 4 s, seed: 3}}
"""


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> pd.DataFrame:
    path = tmp_path_factory.mktemp("laws") / "laws.yaml"
    path.write_text(CAMPAIGN)
    campaign = load_campaign(path)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    assert craft_of(campaign, designs.iloc[-1]).control.law == "fused-height"
    shards = plan_shards(len(designs), len(conditions), campaign.replicates)
    rows = pd.concat(rows for _, rows in fly_shards(Work(campaign, designs, conditions), shards))
    return designs.join(rows.set_index("design"))


def test_every_law_flies_where_its_rangefinders_are(table: pd.DataFrame) -> None:
    """A foil that answers a rangefinder at the bow is no loop at all: each-foil needs one over each foil (geometry)."""
    designs = table.iloc[1:]
    lost = designs.groupby(["control.law", "rangefinders.layout"])["upsets"].mean()
    assert lost["each-foil", "bow"] > 0.5
    assert lost.drop(("each-foil", "bow")).max() == 0.0


def test_only_what_a_law_looks_at_makes_a_difference(table: pd.DataFrame) -> None:
    ways = ["control.law", "rangefinders.layout", "firmness", "rangefinders.count", "control.combine"]
    errors = table.iloc[1:].set_index(ways)
    by_way = errors["ride_height_error"].unstack("control.combine")
    assert (by_way.loc["each-foil", "over-foils"].nunique(axis=1) == 1).all()
    assert (by_way.loc["level-and-height", "over-foils"].nunique(axis=1) == 3).all()

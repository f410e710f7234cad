"""A lesson's own campaign file, flown by the functions that a run uses; and what the lessons ask of its flights."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pandas as pd

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.model.quantities import STATUS_NAMES
from sweep.results.shard_plan import plan_shards

FOLDER = Path(__file__).parents[2] / "configs" / "lessons"
FLEW = STATUS_NAMES.index("flew")


LEAST_REPLICATES = 1
"""The long command asks for more than the campaigns have; the tests fly these as they are."""


@cache
def campaign_of(name: str) -> Campaign:
    """The campaign of a lesson."""
    campaign = load_campaign(FOLDER / f"{name}.yaml")
    return campaign.model_copy(update={"replicates": max(campaign.replicates, LEAST_REPLICATES)})


@cache
def flights_of(name: str) -> pd.DataFrame:
    """Every flight of a lesson: factors, condition, replicate, status and responses (SI); the base craft left out.

    The column `lost` says that it upset, went under, did not start, or came off its foils for a second.
    """
    campaign = campaign_of(name)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    shards = plan_shards(len(designs), len(conditions), campaign.replicates)
    rows = pd.concat([rows for _, rows in fly_shards(Work(campaign, designs, conditions), shards)], ignore_index=True)
    told = condition_table(conditions)[["condition", "sea", "heading_name", "speed", "fault"]]
    table = rows.merge(told, on="condition").join(designs, on="design")
    table["lost"] = (table["status"] != FLEW) | (table["lost_flights"] > 0)
    return table[table["design"] > 0]


def where(table: pd.DataFrame, **values: float | str) -> pd.DataFrame:
    """The rows with these values; in a name two underscores stand for a dot, numbers within a thousandth."""
    for name, value in values.items():
        column = table[name.replace("__", ".")]
        same = column == value if isinstance(value, str) else (column - value).abs() <= 1e-3 * abs(value) + 1e-12
        table = table[same]
    assert len(table) > 0, values
    return table

from __future__ import annotations

import math
from pathlib import Path

from sweep.campaign.conditions import condition_table, list_conditions
from tests.campaign.files import load


def test_every_sea_with_every_heading_and_speed(tmp_path: Path) -> None:
    conditions = list_conditions(load(tmp_path))
    assert [condition.index for condition in conditions] == list(range(18))
    assert [condition.name for condition in conditions][:6] == [
        "calm, 3.5 m/s",
        "calm, 2.5 m/s",
        "chop 4 cm, head, 3.5 m/s",
        "chop 4 cm, head, 2.5 m/s",
        "chop 4 cm, 120 deg, 3.5 m/s",
        "chop 4 cm, 120 deg, 2.5 m/s",
    ]
    assert len({condition.name for condition in conditions}) == 18
    last = conditions[-1]
    assert (last.sea.name, last.heading.name, last.speed, last.fault.name) == ("swell 2 s", "120 deg", 2.5, "none")


def test_the_table(tmp_path: Path) -> None:
    table = condition_table(list_conditions(load(tmp_path)))
    assert list(table.columns) == [
        "condition", "name", "sea", "sea_height", "sea_period", "heading_deg", "heading_name", "speed", "fault", "course",
    ]  # fmt: skip
    calm, chop = table.iloc[0], table.iloc[2]
    assert math.isnan(calm["heading_deg"])
    assert math.isnan(calm["sea_period"])
    assert (chop["sea_height"], chop["sea_period"], chop["heading_deg"], chop["heading_name"]) == (0.04, 1.2, 180.0, "head")

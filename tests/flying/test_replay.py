"""The sea of a replay is the one that was flown, or none."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying.recording import record_flights
from sweep.flying.replay import draw_seas, elevation, sea_table, shows
from sweep.flying.work import Work
from sweep.results.manifest import manifest_of
from sweep.results.store import Results
from tests.site_results import CRAFT, results

CONFIG = f"""\
title: Two seas
craft: {CRAFT}
factors:
  struts.height: [18 cm, 20 cm]
conditions:
  seas:
    chop: {{kind: jonswap, height: 4 cm, period: 1.0 s, spreading: 20}}
    packet: {{kind: packet, height: 6 cm, period: 1.2 s, waves: 4, arrives: 5 s}}
    flat: {{kind: flat}}
  headings: [bow]
  speeds: [4 m/s]
flight: {{length: 8 s, settle: 2 s, seed: 4}}
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    """A flown record of the base craft; the tables that a replay does not look at are those of other results."""
    path = tmp_path_factory.mktemp("campaign") / "seas.yaml"
    path.write_text(CONFIG, encoding="utf-8")
    flown = load_campaign(path)
    designs, conditions = lay_out(flown), list_conditions(flown)
    recorded = record_flights(Work(flown, designs, conditions, 1), [0])
    tables = dict.fromkeys(("conditions", "flights", "standings", "limits"), pd.DataFrame())
    return Results(
        campaign=flown, designs=designs, leaders=recorded, manifest=manifest_of(flown, 1, len(conditions), {}), **tables
    )


def test_the_surface_of_a_record_is_met_to_a_millimetre(told: Results) -> None:
    """The record holds the surface where the flight was, as the kernels summed it; they hold it over a step or two."""
    seas = draw_seas(told)
    for condition, flight in told.leaders[0].groupby("condition"):
        x, y, time = (flight[name].to_numpy() for name in ("x", "y", "time"))
        off = elevation(seas[int(str(condition))], x, y, time, 2.0) - flight["surface"]
        assert np.sqrt((off**2).mean()) < 0.002
    assert sorted(set(sea_table(seas, told.leaders[0], 2.0)["condition"])) == [0, 1], "calm water has no components"


def test_another_sea_is_not_drawn(told: Results) -> None:
    seas = draw_seas(told)
    flight = told.leaders[0][told.leaders[0]["condition"] == 0]
    assert shows(flight, seas[0], 2.0)
    assert not shows(flight, seas[0].assign(phase=seas[0]["phase"] + 1.0), 2.0)
    assert not shows(flight, seas[1], 2.0)
    assert not shows(flight.drop(columns=["x"]), seas[0], 2.0)


def test_seven_digits_keep_the_phase(tmp_path: Path) -> None:
    told = results(tmp_path, leaders=1)
    seas = draw_seas(told)
    rounded = sea_table(seas, told.leaders[0], 4.0)
    far = np.full(1, 200.0)
    for condition, sea in seas.items():
        mine = rounded[rounded["condition"] == condition]
        assert elevation(mine, far, far, far, 4.0) == pytest.approx(elevation(sea, far, far, far, 4.0), abs=1e-4)

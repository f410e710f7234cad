"""How steady a design is, as its page says: modes, margins, wave response and foretold rides, beside their own sources."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.conditions import list_conditions
from sweep.campaign.craft import Craft
from sweep.campaign.designs import craft_of
from sweep.campaign.draws import water_of
from sweep.linear.prediction import predict_rides
from sweep.linear.reach import reach
from sweep.linear.table import mode_table, stable_spans
from sweep.report.charts.stability import SIGNS
from sweep.report.pages.stability import (
    FASTEST_FADE,
    ROOT_SPEEDS,
    Steadiness,
    WaveResponse,
    shown_modes,
    steady_of,
    wave_response,
)
from sweep.results.store import Results
from tests.model.crafts import changed

DESIGN = 7


@pytest.fixture(scope="module")
def craft(told: Results) -> Craft:
    return craft_of(told.campaign, told.designs.loc[DESIGN])


@pytest.fixture(scope="module")
def page(told: Results, craft: Craft) -> Steadiness:
    return steady_of(told, DESIGN, craft).steadiness


@pytest.fixture(scope="module")
def modes(told: Results, craft: Craft) -> pd.DataFrame:
    water = water_of(told.campaign)
    found = reach(craft, water, told.campaign.speeds)
    assert found is not None
    return shown_modes(mode_table(craft, water, np.linspace(found.low, found.high, ROOT_SPEEDS).tolist()), craft.control.rate)


@pytest.fixture(scope="module")
def waves(told: Results, craft: Craft) -> WaveResponse:
    found = wave_response(told.campaign, craft)
    assert found is not None
    return found


def test_modes_pass_the_line_at_the_speed_limit(modes: pd.DataFrame, told: Results, craft: Craft) -> None:
    assert modes["growth"].min() > -FASTEST_FADE
    assert (modes["frequency"] >= 0.0).all()
    grows = modes.groupby("speed")["growth"].max() > 0.0
    ((_, limit),) = stable_spans(craft, water_of(told.campaign), sorted(grows.index))
    assert grows[grows].index.min() > limit > grows[~grows].index.max()
    assert all((": doubles" in said) == (growth > 0.0) for said, growth in zip(modes["said"], modes["growth"], strict=True))
    assert set(modes["motion"]) <= set(SIGNS)


def test_a_row_a_speed_of_the_campaign(page: Steadiness) -> None:
    assert page.margin_headings == ["speed", "slowest mode", "least damped oscillation", "height", "pitch", "roll", "heading"]
    assert [row.speed for row in page.margins] == ["4 m/s"]
    assert 1 + len(page.margins[0].cells) == len(page.margin_headings)
    assert page.share_headings == ["speed", "height", "pitch", "roll", "heading", "all gains"]
    assert len(page.shares) == 1
    assert len(page.shares[0]) == len(page.share_headings)


def test_wave_response_and_spectra(page: Steadiness, waves: WaveResponse, told: Results) -> None:
    """Short waves are not followed, long ones are; every spectrum peaks at one over its period."""
    table = waves.table
    assert [each.chart.title for each in page.waves] == [
        "Ride-height error per wave height, at 4 m/s",
        "Rise and fall of the boat per wave height, at 4 m/s",
    ]
    assert set(table["heading"]) == set(waves.names) == {"head", "following"}
    head = table[table["heading"] == "head"].sort_values("frequency")
    assert head["error"].iloc[-1] == pytest.approx(1.0, abs=0.05)
    assert head["level"].iloc[-1] < 0.05
    assert head["error"].iloc[0] < 0.4
    for sea in told.campaign.seas:
        shape = waves.spectra[waves.spectra["sea"] == sea.name].set_index("frequency")["share"]
        assert shape.max() == 1.0
        assert shape.idxmax() == pytest.approx(1.0 / sea.period, abs=0.03)


def test_foretold_rides_stand_beside_the_flown_ones(page: Steadiness, told: Results, craft: Craft) -> None:
    """In the same seas: a foretold error is between that of the two seas' heights, and the difference is told."""
    foretold = predict_rides(told.campaign, craft, list_conditions(told.campaign))["ride_height_error"]
    assert np.isfinite(foretold).all()
    assert [row.condition for row in page.rides] == told.conditions["name"].tolist()
    flown = told.flights_of(DESIGN).groupby("condition")["ride_height_error"].mean()
    off = 100.0 * (foretold.iloc[0] / flown.iloc[0] - 1.0)
    assert float(page.rides[0].off.removesuffix(" %")) == pytest.approx(off, rel=0.06)
    assert foretold[2] > foretold[0]  # the chop is higher than the ripple


def test_nothing_is_foretold_where_small_motions_grow(told: Results, craft: Craft) -> None:
    wild = changed(craft, {"control.pitch.proportional": 8.0})
    assert predict_rides(told.campaign, wild, list_conditions(told.campaign)).isna().all(axis=None)
    page = steady_of(told, DESIGN, wild).steadiness
    assert page.waves == []
    assert page.rides == []
    assert "unstable at every speed" in page.sentences[0]


def test_a_craft_that_trims_nowhere(told: Results, craft: Craft) -> None:
    page, data, files = steady_of(told, DESIGN, changed(craft, {"propulsor.static_thrust": 0.1}))
    assert (page.margins, page.waves, page.modes, data, files) == ([], [], None, [], {})

"""Outings as they are flown: what counts as clean, what failed first, and that a stopped run goes on with the same ones."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import sweep
from sweep.campaign import outings as plan
from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying.outing_failures import worth_seeing
from sweep.flying.outings import first_failures, fly_outings
from sweep.flying.progress import Watcher
from sweep.flying.replay import elevation
from sweep.flying.work import Work
from sweep.insight.outings import COLUMNS
from sweep.model.quantities import STATUS_NAMES
from sweep.report.display import craft_of_design
from sweep.report.page import gather
from sweep.report.pages.candidates import lines_of
from sweep.report.pages.outing_replay import excerpts_of, seen_of
from sweep.report.pages.outings import outings_of
from sweep.report.pages.ride import recorded_of
from sweep.results import store
from tests.campaign.files import load

COURIER = Path(__file__).parents[2] / "configs" / "craft" / "courier.yaml"

FLIGHT: dict[str, Any] = {
    "status": 0, "time_flown": 595.0, "touchdowns": 0.0, "broaches": 0.0, "lost_flights": 0.0, "before_touchdown": 595.0,
    "before_broach": 595.0, "before_loss": 595.0, "take_offs": 2.0,
}  # fmt: skip

ENDS: dict[str, tuple[dict[str, Any], tuple[str, float]]] = {
    "clean": ({}, ("", 595.0)),
    "it stayed down after its stop": ({"take_offs": 1.0}, ("did not take off", 595.0)),
    "a touch in the first turn": ({"touchdowns": 0.01, "before_touchdown": 163.0}, ("touchdown in a turn", 163.0)),
    "a broach, then a touch": (
        {"touchdowns": 0.01, "before_touchdown": 90.5, "broaches": 0.01, "before_broach": 90.0},
        ("broach", 90.0),
    ),
    "upset at once": ({"status": STATUS_NAMES.index("upset"), "time_flown": 200.0}, ("upset", 200.0)),
    "upset after a broach": (
        {"status": STATUS_NAMES.index("upset"), "time_flown": 200.0, "broaches": 0.01, "before_broach": 198.0},
        ("broach", 198.0),
    ),
    "fell back": ({"lost_flights": 1.0, "before_loss": 440.0}, ("loss of flight in a start", 440.0)),
    "no trim": (
        dict.fromkeys(FLIGHT, np.nan) | {"status": STATUS_NAMES.index("no-trim")},
        ("no trim", 0.0),
    ),
}


@pytest.mark.parametrize("name", ENDS)
def test_what_failed_first(name: str) -> None:
    changes, wanted = ENDS[name]
    names, at_risk = first_failures(pd.DataFrame([FLIGHT | changes]))
    assert (names[0], at_risk[0]) == wanted


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Outings of a fortieth of their length."""
    legs = ({"time": "5 s"}, {"time": "3 s", "turn": "40 deg"}, {"stop": "2 s"}, {"time": "4 s"})
    course = plan.NamedCourse(name="outing", legs=tuple(map(plan.Leg.model_validate, legs)))
    monkeypatch.setattr(plan, "LENGTH", 15.0)
    monkeypatch.setattr(plan, "LIES", 1.0)
    monkeypatch.setattr(plan, "OUTING", course)


@pytest.fixture
def work(tmp_path: Path, short: None) -> Work:
    """Three designs in two seas."""
    fewer = ("    swell: {kind: regular, height: 5 cm, period: [1 s, 2 s]}\n", "")
    campaign = load(tmp_path, ("flight: {", "outings: 6\nflight: {"), fewer)
    return Work(campaign, lay_out(campaign).head(3), list_conditions(campaign))


def test_every_outing_once_and_from_any_number_on_the_same(work: Work) -> None:
    whole = pd.concat(fly_outings(work, [0, 2]), ignore_index=True)
    assert list(whole) == list(COLUMNS)
    assert whole["outing"].tolist() == sorted([*range(6)] * 2)
    assert whole["design"].tolist() == [0, 2] * 6
    assert ((whole["clean"] == 1) == (whole["first_failure"] == "")).all()
    assert (whole["at_risk"] <= 14.0 + 1e-9).all()
    pd.testing.assert_frame_equal(pd.concat(fly_outings(work, [0, 2], 4), ignore_index=True), whole[8:].reset_index(drop=True))


SMALL = """\
title: Out and back
craft: {craft}
factors: {{foils.*.area: [40 cm^2, 50 cm^2]}}
conditions:
  seas: {{chop: {{kind: jonswap, height: 4 cm, period: 1.1 s}}}}
  headings: [head, following]
  speeds: 4 m/s
  replicates: 1
flight: {{length: 6 s, settle: 2 s}}
map: {{replicates: 0}}
fly_on: none
outings: 12
"""


def test_a_run_that_was_stopped_flies_the_outings_that_are_missing(
    tmp_path: Path, short: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the same table, which stands by its content: with another number of outings it is flown anew."""
    monkeypatch.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")
    path, folder = tmp_path / "small.yaml", tmp_path / "results"
    path.write_text(SMALL.format(craft=COURIER))
    results = sweep.run(load_campaign(path), folder)
    whole = results.outings
    assert len(whole) == 12 * len(results.leaders)
    with store.locked(folder):
        store.write_grown(folder, "outings", whole.head(5 * len(results.leaders)))
    flown = Counted()
    again = sweep.run(load_campaign(path), folder, watcher=flown)
    assert flown.flights == 7 * len(results.leaders)
    pd.testing.assert_frame_equal(again.outings, whole)
    told = outings_of(again, 0)
    clean = int(whole.loc[whole["design"] == 0, "clean"].sum())
    assert told.title.startswith(f"Clean outings: {clean} of 12 (")
    assert [row.which for row in told.rows] == ["all", "head seas", "following seas"]
    assert {row.share for row in told.rows[1:]} == {"not shown"}
    (cells,) = (line.cells for line in lines_of(again, [0]) if line.name == "clean outings")
    assert cells[0].value == f"{clean} of 12"


class Counted(Watcher):
    """Counts the flights of outings."""

    def __init__(self) -> None:
        self.flights, self._out = 0, False

    def say(self, sentence: str) -> None:
        self._out = "whole outings" in sentence

    def flown(self, flights: int) -> None:
        self.flights += flights * self._out


def test_where_none_was_flown_nothing_is_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")
    path = tmp_path / "small.yaml"
    path.write_text(SMALL.format(craft=COURIER).replace("outings: 12\n", ""))
    results = sweep.run(load_campaign(path), tmp_path / "results")
    assert outings_of(results, 0).title == "Clean outings: not shown"
    assert not (tmp_path / "results" / "outings.parquet").exists()
    (cells,) = (line.cells for line in lines_of(results, [0]) if line.name == "clean outings")
    assert cells[0].value == "not shown"


def test_the_seconds_of_a_failed_outing_open_on_the_design_s_page(
    tmp_path: Path, short: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sea drawn for the replay is the one that was recorded there; a folder without the seconds gets them, and no more."""
    monkeypatch.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")
    path, folder = tmp_path / "small.yaml", tmp_path / "results"
    path.write_text(SMALL.format(craft=COURIER).replace("height: 4 cm", "height: 9 cm"))
    results = sweep.run(load_campaign(path), folder)
    failed = results.outings[results.outings["clean"] == 0]
    seen = results.outing_moments.groupby(["design", "outing"]).size()
    assert len(seen) >= 3
    assert set(seen.index) <= set(zip(failed["design"], failed["outing"], strict=True))
    assert seen.groupby("design").size().max() <= plan.MOST_SEEN
    design = int(seen.index[0][0])
    links, excerpts = seen_of(results, design), excerpts_of(results, design)
    numbers = [number for number, _ in excerpts.named]
    assert [int(re.findall(r"#condition=(\d+)&", link.page)[0]) for link in links] == numbers
    assert min(numbers) >= len(results.conditions)
    for number in numbers:
        record = excerpts.history[excerpts.history["condition"] == number]
        there = elevation(excerpts.seas[number], *(record[name].to_numpy(float) for name in ("x", "y", "time")), plan.LIES)
        assert np.std(there - record["surface"]) < 0.05 * np.std(record["surface"]), "the sea of the replay is the one it met"
        failure = failed[(failed["design"] == design) & (failed["outing"] == number - len(results.conditions))]
        assert record["time"].min() <= plan.LIES + failure["at_risk"].iloc[0] <= record["time"].max() + 0.1
    page = recorded_of(gather(results), design, craft_of_design(results, design)).ride
    assert page is not None
    assert [number for number, _ in page.parts][-len(numbers) :] == numbers
    assert all(f'"{number}":' in str(panel.spec) for number in numbers for panel in page.panels), "each has its own axis"
    (folder / "outing_moments.parquet").unlink()
    flown = Counted()
    again = sweep.run(load_campaign(path), folder, watcher=flown)
    assert flown.flights == 0
    pd.testing.assert_frame_equal(again.outing_moments, results.outing_moments)
    pd.testing.assert_frame_equal(again.outing_events, results.outing_events)


def test_one_of_each_failure_is_looked_at_before_a_second_of_one() -> None:
    names = ["touchdown", "touchdown", "broach", "", "touchdown", "no trim"]
    status = [0, 0, 0, 0, 0, STATUS_NAMES.index("no-trim")]
    rows = pd.DataFrame({"first_failure": names, "status": status, "outing": range(6)}).assign(design=3)
    rows["clean"] = (rows["first_failure"] == "").astype(int)
    assert worth_seeing(rows)["outing"].tolist() == [0, 2, 1]

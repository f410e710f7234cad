"""Bad events of the leaders: every bad flight, up to a number, with causes and the seconds around, as it was flown."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import sweep
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import craft_of, lay_out
from sweep.flying import failures
from sweep.flying.flights import fly_shards
from sweep.flying.recording import fly_single
from sweep.flying.work import Work
from sweep.insight.events import list_events
from sweep.report import publishing
from sweep.report.pages import causes as of_causes
from sweep.results import tables
from sweep.results.manifest import FollowUp
from sweep.results.shard_plan import plan_shards
from sweep.results.store import Results
from tests.insight.test_events import CONFIG
from tests.site_results import plain, results


class Flown:
    """A campaign in rough water with two replicates, all its flights, and what went wrong in those of two designs."""

    def __init__(self, folder: Path) -> None:
        path = folder / "rough.yaml"
        path.write_text(CONFIG.replace("replicates: 1", "replicates: 2"), encoding="utf-8")
        self.campaign: Campaign = load_campaign(path)
        self.designs, self.conditions = lay_out(self.campaign), list_conditions(self.campaign)
        shards = plan_shards(len(self.designs), len(self.conditions), 2)
        parts = fly_shards(Work(self.campaign, self.designs, self.conditions, 1), shards)
        self.flights = pd.concat([rows for _, rows in parts], ignore_index=True)
        self.told = self.explain([1, 2])

    def of(self, design: int) -> pd.DataFrame:
        """The flights of a design."""
        return self.flights[self.flights["design"] == design]

    def explain(self, chosen: list[int], most: int = 12) -> failures.Troubles:
        """What went wrong."""
        return failures.explain(Work(self.campaign, self.designs, self.conditions, 1), chosen, self.of, most)


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory) -> Flown:
    return Flown(tmp_path_factory.mktemp("rough"))


def test_every_bad_flight_has_its_events_with_causes(flown: Flown) -> None:
    events = flown.told.events
    assert list(events) == tables.EVENT
    assert len(events) > 10
    for design in (1, 2):
        bad = failures.bad_flights(flown.of(design))
        mine = events[events["design"] == design]
        told = set(zip(mine["condition"], mine["replicate"], strict=True))
        assert set(bad["replicate"]) == {0, 1}
        assert told <= set(bad.itertuples(index=False, name=None))
        assert len(told) >= len(bad) - 1
    assert (events["why"].str.len() > 0).all()
    assert events["cause"].nunique() > 1


def test_an_event_is_that_of_the_flight_and_its_seconds_are_kept(flown: Flown) -> None:
    events, moments = flown.told
    event = events[events["replicate"] == 1].iloc[0]
    craft = craft_of(flown.campaign, flown.designs.loc[event["design"]])
    once_more = fly_single(flown.campaign, craft, flown.conditions[event["condition"]], 1, 50.0).history
    found = list_events(once_more, craft, 4.0, 16.0)
    assert (event["kind"], event["begin"]) in set(zip(found["kind"], found["begin"], strict=True))
    rows = failures.moment(moments, event)
    near = once_more[once_more["time"].between(event["begin"] - 3.0, event["end"] + 3.0)]
    np.testing.assert_array_equal(rows["time"], near["time"])
    np.testing.assert_array_equal(rows["clearance"], near["clearance"].astype(np.float32))
    outside = once_more["time"].max() - once_more["time"].min()
    assert moments.groupby(tables.FLIGHT)["time"].agg(np.ptp).max() <= outside


def test_more_bad_flights_than_are_flown_again_are_told(flown: Flown, tmp_path: Path) -> None:
    few = flown.explain([1], most=2).events
    bad = failures.bad_flights(flown.of(1))
    assert set(zip(few["condition"], few["replicate"], strict=True)) <= set(bad.head(2).itertuples(index=False, name=None))
    told = made_up(flown, few, tmp_path)
    told = dataclasses.replace(told, manifest=dataclasses.replace(told.manifest, tail=FollowUp(8, 2)))
    shown, _ = of_causes.of_design(told, 1)
    assert shown is not None
    assert f"Of its 6 flights {len(bad)} had" in shown.which
    assert " early end. The first 2 of them were flown again" in shown.which


def made_up(flown: Flown, events: pd.DataFrame, folder: Path) -> Results:
    """Made-up results with these flights and events."""
    told, names = results(folder, leaders=1), [condition.name for condition in flown.conditions]
    conditions = told.conditions.head(len(names)).assign(name=names)
    return dataclasses.replace(told, flights=flown.flights, troubles=events, conditions=conditions)


def test_a_design_without_a_bad_flight_says_so(flown: Flown, tmp_path: Path) -> None:
    sound = flown.flights.assign(status=0, touchdowns=0.0, broaches=0.0, lost_flights=0.0, upsets=0.0)
    assert failures.bad_flights(sound).empty
    none = failures.explain(Work(flown.campaign, flown.designs, flown.conditions, 1), [1], lambda design: sound)
    assert none.events.empty
    assert none.moments.empty
    told = dataclasses.replace(made_up(flown, none.events, tmp_path), flights=sound)
    shown, _ = of_causes.of_design(told, 1)
    assert shown is not None
    assert shown.sentence == "Nothing went wrong in these flights."
    assert "None of its 6 flights" in shown.which


def test_the_page_and_the_notebook_have_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(publishing.DESIGN_PAGES, "card")  # which does not tell of them, and flies first runs
    told = results(tmp_path, leaders=1)
    design = max(told.leaders)
    event = {"design": design, "condition": 0, "replicate": 2, "kind": "touchdown", "begin": 5.0, "end": 5.1}
    events = pd.DataFrame([event | {"cause": "thrust short", "why": "the speed had fallen to 40 % of what is wanted"}])
    moments = pd.DataFrame({"design": design, "condition": 0, "replicate": 2, "time": np.arange(0.0, 20.0, 1.0)})
    told = dataclasses.replace(told, troubles=events, moments=moments)
    files = publishing.render(told)
    assert f"{told.conditions['name'].iloc[0]}, replicate 2" in plain(files[f"design-{design}.html"]).replace("&amp;", "&")
    assert "the speed had fallen" in files[f"data/troubles-{design}.csv"]
    table = sweep.causes(told)
    assert table["condition_name"].tolist() == [told.conditions["name"].iloc[0]]
    assert sweep.moment(told, table.iloc[0])["time"].tolist() == [2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]

"""First runs: what the card tells to begin with stays up in the model, for every shipped craft, and every law on some."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import Condition
from sweep.campaign.draws import water_of
from sweep.campaign.water import NamedHeading
from sweep.flying.flights import fly_crafts
from sweep.linear.reach import reach
from sweep.linear.shares import TOGETHER
from sweep.linear.table import stability_table
from sweep.model.quantities import FLEW
from sweep.preflight.cures import EACH, HEIGHT_DOWN, Change, cures
from sweep.preflight.first_runs import (
    FLAT,
    SHARES,
    FirstRuns,
    NoRuns,
    RunTally,
    _fly,
    _tally,
    first_runs,
    mildest,
    tried_speeds,
    with_share,
)
from sweep.report.pages.first_runs import no_recipe, steps

CONFIGS = Path(__file__).parents[2] / "configs"
CRAFTS = sorted(path.stem for path in (CONFIGS / "craft").glob("*.yaml"))
LAWS = ("each-foil", "level-and-height", "fused-height")
FLOWN = sorted({(name, LAWS[at % len(LAWS)]) for at, name in enumerate(CRAFTS)} | {("courier", law) for law in LAWS})
SPEEDS = {"classroom": "3 m/s", "courier": "4 m/s", "lookout": "[4 m/s, 5 m/s]", "surveyor": "[6 m/s, 9 m/s]"}
CAMPAIGN = """\
title: t
craft: {craft}
factors: {{window.clearance: [1 cm, 2 cm]}}
conditions:
  seas: {{chop: {{kind: jonswap, height: 3 cm, period: 1.1 s}}, swell: {{kind: regular, height: 8 cm, period: 2 s}}}}
  headings: head
  speeds: {speeds}
flight: {{seed: 23}}
"""
FRESH = range(5000, 5024)


def of(name: str, tmp_path: Path) -> Campaign:
    path = tmp_path / "c.yaml"
    text = CAMPAIGN.format(craft=CONFIGS / "craft" / f"{name}.yaml", speeds=SPEEDS.get(name, "4 m/s"))
    path.write_text(text, encoding="utf-8")
    return load_campaign(path)


@cache
def first_runs_of(name: str, law: str) -> FirstRuns | NoRuns:
    """The first runs of a shipped craft under a law, flown once for all tests."""
    with TemporaryDirectory() as place:
        campaign = of(name, Path(place))
    return first_runs(campaign, replace_values(campaign.craft, {"control.law": law}))


def own_first_runs(name: str, campaign: Campaign) -> FirstRuns | NoRuns:
    """Those under the law of its own file."""
    return first_runs_of(name, campaign.craft.control.law)


def upset(campaign: Campaign, craft: object, speed: float, start: str) -> int:
    """Of 24 flights of 20 s with waves of noise that no search saw, on flat water: how many did not stay up."""
    times = {"start": start, "length": 20.0, "settle": 1.0}
    flown = campaign.model_copy(update={"flight": campaign.flight.model_copy(update=times)})
    there = Condition(0, "flat", FLAT, NamedHeading(name="head", angle=np.pi), speed)
    return int((fly_crafts(flown, [craft], [there], FRESH)["status"] != FLEW).sum())


@pytest.mark.parametrize(("name", "law"), FLOWN)
def test_the_first_run_of_every_craft_and_law_stays_up(name: str, law: str, tmp_path: Path) -> None:
    """Flown afresh, with other noise and longer; where none is told, nothing tried is clean with room around it."""
    campaign = of(name, tmp_path)
    craft = replace_values(campaign.craft, {"control.law": law})
    told = first_runs_of(name, law)
    if isinstance(told, NoRuns):
        assert law == "each-foil" or told.nearest is not None
        return
    setting = told.setting
    assert (setting.share, round(setting.speed, 1)) == (setting.share, setting.speed), "what is told is what was flown"
    for tally in (told.rest, told.trim):
        assert tally.clean
        assert tally.flights == 24
    assert told.craft == with_share(craft, setting.share)
    for start in ("rest", "flying"):
        assert upset(campaign, told.craft, setting.speed, start) == 0
    for share in told.shares:
        assert upset(campaign, with_share(craft, share), setting.speed, "flying") == 0
    for speed in told.sound[1:]:
        assert upset(campaign, craft, speed, "flying") == 0
    (row,) = stability_table(craft, water_of(campaign), [setting.speed])
    low, high = row.shares[TOGETHER]
    assert low < setting.share <= 1.0 < high


def test_shipped_crafts_under_their_own_law_have_a_first_run(tmp_path: Path) -> None:
    """But the ranger: at the low speeds of first runs its shortest strut touches in every flight, and its card says that.

    Nor the pair, whose sonar is silent for longer than its code goes on, and the cascaded one: one flight of 24 touches.
    """
    without = {"ranger": 0, "courier-pair": 1, "courier-cascaded": 0}
    for name in CRAFTS:
        found = own_first_runs(name, of(name, tmp_path))
        assert isinstance(found, NoRuns if name in without else FirstRuns), name
        if isinstance(found, NoRuns):
            assert (found.stopped > 0) == bool(without[name]), name


def test_half_of_every_gain_at_the_lowest_speed_that_flies_is_not_told(tmp_path: Path) -> None:
    """The classroom craft: so set it upsets in every flight; what is told is faster, with more of its gains."""
    campaign = of("classroom", tmp_path)
    slowest = tried_speeds(campaign, campaign.craft)[0]
    assert upset(campaign, with_share(campaign.craft, 0.5), slowest, "flying") == 24
    told = own_first_runs("classroom", campaign)
    assert isinstance(told, FirstRuns)
    assert told.setting.speed > 1.3 * slowest
    assert told.setting.share > 0.7
    speed, tally = told.setting.slower
    assert speed < told.setting.speed
    assert tally is None or not tally.safe


def test_a_change_that_upsets_is_kept_back(tmp_path: Path) -> None:
    """A third off the only gain of the classroom craft upsets it."""
    campaign = of("classroom", tmp_path)
    told = own_first_runs("classroom", campaign)
    assert isinstance(told, FirstRuns)
    found = {cure.sign: cure for cure in cures(campaign, campaign.craft, told)}
    assert [*found] == [*EACH]
    porpoises = found["porpoises slowly, more and more"]
    assert HEIGHT_DOWN.said not in porpoises.does
    ((said, tally),) = porpoises.withheld
    assert said == HEIGHT_DOWN.said
    assert tally.upset > 0
    weak = HEIGHT_DOWN.of(campaign.craft)
    assert weak is not None
    assert upset(campaign, weak, told.setting.speed, "flying") > 0


def test_a_gain_of_nothing_is_not_raised(tmp_path: Path) -> None:
    campaign = of("courier", tmp_path)
    assert Change("up", {"control.pitch.integral": 4 / 3}).of(campaign.craft) is None
    assert Change("up", {"control.pitch.proportional": 4 / 3}).of(campaign.craft) is not None


def test_a_boat_that_never_flies_has_no_first_run(tmp_path: Path) -> None:
    campaign = of("courier", tmp_path)
    heavy = replace_values(campaign.craft, {"body.mass": 9.0, "propulsor.static_thrust": 1.0})
    assert first_runs(campaign, heavy) == NoRuns((), None)


def test_one_speed_with_no_room_is_not_called_unstable(tmp_path: Path) -> None:
    """The speed a little over take-off is past the campaign's fastest: nothing was flown, and small motions fade."""
    campaign = of("courier", tmp_path)
    found = reach(campaign.craft, water_of(campaign), campaign.speeds)
    assert found is not None
    told = first_runs(campaign.model_copy(update={"speeds": (1.01 * found.low,)}), campaign.craft)
    assert isinstance(told, NoRuns)
    assert len(told.speeds) == 1
    (only,) = no_recipe(told)
    assert "too near to the fastest" in only
    assert "unstable" not in only


def test_water_too_shallow_to_start_in_is_told(tmp_path: Path) -> None:
    campaign = of("courier", tmp_path)
    shallow = campaign.model_copy(update={"water": campaign.water.model_copy(update={"depth": 0.22})})
    told = first_runs(shallow, campaign.craft)
    assert isinstance(told, NoRuns)
    assert told.nearest is not None
    assert told.nearest[1].aground == told.nearest[1].upset > 0
    assert no_recipe(told)[-1].endswith("went aground. Find deeper water, or shorten the struts, first.")


def test_a_set_speed_is_come_to_in_flight(tmp_path: Path) -> None:
    """Started at its cruise, the courier overshoots and touches; from trim at that speed it does not."""
    campaign = of("courier", tmp_path)
    top = max(campaign.speeds)
    rows = {start: _fly(campaign, [campaign.craft], [top], 24, start) for start in ("rest", "flying")}
    assert _tally(rows["rest"]).touched > 0
    assert _tally(rows["flying"]).clean
    told = own_first_runs("courier", campaign)
    assert isinstance(told, FirstRuns)
    assert any(step.startswith("Take off at ") for step in steps(told, campaign.craft))


def test_small_parts(tmp_path: Path) -> None:
    campaign = of("courier", tmp_path)
    assert mildest(campaign).name == "chop"
    assert RunTally(5, 0, 1, 0, 0).safe
    assert not RunTally(5, 0, 1, 0, 0).clean
    assert not RunTally(5, 0, 0, 0, 1).safe
    half = with_share(campaign.craft, 0.5)
    assert half.control.pitch.derivative == 0.5 * campaign.craft.control.pitch.derivative
    assert half.control.speed == campaign.craft.control.speed
    speeds = tried_speeds(campaign, campaign.craft)
    assert speeds == sorted(set(speeds))
    assert speeds[-1] > 4.0 > speeds[-2]
    assert SHARES[-1] == 1.0

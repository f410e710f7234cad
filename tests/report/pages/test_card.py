"""The card for the water: its signs are those of the model's own mixer, its numbers those of the flights."""

from __future__ import annotations

import base64
import dataclasses
import io
import re
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft
from sweep.campaign.named_seas import RegularSea
from sweep.export.code import code_files
from sweep.model import layout as at
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.water import fresh_water
from sweep.preflight.first_runs import FirstRuns, NoRuns, RunTally, Setting, first_runs
from sweep.report.pages.card import card_page, signs
from sweep.report.pages.first_runs import failed, no_recipe, steps
from sweep.results.store import Results
from sweep.starter.new import new
from sweep.words.phrases import called
from sweep.words.responses import response
from tests.model.crafts import changed, courier, with_wand

ROOT = Path(__file__).parents[3]
BOARD = "Hold a board under rangefinder {}, closer than the ride height."
CAMPAIGN = """\
title: t
craft: {craft}
factors: {{struts.height: [30 cm, 32 cm]}}
conditions:
  seas: {{flat: {{kind: flat}}}}
  headings: head
  speeds: 4 m/s
"""


def craft(name: str, tmp_path: Path) -> Craft:
    path = tmp_path / "c.yaml"
    path.write_text(CAMPAIGN.format(craft=ROOT / "configs" / "craft" / f"{name}.yaml"), encoding="utf-8")
    return load_campaign(path).craft


def moves(said: str) -> dict[str, str]:
    """'Foils port and aft turn nose up. ...' -> {'port': 'up', 'aft': 'up'}."""
    found = {}
    for names, way in re.findall(r"Foils? ([\w, -]+?) turns? nose (up|down)", said):
        for name in re.split(r", | and ", names):
            found[name] = way
    return found


@pytest.mark.parametrize("name", ["courier", "surveyor"])
def test_signs_are_those_of_the_mixer(name: str, tmp_path: Path) -> None:
    """Bow up asks for less pitch, starboard down for less roll (MODEL.md, Control); a foil turns by mix x command."""
    boat = craft(name, tmp_path)
    (_, fleet), *_ = build_fleets([boat], fresh_water(288.15, 4.0), 4.0)
    mix = np.array([fleet.parameters[0, at.FOIL.mix.slots(i * at.FOIL.width)] for i in range(len(boat.foils))])
    said = dict(signs(boat))
    for asked, column in (("Lift the bow.", 1), ("Lower the starboard side.", 2)):
        told_so = moves(said[asked])
        turns = dict(zip(boat.foils, -mix[:, column], strict=True))
        size = np.abs(mix[:, column]).max()
        assert told_so == {foil: "up" if turn > 0 else "down" for foil, turn in turns.items() if abs(turn) > 0.05 * size}
    assert (mix[:, 0] > 0).all()
    assert said["Hold a board under the rangefinders, closer than the ride height."] == "Every foil turns nose up."


def test_signs_of_four_foils_of_which_one_is_fixed(tmp_path: Path) -> None:
    """By statics, of three foils that hold lift, pitch and roll.

    With the starboard one fixed, port alone lifts the bow, and its moment to starboard must be taken by aft-starboard: aft-port
    has little to do. A roll must move nothing ahead, for that alone would pitch: the pair astern does it, one up, one down.
    """
    new(tmp_path, ROOT / "configs/measurements/kittiwake.yaml", input, str)
    boat = load_campaign(tmp_path / "kittiwake.yaml").craft
    said = dict(signs(boat))
    held = said["Hold a board under the rangefinders, closer than the ride height."]
    assert moves(held) == {"port": "up", "aft-starboard": "up"}
    assert "Foil aft-port hardly moves." in held
    assert moves(said["Lift the bow."]) == {"port": "down", "aft-port": "up"}
    assert "Foil aft-starboard hardly moves." in said["Lift the bow."]
    assert moves(said["Lower the starboard side."]) == {"aft-port": "down", "aft-starboard": "up"}
    assert "Foil port hardly moves." in said["Lower the starboard side."]


def test_each_foil_answers_its_own_rangefinder(tmp_path: Path) -> None:
    boat = craft("classroom", tmp_path)
    said = dict(signs(boat))
    for i, foil in enumerate(boat.foils):
        assert said[BOARD.format(i + 1)] == f"Foil {foil} turns nose up. No other moves."
    assert "Lift the bow." not in said, "this law has no inertial unit"
    two = boat.model_copy(update={"rangefinders": boat.rangefinders.model_copy(update={"count": 2})})
    assert moves(dict(signs(two))[BOARD.format(1)]) == {"port": "up", "aft": "up"}


def test_a_rudder_ahead_turns_the_other_way(tmp_path: Path) -> None:
    """MODEL.md: side = +1 aft of the centre of gravity, -1 ahead."""
    swung = "Turn the bow to starboard of its course."
    assert dict(signs(craft("courier", tmp_path)))[swung].endswith("foil aft turns its trailing edge to port.")
    assert dict(signs(craft("surveyor", tmp_path)))[swung].endswith("foil bow turns its trailing edge to starboard.")


def test_what_to_expect_is_what_the_flights_did(told: Results) -> None:
    design = next(iter(told.leaders))
    found = card_page(told, design, told.campaign.craft)
    flights = told.flights_of(design)
    assert len(found.expected) == len(told.conditions)
    for (name, error, *_), (condition, mine) in zip(found.expected, flights.groupby("condition"), strict=True):
        assert name == told.conditions["name"].iloc[int(str(condition))]
        assert error == response("ride_height_error", float(mine["ride_height_error"].mean()))
    assert "6 times a minute" in " ".join(found.stops), "the campaign's own limit"
    assert "4 m/s" in " ".join(found.stops), "its fastest speed"


def test_the_card_of_a_design_that_broke_a_limit_says_so(told: Results) -> None:
    broken = told.standings.assign(verdict="broken", reason="Touchdowns: 9 /min against 6 /min allowed.")
    found = card_page(dataclasses.replace(told, standings=broken), 0, told.campaign.craft)
    assert found.refused == "In the flights of this campaign it broke a limit. Its first runs are for flat water only."
    kept = dataclasses.replace(told, standings=told.standings.assign(verdict="kept"))
    assert card_page(kept, 0, told.campaign.craft).refused == ""


def test_a_sheet_of_paper_holds_the_worst_of_many_conditions(told: Results) -> None:
    rows = pd.concat([told.conditions.assign(condition=told.conditions["condition"] + 4 * at) for at in range(4)])
    flights = pd.concat([told.flights.assign(condition=told.flights["condition"] + 4 * at) for at in range(4)])
    many = dataclasses.replace(told, conditions=rows.assign(name=rows["condition"].map("c{}".format)), flights=flights)
    found = card_page(many, 0, told.campaign.craft)
    assert len(found.expected) == 6
    assert found.expected_caption == (
        "Expect in short flights of 20 s, begun in trim and straight (the worst of 16 conditions)"
    )
    kept = [name for name, *_ in found.expected]
    assert kept == ["c2", "c3", "c6", "c7", "c11", "c15"], "in order, without the calm ones"


def test_trims_are_those_of_the_calmest_flight_that_lasted(told: Results) -> None:
    """At 4 m/s the first condition has the lowest sea; its foils swing about 0.02 and 0.03 rad from 4 s on."""
    found = card_page(told, 0, told.campaign.craft)
    history = told.leaders[0]
    calm = history[(history["condition"] == 0) & (history["time"] >= 4.0)]
    trims = dict(found.trims)
    assert found.trim_headings == ["4 m/s"]
    assert trims["foil port"] == f"{np.degrees(calm['foil_port'].mean()):.1f} deg"
    assert trims["throttle"] == "40 %"
    without = dataclasses.replace(told, leaders={0: history[["condition", "time", "foil_aft"]]})
    assert [name for name, _ in card_page(without, 0, told.campaign.craft).trims] == ["foil aft"]


def test_a_law_without_attitude_has_its_own_cures_and_gains(told: Results, tmp_path: Path) -> None:
    found = card_page(told, 0, craft("classroom", tmp_path))
    assert not any("roll" in cure for _, cure, _ in found.first_runs.cures)
    assert [row[0] for row in found.first_runs.gains][:2] == ["ride height of the keel", "height, proportional"]
    assert not any(row[0].startswith(("pitch", "roll")) for row in found.first_runs.gains)


def test_the_first_runs_are_those_that_were_flown(told: Results, tmp_path: Path) -> None:
    """Speed, share of gains and ride height of the step are the setting's; the table gives the gains so multiplied."""
    boat = craft("courier", tmp_path)
    runs = first_runs(told.campaign, boat)
    assert isinstance(runs, FirstRuns)
    found = card_page(told, 0, boat)
    bench, first, *rest = found.first_runs.steps
    assert bench.startswith("On the bench")
    share = "the gains of this card" if runs.setting.share == 1.0 else f"every gain at {100 * runs.setting.share:.0f} %"
    assert first.startswith(f"First runs: flat water, {runs.setting.speed:g} m/s, {share}")
    assert "keel 9.5 cm above the water" in first
    assert rest[-1].startswith(("Then the smallest waves", "Do not fly in waves"))
    assert "24 times from rest and 24 from trim: all stayed up" in found.first_runs.evidence
    at = {name: cells for name, *cells in found.first_runs.gains}["pitch, proportional"]
    wanted = [f"{1.2 * share:.3g} deg/deg" for share in dict.fromkeys((runs.setting.share, 1.0))]
    assert at == wanted
    assert found.first_runs.share_headings == [f"{runs.setting.speed:g} m/s", "4 m/s"]
    assert [row[0] for row in found.first_runs.shares] == ["height", "pitch", "roll", "heading", "all gains"]
    assert found.first_runs.stable.startswith("With these gains it is stable ")


def test_a_craft_that_nothing_holds_gets_no_step(told: Results, tmp_path: Path) -> None:
    boat = changed(craft("courier", tmp_path), {"control.law": "each-foil"})
    found = card_page(told, 0, boat)
    assert (found.first_runs.steps, found.first_runs.cures) == ([], [])
    assert found.first_runs.evidence.startswith("No first run is given. The model tried ")
    assert found.first_runs.evidence.endswith("Do not launch with them.")
    assert found.first_runs.stable == "With these gains it is unstable at every speed at which it flies."


def test_what_fails_is_said_in_numbers() -> None:
    clean, wet, lost = RunTally(24, 0, 0, 0, 0, 1.2), RunTally(24, 0, 3, 0, 0, 1.2), RunTally(16, 5, 10, 1, 0)
    assert failed(wet) == "3 of 24 flights touched down"
    assert failed(lost) == "5 of 16 flights upset, 1 had a foil out, 10 touched down"
    boat, sea = courier(), RegularSea(name="breeze", height=0.044)
    base = FirstRuns(boat, Setting(0.7, 2.9, (2.6, None)), clean, clean, sea, wet, (0.85, 1.0), ((3.4, clean), (3.9, lost)))
    said = list(steps(base, boat))
    assert said[1].endswith("Do not fly slower: at 2.6 m/s it is unstable.")
    assert said[2] == "At that speed raise every gain to 85 %, then 100 % of this card."
    assert said[3] == "Take off at 2.9 m/s as before; once it flies, go faster to 3.4 m/s."
    assert said[4] == "Do not fly at 3.9 m/s: there 5 of 16 flights upset, 1 had a foil out, 10 touched down."
    assert said[5] == "Do not fly in waves like breeze (4.4 cm) at this setting: there 3 of 24 flights touched down."
    assert base.sound == (2.9, 3.4)
    slow = base._replace(setting=Setting(0.7, 2.9, (2.6, lost)))
    assert "Do not fly slower: at 2.6 m/s 5 of 16 flights upset" in list(steps(slow, boat))[1]
    fine = base._replace(setting=Setting(1.0, 2.9, (2.6, wet)), shares=(), faster=((3.4, clean), (4.4, clean)), waves=None)
    assert list(steps(fine, boat))[1:] == [
        "First runs: flat water, 2.9 m/s, the gains of this card, keel 9.5 cm above the water. Short and straight, towards "
        "nobody.",
        "Take off at 2.9 m/s as before; once it flies, go faster by 0.5 m/s at a time, up to 4.4 m/s.",
        "Then the smallest waves: head seas before following seas.",
    ]
    near = no_recipe(NoRuns((2.0, 3.2), (Setting(1.0, 2.2, (2.0, None)), wet)))
    assert near[0].startswith("No first run is given. The model tried 2 to 3.2 m/s with 40 % to 100 % of every gain")
    assert near[1] == (
        "The nearest was 2.2 m/s with the gains of this card: 3 of 24 flights touched down. Change the gains, or the boat, "
        "first."
    )
    assert "finds none at which this boat flies" in no_recipe(NoRuns((), None))[0]
    narrow = no_recipe(NoRuns((2.0, 3.2), (Setting(0.4, 2.2, (2.0, None)), clean)))
    assert (
        "none of 24 flights failed, but with higher or lower gains, or a step faster, it fails or was not flown." in narrow[1]
    )
    ground = no_recipe(NoRuns((2.0, 3.2), (Setting(0.4, 2.2, (2.0, None)), RunTally(5, 5, 0, 0, 0, aground=5))))
    assert ground[1].endswith("5 of 5 flights went aground. Find deeper water, or shorten the struts, first.")
    deaf = no_recipe(NoRuns((2.0, 3.2), (Setting(0.4, 2.2, (2.0, None)), RunTally(5, 5, 0, 0, 0, stopped=4))))
    assert deaf[1].endswith(
        "4 of 5 flights were stopped by the boat's own code, 1 upset. Find rangefinders that go on reading, first."
    )


def test_the_map_is_on_the_card(told: Results) -> None:
    found = card_page(told, 0, told.campaign.craft)
    assert found.reach_headings == ["4 m/s", "5 m/s"], "the base craft has no trim at 3.2 m/s"
    assert [name for name, *_ in found.reaches] == ["head", "beam", "following"]
    assert float(found.reaches[0][1].split(" (")[0]) > float(found.reaches[2][1].split(" (")[0])
    assert "promise nothing of an outing" in found.reach_caption
    unmapped = dataclasses.replace(told, rides=told.rides.head(0))
    assert card_page(unmapped, 0, told.campaign.craft).reaches == []


def test_the_card_holds_the_code_of_its_design(told: Results) -> None:
    """The zip in the page is what `foilsweep code` writes, file by file."""
    craft = told.campaign.craft
    found = card_page(told, 0, craft).code
    assert found.why == ""
    assert found.name.endswith("-design-0-code.zip")
    packed = base64.b64decode(found.link.removeprefix("data:application/zip;base64,"))
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        texts = {name.partition("/")[2]: archive.read(name).decode() for name in archive.namelist()}
    assert texts == code_files(told.campaign, craft, called(0))


def test_the_card_says_why_it_has_no_code(told: Results) -> None:
    found = card_page(told, 0, with_wand(told.campaign.craft)).code
    assert found.link == ""
    assert "its law reads a rangefinder of kind wand" in found.why

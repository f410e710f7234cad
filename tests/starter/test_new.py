"""`foilsweep new`: from measurements to a craft that flies, and the demos written out."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pytest
from ruamel.yaml import YAML

from sweep import cli
from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.craft import Craft
from sweep.campaign.designs import lay_out
from sweep.campaign.text import resources
from sweep.campaign.text.document import read_document
from sweep.campaign.text.problems import CampaignError
from sweep.flying.flights import fly_shards
from sweep.flying.work import Work
from sweep.model.pack.mass import mass_properties
from sweep.results.shard_plan import Shard
from sweep.starter.asking import read_answers
from sweep.starter.first_craft import authority, cautions, first_craft, swing_radius
from sweep.starter.measurements import Measurements
from sweep.starter.new import new

CONFIGS = Path(__file__).parents[2] / "configs"
DEMOS = {"courier": 4.0, "surveyor": 6.0, "classroom": 3.0}

# An invented boat, two foils ahead; and one with one foil ahead.
PUFFIN = """\
name: Puffin
mass: 2.1 kg
balance: {forward: 38 cm, height: 4 cm}
swing: {strings: 1.2 m, apart: 40 cm, roll: 1.3 s, pitch: 2.3 s, yaw: 2.5 s}
hull: {length: 80 cm, beam: 14 cm, depth: 11 cm}
foils: {ahead: 2, span: 16 cm, chord: 2.8 cm, ahead_at: 58 cm, behind_at: 4 cm, apart: 30 cm}
struts: {height: 18 cm, chord: 28 mm, thickness: 4 mm}
servo: {travel: 10 deg, arm: 35 deg, sixty: 0.11 s}
rangefinder: {at: 75 cm, noise: 4 mm, latency: 70 ms, rate: 25 Hz}
cruise: 3.5 m/s
pull: 18 N
"""
CANARD = PUFFIN.replace("ahead: 2", "ahead: 1").replace("forward: 38 cm", "forward: 24 cm").replace("Puffin", "Little Auk")
LINES = (
    "Puffin, 2.1 kg, 38 cm, 4 cm, 1.2 m, 40 cm, 1.3 s, 2.3 s, 2.5 s, 80 cm, 14 cm, 11 cm, , 2, , 16 cm, 2.8 cm, 58 cm, 4 cm,"
    "30 cm, , , , 18 cm, 28 mm, 4 mm, , 10 deg, 35 deg, 0.11 s, , 75 cm, 4 mm, 70 ms, 25 Hz, , , , , , , 3.5 m/s, 18 N, "
)


def demo(name: str) -> Craft:
    return Craft.model_validate(read_document(CONFIGS / "craft" / f"{name}.yaml").plain())


def answers(folder: Path, text: str) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / "answers.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def measured_from(craft: Craft, cruise: float) -> Measurements:
    """What a builder would measure on a craft of the model's own kind."""
    whole, (hull,), foils = mass_properties(craft), craft.hulls.values(), craft.foils
    half, pair = hull.length / 2, foils["port"]
    single = next(foil for name, foil in foils.items() if name not in ("port", "starboard"))
    periods = [4 * math.pi / 0.4 * math.sqrt(whole.inertia[axis, axis] / whole.mass / 9.81) for axis in range(3)]
    values = {
        "name": craft.name,
        "mass": whole.mass,
        "balance": {"forward": whole.centre[0] + half, "height": whole.centre[2]},
        "swing": {"strings": 1.0, "apart": 0.4} | dict(zip(("roll", "pitch", "yaw"), periods, strict=True)),
        "hull": {name: getattr(hull, name) for name in ("length", "beam", "depth", "deadrise")},
        "foils": {
            "ahead": 2 if pair.x > single.x else 1,
            "span": pair.span_length,
            "chord": pair.chord,
            "ahead_at": max(pair.x, single.x) + half,
            "behind_at": min(pair.x, single.x) + half,
            "apart": 2 * abs(pair.y),
        },
        "struts": {name: getattr(craft.struts, name) for name in ("height", "chord", "thickness")},
        "servo": {
            "travel": craft.servos.travel,
            "arm": 3 * craft.servos.travel,
            "sixty": math.radians(60) / craft.servos.rate / 3,
        },
        "rangefinder": {
            "at": craft.rangefinders.x + half,
            **{name: getattr(craft.rangefinders, name) for name in ("noise", "latency", "rate", "blind")},
        },
        "cruise": cruise,
        "pull": craft.propulsor.static_thrust,
    }
    return Measurements.model_validate(values, context={"si": True})


def test_the_pendulum_on_two_strings() -> None:
    """Against the potential itself: twisted by a, the boat rises by strings - sqrt(strings^2 - 2 r^2 (1 - cos a))."""
    strings, apart, radius, mass = 1.3, 0.44, 0.21, 2.7

    def energy(angle: float) -> float:
        chord = 2 * (apart / 2) ** 2 * (1 - math.cos(angle))
        return mass * 9.81 * (strings - math.sqrt(strings**2 - chord))

    stiffness = (energy(1e-3) - 2 * energy(0) + energy(-1e-3)) / 1e-6
    period = 2 * math.pi * math.sqrt(mass * radius**2 / stiffness)
    assert swing_radius(period, strings, apart) == pytest.approx(radius, rel=1e-5)


def test_the_courier_comes_back_from_its_own_measurements() -> None:
    courier = demo("courier")
    found = first_craft(measured_from(courier, 4.0), courier, 4.0)
    for name in ("mass", "height", "roll_radius", "pitch_radius", "yaw_radius"):
        assert getattr(found.body, name) == pytest.approx(getattr(courier.body, name), rel=1e-9), name
    assert found.body.x == pytest.approx(courier.body.x, abs=1e-9)
    assert found.servos.rate == pytest.approx(courier.servos.rate)
    for loop in ("height", "pitch", "roll", "heading"):
        hand, scaled = getattr(courier.control, loop), getattr(found.control, loop)
        assert scaled.proportional == pytest.approx(hand.proportional, rel=0.16), loop  # its bandwidth is a guess: 45 rad/s


@pytest.mark.parametrize("name", ["surveyor", "classroom"])
def test_scaled_gains_are_near_those_that_were_set_by_hand(name: str) -> None:
    """Four times the courier's mass and half of it: what scaling must bridge. A factor of 1.75 is well within what flies."""
    craft = demo(name)
    found = first_craft(measured_from(craft, DEMOS[name]), demo("courier"), 4.0)
    for loop in ("height", "pitch", "roll", "heading"):
        ratio = getattr(found.control, loop).proportional / getattr(craft.control, loop).proportional
        assert 1 / 1.75 < ratio < 1.75, loop


def test_gains_go_with_the_inverse_of_what_a_command_does() -> None:
    """Gain x authority is the square of the loop's frequency: the same for a boat that is twice as heavy, or faster."""
    courier = demo("courier")
    base = measured_from(courier, 4.0)
    heavy = base.model_copy(update={"mass": 2 * base.mass})
    fast = base.model_copy(update={"cruise": 6.0})
    first = first_craft(base, courier, 4.0)
    for other in (heavy, fast):
        craft = first_craft(other, courier, 4.0)
        for loop in ("height", "pitch", "roll"):
            mine, theirs = authority(craft, other.cruise), authority(first, 4.0)
            squared = getattr(craft.control, loop).proportional * getattr(mine, loop)
            assert squared == pytest.approx(getattr(first.control, loop).proportional * getattr(theirs, loop)), loop
    assert first_craft(heavy, courier, 4.0).control.height.proportional == pytest.approx(2 * first.control.height.proportional)
    assert first_craft(fast, courier, 4.0).control.height.proportional == pytest.approx(
        first.control.height.proportional * (4 / 6) ** 2
    )


def test_a_late_rangefinder_makes_the_height_loop_gentler_and_no_other() -> None:
    courier = demo("courier")
    base = measured_from(courier, 4.0)
    late = base.model_copy(update={"rangefinder": base.rangefinder.model_copy(update={"latency": 0.2})})
    prompt, slow = (first_craft(measured, courier, 4.0).control for measured in (base, late))
    assert slow.height.proportional < 0.5 * prompt.height.proportional
    assert slow.pitch == prompt.pitch


def flown(path: Path) -> pd.DataFrame:
    """The flights of the base craft of a campaign."""
    campaign = load_campaign(path)
    designs, conditions = lay_out(campaign).iloc[:1], list_conditions(campaign)
    shards = [Shard(number, number, 0, 0, 1) for number in range(len(conditions))]
    return pd.concat(rows for _, rows in fly_shards(Work(campaign, designs, conditions), shards))


def assert_flies(path: Path, flights: pd.DataFrame, least: float) -> None:
    """So long (s) where it goes straight; where it stops and starts, all but 8 s of it, with one take-off and no failure."""
    straight = np.array([not condition.legs for condition in list_conditions(load_campaign(path))])
    assert straight.sum() == 7
    assert (flights.loc[straight, "time_foilborne"] > least).all()
    assert (flights.loc[~straight, "time_foilborne"] > least - 8.0).all()
    assert (flights.loc[~straight, "take_offs"] == 1).all()
    assert (flights[["lost_flights", "broaches"]] == 0).all(axis=None)


@pytest.mark.parametrize("text", [PUFFIN, CANARD], ids=["two ahead", "one ahead"])
def test_what_is_written_is_right_and_flies(tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["new", str(tmp_path / "boat"), "--answers", str(answers(tmp_path, text))]) == 0
    said = capsys.readouterr().out
    path = next((tmp_path / "boat").glob("*.yaml"))
    assert f"foilsweep check {path}" in said
    assert "Caution" not in said
    assert load_campaign(path).warnings == ()
    flights = flown(path)
    assert (flights["status"] == 0).all()
    assert_flies(path, flights, 19.9)
    assert flights["ride_height_error"].max() < 0.03


def test_the_written_craft_weighs_balances_and_swings_as_measured(tmp_path: Path) -> None:
    new(tmp_path, answers(tmp_path, PUFFIN), input, str)
    craft = load_campaign(tmp_path / "puffin.yaml").craft
    whole = mass_properties(craft)
    assert whole.mass == pytest.approx(2.1, rel=5e-3)  # the files have three digits
    assert whole.centre[0] + 0.40 == pytest.approx(0.38, abs=1e-4)  # from the stern
    assert whole.centre[2] == pytest.approx(0.04, abs=1e-4)
    for axis, period in enumerate((1.3, 2.3, 2.5)):
        radius = math.sqrt(whole.inertia[axis, axis] / whole.mass)
        assert 4 * math.pi * radius / 0.40 * math.sqrt(1.2 / 9.81) == pytest.approx(period, rel=5e-3)
    assert (craft.foils["aft"].x, craft.foils["port"].y) == pytest.approx((-0.36, -0.15))
    assert craft.foils["port"].chord == pytest.approx(0.028, rel=5e-3)
    assert craft.servos.rate == pytest.approx(math.radians(60) / 0.11 * 10 / 35, rel=5e-3)
    assert (craft.rangefinders.x, craft.rangefinders.noise) == pytest.approx((0.35, 0.004))


def test_swings_that_are_left_out_are_guessed_from_the_hull(tmp_path: Path) -> None:
    new(tmp_path, answers(tmp_path, PUFFIN.replace(", roll: 1.3 s, pitch: 2.3 s", "")), input, str)
    body = load_campaign(tmp_path / "puffin.yaml").craft.body
    assert (body.roll_radius, body.pitch_radius) == pytest.approx((0.7 * 0.14, 0.28 * 0.80))


def test_without_any_swing_no_strings_are_wanted(tmp_path: Path) -> None:
    swing = next(line for line in PUFFIN.splitlines() if line.startswith("swing"))
    new(tmp_path, answers(tmp_path, PUFFIN.replace(f"{swing}\n", "")), input, str)
    assert load_campaign(tmp_path / "puffin.yaml").craft.body.yaw_radius == pytest.approx(0.30 * 0.80)


class Wrong(NamedTuple):
    """One answer exchanged, where that shows, and the words that mend it."""

    old: str
    new: str
    address: str
    line: int
    mend: str


WRONG = {
    "bare number": Wrong("mass: 2.1 kg", "mass: 2.1", "mass", 2, "2.1 kg, 2.1 g, 2.1 lb or 2.1 oz"),
    "of another kind": Wrong("pull: 18 N", "pull: 18 kg", "pull", 11, "a force, such as 18 N"),
    "left out": Wrong(", height: 4 cm}", "}", "balance.height", 3, "a length, such as 10 cm or 10 mm (of the same point"),
    "no pair": Wrong("ahead: 2", "ahead: 1, behind: 1", "foils.behind", 6, "2, behind one foil ahead"),
    "unknown": Wrong("cruise:", "speed:", "speed", 10, "one of name, mass, balance"),
    "three foils ahead": Wrong("ahead: 2", "ahead: 3", "foils.ahead", 6, "at most 2"),
    "foils crossed over": Wrong("ahead_at: 58 cm", "ahead_at: 2 cm", "foils.behind_at", 6, "a place behind that of the foils"),
    "square foils": Wrong("span: 16 cm", "span: 3 cm", "foils.span", 6, "from 1.5 to 29 chords of 2.8 cm"),
    "thick struts": Wrong("thickness: 4 mm", "thickness: 40 mm", "struts.thickness", 7, "less than the chord, 28 mm"),
    "lighter than its parts": Wrong("mass: 2.1 kg", "mass: 60 g", "mass", 2, "which foils and struts of these sizes weigh"),
    "twenty swings": Wrong("yaw: 2.5 s", "yaw: 50 s", "swing.yaw", 4, "the time of one swing, not of twenty"),
    "no strings": Wrong("strings: 1.2 m, ", "", "swing", 4, "the length of the strings"),
    "swings too fast": Wrong("yaw: 2.5 s", "yaw: 0.4 s", "swing.yaw", 4, "with which foils and struts alone would swing"),
    "balances too low": Wrong("height: 4 cm", "height: -3 cm", "balance.height", 3, "would balance under its keel"),
    "would sink": Wrong("beam: 14 cm, depth: 11 cm", "beam: 5 cm, depth: 3 cm", "hull.depth", 5, "a hull that floats 2.1 kg"),
    "name of signs": Wrong("name: Puffin", "name: ../Puffin", "name", 1, "that begins with a letter"),
}


@pytest.mark.parametrize("wrong", WRONG.values(), ids=WRONG.keys())
def test_wrong_answers(tmp_path: Path, wrong: Wrong) -> None:
    assert wrong.old in PUFFIN
    path = answers(tmp_path, PUFFIN.replace(wrong.old, wrong.new))
    with pytest.raises(CampaignError) as caught:
        new(tmp_path / "boat", path, input, str)
    told = [problem for problem in caught.value.problems if problem.address == wrong.address]
    assert told, caught.value.problems
    assert (told[0].file, told[0].line) == (str(path), wrong.line)
    assert wrong.mend in told[0].wanted
    assert not (tmp_path / "boat").exists()


def test_asked_one_by_one_it_is_the_same(tmp_path: Path) -> None:
    """A wrong answer is asked for again; a wrong pair of answers too, with its group."""
    lines = [line.strip() for line in LINES.split(",")]
    lines[1:2] = ["2.1", "2.1 kg"]
    foils = lines.index("16 cm") - 2
    lines[foils:foils] = ["2", "", "16 cm", "2.8 cm", "4 cm", "58 cm", "30 cm", "", ""]
    given, said = iter(lines), []
    new(tmp_path / "asked", None, lambda prompt: next(given), said.append)
    assert list(given) == []
    new(tmp_path / "read", answers(tmp_path, PUFFIN), input, str)
    for name in ("puffin.yaml", "craft/puffin.yaml"):
        assert (tmp_path / "asked" / name).read_text() == (tmp_path / "read" / name).read_text()
    assert [text.split(":")[0] for text in said if text.startswith("  That")] == ["  That cannot be"]
    assert [text.split(":")[0] for text in said if text.startswith("  These")] == ["  These do not go together"]
    assert [text for text in said if text.startswith("\n")][:2] == ["\n1 of 10: mass", "\n2 of 10: balance"]
    assert sum("of 10: " in text for text in said) == 10


def test_the_shipped_measurements_are_those_of_the_puffin(tmp_path: Path) -> None:
    shipped = read_answers(CONFIGS / "measurements" / "puffin.yaml")[0]
    assert shipped == read_answers(answers(tmp_path, PUFFIN))[0]


@pytest.mark.parametrize("stop", [EOFError, KeyboardInterrupt])
@pytest.mark.parametrize("answered", [0, 2, 7, 12, 15, 29])
def test_stopped_half_way_it_goes_on_from_there(tmp_path: Path, answered: int, stop: type[BaseException]) -> None:
    """Stopped after so many answers: between two measurements, within one, and where only what may be left out is missing."""
    lines = [line.strip() for line in LINES.split(",")]
    asked: list[str] = []

    def ask(prompt: str) -> str:
        if len(asked) == answered:
            raise stop
        asked.append(prompt)
        return lines[len(asked) - 1]

    with pytest.raises((CampaignError, KeyboardInterrupt)):
        new(tmp_path, None, ask, str)
    by_prompt = dict(zip(asked, lines, strict=False))
    rest, again = iter(lines[answered:]), []

    def ask_on(prompt: str) -> str:
        again.append(prompt)
        return by_prompt[prompt] if prompt in by_prompt else next(rest)

    new(tmp_path, None, ask_on, str)
    assert list(rest) == []
    repeated = [prompt for prompt in again if prompt in by_prompt]
    assert all("Enter" in prompt for prompt in repeated)  # what may be left out, of the measurement that it was at
    assert len(repeated) <= 4
    new(tmp_path / "read", answers(tmp_path / "read", PUFFIN), input, str)
    assert (tmp_path / "craft" / "puffin.yaml").read_text() == (tmp_path / "read" / "craft" / "puffin.yaml").read_text()


def test_a_number_that_does_not_go_with_the_others_is_mended_in_the_kept_answers(tmp_path: Path) -> None:
    given = iter(line.strip() for line in LINES.replace("2.1 kg", "21 kg").split(","))
    with pytest.raises(CampaignError, match=r"answers\.yaml:\d+:\d+: hull\.depth: found 11 cm, wanted a hull that"):
        new(tmp_path, None, lambda prompt: next(given), str)
    kept = tmp_path / "answers.yaml"
    kept.write_text(kept.read_text().replace("21 kg", "2.1 kg"))
    new(tmp_path, None, input, str)  # asks nothing, or it would fail
    assert load_campaign(tmp_path / "puffin.yaml").craft.name == "Puffin"


def test_one_goes_back(tmp_path: Path) -> None:
    """Within a measurement, to the one before, and from the first question nowhere."""
    lines = [line.strip() for line in LINES.split(",")]
    lines[0:1] = ["back", "Puffin"]
    lines[2:3] = ["2.2 kg", "back", "2.1 kg"]  # from balance to mass
    height = lines.index("38 cm") + 1
    lines[height:height] = ["back", "38 cm"]  # from the height to the place
    given, said = iter(lines), []
    new(tmp_path / "asked", None, lambda prompt: next(given), said.append)
    assert list(given) == []
    assert "  This is the first question." in said
    new(tmp_path / "read", answers(tmp_path, PUFFIN), input, str)
    assert (tmp_path / "asked/craft/puffin.yaml").read_text() == (tmp_path / "read/craft/puffin.yaml").read_text()


def test_it_says_how_long_it_takes_and_what_it_guessed(tmp_path: Path) -> None:
    given, said = (line.strip() for line in LINES.split(",")), []
    new(tmp_path, None, lambda prompt: next(given), said.append)
    assert "ten minutes" in said[0]
    guessed = [text for text in said if text.startswith("  - ")]
    assert not any("gyration" in text for text in guessed)  # all swings were measured
    craft = load_campaign(tmp_path / "puffin.yaml").craft
    assert any(f"{math.degrees(craft.foils['port'].incidence):g} deg" in text for text in guessed)
    assert any("control.ride_height" in text for text in guessed)


UNLIKE = PUFFIN.replace("apart: 30 cm}", "apart: 30 cm, other_span: 20 cm, other_chord: 3.4 cm}").replace(
    "rate: 25 Hz}", "rate: 25 Hz, resolution: 1 cm, count: 2, apart: 10 cm}"
)


def test_unlike_foils_and_two_coarse_rangefinders(tmp_path: Path) -> None:
    """What is written has them, varies their areas by themselves, and flies."""
    new(tmp_path, answers(tmp_path, UNLIKE), input, str)
    campaign = load_campaign(tmp_path / "puffin.yaml")
    craft = campaign.craft
    assert craft.foils["port"].area == pytest.approx(0.16 * 0.028, rel=5e-3)
    assert (craft.foils["aft"].span_length, craft.foils["aft"].chord) == pytest.approx((0.20, 0.034), rel=5e-3)
    sensors = craft.rangefinders
    assert (sensors.count, sensors.layout, sensors.resolution, sensors.spacing) == (2, "across-bow", 0.01, 0.1)
    assert {"pair-area", "aft-area"} <= set(campaign.factors)
    flights = flown(tmp_path / "puffin.yaml")
    assert (flights["status"] == 0).all()
    assert_flies(tmp_path / "puffin.yaml", flights, 18.0)


@pytest.mark.parametrize(("old", "wrong", "address"), [
    ("count: 2, apart: 10 cm", "count: 2", "rangefinder"),
    ("other_span: 20 cm", "other_span: 3 cm", "foils.other_span"),
])  # fmt: skip
def test_wrong_answers_of_unlike_parts(tmp_path: Path, old: str, wrong: str, address: str) -> None:
    assert old in UNLIKE
    with pytest.raises(CampaignError) as caught:
        new(tmp_path / "boat", answers(tmp_path, UNLIKE.replace(old, wrong)), input, str)
    assert [problem.address for problem in caught.value.problems] == [address]


def test_answers_that_end_too_early(tmp_path: Path) -> None:
    given = iter(["Puffin", "2.1 kg"])

    def ask(prompt: str) -> str:
        try:
            return next(given)
        except StopIteration:
            raise EOFError from None

    with pytest.raises(CampaignError, match=r"balance\.forward: found the end of the answers, wanted a length"):
        new(tmp_path, None, ask, str)


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = answers(tmp_path, PUFFIN)
    craft = tmp_path / "boat" / "craft" / "puffin.yaml"
    craft.parent.mkdir(parents=True)
    craft.write_text("mine")
    assert cli.main(["new", str(tmp_path / "boat"), "--answers", str(path)]) == 2
    assert f"{craft}: found a file of this name, wanted another folder" in capsys.readouterr().err
    assert craft.read_text() == "mine"
    assert not (tmp_path / "boat" / "puffin.yaml").exists()


def measured(**changes: Any) -> Measurements:
    values = YAML(typ="safe", pure=True).load(PUFFIN) | changes
    return Measurements.model_validate(values)


def test_cautions() -> None:
    """Ten times the wing loading, a tenth of the pull, and a rangefinder that sees nothing at the ride height."""
    courier = demo("courier")

    def said(changed: Measurements) -> str:
        return " ".join(cautions(changed, first_craft(changed, courier, 4.0)))

    assert said(measured()) == ""
    assert "its foils are small for 1.8 m/s" in said(measured(cruise="1.8 m/s"))
    assert "its pull of 2 N may be too little" in said(measured(pull="2 N"))
    blind = measured(rangefinder={"at": "75 cm", "noise": "4 mm", "latency": "70 ms", "blind": "20 cm"})
    assert "its rangefinder is blind at the ride height" in said(blind)


def demos() -> list[str]:
    paths = [path.relative_to(CONFIGS) for path in sorted(CONFIGS.rglob("*.yaml"))]
    return [path.with_suffix("").as_posix() for path in paths if path.parent.name not in ("craft", "log", "measurements")]


@pytest.mark.parametrize("name", demos())
def test_demos_are_written_out_whole(tmp_path: Path, name: str) -> None:
    assert cli.main(["new", str(tmp_path), "--demo", name]) == 0
    assert load_campaign(tmp_path / f"{name}.yaml") == load_campaign(CONFIGS / f"{name}.yaml")
    assert cli.main(["new", str(tmp_path), "--demo", name]) == 2


def test_a_demo_that_is_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["new", str(tmp_path), "--demo", "courier"]) == 2
    assert "wanted a demo, perhaps courier-wand, courier-race or courier-pair" in capsys.readouterr().err
    assert cli.main(["new", str(tmp_path), "--demo", "7"]) == 2
    assert "one of classroom-pond, courier-chop, " in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_demos_and_the_site_are_found_in_a_checkout_and_in_an_installed_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert resources.shipped("configs") == CONFIGS
    assert (resources.shipped("site") / "templates").is_dir()
    (tmp_path / "_configs").mkdir()
    monkeypatch.setattr(resources, "HERE", tmp_path)
    assert resources.shipped("configs") == tmp_path / "_configs"


TERN = (CONFIGS / "measurements" / "tern.yaml").read_text(encoding="utf-8")
TERN_LINES = (
    "Tern, 1.1 kg, 24 cm, 3.5 cm, , 55 cm, 11 cm, 8 cm, , 2, , 12 cm, 2.2 cm, 40 cm, 2 cm, 22 cm, 14 cm, ,"
    "yes, 12.5 cm, 2.4 cm, 41 cm, , , , , , , , 14 cm, 20 mm, 3 mm, , 10 deg, 30 deg, 0.12 s, 1 deg,"
    "50 cm, 5 mm, 60 ms, 40 Hz, , 1 cm, 2, 10 cm, 10 deg, , 3.2 m/s, , 90 W, 4 cm, yes, 1300 mAh, 12.6 V, 10.5 V, 11.6 V"
)


def typed(folder: Path, lines: list[str]) -> list[str]:
    """What is said while these lines are typed, all of them."""
    given, said = iter(lines), []
    new(folder, None, lambda prompt: next(given), said.append)
    assert list(given) == []
    return said


def tern_lines() -> list[str]:
    return [line.strip() for line in TERN_LINES.split(",")]


def test_unlike_port_and_starboard_watts_and_a_battery(tmp_path: Path) -> None:
    """By hand: 250 deg/s of the arm over 3 are 166.7; 1.3 Ah x 11.55 V x 80 % are 12.0 Wh; 96 W at 11.6 V fall by 1 V: 121
    mohm; 40.5 W of an ideal propeller of 4 cm push 16.04 N."""
    new(tmp_path, answers(tmp_path, TERN), input, str)
    campaign = load_campaign(tmp_path / "tern.yaml")
    craft, servo, battery = campaign.craft, campaign.craft.servos, campaign.craft.battery
    port, starboard = craft.foils["port"], craft.foils["starboard"]
    assert (port.area, starboard.area, starboard.x - port.x) == pytest.approx(
        (12e-2 * 2.2e-2, 12.5e-2 * 2.4e-2, 0.01), rel=5e-3
    )
    assert (math.degrees(servo.rate), math.degrees(servo.backlash), servo.linkage) == pytest.approx(
        (500 / 3, 1 / 3, 3), rel=5e-3
    )
    assert craft.propulsor.static_thrust == pytest.approx(16.04, rel=5e-3)
    assert battery.energy == pytest.approx(12.01 * 3600, rel=5e-3)
    assert battery.resistance == pytest.approx(0.1208, rel=5e-3)
    assert craft.rangefinders.names() == ["port", "starboard"]
    assert [one.ahead for one in (craft.rangefinders.each or {}).values()] == pytest.approx([math.radians(10)] * 2)
    assert [one.y for one in (craft.rangefinders.each or {}).values()] == pytest.approx([-0.05, 0.05])
    assert campaign.factors["pair-size"].scaled == (port.area, starboard.area)


def test_an_unlike_boat_flies(tmp_path: Path) -> None:
    new(tmp_path, answers(tmp_path, TERN), input, str)
    flights = flown(tmp_path / "tern.yaml")
    assert (flights["status"] == 0).all()
    assert (flights["lost_flights"] == 0).all()
    assert (flights["broaches"] == 0).mean() > 0.7  # a wake of 4 cm is much for steps of 1 cm


def test_typed_or_read_it_is_the_same_with_the_same_guesses(tmp_path: Path) -> None:
    typing, reading = typed(tmp_path / "typed", tern_lines()), []
    new(tmp_path / "read", answers(tmp_path, TERN), input, reading.append)
    for name in ("tern.yaml", "craft/tern.yaml"):
        assert (tmp_path / "typed" / name).read_text() == (tmp_path / "read" / name).read_text()
    guessed = [text for text in typing if text.startswith("  - ")]
    assert guessed == [text for text in reading if text.startswith("  - ")]
    for words in (
        "a pull of 16 N",
        "12 to 18 N are possible",
        "12 Wh of the battery",
        "blind within 2 cm",
        "radii of gyration",
    ):
        assert any(words in text for text in guessed), words
    assert not any("steps of" in text or "no slack" in text for text in guessed)  # those were measured


def test_what_is_left_out_is_guessed_and_told(tmp_path: Path) -> None:
    said = typed(tmp_path, [line.strip() for line in LINES.split(",")])
    guessed = " ".join(text for text in said if text.startswith("  - "))
    for words in (
        "no slack in servos",
        "steps of 1 mm, blind within 2 cm, looking straight down",
        "a battery that does not sag",
    ):
        assert words in guessed
    assert "25 Hz" not in guessed


def test_a_question_that_an_answer_makes_needless_is_said_to_be(tmp_path: Path) -> None:
    lines = tern_lines()
    lines[lines.index("2", 12) : lines.index("10 cm") + 1] = ["1"]  # one rangefinder has no distance to itself
    lines.insert(lines.index("3.2 m/s"), "")  # and may have another elsewhere
    said = typed(tmp_path, lines)
    skipped = [text.strip() for text in said if "not asked" in text]
    assert skipped == [
        "apart, roll, pitch and yaw: not asked, for there are no strings to swing it by.",
        "other apart: not asked, for there is one other foil.",
        "fixed angle: not asked, for every foil has a servo.",
        "apart: not asked, for there is one rangefinder.",
    ]
    known = typed(tmp_path / "pull", [line.strip() for line in LINES.split(",")])
    assert "Motor: not asked, for you know its pull." in " ".join(known)


def test_one_goes_back_over_what_was_not_asked_and_into_what_may_be_left_out(tmp_path: Path) -> None:
    """From the hull to the strings, from struts to unlike foils, from the battery to the motor, from its last to its first."""
    lines = tern_lines()
    lines[lines.index("55 cm") : lines.index("55 cm")] = ["back", ""]
    struts = lines.index("14 cm", lines.index("41 cm"))
    lines[struts:struts] = ["back", "back", "", ""]
    battery = lines.index("yes", lines.index("90 W"))
    lines[battery:battery] = ["back", "4 cm"]
    lines[-1:] = ["back", "back", "12.6 V", "10.5 V", "11.6 V"]
    typed(tmp_path / "typed", lines)
    new(tmp_path / "read", answers(tmp_path, TERN), input, str)
    assert (tmp_path / "typed/craft/tern.yaml").read_text() == (tmp_path / "read/craft/tern.yaml").read_text()


@pytest.mark.parametrize(("fixed", "moves"), [("port", "starboard"), ("starboard", "port")])
def test_a_foil_without_a_servo(tmp_path: Path, fixed: str, moves: str) -> None:
    new(tmp_path, answers(tmp_path, TERN.replace("starboard_at: 41 cm", f"starboard_at: 41 cm, fixed: {fixed}")), input, str)
    craft = load_campaign(tmp_path / "tern.yaml").craft
    assert (craft.foils[fixed].mounting, craft.foils[moves].mounting, craft.foils["aft"].mounting) == (
        "fixed",
        "moving",
        "moving",
    )


def test_a_fixed_foil_behind_a_pair_abreast_is_refused_at_once(tmp_path: Path) -> None:
    """Told by name, asked again: with yes and another answer it goes on."""
    lines = tern_lines()
    first = lines.index("yes")
    lines[first:first] = ["yes", "", "", "", "", "other", "", "", "", "", "", ""]
    said = typed(tmp_path, lines)
    (told,) = (text for text in said if "do not go with" in text)
    assert "wanted port or starboard: foils that move must be at two places along the boat" in told


@pytest.mark.parametrize(("old", "wrong", "address", "mend"), [
    ("starboard_at: 41 cm", "fixed: other", "unlike.fixed", "foils that move must be at two places along the boat"),
    ("starboard_span: 12.5 cm", "starboard_span: 3 cm", "unlike.starboard_span", "from 1.5 to 29 chords of 2.4 cm"),
    ("motor: {power: 90 W, diameter: 4 cm}", "", "", "or else motor: {power: 150 W, diameter: 6 cm}"),
    ("motor:", "pull: 16 N\nmotor:", "pull", "or else motor"),
    ("arm: 30 deg", "arm: 0.5 deg", "servo.arm", "from a tenth to ten times the travel of the foil"),
    ("empty: 10.5 V", "empty: 13 V", "battery.empty", "less than full, 12.6 V"),
    ("loaded: 11.6 V", "loaded: 3 V", "battery.loaded", "more than half of it"),
])  # fmt: skip
def test_wrong_answers_of_the_tern(tmp_path: Path, old: str, wrong: str, address: str, mend: str) -> None:
    assert old in TERN
    with pytest.raises(CampaignError) as caught:
        new(tmp_path / "boat", answers(tmp_path, TERN.replace(old, wrong)), input, str)
    assert [problem.address for problem in caught.value.problems] == [address]
    assert mend in caught.value.problems[0].wanted


def test_a_voltage_from_the_label_is_cautioned(tmp_path: Path) -> None:
    said: list[str] = []
    new(
        tmp_path,
        answers(tmp_path, TERN.replace("full: 12.6 V", "full: 11.1 V").replace("11.6 V", "10.6 V")),
        input,
        said.append,
    )
    (caution,) = (text for text in said if text.startswith("Caution"))
    assert "11.1 V is what 3 lithium cells are sold by (3.7 V each), with 12.6 V full" in caution


@pytest.mark.parametrize("answered", [8, 17, 18, 22, 39, 43, 46])
def test_the_tern_goes_on_from_where_it_was_stopped(tmp_path: Path, answered: int) -> None:
    """Also before, within and after what may be left out: what may be is asked for again."""
    lines, asked = tern_lines(), []

    def ask(prompt: str) -> str:
        if len(asked) == answered:
            raise EOFError
        asked.append(prompt)
        return lines[len(asked) - 1]

    with pytest.raises(CampaignError, match="the end of the answers"):
        new(tmp_path, None, ask, str)
    by_prompt, rest = dict(zip(asked, lines, strict=False)), iter(lines[answered:])
    new(tmp_path, None, lambda prompt: by_prompt[prompt] if prompt in by_prompt else next(rest), str)
    assert list(rest) == []
    new(tmp_path / "read", answers(tmp_path / "read", TERN), input, str)
    assert (tmp_path / "craft" / "tern.yaml").read_text() == (tmp_path / "read" / "craft" / "tern.yaml").read_text()


KITTIWAKE = (CONFIGS / "measurements" / "kittiwake.yaml").read_text(encoding="utf-8")
KITTIWAKE_LINES = (
    "Kittiwake, 1.1 kg, 42 cm, 2 cm, , 90 cm, 16 cm, 8 cm, 8 deg, 2, 2, 12 cm, 1.5 cm, 75 cm, 8 cm, 22 cm, 13 cm, 1.4 cm,"
    "20 cm, yes, 15 cm, 1.6 cm, , , starboard, 2.5 deg, 16 cm, 18 mm, , , naca-0012, 17 cm, 20 mm, 2 mm,"
    "yes, -2 cm, 2 cm, 18 cm, 25 mm, 3 mm, 12 deg, 36 deg, 0.12 s, 1.5 deg, 88 cm, 5 mm, 60 ms, , , 1 cm, , 15 deg, 6 cm,"
    "yes, 40 cm, , 5 cm, , , , , , , 3 m/s, 6 N, yes, 1300 mAh, 12.6 V, 9.9 V, 12.0 V"
)


def kittiwake_lines() -> list[str]:
    return [line.strip() for line in KITTIWAKE_LINES.split(",")]


def test_four_unlike_foils_struts_of_their_own_a_blade_and_two_rangefinders(tmp_path: Path) -> None:
    """Typed or read, what is written has each as measured; places by hand from the middle of the hull, 45 cm from the stern."""
    new(tmp_path / "read", answers(tmp_path, KITTIWAKE), input, str)
    said = typed(tmp_path / "typed", kittiwake_lines())
    for name in ("kittiwake.yaml", "craft/kittiwake.yaml"):
        assert (tmp_path / "typed" / name).read_text() == (tmp_path / "read" / name).read_text()
    campaign = load_campaign(tmp_path / "read/kittiwake.yaml")
    craft = campaign.craft
    foils = craft.foils
    assert [*foils] == ["port", "starboard", "aft-port", "aft-starboard"]
    assert [foil.area for foil in foils.values()] == pytest.approx([18e-4, 24e-4, 18.2e-4, 18.2e-4], rel=5e-3)
    assert [(foil.x, foil.y) for foil in foils.values()] == [
        pytest.approx(each) for each in ((0.30, -0.11), (0.30, 0.11), (-0.37, -0.10), (-0.37, 0.10))
    ]
    assert [foil.moves for foil in foils.values()] == [True, False, True, True]
    assert math.degrees(foils["starboard"].incidence) == pytest.approx(2.5)
    assert [foil.section.polar for foil in foils.values()] == [None, None, "naca-0012", "naca-0012"]
    assert [craft.strut_of(foil).height for foil in foils.values()] == pytest.approx([0.17, 0.17, 0.16, 0.16])
    assert [craft.strut_of(foil).chord for foil in foils.values()] == pytest.approx([0.02, 0.02, 0.018, 0.018])
    blade = craft.steering.rudders["blade"]
    assert (blade.x, blade.top, blade.length, craft.steering.rudder) == (*map(pytest.approx, (-0.47, 0.02, 0.18)), None)
    sensors = craft.rangefinders
    assert sensors.own_rates() == [20.0, 20.0]
    assert sensors.of_each("ahead") == pytest.approx([math.radians(15), 0.0])
    assert sensors.of_each("height") == pytest.approx([0.06, 0.05])
    assert (sensors.of_each("resolution"), (sensors.each or {})["second"].x) == ([0.01, 0.01], pytest.approx(-0.05))
    assert {"pair-size", "aft-area", "strut-height", "trust-in-second-rangefinder"} <= set(campaign.factors)
    guessed = " ".join(text for text in said if text.startswith("  - "))
    assert "of port and starboard the section" in guessed
    assert "the strut" not in guessed.replace("what foils and struts", "")  # a blade steers


def test_sections_of_all_foils_may_be_named(tmp_path: Path) -> None:
    said: list[str] = []
    new(
        tmp_path,
        answers(tmp_path, KITTIWAKE.replace("other_section:", "section: naca-2412, other_section:")),
        input,
        said.append,
    )
    foils = load_campaign(tmp_path / "kittiwake.yaml").craft.foils
    assert [foil.section.polar for foil in foils.values()] == ["naca-2412", "naca-2412", "naca-0012", "naca-0012"]
    assert said[-1].startswith("Next: ")
    assert not any("name a polar" in each for each in said)


def test_a_symmetric_section_is_rigged_as_much_further_up(tmp_path: Path) -> None:
    """It has no lift at 0 deg, and the usual one none at -2 deg: 2 deg more."""
    new(tmp_path, answers(tmp_path, KITTIWAKE), input, str)
    foils = load_campaign(tmp_path / "kittiwake.yaml").craft.foils
    assert math.degrees(foils["aft-port"].incidence - foils["port"].incidence) == pytest.approx(2.0, abs=0.51)


def test_a_boat_on_four_unlike_foils_flies(tmp_path: Path) -> None:
    """One foil fixed, one rangefinder ahead. Straight, it flies to the end; at a take-off the fixed foil may roll it over."""
    new(tmp_path, answers(tmp_path, KITTIWAKE), input, str)
    flights = flown(tmp_path / "kittiwake.yaml")
    straight = flights[[not condition.legs for condition in list_conditions(load_campaign(tmp_path / "kittiwake.yaml"))]]
    assert (straight["status"] == 0).all()
    assert (straight["time_foilborne"] > 19.9).all()
    assert straight["ride_height_error"].max() < 0.025


@pytest.mark.parametrize(("old", "wrong", "address", "mend"), [
    ("length: 18 cm", "length: 9 cm", "rudder.length", "to reach the water at the ride height"),
    ("other_strut_chord: 18 mm", "other_strut_chord: 1.5 mm", "unlike.other_strut_chord", "a strut thinner than its chord"),
    ("ahead: 15 deg,", "ahead: 15 deg, count: 2, apart: 10 cm,", "rangefinder.count", "1 beside a second rangefinder"),
    ("fixed: starboard, ", "", "unlike.fixed_angle", "the foil that has this angle"),
    ("naca-0012", "naca-12", "unlike.other_section", "naca-0012"),
])  # fmt: skip
def test_wrong_answers_of_the_kittiwake(tmp_path: Path, old: str, wrong: str, address: str, mend: str) -> None:
    assert old in KITTIWAKE
    with pytest.raises(CampaignError) as caught:
        new(tmp_path / "boat", answers(tmp_path, KITTIWAKE.replace(old, wrong)), input, str)
    assert [problem.address for problem in caught.value.problems] == [address]
    assert mend in caught.value.problems[0].wanted


class Typist:
    """Types the kittiwake's answers to each question of each measurement, and stops after so many of them."""

    def __init__(self) -> None:
        self.at, self.known, self.asked = "", {}, []
        lines = iter(kittiwake_lines())
        self.answer = lambda prompt: self.known.setdefault((self.at, prompt), next(lines))

    def say(self, text: str) -> None:
        self.at = text if text.startswith("\n") else self.at

    def ask(self, prompt: str) -> str:
        self.asked.append((self.at, prompt))
        return self.answer(prompt)

    def stop_after(self, number: int) -> None:
        def answer(prompt: str) -> str:
            if len(self.asked) > number:
                raise EOFError
            return self.known[self.at, prompt]

        self.at, self.asked, self.answer = "", [], answer

    def go_back_first(self) -> None:
        self.at, self.asked = "", []
        self.answer = lambda prompt: "back" if len(self.asked) == 1 else self.known[self.at, prompt]


@pytest.mark.parametrize("answered", [5, 11, 20, 27, 36, 46, 53, 58])
def test_one_goes_back_to_what_was_answered_before_a_stop(tmp_path: Path, answered: int) -> None:
    """Back at once after the stop asks again for something answered before it, and then for what was left."""
    typist = Typist()
    new(tmp_path / "whole", None, typist.ask, typist.say)
    typist.stop_after(answered)
    with pytest.raises(CampaignError, match="the end of the answers"):
        new(tmp_path / "typed", None, typist.ask, typist.say)
    before = typist.asked[:answered]
    typist.go_back_first()
    new(tmp_path / "typed", None, typist.ask, typist.say)
    assert typist.asked[1] in before
    for name in ("kittiwake.yaml", "craft/kittiwake.yaml"):
        assert (tmp_path / "typed" / name).read_text() == (tmp_path / "whole" / name).read_text()


def test_what_is_neither_yes_nor_no_is_told(tmp_path: Path) -> None:
    lines = kittiwake_lines()
    lines.insert(lines.index("yes"), "15 cm")
    assert "  That cannot be: wanted yes, or an empty line for no." in typed(tmp_path, lines)

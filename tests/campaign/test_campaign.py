from __future__ import annotations

import math
import pickle
from pathlib import Path

import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.scoring import RATES, SCORED, SHARES
from sweep.campaign.text.problems import CampaignError
from sweep.model.quantities import RESPONSE_NAMES
from tests.campaign.files import CAMPAIGN, CRAFT, load, write

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture
def campaign(tmp_path: Path) -> Campaign:
    return load(tmp_path)


def test_everything_is_in_si(campaign: Campaign) -> None:
    assert (campaign.title, campaign.name, campaign.replicates) == ("Tender in a chop", "chop", 4)
    assert campaign.water.temperature == 291.15
    assert campaign.craft.foils["aft"].area == 0.005
    assert campaign.craft.control.height.proportional == pytest.approx(math.radians(0.4) / 0.01)
    assert campaign.speeds == (3.5, 2.5)
    assert (campaign.flight.length, campaign.flight.settle, campaign.flight.seed) == (40, 5, 7)
    assert campaign.limits["touchdowns"].value == pytest.approx(1 / 60)
    assert (campaign.limits["touchdowns"].kind, campaign.limits["upsets"].kind) == ("rate", "share")
    assert campaign.score["pitch_rms"].scale == pytest.approx(math.radians(2))
    assert (campaign.campaign_text, campaign.craft_text) == (CAMPAIGN, CRAFT)


def test_factors(campaign: Campaign) -> None:
    area, strut, count, layout, gain, arm = campaign.factors.values()
    assert area.addresses == ("foils.port.area", "foils.starboard.area", "foils.aft.area")
    assert area.levels == pytest.approx((0.0036, 0.0048, 0.006, 0.0072))
    assert (area.low, area.high, area.unit, area.kind) == (0.0036, 0.0072, "cm^2", "built")
    assert strut.levels == (0.14, 0.18, 0.22)
    assert count.levels == (1, 2, 3)
    assert [type(level) for level in count.levels] == [int] * 3
    assert layout.levels == ("bow", "over-foils")
    assert [level / gain.levels[0] for level in gain.levels] == pytest.approx([1, 2, 4])  # by equal ratios
    assert (gain.kind, gain.spacing, gain.unit) == ("set", "log", "deg/cm")
    assert arm.addresses == ("foils.port.x", "foils.starboard.x")


def test_built_or_set_is_guessed_and_may_be_said(tmp_path: Path) -> None:
    said = load(
        tmp_path,
        ("spacing: log}", "spacing: log, kind: built}"),
        ("levels: [20 cm, 22 cm]", "levels: [20 cm, 22 cm], kind: set"),
    )
    assert said.factors["control.height.proportional"].kind == "built"
    assert said.factors["arm"].kind == "set"


def test_one_entry_with_several_heights_or_periods_is_several_seas(campaign: Campaign) -> None:
    assert [sea.name for sea in campaign.seas] == ["calm", "chop 4 cm", "chop 8 cm", "swell 1 s", "swell 2 s"]
    assert [sea.height for sea in campaign.seas] == [0, 0.04, 0.08, 0.05, 0.05]
    assert campaign.seas[1].gamma == 3.3


def test_both_differing_name_the_sea(tmp_path: Path) -> None:
    both = load(tmp_path, ("[4 cm, 8 cm], period: 1.2 s", "[4 cm, 8 cm], period: [1.2 s, 1.5 s]"))
    assert [sea.name for sea in both.seas[1:5]] == ["chop 4 cm 1.2 s", "chop 4 cm 1.5 s", "chop 8 cm 1.2 s", "chop 8 cm 1.5 s"]


def test_headings_are_words_or_angles(tmp_path: Path) -> None:
    headings = load(tmp_path, ("[head, 120 deg]", "[head, bow, beam, quartering, following, 120 deg]")).headings
    assert [heading.name for heading in headings] == ["head", "bow", "beam", "quartering", "following", "120 deg"]
    assert [math.degrees(heading.angle) for heading in headings] == pytest.approx([180, 135, 90, 45, 0, 120])
    assert load(tmp_path, ("[head, 120 deg]", "90 deg")).headings[0].name == "beam"


def test_scheduling_is_a_word_beside_the_speed_that_gains_are_set_for(tmp_path: Path) -> None:
    speed = (("  ride_height: 9.9 cm", "  ride_height: 9.9 cm\n  scheduled_at: 4 m/s"),)
    campaign = load(
        tmp_path, ("rangefinders.layout: [bow, over-foils]", "control.scheduling: [fixed, dynamic-pressure]"), craft=speed
    )
    assert campaign.craft.control.schedule_speed == 4.0
    levels = campaign.factors["control.scheduling"].levels
    crafts = [replace_values(campaign.craft, {"control.scheduling": level}) for level in levels]
    assert [craft.control.schedule_speed for craft in crafts] == [None, 4.0]
    assert load(tmp_path).craft.control.schedule_speed is None


def test_flights_from_rest_may_be_judged_by_their_take_off(tmp_path: Path) -> None:
    assert load(tmp_path).flight.start == "flying"
    rest = load(
        tmp_path,
        ("length: 40 s", "start: rest, length: 40 s"),
        ("pitch_rms: {weight: 0.3, scale: 2 deg}", "take_off_time: {scale: 5 s}"),
    )
    assert rest.flight.start == "rest"
    assert rest.score["take_off_time"].scale == 5


def test_what_a_file_may_leave_out(tmp_path: Path) -> None:
    text = CAMPAIGN
    for section in ("water", "plan", "flight", "limits"):
        start = text.index(f"\n{section}:")
        text = text[:start] + text[text.index("\n", start + 1) :]
    path = write(tmp_path)
    path.write_text(text[: text.index("score:")])
    short = load_campaign(path)
    assert short.plan.kind == "full-factorial"
    assert set(short.limits) == {"touchdowns", "broaches", "upsets"}
    assert set(short.score) == {"ride_height_error", "outside_window", "vertical_acceleration"}
    assert (short.water.kind, short.flight.length) == ("fresh", 30)


def test_no_limits_are_no_limits(tmp_path: Path) -> None:
    assert load(tmp_path, ("limits: {touchdowns: 1 /min, upsets: 2 %}", "limits: {}")).limits == {}


def test_a_craft_may_stand_in_the_campaign(tmp_path: Path) -> None:
    inline = "craft:\n" + "".join(f"  {line}\n" for line in CRAFT.splitlines())
    campaign = load(tmp_path, ("craft: tender.yaml\n", inline))
    assert campaign.craft == load(tmp_path).craft
    assert campaign.craft_text == ""


def test_mistakes_in_a_craft_that_stands_in_the_campaign_have_its_places(tmp_path: Path) -> None:
    inline = "craft:\n" + "".join(f"  {line}\n" for line in CRAFT.replace("mass: 3 kg", "mass: 3").splitlines())
    with pytest.raises(CampaignError) as caught:
        load(tmp_path, ("craft: tender.yaml\n", inline))
    (problem,) = caught.value.problems
    assert (problem.address, problem.line, problem.column) == ("craft.body.mass", 4, 16)


def test_copied_files_are_read_under_their_old_name(tmp_path: Path) -> None:
    path = write(tmp_path)
    (tmp_path / "results").mkdir()
    copies = [(path, "campaign.yaml"), (tmp_path / "tender.yaml", "craft.yaml")]
    for old, new in copies:
        (tmp_path / "results" / new).write_text(old.read_text())
    folder = tmp_path / "results"
    assert load_campaign(folder / "campaign.yaml", craft=folder / "craft.yaml", name="chop") == load_campaign(path)


def test_a_campaign_travels_to_other_processes(campaign: Campaign) -> None:
    assert pickle.loads(pickle.dumps(campaign)) == campaign


def test_steep_seas_are_told_and_too_steep_ones_refused(tmp_path: Path) -> None:
    # Hs / Lp, deep water: 8 cm at 1.2 s is 0.036; at 1.0 s it is 0.051; 12 cm at 1.0 s is 0.077.
    assert load(tmp_path).warnings == ()
    (warning,) = load(tmp_path, ("period: 1.2 s", "period: 1 s")).warnings
    assert warning.startswith("chop 8 cm: height over wavelength is 0.051")
    steep = "{kind: sum, of: [{kind: regular, height: 9 cm, period: 1 s}, {kind: regular, height: 1 cm, period: 2 s}]}"
    (warning,) = load(tmp_path, ("{kind: flat}", steep)).warnings
    assert warning.startswith("calm: height over wavelength is 0.058"), "of the steeper part"
    with pytest.raises(CampaignError, match=r"height\[1\]: found 12 cm over a wavelength of 1\.56"):
        load(tmp_path, ("[4 cm, 8 cm], period: 1.2 s", "[4 cm, 12 cm], period: 1 s"))


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "foils.*.area: {from: 36 cm^2, to: 72 cm^2",
            "foils.aft.area: {from: 36 cm^2, to: 0.6 m^2",
            "foils.aft.area: foil aft has a span of 1.9 m on a hull of 90 cm; see that its unit is right",
        ),
        (
            "foils.*.area: {from: 36 cm^2, to: 72 cm^2",
            "foils.aft.area: {from: 36 cm^2, to: 0.6 m^2",
            "foils.aft.area: 6000 cm^2 is 120 times what the base craft has, 50 cm^2; see that",
        ),
        ("22 cm]", "22 m]", "struts.height: the struts are 22 m high on a hull of 90 cm; see that its unit is right"),
    ],
)
def test_what_no_small_boat_has_is_told(tmp_path: Path, old: str, new: str, told: str) -> None:
    assert any(warning.startswith(told) for warning in load(tmp_path, (old, new)).warnings), load(tmp_path, (old, new)).warnings


def test_a_rangefinder_that_is_always_stale_is_told(tmp_path: Path) -> None:
    factors = ("rangefinders.count: [1, 2, 3]", "rangefinders.rate: [0.4 Hz, 0.5 Hz, 20 Hz]")
    (told,) = load(tmp_path, factors).warnings
    assert told == (
        "rangefinders.rate: readings of a rangefinder come 2.5 s apart; the control code stops the boat after 2 s without one"
    )


def test_what_the_shipped_campaigns_do_is_not_told_as_odd() -> None:
    paths = [path for path in CONFIGS.rglob("*.yaml") if path.parent.name in ("configs", "lessons")]
    assert len(paths) > 15
    assert not [said for path in paths for said in load_campaign(path).warnings if "its unit" in said]


def test_the_height_that_a_refusal_names_is_taken(tmp_path: Path) -> None:
    with pytest.raises(CampaignError) as caught:
        load(tmp_path, ("[4 cm, 8 cm], period: 1.2 s", "20 cm, period: 1 s"))
    height = caught.value.problems[0].wanted.split("at most ")[1].split(" at")[0]
    load(tmp_path, ("[4 cm, 8 cm], period: 1.2 s", f"{height}, period: 1 s"))


def test_every_response_is_scored_limited_or_neither_on_purpose() -> None:
    assert set(RATES + SHARES + SCORED) <= set(RESPONSE_NAMES)
    better_larger_or_signed = {"speed_mean", "time_foilborne", "clearance_p01", "submergence_least", "ride_height_bias"}
    assert not better_larger_or_signed & set(SCORED)


@pytest.mark.parametrize("path", sorted(CONFIGS.glob("*.yaml")), ids=lambda path: path.stem)
def test_shipped_campaigns_are_right(path: Path) -> None:
    assert load_campaign(path).warnings == ()

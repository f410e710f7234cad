"""What is doubted before a night is spent: wrong campaigns as a builder writes them, and the sentence that each gets."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sweep import cli
from sweep.campaign.campaign import Campaign
from sweep.campaign.contradictions import draught_afloat
from sweep.campaign.designs import lay_out
from sweep.campaign.draws import water_of
from sweep.linear.reach import find_trims, reach, trimmed
from sweep.linear.table import stability_table
from sweep.preflight.doubts import loads, take_off_bracket
from sweep.preflight.forecast import doubts
from tests.campaign.files import Changes, load, write

CALM = ("chop: {kind: jonswap, height: [4 cm, 8 cm], period: 1.2 s}", "chop: {kind: flat}")
NO_SWELL = ("    swell: {kind: regular, height: 5 cm, period: [1 s, 2 s]}\n", "")
FEW = (
    """\
  foils.*.area: {from: 36 cm^2, to: 72 cm^2, levels: 4}
  struts.height: [14 cm, 18 cm, 22 cm]
  rangefinders.count: [1, 2, 3]
  rangefinders.layout: [bow, over-foils]
  control.height.proportional: {from: 0.2 deg/cm, to: 0.8 deg/cm, levels: 3, spacing: log}
  arm: {addresses: [foils.port.x, foils.starboard.x], levels: [20 cm, 22 cm]}
""",
    "  window.clearance: [1 cm, 2 cm]\n",
)
SPEEDS = ("speeds: [3.5 m/s, 9 km/h]", "speeds: 4 m/s")
SMALL = (FEW, SPEEDS)


def said(folder: Path, start: str, campaign: Changes = (), craft: Changes = ()) -> list[str]:
    return [each for each in doubts(load(folder, *SMALL, *campaign, craft=craft)) if start in each]


def test_a_campaign_without_a_fault_is_not_doubted(tmp_path: Path) -> None:
    lines = said(tmp_path, "", (("upsets: 2 %", "upsets: 20 %"),))
    assert [line for line in lines if "rare" not in line and "clean flights to show" not in line] == []


def test_designs_that_cannot_be_are_counted(tmp_path: Path) -> None:
    """Two of three levels of a factor leave the rangefinder blind at 9.9 cm; one level of another stands in the ground."""
    (blind,) = said(tmp_path, "blind range", (("window.clearance: [1 cm, 2 cm]", "rangefinders.blind: [2 cm, 12 cm, 15 cm]"),))
    assert blind.startswith(
        "In doubt: rangefinders.blind of 2 of 4 designs: a blind range of 12 cm, while at the ride height, 9.9"
    )
    assert blind.endswith("wanted a smaller blind range, a higher mounting, or a higher ride.")
    shallow = (
        ("depth: 4 m", "depth: 25 cm"),
        ("window.clearance: [1 cm, 2 cm]", "struts.height: [20 cm, 40 cm]"),
        CALM,
        NO_SWELL,
    )
    (ground,) = said(tmp_path, "water.depth", shallow)
    assert "of 1 of 3 designs: 25 cm of water, while foil port is 30.1 cm deep at the ride height" in ground


def test_water_too_shallow_to_start_in(tmp_path: Path) -> None:
    (found,) = said(tmp_path, "afloat", (("depth: 4 m", "depth: 20 cm"), CALM, NO_SWELL))
    assert found.startswith("In doubt: afloat it draws 24.2 cm, and there are 20 cm of water: it flies here, but cannot start")
    assert found.endswith("Start in deeper water, or shorten the struts.")


def test_ground_in_the_troughs(tmp_path: Path) -> None:
    """Struts of 60 cm on 66 cm of water: it floats free, and flies 50 cm deep with 17 cm less water in the troughs."""
    swell = ("{kind: regular, height: 5 cm, period: [1 s, 2 s]}", "{kind: regular, height: 34 cm, period: 6 s}")
    tall = (("struts: {height: 20 cm", "struts: {height: 60 cm"),)
    (found,) = said(tmp_path, "trough", (("depth: 4 m", "depth: 66 cm"), CALM, swell), tall)
    assert "foil port flies 50.1 cm deep in 66 cm of water: in a trough of swell (17 cm down) it touches the ground" in found
    assert said(tmp_path, "trough", (("depth: 4 m", "depth: 68 cm"), CALM, swell), tall) == []


def test_ground_under_a_boat_that_pitches_as_it_starts(tmp_path: Path) -> None:
    """A millimetre more than it draws lies between the refusal and ground that is met; the depth that is told is enough."""
    draws = draught_afloat(load(tmp_path, *SMALL).craft, 998.0)
    (line,) = said(
        tmp_path, "it pitches as it starts", (("depth: 4 m", f"depth: {100.0 * draws + 0.1:.2f} cm"), CALM, NO_SWELL)
    )
    enough = line.split("Start in over ")[1].split(" of water")[0]
    deeper = f"{float(enough.split()[0]) + 0.1:.2f} cm"
    assert said(tmp_path, "it pitches as it starts", (("depth: 4 m", f"depth: {deeper}"), CALM, NO_SWELL)) == []


def test_waves_out_of_sight(tmp_path: Path) -> None:
    """The shipped seas move the water by half of 8 cm; the rangefinder rides at 9.9 cm, and on calm water at that too."""
    (near,) = said(tmp_path, "and blind within", craft=(("blind: 2 cm", "blind: 7 cm"),))
    assert "water 4 cm nearer, as in chop" in near
    (far,) = said(tmp_path, "cm far: ", craft=(("far: 1 m", "far: 11 cm"),))
    assert far.endswith("Use one that sees farther, mount it lower, or ride lower.")
    assert said(tmp_path, "and blind within", (CALM, NO_SWELL), (("blind: 2 cm", "blind: 7 cm"),)) == []


def test_rangefinders_under_water_until_it_lifts(tmp_path: Path) -> None:
    rest = (("length: 40 s", "start: rest, length: 40 s"),)
    (found,) = said(tmp_path, "until it lifts", rest)
    assert "afloat its rangefinders are 3.1" in found
    assert "Mount them over 3.1" in found
    assert said(tmp_path, "until it lifts", rest, (("far: 1 m", "height: 6 cm, far: 1 m"),)) == []
    assert said(tmp_path, "until it lifts") == []


def test_a_rangefinder_coarser_than_the_window(tmp_path: Path) -> None:
    """The window of the tender is 1 cm to 20 cm less a chord."""
    (found,) = said(tmp_path, "reads in steps", (), (("far: 1 m", "resolution: 20 cm, far: 1 m"),))
    assert "a rangefinder reads in steps of 20 cm, and the ride window is 16." in found


def test_a_ride_outside_its_window(tmp_path: Path) -> None:
    (found,) = said(tmp_path, "cannot be kept", (), (("ride_height: 9.9 cm", "ride_height: 18.5 cm"),))
    assert "the ride height, 18.5 cm, is outside the ride window, 1 cm to 17.1 cm" in found


def test_flights_from_rest_too_short_for_their_speed(tmp_path: Path) -> None:
    """3.1 kg brought to 4 m/s by 3 N: 4.1 s, by hand."""
    short = (("flight: {length: 40 s, settle: 5 s", "flight: {start: rest, length: 8 s, settle: 4 s"),)
    (found,) = said(tmp_path, "with all thrust", short, (("static_thrust: 30 N", "static_thrust: 3 N"),))
    assert "from rest to 4 m/s takes 4.2 s with all thrust and no drag, and 4 s are left" in found


def test_a_servo_that_stalls_in_trim(tmp_path: Path) -> None:
    """The moment told is that of the model's own rule: a servo of so much moves, a weaker one is held."""
    weak = (("steering: {rudder: aft}", "servos: {torque: 0.001 N*m}\nsteering: {rudder: aft}"),)
    craft = (*weak, ("area: 50 cm^2, aspect_ratio: 6}", "area: 50 cm^2, aspect_ratio: 6, pivot: 0.45}"))
    campaign = load(tmp_path, *SMALL, craft=craft)
    (found,) = [each for each in doubts(campaign) if "stall" in each]
    assert found.startswith(
        "In doubt: in trim at 4 m/s the servos of 3 of 3 designs stall: the hinge of foil port of the base craft"
    )
    fleet = trimmed(campaign.craft, water_of(campaign), 4.0)
    moment = loads(fleet).hinge[0, 0]
    assert f"takes {moment:.2g} N m, and its servo, torque times linkage, gives 0.001 N m" in found
    for factor, stalls in ((0.99, True), (1.01, False)):
        strong = load(tmp_path, *SMALL, craft=((weak[0][0], weak[0][1].replace("0.001", f"{factor * moment:.6f}")), craft[1]))
        assert bool([each for each in doubts(strong) if "stall" in each and "foil port" in each]) == stalls


def test_ample_servos_have_no_moment_told(tmp_path: Path) -> None:
    campaign = load(tmp_path, *SMALL)
    found = loads(trimmed(campaign.craft, water_of(campaign), 4.0))
    assert np.isnan(found.hinge).all()
    assert found.cavitation[0] > 1.0


def test_speeds_past_cavitation(tmp_path: Path) -> None:
    """At 26 m/s the cavitation number of fresh water is about 0.3 (2 (p - pv) / rho U^2), and thick foils suck more."""
    craft = (
        ("static_thrust: 30 N, no_thrust_speed: 15 m/s", "static_thrust: 2000 N, no_thrust_speed: 80 m/s, diameter: 40 cm"),
    )
    fast = [("speeds: 4 m/s", "speeds: 26 m/s")]
    campaign = load(tmp_path, *SMALL, *fast, craft=craft)
    trims = find_trims(campaign, lay_out(campaign))
    assert trims.feasible.all()
    (found,) = [each for each in doubts(campaign) if "cavitate" in each]
    assert "in trim at 26 m/s foils of 3 of 3 designs may cavitate" in found
    assert "the margin of the base craft is -" in found


def test_designs_that_no_gain_holds_up(tmp_path: Path) -> None:
    """The tender with each foil on its own and one rangefinder: unstable whatever its gains, by its own table."""
    laws = ("window.clearance: [1 cm, 2 cm]", "control.law: [level-and-height, each-foil]")
    campaign = load(tmp_path, *SMALL, laws)
    (found,) = [each for each in doubts(campaign) if "no gain" in each]
    assert found.startswith("In doubt: at 4 m/s no gain makes 1 of 3 designs checked stable: all gains were tried at 0.25")
    own = campaign.craft.model_copy(update={"control": campaign.craft.control.model_copy(update={"law": "each-foil"})})
    (row,) = stability_table(own, water_of(campaign), [4.0])
    assert row.shares["all gains"] is None


@pytest.mark.usefixtures("unpublished")
def test_a_run_says_what_a_check_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    small = (
        *SMALL,
        ("length: 40 s, settle: 5 s", "length: 6 s, settle: 4 s"),
        ("replicates: 4", "replicates: 1"),
        CALM,
        NO_SWELL,
    )
    path = write(tmp_path, small, (("far: 1 m", "resolution: 20 cm, far: 1 m"),))
    assert cli.main(["check", str(path)]) == 0
    checked = [line for line in capsys.readouterr().out.splitlines() if line.startswith(("In doubt", "Caution"))]
    assert cli.main(["run", str(path), "--out", str(tmp_path / "results")]) == 0
    told = capsys.readouterr().err.splitlines()
    assert len(checked) >= 2
    assert [line for line in told if line.startswith(("In doubt", "Caution"))] == checked


def bracket_of(campaign: Campaign, address: str, ends: tuple[float, float]) -> str | None:
    return take_off_bracket(campaign, address, ends)


def test_a_take_off_that_moves_within_a_bracket_is_told(tmp_path: Path) -> None:
    """Any number of the craft that nobody knows exactly: more travel takes off sooner, one percent of it hardly."""
    campaign = load(tmp_path, *SMALL)
    told = bracket_of(campaign, "servos.travel", (0.12, 0.2))
    lows = [
        reach(campaign.craft.model_copy(update={"servos": campaign.craft.servos.model_copy(update={"travel": end})}),
              water_of(campaign), [4.0]).low
        for end in (0.12, 0.2)
    ]  # fmt: skip
    assert told == (
        f"it takes off at {lows[0]:.3g} m/s with servos.travel 0.12, at {lows[1]:.3g} m/s with 0.2: "
        "what is right in between is not known."
    )
    assert bracket_of(campaign, "servos.travel", (0.157, 0.158)) is None
    assert "trims at no speed" in str(bracket_of(campaign, "body.mass", (3.0, 60.0)))


def test_every_lane_has_its_own_moment(tmp_path: Path) -> None:
    """A fleet of designs of three areas: each as by itself."""
    servo = (("steering: {rudder: aft}", "servos: {torque: 1 N*m}\nsteering: {rudder: aft}"),)
    campaign = load(tmp_path, *SMALL, ("window.clearance: [1 cm, 2 cm]", "foils.*.area: [40 cm^2, 60 cm^2]"), craft=servo)
    trims = find_trims(campaign, lay_out(campaign))
    ((indices, fleet),) = trims.fleets[0]
    together = loads(fleet).hinge
    assert together.shape == (3, 3)
    for place, design in enumerate(indices.tolist()):
        alone = loads(trimmed(trims.crafts[design], water_of(campaign), 4.0)).hinge[0]
        np.testing.assert_allclose(together[place], alone, rtol=1e-6)

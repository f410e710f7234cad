"""What nobody knows of a boat: how a campaign file writes it, what is refused, and how it is drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML
from scipy.stats import kstest, pearsonr

from sweep.campaign.addresses import value_at
from sweep.campaign.campaign import Campaign
from sweep.campaign.draws import as_drawn, boat_of
from sweep.campaign.follow_up_plan import first_fresh
from sweep.campaign.schema import campaign_schema
from sweep.campaign.text.problems import CampaignError
from tests.campaign.files import CAMPAIGN, changed, load

DRAWS = 400
BUILT_ONLY = ("  control.height.proportional: {from: 0.2 deg/cm, to: 0.8 deg/cm, levels: 3, spacing: log}\n", "")


def with_unknowns(folder: Path, said: str, *more: tuple[str, str]) -> Campaign:
    return load(folder, ("limits:", f"unknowns: {said}\nlimits:"), *more)


def drawn(campaign: Campaign, address: str) -> np.ndarray:
    """What the base craft of each draw has at an address."""
    crafts = [as_drawn(campaign, [campaign.craft], boat)[0] for boat in range(DRAWS)]
    return np.array([value_at(craft, address) for craft in crafts])


def test_nothing_is_unknown_unless_it_is_said(tmp_path: Path) -> None:
    campaign = load(tmp_path)
    assert campaign.unknowns is None
    assert with_unknowns(tmp_path, "none").unknowns is None
    assert as_drawn(campaign, [campaign.craft], 3)[0] is campaign.craft
    assert {boat_of(campaign, replicate) for replicate in range(9)} == {0}


def test_usual_is_lift_drag_wake_latency_and_inertia(tmp_path: Path) -> None:
    """Shares of what the craft has: judgement, as the source says."""
    campaign = with_unknowns(tmp_path, "usual")
    assert campaign.unknowns is not None
    assert {each.label: each.said() for each in campaign.unknowns.each} == {
        "foils.*.section.lift_slope": "+- 15 %",
        "foils.*.section.drag_min": "+- 40 %",
        "wake.strength": "+- 25 %",
        "rangefinders.latency": "+- 50 %",
        "body.roll_radius, body.pitch_radius, body.yaw_radius": "+- 15 %",
    }


def test_usual_leaves_out_what_a_factor_sets_or_a_polar_decides(tmp_path: Path) -> None:
    factor = ("  rangefinders.count: [1, 2, 3]\n", "  rangefinders.latency: [20 ms, 60 ms]\n")
    polar = ("aft:       {x: -40 cm, area: 50 cm^2, aspect_ratio: 6}",
             "aft:       {x: -40 cm, area: 50 cm^2, aspect_ratio: 6, section: {polar: naca-2412}}")  # fmt: skip
    campaign = load(tmp_path, ("limits:", "unknowns: usual\nlimits:"), factor, craft=(polar,))
    assert campaign.unknowns is not None
    by_label = {each.label: each.addresses for each in campaign.unknowns.each}
    assert "rangefinders.latency" not in by_label
    assert by_label["foils.*.section.lift_slope"] == ("foils.port.section.lift_slope", "foils.starboard.section.lift_slope")


@pytest.mark.parametrize(
    ("address", "written", "low", "high"),
    [
        ("wake.strength", "+- 25 %", 0.75, 1.25),
        ("wake.strength", "± 25 %", 0.75, 1.25),
        ("rangefinders.latency", "0 to 40 ms", 0.0, 0.04),
        ("rangefinders.latency", "10 ms to 0.04 s", 0.01, 0.04),
        ("body.mass", "+- 200 g", 2.8, 3.2),
        ("control.delay", "0 ms to 30 ms", 0.0, 0.03),
        ("wake.rolled_up", "0 to 1", 0.0, 1.0),
    ],
)
def test_ranges_are_drawn_evenly(tmp_path: Path, address: str, written: str, low: float, high: float) -> None:
    """Kolmogorov's and Smirnov's test of evenness, at one in a thousand."""
    values = drawn(with_unknowns(tmp_path, f"{{{address}: {written}}}"), address)
    assert low <= values.min() < values.max() <= high
    assert kstest((values - low) / (high - low), "uniform").pvalue > 1e-3


def test_one_line_is_one_unknown_and_lines_are_independent(tmp_path: Path) -> None:
    campaign = with_unknowns(tmp_path, "{foils.*.section.drag_min: +- 30 %, wake.strength: +- 25 %}")
    port, aft = drawn(campaign, "foils.port.section.drag_min"), drawn(campaign, "foils.aft.section.drag_min")
    np.testing.assert_array_equal(port, aft)
    assert pearsonr(port, drawn(campaign, "wake.strength")).pvalue > 1e-3


def test_what_is_drawn_depends_on_the_seed_and_on_nothing_else(tmp_path: Path) -> None:
    alone = with_unknowns(tmp_path, "{wake.strength: +- 25 %}")
    beside = with_unknowns(tmp_path, "{body.mass: +- 5 %, wake.strength: +- 25 %}")
    other = with_unknowns(tmp_path, "{wake.strength: +- 25 %}", ("seed: 7", "seed: 8"))
    wake = drawn(alone, "wake.strength")
    np.testing.assert_array_equal(drawn(beside, "wake.strength"), wake)
    assert not np.isclose(drawn(other, "wake.strength"), wake).any()


def test_a_range_is_the_base_craft_s_and_another_craft_is_as_far_from_its_own(tmp_path: Path) -> None:
    """A builder who has changed what is unknown, for a try, is as much in doubt about it: 60 ms are 0 to 40 too many."""
    campaign = with_unknowns(tmp_path, "{rangefinders.latency: 60 to 100 ms}")
    assert campaign.craft.rangefinders.latency == 0.06
    slower = campaign.craft.model_copy(
        update={"rangefinders": campaign.craft.rangefinders.model_copy(update={"latency": 0.12})}
    )
    (one, other) = as_drawn(campaign, [campaign.craft, slower], 5)
    assert other.rangefinders.latency - 0.12 == pytest.approx(one.rangefinders.latency - 0.06)


def test_settings_are_chosen_in_a_draw_so_two_replicates_share_it(tmp_path: Path) -> None:
    campaign = with_unknowns(tmp_path, "usual")
    assert [boat_of(campaign, replicate) for replicate in range(6)] == [0, 0, 1, 1, 4, 5]
    assert boat_of(campaign, first_fresh(campaign)) == first_fresh(campaign)
    built = with_unknowns(tmp_path, "usual", BUILT_ONLY)
    assert [boat_of(built, replicate) for replicate in range(6)] == [0, 1, 2, 3, 4, 5]


WRONG = {
    "word": ("maybe", "unknowns", "none, usual, or ranges by address"),
    "list": ("[wake.strength]", "unknowns", "none, usual, or ranges by address"),
    "nothing": ("{}", "unknowns", "none, usual, or ranges by address"),
    "unknown address": ("{wake.strenght: +- 25 %}", "unknowns.wake.strenght", "the nearest: wake.strength"),
    "factor": ("{struts.height: +- 5 %}", "unknowns.struts.height", "a factor or an unknown"),
    "count": ("{rangefinders.count: 1 to 2}", "unknowns.rangefinders.count", "a factor or an unknown"),
    "word of the craft": ("{control.law: 1 to 2}", "unknowns.control.law", "a measured number"),
    "price": ("{body.price: +- 5 %}", "unknowns.body.price", "a measured number"),
    "gain": ("{control.roll.proportional: +- 5 %}", "unknowns.control.roll.proportional", "what the control code is set to"),
    "number": ("{body.mass: 3}", "unknowns.body.mass", "a range, such as +- 25 %"),
    "no range": ("{body.mass: 3 kg}", "unknowns.body.mass", "a range, such as +- 25 %"),
    "kind": ("{body.mass: +- 3 ms}", "unknowns.body.mass", "a mass, such as"),
    "kind of an end": ("{rangefinders.latency: 1 to 2 kg}", "unknowns.rangefinders.latency", "a time, such as"),
    "turned round": ("{rangefinders.latency: 40 to 0 ms}", "unknowns.rangefinders.latency", "the smaller number first"),
    "beyond": ("{rangefinders.latency: 0 to 400 ms}", "unknowns.rangefinders.latency", "at most"),
    "impossible": ("{rangefinders.latency: +- 100 ms}", "unknowns.rangefinders.latency", "at rangefinders.latency"),
    "share of nothing": ("{windage.area: +- 5 %}", "unknowns.windage.area", "a share of nothing is nothing"),
    "none there": ("{wake.rolled_up: +- 5 %}", "unknowns.wake.rolled_up", "from one number to another"),
    "twice": ("{foils.*.incidence: +- 1 deg, foils.aft.incidence: +- 1 deg}", "unknowns.foils.aft.incidence", "address once"),
    "no file": ("{file: fit.csv}", "unknowns.file", "the name of a CSV beside the campaign"),
    "folders": ("{file: ../fit.csv}", "unknowns.file", "no folders"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_a_mistake_is_told_where_it_is_with_what_would_be_right(tmp_path: Path, name: str) -> None:
    said, address, mend = WRONG[name]
    with pytest.raises(CampaignError) as error:
        with_unknowns(tmp_path, said)
    (problem,) = error.value.problems
    assert (problem.address, problem.line) == (address, 21)
    assert mend in problem.wanted


def test_impossible_with_the_end_of_a_factor_is_told(tmp_path: Path) -> None:
    """Blind up to 60 cm is possible, and a far limit of 1 m less 45 cm as well, but not together."""
    factor = ("  rangefinders.count: [1, 2, 3]\n", "  rangefinders.blind: [2 cm, 60 cm]\n")
    with pytest.raises(CampaignError, match="impossible craft"):
        with_unknowns(tmp_path, "{rangefinders.far: +- 45 %}", factor)


def test_draws_that_make_an_impossible_craft_are_told_with_their_numbers(tmp_path: Path) -> None:
    campaign = with_unknowns(tmp_path, "{rangefinders.latency: 0 to 40 ms}")
    slow = campaign.craft.model_copy(update={"rangefinders": campaign.craft.rangefinders.model_copy(update={"latency": 0.01})})
    boat = next(boat for boat in range(50) if drawn(campaign, "rangefinders.latency")[boat] < 0.02)
    with pytest.raises(CampaignError, match=rf"draw {boat} \(rangefinders.latency 0\.\d+\), which makes an impossible craft"):
        as_drawn(campaign, [slow], boat)


def test_a_race_a_search_and_half_a_draw_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CampaignError, match="no budget beside them"):
        with_unknowns(tmp_path, "usual", ("plan: full-factorial", "plan: full-factorial\nbudget: 20 min"))
    with pytest.raises(CampaignError, match="no search beside them"):
        with_unknowns(tmp_path, "usual", ("plan: full-factorial", "plan: {kind: search, designs: 1200}"))
    with pytest.raises(CampaignError, match=r"conditions\.replicates: found 3.*a multiple of 2"):
        with_unknowns(tmp_path, "usual", ("replicates: 4", "replicates: 3"))
    assert with_unknowns(tmp_path, "usual", ("replicates: 4", "replicates: 3"), BUILT_ONLY).replicates == 3


def posterior(folder: Path) -> np.ndarray:
    """A file of draws with a strong correlation; (draws, 2): lift in per cent of what the craft has, latency in ms."""
    random = np.random.default_rng(3)
    lift = random.normal(100.0, 5.0, 200)
    rows = np.column_stack([lift, 50.0 - 0.8 * (lift - 100.0) + random.normal(0.0, 1.0, 200)]).round(3)
    text = "\n".join(["foils.*.section.lift_slope (%),rangefinders.latency (ms)", *(f"{a},{b}" for a, b in rows)])
    (folder / "fit.csv").write_text(text, encoding="utf-8")
    return rows


def test_the_draws_of_a_file_keep_their_correlation(tmp_path: Path) -> None:
    rows = posterior(tmp_path)
    campaign = with_unknowns(tmp_path, "{file: fit.csv, wake.strength: +- 25 %}")
    lift, latency = drawn(campaign, "foils.aft.section.lift_slope") / 5.97, drawn(campaign, "rangefinders.latency")
    known = {(a / 100.0, b / 1000.0) for a, b in rows}
    for a, b in zip(lift, latency, strict=True):
        assert min(abs(a - one) + abs(b - two) for one, two in known) < 1e-9, "a row of the file"
    assert np.corrcoef(lift, latency)[0, 1] == pytest.approx(np.corrcoef(rows.T)[0, 1], abs=0.03)
    assert abs(np.corrcoef(lift, drawn(campaign, "wake.strength"))[0, 1]) < 0.2


def test_the_file_is_kept_with_the_campaign(tmp_path: Path) -> None:
    posterior(tmp_path)
    campaign = with_unknowns(tmp_path, "{file: fit.csv}")
    assert campaign.drawn_texts == {"fit.csv": (tmp_path / "fit.csv").read_text()}


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("(ms)", "(kg)", "a time, such as"),
        ("foils.*.section.lift_slope (%)", "foils.*.lift (%)", "an address in the craft"),
        ("foils.*.section.lift_slope (%),", "struts.height (%),", "a factor or an unknown"),
        ("\n", "\nx,50\n", "per cent of what the craft has"),
    ],
)
def test_a_wrong_file_is_told_by_line_and_column(tmp_path: Path, old: str, new: str, wanted: str) -> None:
    posterior(tmp_path)
    path = tmp_path / "fit.csv"
    path.write_text(path.read_text().replace(old, new, 1))
    with pytest.raises(CampaignError) as error:
        with_unknowns(tmp_path, "{file: fit.csv}")
    (problem,) = error.value.problems
    assert problem.file == str(path)
    assert problem.line
    assert wanted in problem.wanted


def test_few_draws_are_none(tmp_path: Path) -> None:
    posterior(tmp_path)
    path = tmp_path / "fit.csv"
    path.write_text("\n".join(path.read_text().splitlines()[:10]))
    with pytest.raises(CampaignError, match="a file of 9, wanted at least 20 draws"):
        with_unknowns(tmp_path, "{file: fit.csv}")


@pytest.mark.parametrize(
    ("said", "valid"),
    [
        ("usual", True),
        ("none", True),
        ("{wake.strength: +- 25 %, file: fit.csv}", True),
        ("all", False),
        ("[wake.strength]", False),
        ("{wake.strength: 3}", False),
    ],
)
def test_an_editor_knows_the_key(tmp_path: Path, said: str, valid: bool) -> None:
    plain = YAML(typ="safe", pure=True).load(changed(CAMPAIGN, (("limits:", f"unknowns: {said}\nlimits:"),)))
    assert Draft202012Validator(campaign_schema()).is_valid(plain) == valid

"""One factor that multiplies what the craft file has: the areas of an unlike pair grow together."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.designs import crafts_of, lay_out, shown_factor
from sweep.campaign.text.problems import CampaignError
from sweep.results.fingerprint import flight_keys
from tests.campaign.files import CRAFT, Changes, write

AREA = "foils.*.area: {from: 36 cm^2, to: 72 cm^2, levels: 4}"
UNLIKE: Changes = (("y: 17 cm, area: 50 cm^2", "y: 17 cm, area: 40 cm^2"), ("x: -40 cm, area: 50", "x: -40 cm, area: 80"))
FEW = (
    ("  struts.height: [14 cm, 18 cm, 22 cm]\n  rangefinders.count: [1, 2, 3]\n  rangefinders.layout: [bow, over-foils]\n", ""),
    ("  arm: {addresses: [foils.port.x, foils.starboard.x], levels: [20 cm, 22 cm]}\n", ""),
)


def scaled(folder: Path, factor: str, *changes: tuple[str, str]) -> Campaign:
    return load_campaign(write(folder, (*FEW, (AREA, factor), *changes), UNLIKE))


def areas(campaign: Campaign) -> set[tuple[float, ...]]:
    return {
        tuple(round(1e4 * foil.area, 6) for foil in craft.foils.values()) for craft in crafts_of(campaign, lay_out(campaign))
    }


@pytest.mark.parametrize("levels", ["levels: [80 %, 100 %, 125 %]", "levels: [0.8, 1, 1.25]"])
def test_each_keeps_its_share(tmp_path: Path, levels: str) -> None:
    campaign = scaled(tmp_path, f"foil-size: {{scale: [foils.*.area], {levels}}}")
    assert areas(campaign) == {(40.0, 32.0, 64.0), (50.0, 40.0, 80.0), (62.5, 50.0, 100.0)}
    designs = lay_out(campaign)
    assert designs["foil-size"].iloc[0] == 1.0
    assert campaign.factors["foil-size"].kind == "built"


def test_a_range_and_a_pattern_of_its_own(tmp_path: Path) -> None:
    pair = "scale: [foils.port.area, foils.starboard.area]"
    campaign = scaled(tmp_path, f"size: {{{pair}, from: 50 %, to: 200 %, levels: 3, spacing: log}}")
    assert areas(campaign) == {(25.0, 20.0, 80.0), (50.0, 40.0, 80.0), (100.0, 80.0, 80.0)}
    assert shown_factor(campaign.factors["size"], lay_out(campaign)["size"])[1] == 50.0  # %


def test_where_all_are_alike_it_is_the_area_itself(tmp_path: Path) -> None:
    """The same crafts by shares and by values have the same flights."""
    own = "a: {addresses: [foils.*.area], levels: [40 cm^2, 60 cm^2]}"
    found = []
    for name, factor in (("own", own), ("shares", "a: {scale: [foils.*.area], levels: [80 %, 120 %]}")):
        (tmp_path / name).mkdir()
        campaign = load_campaign(write(tmp_path / name, (*FEW, (AREA, factor)), ()))
        found.append(flight_keys(campaign, lay_out(campaign), ()).designs)
    assert found[0] == found[1]


def test_rules_see_the_values(tmp_path: Path) -> None:
    rules = ("plan: full-factorial", "plan: full-factorial\nrules: {small: foils.aft.area <= 90 cm^2}")
    campaign = scaled(tmp_path, "size: {scale: [foils.*.area], levels: [80 %, 100 %, 125 %]}", rules)
    assert {area for _, _, area in areas(campaign)} == {64.0, 80.0}


def test_a_list_of_designs_gives_shares(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("size (%),control.height.proportional (deg/cm)\n80,0.4\n125,0.8\n")
    plan = ("plan: full-factorial", "plan: {kind: listed, file: list.csv}")
    campaign = scaled(tmp_path, "size: {scale: [foils.*.area], levels: [80 %, 125 %]}", plan)
    assert {aft for _, _, aft in areas(campaign)} == {64.0, 80.0, 100.0}


@pytest.mark.parametrize(("factor", "told"), [
    ("size: {scale: [foils.*.area], addresses: [foils.*.area], levels: [1, 2]}", "either addresses or scale"),
    ("size: {scale: [foils.*.area], levels: [40 cm^2, 60 cm^2]}", "wanted a share"),
    ("size: {scale: [foils.*.area], levels: [0, 1]}", "more than 0"),
    ("size: {scale: [foils.*.mounting], levels: [1, 2]}", "addresses of numbers that the craft file gives"),
    ("size: {scale: [foils.*.span], levels: [1, 2]}", "addresses of numbers that the craft file gives"),
    ("size: {scale: [foil.*.area], levels: [1, 2]}", "factors.size.scale[0]: found 'foil.*.area', which addresses nothing"),
])  # fmt: skip
def test_what_cannot_be_scaled(tmp_path: Path, factor: str, told: str) -> None:
    with pytest.raises(CampaignError) as caught:
        scaled(tmp_path, factor)
    assert told in str(caught.value)
    assert "area: 40 cm^2" not in CRAFT

from __future__ import annotations

import math
from pathlib import Path

import pytest

from sweep.campaign.named_seas import FlatSea, JonswapSea, PacketSea, RegularSea, SumOfSeas
from sweep.campaign.ride_map import RideMap, at_height, shaping_sea
from sweep.campaign.text.problems import CampaignError
from sweep.model.physics.waves import steepness
from tests.campaign.files import load

HEADINGS = "headings: [head, 120 deg]"
DEEP = 1e6


def mapped(folder: Path, *changes: tuple[str, str]) -> RideMap:
    found = load(folder, *changes).map
    assert found is not None
    return found


def asked(text: str) -> tuple[str, str]:
    """A campaign with these lines of a map."""
    return "limits:", f"map: {text}\nlimits:"


def test_a_map_that_is_not_asked_for_follows_the_conditions(tmp_path: Path) -> None:
    """Seas of 4 and 8 cm at 1.2 s, the steeper of them; speeds 3.5 and 2.5 m/s: from 0.8 x 2.5 to 1.25 x 3.5, by hand."""
    found = mapped(tmp_path)
    assert found.sea.name == "chop 8 cm"
    assert found.speeds == (2.0, 3.0, 4.4)
    assert found.heights == pytest.approx((0.04, 0.08, 0.12, 0.16, 0.2, 0.24))
    assert [heading.name for heading in found.headings] == ["head", "beam", "following"]
    assert found.replicates == 6
    assert len(found.cells()) == 3 * 6 * 3


def test_three_headings_of_the_campaign_are_those_of_the_map(tmp_path: Path) -> None:
    found = mapped(tmp_path, (HEADINGS, "headings: [following, 30 deg, bow]"))
    assert [heading.name for heading in found.headings] == ["following", "30 deg", "bow"]


def test_a_map_as_asked_for(tmp_path: Path) -> None:
    found = mapped(tmp_path, asked("{speeds: [3 m/s, 8 kn], heights: 5 cm, headings: [bow, beam], replicates: 20}"))
    assert found.speeds == pytest.approx((3.0, 8 * 1852 / 3600))
    assert [(cell.speed, cell.sea.height, cell.heading.name) for cell in found.cells()[:2]] == [
        (3.0, 0.05, "bow"),
        (3.0, 0.05, "beam"),
    ]
    assert (len(found.cells()), found.replicates) == (4, 20)


def test_all_seas_of_a_map_have_one_steepness() -> None:
    sea = JonswapSea(name="chop", height=0.06, period=1.1, gamma=2.0, spreading=10.0)
    for height in (0.02, 0.06, 0.3):
        scaled = at_height(sea, height)
        assert steepness(height, scaled.period, DEEP) == pytest.approx(steepness(0.06, 1.1, DEEP))
        assert (scaled.gamma, scaled.spreading) == (2.0, 10.0)


def test_the_steepest_irregular_sea_gives_the_form() -> None:
    short, long = (JonswapSea(name=name, height=0.05, period=period) for name, period in (("s", 1.0), ("l", 1.5)))
    swell = RegularSea(name="swell", height=0.06, period=1.0)
    cross = SumOfSeas(name="cross", parts=(short.model_copy(update={"turned": 0.5, "name": ""}), swell))
    flat, wake = FlatSea(name="calm"), PacketSea(name="wake", height=0.1, period=1.0, waves=6, arrives=5.0)
    assert shaping_sea((long, flat, swell, short)) == short
    assert shaping_sea((cross, long)) == short.model_copy(update={"name": "cross"})
    assert shaping_sea((flat, swell)) == swell
    assert shaping_sea((flat, wake)) is None


@pytest.mark.parametrize("text", ["{replicates: 0}", "{replicates: 0, heights: 4 cm}"])
def test_no_map(tmp_path: Path, text: str) -> None:
    assert load(tmp_path, asked(text)).map is None


def test_calm_water_has_no_map(tmp_path: Path) -> None:
    chop, swell = (
        "chop: {kind: jonswap, height: [4 cm, 8 cm], period: 1.2 s}",
        "swell: {kind: regular, height: 5 cm, period: [1 s, 2 s]}",
    )
    assert load(tmp_path, (chop, ""), (swell, "")).map is None


def test_heights_that_would_break_are_left_out(tmp_path: Path) -> None:
    """In 30 cm of water longer waves are shorter than in deep water: at most 0.071 tanh(2 pi d/L) L stands."""
    found = mapped(tmp_path, ("depth: 4 m", "depth: 30 cm"), ("[4 cm, 8 cm]", "7 cm"), ("period: [1 s, 2 s]", "period: 1 s"))
    assert 0.07 in found.heights
    assert max(found.heights) < 3 * 0.07
    for cell in found.cells():
        assert steepness(cell.sea.height, cell.sea.period, 0.3) <= 0.07 * (1 + 1e-9)


@pytest.mark.parametrize(
    ("text", "address", "mend"),
    [
        ("{heights: [4 cm, 2 mm]}", "map.heights[1]", "a height of at least 0.57 cm"),
        ("{heights: 40 m}", "map.heights", "waves that do not break: a lower height"),
        ("{speeds: 0 m/s}", "map.speeds", "more than 0"),
        ("{headings: [head, upwind]}", "map.headings[1]", "head for that"),
        ("{speeds: [3 m/s, 3 m/s]}", "map.speeds[1]", "every speed once"),
        ("{repeats: 3}", "map.repeats", "a known key"),
    ],
)
def test_a_wrong_map(tmp_path: Path, text: str, address: str, mend: str) -> None:
    with pytest.raises(CampaignError) as refusal:
        load(tmp_path, asked(text))
    (problem,) = refusal.value.problems
    assert problem.address == address
    assert problem.line == 21
    assert mend in problem.wanted


def test_a_map_wants_a_sea_to_shape_it(tmp_path: Path) -> None:
    chop, swell = (
        "chop: {kind: jonswap, height: [4 cm, 8 cm], period: 1.2 s}",
        "swell: {kind: regular, height: 5 cm, period: [1 s, 2 s]}",
    )
    with pytest.raises(CampaignError, match="wanted a regular or irregular sea"):
        load(tmp_path, asked("{heights: 4 cm}"), (chop, ""), (swell, ""))


def test_a_height_below_the_shortest_waves_is_named_so_that_it_is_taken(tmp_path: Path) -> None:
    """0.08 m x (0.32 s / 1.2 s)^2 by hand."""
    found = mapped(tmp_path, asked("{heights: 5.7 mm}"))
    assert found.cells()[0].sea.period == pytest.approx(1.2 * math.sqrt(0.0057 / 0.08))

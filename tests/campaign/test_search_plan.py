from __future__ import annotations

from pathlib import Path

import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.designs import lay_out
from sweep.campaign.plan import MOST_BLOCKS, count_designs
from sweep.campaign.search_plan import FIRST_SEARCHED, axes_of, flights_of, purse_of, round_blocks, with_points
from sweep.campaign.text.problems import CampaignError
from tests.campaign.files import Changes, load, write

RANGE = ("{from: 36 cm^2, to: 72 cm^2, levels: 4}", "{from: 36 cm^2, to: 72 cm^2}")
SEARCH = ("plan: full-factorial", "plan: {kind: search, designs: 400}")


def wrong(tmp_path: Path, *changes: tuple[str, str]) -> tuple[str, str, str]:
    """Address, what was found, what is wanted, of the one mistake of a campaign."""
    with pytest.raises(CampaignError) as raised:
        load_campaign(write(tmp_path, campaign=changes))
    (problem,) = raised.value.problems
    return problem.address, problem.found, problem.wanted


def test_a_search_of_lists_alone_is_refused(tmp_path: Path) -> None:
    address, found, wanted = wrong(tmp_path, SEARCH)
    assert (address, found) == ("plan", "a search where every factor is a list of levels")
    assert "range without levels" in wanted
    assert "full-factorial" in wanted


@pytest.mark.parametrize(
    ("plan", "found"),
    [
        ("plan: {kind: search}", "neither designs nor a budget"),
        ("plan: {kind: search, designs: 400}\nbudget: 20 min", "designs: 400, and a budget too"),
    ],
)
def test_its_size_is_said_once(tmp_path: Path, plan: str, found: str) -> None:
    assert wrong(tmp_path, RANGE, ("plan: full-factorial", plan))[:2] == ("plan", found)


def test_too_few_designs_are_refused(tmp_path: Path) -> None:
    address, found, wanted = wrong(tmp_path, RANGE, ("plan: full-factorial", "plan: {kind: search, designs: 100}"))
    assert (address, found) == ("plan.designs", "100")
    assert wanted.startswith("at least 160")


def test_too_small_a_budget_is_refused(tmp_path: Path) -> None:
    plan = ("plan: full-factorial", "plan: {kind: search}\nbudget: {simulated: 9000 s}")
    address, found, wanted = wrong(tmp_path, RANGE, plan)
    assert (address, found) == ("budget", "9000 s")
    assert wanted.startswith("at least ")
    assert "8 rounds of 20 designs" in wanted


def test_equal_ends_of_a_range_are_refused(tmp_path: Path) -> None:
    same = (RANGE[0], "{from: 36 cm^2, to: 36 cm^2}")
    assert wrong(tmp_path, same, SEARCH)[0] == "factors.foils.*.area.to"


def search(tmp_path: Path, *changes: tuple[str, str]) -> Changes:
    return (RANGE, SEARCH, *changes)


def test_its_designs_are_those_decided_so_far(tmp_path: Path) -> None:
    campaign = load(tmp_path, *search(tmp_path))
    assert count_designs(campaign.plan, campaign.factors) == 400
    assert len(lay_out(campaign)) == 1
    point = (0.5, 0.9, 0.5, 0.2, 0.0, 0.99)
    designs = lay_out(with_points(campaign, [point]))
    assert len(designs) == 2
    chosen = designs.iloc[1].tolist()
    assert chosen == pytest.approx([0.0054, 0.22, 2, "bow", 20.0 * chosen[4] / 20.0, 0.22]) or chosen[3] == "bow"
    assert designs["foils.*.area"].iloc[1] == pytest.approx(0.0054)  # the middle of 36 to 72 cm^2
    assert designs["struts.height"].iloc[1] == 0.22
    assert designs["rangefinders.layout"].iloc[1] == "bow"


def test_words_and_lists_without_an_order_have_none(tmp_path: Path) -> None:
    campaign = load(tmp_path, *search(tmp_path, ("[14 cm, 18 cm, 22 cm]", "[18 cm, 14 cm, 22 cm]")))
    axes = dict(zip(campaign.factors, axes_of(campaign), strict=True))
    assert axes["foils.*.area"] == (0, True)
    assert axes["struts.height"] == (3, False)
    assert axes["rangefinders.count"] == (3, True)
    assert axes["rangefinders.layout"] == (2, False)


def test_every_round_meets_its_own_waves_and_all_conditions_come_in_turn(tmp_path: Path) -> None:
    campaign = load(tmp_path, *search(tmp_path))
    few = [round_blocks(campaign, 5, number) for number in range(3)]
    assert [sorted(condition for condition, _ in blocks) for blocks in few] == [[0, 1, 2, 3, 4]] * 3
    assert [{replicate - FIRST_SEARCHED for _, replicate in blocks} for blocks in few] == [{0}, {1}, {2}]
    many = [block for number in range(5) for block in round_blocks(campaign, 3 * MOST_BLOCKS, number)]
    assert len({condition for condition, _ in many[: 3 * MOST_BLOCKS]}) == 3 * MOST_BLOCKS
    assert len(set(many)) == len(many) == 5 * MOST_BLOCKS


def test_what_it_flies_is_known_before(tmp_path: Path) -> None:
    campaign = load(tmp_path, *search(tmp_path))
    purse = purse_of(campaign, 6)
    assert sum(purse.sizes) == 400
    assert flights_of(campaign, 6) >= 400 * 6 + 17 * 6 * campaign.replicates

"""Rules between factors: what they mean is counted by hand here, and wrong ones are refused at their place."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.designs import allowed_points, craft_of, lay_out, unbuilt
from sweep.campaign.rules import broken_by
from sweep.campaign.search_plan import axes_of
from sweep.campaign.text.problems import CampaignError
from sweep.insight.search import Search
from sweep.model.pack.mass import price, total_mass
from tests.campaign.files import Changes, load, write

AREAS = [0.0036 + step * 0.0012 for step in range(4)]
STRUTS, COUNTS, LAYOUTS, ARMS = [0.14, 0.18, 0.22], [1, 2, 3], ["bow", "over-foils"], [0.20, 0.22]
GAINS = [0.2, 0.4, 0.8]
PLAN = "plan: full-factorial"
PRICES = ("area: 50 cm^2, aspect_ratio: 6}\nstruts: {", "area: 50 cm^2, aspect_ratio: 6, price: 30}\nstruts: {price: 12, ")


def ruled(*texts: str, plan: str = PLAN) -> tuple[str, str]:
    """The campaign with these rules, named r0 ..."""
    lines = [f'  r{at}: "{text}"' for at, text in enumerate(texts)]
    return PLAN, "\n".join(["rules:", *lines, plan])


def of(tmp_path: Path, *texts: str, craft: Changes = ()) -> Campaign:
    return load_campaign(write(tmp_path, campaign=(ruled(*texts),), craft=craft))


BY_HAND = {
    "if rangefinders.count >= 2 then rangefinders.layout == bow": lambda area, strut, n, where, gain, arm: (
        n < 2 or where == "bow"
    ),
    "sum(foils.*.area) <= 180 cm^2": lambda area, strut, n, where, gain, arm: 3 * area <= 0.018 + 1e-12,
    "struts.height == 18 cm": lambda area, strut, n, where, gain, arm: strut == 0.18,
    "14 cm < struts.height <= 180 mm": lambda area, strut, n, where, gain, arm: 0.14 < strut <= 0.18,
    "max(arm) <= 21 cm or not rangefinders.count != 3": lambda area, strut, n, where, gain, arm: arm <= 0.21 or n == 3,
    "struts.height >= 40 * foils.aft.area / 1 m": lambda area, strut, n, where, gain, arm: strut >= 40 * area - 1e-12,
    "control.height.proportional * struts.height > 5 deg and rangefinders.layout != over-foils": (
        lambda area, strut, n, where, gain, arm: gain * strut * 100 > 5 and where != "over-foils"
    ),
    "min(struts.height, foils.port.x) < 0.2 m": lambda area, strut, n, where, gain, arm: min(strut, arm) < 0.2 - 1e-12,
}


@pytest.mark.parametrize("text", BY_HAND)
def test_designs_that_break_a_rule_are_left_out_and_counted(tmp_path: Path, text: str) -> None:
    campaign = of(tmp_path, text)
    every = list(product(AREAS, STRUTS, COUNTS, LAYOUTS, GAINS, ARMS))
    kept = [values for values in every if BY_HAND[text](*values)]
    assert 0 < len(kept) < len(every)
    designs = lay_out(campaign)
    assert unbuilt(campaign) == (len(every), len(every) - len(kept), {"r0": len(every) - len(kept)})
    assert designs.index.tolist() == list(range(1 + len(kept)))
    found = designs.iloc[1:][["foils.*.area", "struts.height", "rangefinders.count", "arm"]].to_numpy(dtype=float)
    np.testing.assert_allclose(found, [(a, s, n, arm) for a, s, n, _, _, arm in kept], rtol=1e-12)
    assert designs.iloc[1:]["rangefinders.layout"].tolist() == [where for *_, where, _, _ in kept]


def test_several_rules_are_counted_one_by_one_and_together(tmp_path: Path) -> None:
    left = unbuilt(of(tmp_path, "struts.height <= 18 cm", "rangefinders.count <= 2"))
    assert left == (432, 432 - 432 * 4 // 9, {"r0": 144, "r1": 144})


def test_mass_and_price_of_the_whole_craft_are_those_that_the_tables_have(tmp_path: Path) -> None:
    campaign = of(tmp_path, "mass <= 3.15 kg", "price <= 70", craft=(PRICES,))
    whole = lay_out(of(tmp_path, "mass <= 1000 kg", craft=(PRICES,)))
    crafts = [craft_of(campaign, row) for _, row in whole.iloc[1:].iterrows()]
    kept = [total_mass(craft) <= 3.15 and price(craft) <= 70.0 for craft in crafts]
    assert 0 < sum(kept) < len(kept)
    assert len(lay_out(campaign)) == 1 + sum(kept)


def test_no_rules_leave_the_table_as_it_is(tmp_path: Path) -> None:
    campaign = load(tmp_path)
    assert unbuilt(campaign) == (0, 0, {})
    pd.testing.assert_frame_equal(lay_out(campaign), lay_out(of(tmp_path, "struts.height > 1 cm")))


def test_the_base_craft_stays_whatever_it_breaks(tmp_path: Path) -> None:
    campaign = of(tmp_path, "struts.height <= 18 cm")
    assert broken_by(campaign.rules, campaign.craft) == ["r0"]
    assert lay_out(campaign)["struts.height"].iloc[0] == 0.20
    assert broken_by(campaign.rules, replace_values(campaign.craft, {"struts.height": 0.17})) == []


@pytest.mark.parametrize("plan", ["{kind: latin-hypercube, designs: 60}", "{kind: sobol, designs: 64}"])
def test_sampled_plans_leave_out_what_breaks_a_rule(tmp_path: Path, plan: str) -> None:
    changes = ruled("foils.aft.area <= 0.3 * struts.height * 10 cm", plan=f"plan: {plan}")
    campaign = load(tmp_path, ("{from: 36 cm^2, to: 72 cm^2, levels: 4}", "{from: 36 cm^2, to: 72 cm^2}"), changes)
    designs, left = lay_out(campaign).iloc[1:], unbuilt(campaign)
    assert 0 < left.broken < left.planned
    assert len(designs) == left.planned - left.broken
    assert (designs["foils.*.area"] <= 0.03 * designs["struts.height"] * (1 + 1e-9)).all()


def test_a_search_proposes_nothing_that_breaks_a_rule(tmp_path: Path) -> None:
    changes = ruled("foils.aft.area <= 0.3 * struts.height * 10 cm", plan="plan: {kind: search, designs: 200}")
    campaign = load(tmp_path, ("{from: 36 cm^2, to: 72 cm^2, levels: 4}", "{from: 36 cm^2, to: 72 cm^2}"), changes)
    allowed = allowed_points(campaign)
    assert allowed is not None
    search = Search(axes_of(campaign), 3, allowed)
    for _ in range(4):
        carried, points = search.best(6), search.next_points(40)
        assert len(points) == 40
        assert allowed(points).all()
        every = np.concatenate((search.points[carried], points))
        search.add(points, carried, -every[:, 0] - 0.1 * every[:, 1])  # the largest area that struts allow
    best = int(search.best(1)[0])
    assert allowed(search.probes(best, search.ends(best))).all()
    free = Search(axes_of(campaign), 3).next_points(40)
    assert 0 < allowed(free).sum() < 40


WRONG = {
    "sum(foils.*.area) <= 200 cm": ("an area and a length", "numbers of one kind on both sides"),
    "struts.height <= 18": ("a length and a plain number", "numbers of one kind"),
    "struts.height + rangefinders.count < 3": ("a length and a plain number", "one kind"),
    "foils.*.area <= 50 cm^2": ("'foils.*.area', which is 3 numbers", "sum(foils.*.area), min(foils.*.area) or max("),
    "arm <= 21 cm": ("'arm', which is 2 numbers", "max(arm)"),
    "rangefinders.layout == stern": ("'stern'", "'bow', 'across-bow' or 'over-foils'"),
    "rangefinders.layout >= bow": ("r", "== or !="),
    "foils.port.aera <= 3 cm^2": ("'foils.port.aera', which addresses nothing", "the nearest: foils.port.area"),
    "strut_height < 3 cm": ("'strut_height'", "an address in the craft, or the name of a factor"),
    "struts.height <= 18 cmm": ("'cmm', which is no unit", "a unit"),
    "struts.height <= 18 cm/arm": ("'cm/arm', which is no unit", "spaces about"),
    "struts.height": ("struts.height", "a comparison, with <"),
    "struts.height <= ": ("struts.height", "a comparison, such as"),
    "rangefinders.count == 2 then rangefinders.layout == bow": ("r", "a comparison, such as"),
    "foils.aft.x <= 3 cm": ("names no factor", "a rule about what a factor chooses"),
    "foils.aft.strut.height < struts.height": ("'foils.aft.strut.height', which has none", "an address that has a value"),
    "price <= 500": ("'price', while the craft has none", "body.price"),
    "rangefinders.count.__class__ == 3": ("addresses", ""),
    "struts.height if 1 else 2": ("'else'", "a unit"),
    "(lambda: 3)() == struts.height": ("", ""),
    "[1][0] == rangefinders.count": ("", ""),
    "rangefinders.count ** 2 < 4": ("", "a comparison"),
    "open(rangefinders.count) < 4": ("", ""),
}


@pytest.mark.parametrize("text", WRONG)
def test_wrong_rules_are_refused_at_their_place_with_words_that_mend_them(tmp_path: Path, text: str) -> None:
    with pytest.raises(CampaignError) as raised:
        of(tmp_path, text)
    (problem,) = raised.value.problems
    found, wanted = WRONG[text]
    assert (problem.address, problem.line) == ("rules.r0", 12)
    assert found in problem.found or found in problem.wanted
    assert wanted in problem.wanted


def test_rules_that_no_design_keeps_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CampaignError, match=r"rules that none of 432 designs keeps, wanted rules that leave designs"):
        lay_out(of(tmp_path, "struts.height < 10 cm"))


def test_shares_of_a_variance_know_no_rules(tmp_path: Path) -> None:
    changes = ruled("struts.height < 20 cm", plan="plan: {kind: variance-based, base: 16}")
    with pytest.raises(CampaignError, match=r"plan: found a variance-based plan beside rules, wanted plan: {kind: sobol"):
        load(tmp_path, changes)


EACH = ("{count: 1, x: 35 cm, blind: 2 cm, far: 1 m}", "{blind: 2 cm, far: 1 m, each: {fore: {x: 35 cm}, mid: {x: 2 cm}}}")
TRUSTS = (
    "  rangefinders.count: [1, 2, 3]\n  rangefinders.layout: [bow, over-foils]\n",
    "  fore: {addresses: [rangefinders.each.fore.trust], levels: [0, 1]}\n"
    "  mid: {addresses: [rangefinders.each.mid.trust], levels: [0, 1]}\n",
)


def test_an_impossible_pair_that_a_rule_leaves_out_is_no_mistake(tmp_path: Path) -> None:
    """Without any trusted rangefinder there is no craft: a rule may leave that out, and one that does not is no help."""
    some = "rangefinders.each.fore.trust + rangefinders.each.mid.trust > 0"
    campaign = load_campaign(write(tmp_path, campaign=(TRUSTS, ruled(some)), craft=(EACH,)))
    designs = lay_out(campaign)
    assert len(designs) == 1 + 3 * len(AREAS) * len(STRUTS) * len(GAINS) * len(ARMS)
    assert (designs["fore"] + designs["mid"] > 0).all()
    for design in (1, len(designs) - 1):
        craft_of(campaign, designs.loc[design])
    for rules in ((), ("rangefinders.each.fore.trust <= 1",), (f"if struts.height > 15 cm then {some}",)):
        given = (TRUSTS, ruled(*rules)) if rules else (TRUSTS,)
        with pytest.raises(CampaignError, match="together an impossible craft"):
            load_campaign(write(tmp_path, campaign=given, craft=(EACH,)))


def test_rangefinders_that_each_have_a_place_need_none_for_all(tmp_path: Path) -> None:
    craft = load_campaign(write(tmp_path, campaign=(TRUSTS, ruled("fore + mid > 0")), craft=(EACH,))).craft
    assert craft.rangefinders.x == 0.35
    partly = (EACH[0], EACH[1].replace("mid: {x: 2 cm}", "mid: {ahead: 5 deg}"))
    with pytest.raises(CampaignError, match=r"rangefinders\.x: found no x"):
        load_campaign(write(tmp_path, campaign=(TRUSTS,), craft=(partly,)))

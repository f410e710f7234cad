"""What rules forbid is neither advised as a change nor ranked."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.designs import lay_out
from sweep.campaign.rules import broken_by
from sweep.flying.variants import next_variants, worse_variants
from sweep.insight.limits import refuse
from sweep.insight.rank import BREAKS, refused
from sweep.preflight.amounts import rules_text
from tests.campaign.files import write
from tests.campaign.test_rules_between_factors import ruled

AREA = ("{from: 36 cm^2, to: 72 cm^2, levels: 4}", "{from: 36 cm^2, to: 72 cm^2, levels: 3}")


def of(tmp_path: Path, *texts: str) -> Campaign:
    return load_campaign(write(tmp_path, campaign=(AREA, ruled(*texts))))


def chance(designs: pd.DataFrame) -> np.ndarray:
    return np.random.default_rng(0).normal(size=(len(designs), 2, 3))


@pytest.mark.parametrize("limit", ["40 cm^2", "50 cm^2"])
def test_no_change_is_tried_that_breaks_a_rule(tmp_path: Path, limit: str) -> None:
    """36, 54 and 72 cm^2 fly without a rule; half a step up from 36 is 45 cm^2."""
    campaign = of(tmp_path, f"max(foils.*.area) <= {limit}", "rangefinders.latency <= 2 * 30 ms or struts.height > 1 cm")
    designs = lay_out(campaign)
    assert set(designs["foils.*.area"].iloc[1:]) == {0.0036}
    free = of(tmp_path, "struts.height > 1 cm")
    whole = lay_out(free)
    leader = int(np.flatnonzero((whole["foils.*.area"] == 0.0036).to_numpy())[0])
    steps = [v for v in next_variants(free, whole, chance(whole), [], leader) if v.label == "foils.*.area"]
    assert any(variant.craft.foils["aft"].area == pytest.approx(0.0045) for variant in steps)
    under_rules = campaign.model_copy(update={"factors": free.factors})
    kept = next_variants(under_rules, whole, chance(whole), [], leader)
    assert kept
    assert all(not broken_by(campaign.rules, variant.craft) for variant in kept)
    assert any(variant.label == "foils.*.area" and "45" in variant.becomes for variant in kept) == (limit == "50 cm^2")


def test_no_poorer_part_is_tried_that_breaks_a_rule(tmp_path: Path) -> None:
    campaign = of(tmp_path, "rangefinders.latency <= 60 ms or rangefinders.count == 9")
    every = {variant.label for variant in worse_variants(of(tmp_path, "struts.height > 1 cm"), campaign.craft)}
    tried = list(worse_variants(campaign, campaign.craft))
    now = campaign.craft.rangefinders.latency
    assert all(variant.craft.rangefinders.latency <= 0.060 for variant in tried)
    assert {variant.label for variant in tried} >= every - {"rangefinders.latency"}
    assert any(variant.label == "rangefinders.latency" for variant in tried) == (1.5 * now <= 0.060)


def test_the_base_craft_that_breaks_a_rule_has_no_place(tmp_path: Path) -> None:
    campaign = of(tmp_path, "struts.height <= 18 cm", "rangefinders.count <= 2")
    assert refused(campaign) == {0: f"{BREAKS}: r0."}
    summed = pd.DataFrame({"verdict": "kept", "reason": ["", "Told."], "doubtful": False, "probable": True})
    found = refuse(summed, refused(campaign))
    assert found.loc[0].tolist() == ["broken", f"{BREAKS}: r0.", True, False]
    pd.testing.assert_series_equal(found.loc[1], summed.loc[1])
    assert refused(of(tmp_path, "struts.height <= 22 cm")) == {}


def test_check_says_how_many_designs_break_which_rule(tmp_path: Path) -> None:
    said = list(rules_text(of(tmp_path, "struts.height <= 18 cm", "rangefinders.count <= 2")))
    assert said == [
        "180 of 324 designs break a rule and are not flown: 'r0' (108) and 'r1' (108).",
        "The base craft breaks 'r0': it flies to compare with, and is not ranked.",
    ]
    assert list(rules_text(of(tmp_path, "struts.height <= 25 cm"))) == ["None of 324 designs breaks a rule."]

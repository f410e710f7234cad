from __future__ import annotations

from pathlib import Path

import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.text.problems import CampaignError
from sweep.campaign.text.resources import shipped
from sweep.campaign.tolerances import usual
from tests.campaign.files import load


def test_tolerances_are_asked_for_in_one_word(tmp_path: Path) -> None:
    assert load(tmp_path).tolerances == "none"
    assert load(tmp_path, ("limits:", "tolerances: usual\nlimits:")).tolerances == "usual"


def test_another_word_is_told_what_there_is(tmp_path: Path) -> None:
    with pytest.raises(CampaignError) as error:
        load(tmp_path, ("limits:", "tolerances: all\nlimits:"))
    (problem,) = error.value.problems
    assert problem.line
    assert "'none' or 'usual'" in str(error.value) or ("none" in str(error.value) and "usual" in str(error.value))


@pytest.mark.parametrize("address", ["servos.torque", "propulsor.spacing", "foils.port.span", "foils.*.span"])
def test_a_tolerance_of_what_the_craft_file_does_not_give_is_refused(tmp_path: Path, address: str) -> None:
    with pytest.raises(CampaignError) as error:
        load(tmp_path, ("replicates: 4", f"replicates: 4\n  faults: [none, {{tolerance: {{{address}: 0.9}}}}]"))
    (problem,) = error.value.problems
    assert problem.address == f"conditions.faults[1].tolerance.{address}"
    assert problem.wanted.startswith("the address of a number that the craft file gives, as it gives no ")


def test_a_tolerance_that_leaves_no_craft_is_refused(tmp_path: Path) -> None:
    """Of the craft file's own, or of a design at the end of a factor: blind up to 40 cm is possible, up to 120 cm is not."""
    with pytest.raises(CampaignError) as error:
        load(tmp_path, ("replicates: 4", "replicates: 4\n  faults: [none, {tolerance: {control.rate: 3}}]"))
    (problem,) = error.value.problems
    assert problem.wanted == "shares that leave a possible craft: at most 200.0 (at control.rate in the craft)"
    far = ("rangefinders.count: [1, 2, 3]", "rangefinders.blind: [2 cm, 6 cm]")
    with pytest.raises(CampaignError) as error:
        load(tmp_path, ("replicates: 4", "replicates: 4\n  faults: [none, {tolerance: {rangefinders.blind: 20}}]"), far)
    assert "a blind range under the far limit, 100 cm" in error.value.problems[0].wanted


def test_a_propeller_with_curves_has_a_weak_motor_instead_of_a_weak_thrust() -> None:
    craft = load_campaign(shipped("configs") / "lookout-lake.yaml").craft
    (weak,) = (off.of(craft) for off in usual(craft) if off.side == "15 % less")
    assert weak == {"propulsor.propeller.shaft_power": pytest.approx(0.85 * craft.propulsor.propeller.shaft_power)}

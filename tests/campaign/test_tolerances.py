from __future__ import annotations

import math
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


def test_each_side_says_what_it_does_to_the_craft() -> None:
    """In the words of the courier's file: 3.06 kg about the datum, a gain of 0.4 deg/cm, 3 mm and 60 ms, 30 N of thrust."""
    craft = load_campaign(shipped("configs") / "courier-chop.yaml").craft
    found = {
        off.side if off.name.startswith(("mass", "centre")) else f"{off.name} {off.side}": off.of(craft) for off in usual(craft)
    }
    assert found["as described "] == {}
    for side, value in (("5 % lighter", 0.95 * craft.body.mass), ("5 % heavier", 1.05 * craft.body.mass)):
        assert found[side] == {"body.mass": pytest.approx(value)}
    for side, value in (("1 cm aft", craft.body.x - 0.01), ("1 cm forward", craft.body.x + 0.01)):
        assert found[side] == {"body.x": pytest.approx(value)}
    less, more = found["height gains 20 % less"], found["height gains 20 % more"]
    gains = craft.control.height
    assert less is not None
    assert more is not None
    for name in ("proportional", "integral", "derivative"):
        assert less[f"control.height.{name}"] == pytest.approx(0.8 * getattr(gains, name))
        assert more[f"control.height.{name}"] == pytest.approx(1.2 * getattr(gains, name))
    assert found["rangefinder noise twice"] == {"rangefinders.noise": pytest.approx(2.0 * craft.rangefinders.noise)}
    assert found["rangefinder delay 20 ms more"] == {"rangefinders.latency": pytest.approx(craft.rangefinders.latency + 0.02)}
    tip = next(name for name in craft.foils if abs(craft.foils[name].y) == max(abs(foil.y) for foil in craft.foils.values()))
    for side, angle in (("down", -math.radians(1.0)), ("up", math.radians(1.0))):
        value = craft.foils[tip].incidence + angle
        assert found[f"incidence of the {tip} foil 1 deg {side}"] == {f"foils.{tip}.incidence": pytest.approx(value)}
    assert found["thrust 15 % less"] == {
        "propulsor.static_thrust": pytest.approx(0.85 * (craft.propulsor.static_thrust or 0.0))
    }
    wake = "wake of the foils"
    assert found[f"{wake} a flat sheet all the way"] == {"wake.rolled_up": 0.0}
    assert found[f"{wake} rolled up at once"] == {"wake.rolled_up": 1.0}
    strength = craft.wake.strength
    assert found[f"{wake} 25 % weaker"] == {"wake.strength": pytest.approx(0.75 * strength)}
    assert found[f"{wake} 25 % stronger"] == {"wake.strength": pytest.approx(1.25 * strength)}


def test_a_propeller_with_curves_has_a_weak_motor_instead_of_a_weak_thrust() -> None:
    craft = load_campaign(shipped("configs") / "lookout-lake.yaml").craft
    (weak,) = (off.of(craft) for off in usual(craft) if off.side == "15 % less")
    assert weak == {"propulsor.propeller.shaft_power": pytest.approx(0.85 * craft.propulsor.propeller.shaft_power)}

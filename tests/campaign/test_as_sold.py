"""Servos, motors and batteries by the numbers that they are sold with, worked out by hand."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft
from sweep.campaign.drives import EFFICIENCIES, power_of, thrust_of
from sweep.campaign.text.problems import CampaignError
from sweep.model.physics.propeller_series import series_curves
from sweep.preflight.as_bought import as_bought, nominal_voltage
from tests.campaign.files import Changes, write

BEFORE = "rangefinders: {count: 1,"
SERVO = "as_sold: {sixty: 0.12 s, backlash: 1 deg, turn: 30 deg, arm: 12 mm, horn: 30 mm}"


def beside(text: str) -> Changes:
    """The craft file with a line more."""
    return ((BEFORE, f"{text}\n{BEFORE}"),)


def craft_with(folder: Path, *changes: tuple[str, str]) -> Craft:
    return load_campaign(write(folder, (), changes)).craft


def refusal(folder: Path, *changes: tuple[str, str]) -> str:
    with pytest.raises(CampaignError) as caught:
        load_campaign(write(folder, (), changes))
    return str(caught.value)


def test_a_servo_by_its_arm_and_two_lengths(tmp_path: Path) -> None:
    """60 deg in 0.12 s are 500 deg/s, over 30 / 12 = 2.5 they are 200; 1 deg of slack is 0.4; sin 30 deg / 2.5 = 0.2."""
    servo = craft_with(tmp_path, *beside(f"servos: {{{SERVO}}}")).servos
    assert math.degrees(servo.rate) == pytest.approx(200.0)
    assert math.degrees(servo.backlash) == pytest.approx(0.4)
    assert (servo.linkage, math.degrees(servo.travel)) == pytest.approx((2.5, 11.537), rel=1e-4)
    assert servo.as_sold is None


def test_by_a_ratio_it_is_the_same_but_for_the_travel(tmp_path: Path) -> None:
    text = SERVO.replace(", arm: 12 mm, horn: 30 mm", "")
    servo = craft_with(tmp_path, *beside(f"servos: {{{text}, linkage: 2.5, torque: 20 N*cm}}")).servos
    assert (math.degrees(servo.rate), math.degrees(servo.travel)) == pytest.approx((200.0, 12.0))
    assert servo.torque == pytest.approx(0.2)


def test_a_foil_and_the_rudder_have_such_a_servo_too(tmp_path: Path) -> None:
    own = ("x: -40 cm, area: 50 cm^2, aspect_ratio: 6", f"x: -40 cm, area: 50 cm^2, aspect_ratio: 6, servo: {{{SERVO}}}")
    craft = craft_with(tmp_path, own, ("{rudder: aft}", f"{{rudder: aft, servo: {{{SERVO}}}}}"))
    assert math.degrees(craft.servo_of(craft.foils["aft"]).rate) == pytest.approx(200.0)
    assert math.degrees(craft.steering.servo.rate) == pytest.approx(200.0)
    assert craft.servo_of(craft.foils["port"]).rate == 2.6


@pytest.mark.parametrize(("text", "told"), [
    ("servos: {as_sold: {sixty: 0.12 s}}", "servos.as_sold: found a mapping, wanted arm and horn in as_sold, or linkage"),
    (f"servos: {{{SERVO}, rate: 200 deg/s}}", "servos.rate: found '200 deg/s', wanted no rate beside as_sold"),
    (f"servos: {{{SERVO}, linkage: 2}}", "wanted either linkage, or arm and horn"),
    ("servos: {as_sold: {sixty: 0.12 s, arm: 9 mm}}", "wanted arm and horn, each from its axis"),
    ("servos: {as_sold: {sixty: 0.12 s, arm: 9 mm, horn: 5 mm, turn: 45 deg}}", "a turn of the arm that the horn can follow"),
    ("battery: {capacity: 2200 mAh}", "voltage (full) and empty_voltage beside capacity"),
    ("battery: {energy: 2200 mAh}", "wanted capacity: 2200 mAh beside voltage (full) and empty_voltage, or an energy"),
])  # fmt: skip
def test_what_does_not_say_it_all_is_refused(tmp_path: Path, text: str, told: str) -> None:
    assert told in refusal(tmp_path, *beside(text))


def test_a_factor_takes_the_number_at_the_foil(tmp_path: Path) -> None:
    path = write(tmp_path, (("arm:", "servos.rate: [100 deg/s, 250 deg/s]\n  arm:"),), beside(f"servos: {{{SERVO}}}"))
    assert load_campaign(path).factors["servos.rate"].levels[0] == pytest.approx(math.radians(100.0))
    path = write(tmp_path, (("arm:", "servos.as_sold.sixty: [0.1 s, 0.2 s]\n  arm:"),), beside(f"servos: {{{SERVO}}}"))
    with pytest.raises(CampaignError, match=r"which becomes other keys as it is read, wanted .* servos\.rate"):
        load_campaign(path)


def test_watts_become_the_thrust_of_an_ideal_propeller(tmp_path: Path) -> None:
    """T = (2 rho A)^(1/3) P^(2/3), by hand: 67.5 W on 6 cm in fresh water are 29.5 N."""
    found = craft_with(tmp_path, ("static_thrust: 30 N", "power: 150 W, diameter: 6 cm")).propulsor
    assert found.static_thrust == pytest.approx(29.54, rel=1e-3)
    assert "diameter beside power" in refusal(tmp_path, ("static_thrust: 30 N", "power: 150 W"))
    both = refusal(tmp_path, ("static_thrust: 30 N", "power: 150 W, diameter: 6 cm, static_thrust: 30 N"))
    assert "power alone" in both
    assert "the pull on a scale" in refusal(tmp_path, ("static_thrust: 30 N, ", ""))


@pytest.mark.parametrize(("pitch", "area"), [(0.8, 0.5), (1.0, 0.55), (1.2, 0.7)])
def test_the_usual_efficiency_is_that_of_a_published_series_with_a_small_motor(pitch: float, area: float) -> None:
    """Four blades of the Wageningen B-series, held, on motors of 60 to 80 %: about between the ends that are told.

    T of the series is KT n^2 D^4 for 2 pi KQ n^3 D^5 of the shaft (rho left out); an ideal propeller takes T^1.5 over the
    square root of twice its disc.
    """
    curves = series_curves(4, pitch, area)
    thrust, torque = float(curves.thrust[0]), float(curves.torque[0])
    merit = thrust**1.5 / math.sqrt(math.pi / 2.0) / (2.0 * math.pi * torque)
    least, most = EFFICIENCIES
    assert least < 0.6 * merit < 0.8 * merit < most + 0.02


def test_two_propellers_share_the_power() -> None:
    assert thrust_of(100.0, 2, 0.05) == pytest.approx(2.0 * thrust_of(50.0, 1, 0.05))
    assert power_of(thrust_of(100.0, 2, 0.05), 2, 0.05) == pytest.approx(100.0)


def test_a_battery_by_its_capacity(tmp_path: Path) -> None:
    """2.2 Ah x 11.4 V x 80 %, by hand: 20.06 Wh."""
    text = "battery: {capacity: 2200 mAh, voltage: 12.6 V, empty_voltage: 10.2 V"
    assert craft_with(tmp_path, *beside(f"{text}}}")).battery.energy == pytest.approx(20.064 * 3600.0)
    assert craft_with(tmp_path, *beside(f"{text}, usable: 100 %}}")).battery.energy == pytest.approx(25.08 * 3600.0)
    told = refusal(tmp_path, *beside(f"{text}, energy: 20 Wh}}"))
    assert "either energy or capacity" in told


@pytest.mark.parametrize(("key", "at"), [("tilt", "rangefinders"), ("ahead", "rangefinders")])
def test_a_tilted_rangefinder_is_one_by_itself(tmp_path: Path, key: str, at: str) -> None:
    told = refusal(tmp_path, (BEFORE, f"rangefinders: {{{key}: 15 deg, count: 1,"))
    assert f"{at}.{key}: found the unknown key '{key}', wanted each: {{bow: {{x: 40 cm, ahead: 15 deg}}}}" in told
    told = refusal(tmp_path, (f"{BEFORE} x: 35 cm", "rangefinders: {x: 35 cm, each: {bow: {tilt: 15 deg}}"))
    assert "wanted ahead: 15 deg, or aside" in told


@pytest.mark.parametrize(("volts", "full"), [(7.4, "8.4"), (11.1, "12.6"), (14.8, "16.8"), (22.2, "25.2"), (10.8, "12.6")])
def test_a_voltage_that_batteries_are_sold_by_is_doubted(tmp_path: Path, volts: float, full: str) -> None:
    craft = craft_with(tmp_path, *beside(f"battery: {{voltage: {volts} V}}"))
    (doubt,) = nominal_voltage(craft)
    assert f"with {full} V full" in doubt


@pytest.mark.parametrize("volts", [8.4, 12.6, 16.8, 25.2, 12.0, 13.05])
def test_a_full_battery_is_not_doubted(tmp_path: Path, volts: float) -> None:
    assert not list(nominal_voltage(craft_with(tmp_path, *beside(f"battery: {{voltage: {volts} V}}"))))


def test_what_a_seller_would_say_is_told_again(tmp_path: Path) -> None:
    text = f"servos: {{{SERVO}}}\nbattery: {{capacity: 2200 mAh, voltage: 12.6 V, empty_voltage: 10.2 V}}"
    craft = craft_with(tmp_path, *beside(text), ("static_thrust: 30 N", "power: 150 W, diameter: 6 cm"))
    servos, drive, battery = as_bought(craft, 1000.0)
    assert "at up to 200 deg/s by 11.5 deg either way, with 0.4 deg of slack" in servos
    assert "0.12 s for 60 deg and 1 deg of slack at the arm" in servos
    assert "pulls 29.5 N and takes 156 W" in drive
    assert "30 to 55 % would pull 23 to 34 N" in drive
    assert battery == "Of its battery 20.1 Wh are used, 12.6 V full and 10.2 V empty."

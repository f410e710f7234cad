"""A section's polar reaches the flights: the same section flies alike however it is told, and another one does not."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.craft import Craft
from sweep.campaign.draws import water_of
from sweep.campaign.sections import beyond
from sweep.model.pack.fleet import build_fleets
from sweep.model.physics.section import NODES, section_of

DEMO = Path(__file__).parents[2] / "configs" / "sections.yaml"
SPEED = 4.0
DEGREES = np.arange(-8.0, 17.0)
ZERO_LIFT = math.radians(-2.0)
NUMBERS = (
    "zero_lift_angle: -2 deg, section: {lift_slope: 5.9, lift_max: 1.2, drag_min: 0.0115, reynolds: 1.6e5, "
    "drag_rise: 0.011, lift_of_least_drag: 0.15, moment: -0.04}"
)


def by_rows(reynolds: float) -> str:
    """The rows that the same numbers make."""
    lift = np.clip(5.9 * (np.radians(DEGREES) - ZERO_LIFT), -1.2, 1.2)
    drag = 0.0115 * math.sqrt(1.6e5 / reynolds) + 0.011 * (lift - 0.15) ** 2
    cells = zip(DEGREES, lift, drag, strict=True)
    return "".join(f"{reynolds},{degrees},{up:.6f},{along:.7f},-0.04,{0.4 + up**2:.4f}\n" for degrees, up, along in cells)


def told(folder: Path, section: str) -> Campaign:
    """The demo with its foils' section told in other words, and the polar of `by_rows` beside it."""
    text = DEMO.read_text(encoding="utf-8").replace("section: {polar: naca-2412}", section)
    factor = "  foils.*.section.polar: [naca-0009, naca-0012, naca-2412, naca-4412, naca-63-412]\n"
    assert factor in text
    (folder / "mine.csv").write_text(
        "reynolds,angle_deg,lift,drag,moment,suction\n" + "".join(by_rows(each) for each in (3e4, 7e4, 1.6e5, 4e5, 1e6)),
        encoding="utf-8",
    )
    path = folder / "told.yaml"
    path.write_text(text.replace(factor, ""), encoding="utf-8")
    return load_campaign(path)


def trim(campaign: Campaign, craft: Craft) -> np.ndarray:
    """Height command (rad), pitch command (rad) and throttle at 4 m/s."""
    ((_, fleet),) = build_fleets([craft], water_of(campaign), SPEED)
    assert fleet.feasible.all()
    return fleet.trim[0]


def test_a_section_flies_alike_by_its_numbers_and_by_its_polar(tmp_path: Path) -> None:
    trims = []
    for section in (NUMBERS, "section: {polar: mine.csv}"):
        campaign = told(tmp_path, section)
        trims.append(trim(campaign, campaign.craft))
    assert trims[1] == pytest.approx(trims[0], rel=5e-3, abs=1e-4)


def test_foils_turn_by_what_the_camber_does_not_give() -> None:
    """From NACA 0012 to 4412 the angles of no lift differ by 3 degrees at this speed, and so do the angles that fly level."""
    campaign = load_campaign(DEMO)
    angles, nothing = [], []
    for polar in ("naca-0012", "naca-4412"):
        craft = replace_values(campaign.craft, {f"foils.{name}.section.polar": polar for name in campaign.craft.foils})
        angles.append(trim(campaign, craft)[0])
        foil = craft.foils["aft"]
        reynolds = SPEED * foil.chord / water_of(campaign).viscosity
        nothing.append(np.interp(math.log10(reynolds), NODES, section_of(craft, foil).zero_lift_angle))
    assert nothing[0] - nothing[1] == pytest.approx(math.radians(3.0), abs=math.radians(0.3))
    assert angles[0] - angles[1] == pytest.approx(nothing[0] - nothing[1], abs=math.radians(0.3))  # their slopes differ too


def test_a_thicker_section_takes_more_throttle() -> None:
    campaign = load_campaign(DEMO)
    polars = ("naca-0009", "naca-0012", "naca-4412")
    throttle = [
        trim(campaign, replace_values(campaign.craft, {f"foils.{name}.section.polar": polar for name in campaign.craft.foils}))[
            2
        ]
        for polar in polars
    ]
    assert throttle == sorted(throttle)
    assert throttle[2] > 1.02 * throttle[0]


def test_a_polar_is_left_below_and_above_its_ends(tmp_path: Path) -> None:
    """Reynolds number: speed x chord / viscosity. The polar's own ends are 30 000 and a million."""
    campaign = told(tmp_path, "section: {polar: mine.csv}")
    viscosity = water_of(campaign).viscosity
    chords = [foil.chord for foil in campaign.craft.foils.values()]
    slow, fast = 3e4 * viscosity / min(chords), 1e6 * viscosity / max(chords)
    assert beyond(campaign.craft, {}, [1.02 * slow, 0.98 * fast], viscosity) == ()
    for speed in (0.98 * slow, 1.02 * fast):
        (said,) = beyond(campaign.craft, {}, [speed], viscosity)
        assert said.startswith(
            "the polar mine.csv covers Reynolds numbers of 30,000 to 1,000,000; foils port, starboard and aft"
        )

"""Wind on the craft: with it, against it and from the side; and that of a campaign's seas."""

from __future__ import annotations

from dataclasses import replace
from math import cos, log, pi, sin
from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft
from sweep.campaign.seas import NamedSea, Wind
from sweep.conditions import list_conditions
from sweep.flights import draw_block
from sweep.model import probe
from sweep.model.flight import fly
from sweep.model.propulsion import ideal_power
from tests.model.crafts import RIDE, WATER, calm, changed, courier, fleet_of, history, quiet, response, silent, state_of

AIR = 1.225
AREA, HEIGHT = 0.03, 0.1
SAIL = {"windage.area": AREA, "windage.height": HEIGHT, "windage.x": 0.0}
ALOFT = log((RIDE + HEIGHT) / 2e-4) / log(10.0 / 2e-4)  # of the wind 10 m up: logarithmic over water of 0.2 mm


def test_headwind_costs_and_tailwind_saves_what_the_drag_area_says() -> None:
    """Mean power over that of no wind, by Froude's ideal propeller: to a tenth of the difference."""
    craft = quiet(changed(courier(), SAIL))
    fleet = fleet_of(craft)
    disc = 2.0 * WATER.density * pi / 4.0 * craft.propulsor.diameter**2
    efficiency, speed = craft.propulsor.efficiency, 4.0

    def power(wind: float) -> float:
        return float(response(fly(fleet, silent(calm(24.0, settle=14.0))._replace(wind=(wind, 0.0))), "power_mean")[0])

    still = power(0.0)
    wanted = (still - craft.propulsor.electronics) * efficiency
    thrusts = np.linspace(0.5, 12.0, 4001)
    thrust = float(np.interp(wanted, [ideal_power(one, speed, disc) for one in thrusts], thrusts))
    for wind in (-6.0, -3.0, 3.0, 6.0):
        over = speed - ALOFT * wind
        pushed = 0.5 * AIR * AREA * (abs(over) * over - speed**2)
        change = (float(ideal_power(thrust + pushed, speed, disc)) - float(ideal_power(thrust, speed, disc))) / efficiency
        assert power(wind) - still == pytest.approx(change, rel=0.1), wind


def test_wind_abeam_is_felt_as_a_side_force() -> None:
    """By the air's speed past the craft, its own headwind included; nothing of it where there is no windage."""
    craft = changed(courier(), SAIL)
    state = state_of(craft, [0.0, 0.0, -RIDE - 0.05], velocity=[4.0, 0.0, 0.0])

    def air(one: Craft, wind: tuple[float, float]) -> np.ndarray:
        return probe.derivative(one, WATER, state, np.zeros(3), 0.0, None, 0.0, wind=wind)["air"]

    beam = air(craft, (0.0, 5.0))
    felt = np.array([-4.0, ALOFT * 5.0])
    assert beam[:2] == pytest.approx(0.5 * AIR * AREA * np.hypot(*felt) * felt, rel=1e-9)
    assert beam[3] > 0.0  # above the centre of gravity, z down: it heels to starboard, away from the wind
    assert beam[1] == pytest.approx(-air(craft, (0.0, -5.0))[1], rel=1e-12)
    assert air(changed(courier(), {"windage.area": 0.0}), (0.0, 5.0)) == pytest.approx(np.zeros(6))


def test_wind_abeam_sets_the_craft_down_wind() -> None:
    fleet = fleet_of(quiet(changed(courier(), SAIL)))
    drift = [history(fleet, silent(calm(8.0))._replace(wind=(0.0, wind)))["y"][0, -1] for wind in (-6.0, 0.0, 6.0)]
    assert drift[1] == pytest.approx(0.0, abs=1e-6)
    assert drift[2] > 0.02
    assert drift[0] == pytest.approx(-drift[2], rel=1e-3)


def test_wind_seas_of_a_campaign_blow() -> None:
    """Their own wind, the way their waves go; no other changes, and calm seas have none unless they say so."""
    campaign = load_campaign(Path(__file__).resolve().parents[2] / "configs" / "quick.yaml")
    usual = list_conditions(campaign)[0]
    wind = Wind.model_validate({"kind": "wind", "speed": "7 m/s", "fetch": "400 m"})
    (sea,) = (meant.sea for meant in wind.meant(campaign.water.depth))
    assert sea.wind == 7.0
    block = draw_block(campaign, replace(usual, sea=sea), 0)
    angle = usual.heading.angle
    assert block.wind == pytest.approx((7.0 * cos(angle), 7.0 * sin(angle)))
    calmer = draw_block(campaign, replace(usual, sea=sea.model_copy(update={"wind": 2.0, "name": "calmer"})), 0)
    assert calmer.wind == pytest.approx((2.0 * cos(angle), 2.0 * sin(angle)))
    assert np.array_equal(block.components, calmer.components)
    assert np.array_equal(block.phases, calmer.phases)
    assert all(np.array_equal(one, two) for one, two in zip(block.noise, calmer.noise, strict=True))
    lower = draw_block(campaign, replace(usual, sea=sea.model_copy(update={"height": 0.8 * sea.height})), 0)
    assert not np.array_equal(block.phases, lower.phases)
    assert draw_block(campaign, replace(usual, sea=NamedSea(kind="flat", name="calm")), 0).wind == (0.0, 0.0)

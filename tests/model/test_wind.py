"""Wind on the craft: with it, against it and from the side; and that of a campaign's seas."""

from __future__ import annotations

from dataclasses import replace
from math import cos, log, pi, sin
from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import condition_table, list_conditions
from sweep.campaign.craft import Craft
from sweep.campaign.draws import draw_block
from sweep.campaign.named_seas import FlatSea
from sweep.campaign.seas import Wind
from sweep.model import layout as at
from sweep.model import probe
from sweep.model.compiled import LANES
from sweep.model.flight import fly, run_lanes, start_lanes
from sweep.model.physics.propulsion import ideal_power
from tests.campaign.files import load, write
from tests.model.crafts import (
    GRAVITY,
    RIDE,
    WATER,
    calm,
    changed,
    courier,
    fleet_of,
    history,
    quiet,
    response,
    rotation,
    silent,
    state_of,
)
from tests.references import reference

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


def steady_state(craft: Craft, wind: tuple[float, float]) -> np.ndarray:
    """All slots of lane 0 after 40 s of a steady wind over calm water, from trim at 4 m/s."""
    fleet = fleet_of(craft)
    block = silent(calm(40.0))._replace(wind=wind)
    lanes = start_lanes(fleet, wind=wind)
    run_lanes(fleet, block, lanes)
    return np.asarray(lanes.workspace.reshape(-1, LANES)[:, 0])


@pytest.mark.parametrize("wind", [-10.0, -6.0, -3.0, 3.0, 6.0])
def test_a_steady_wind_takes_the_thrust_that_its_drag_area_says(wind: float) -> None:
    """Velocity pressure of the standard atmosphere (ASCE 7) of the wind past the craft, less that of its own headwind."""
    craft = quiet(changed(courier(), SAIL))
    pull = craft.propulsor
    assert pull.static_thrust
    assert pull.no_thrust_speed
    (small,) = [row for row in reference("wind", "pressure").rows if row["wind m/s"] == 10.0]
    pressure = small["pressure N/m2"] / 100.0  # of 1 m/s

    def thrust(slots: np.ndarray) -> float:
        return float(pull.static_thrust * slots[at.THRUST] * (1.0 - slots[at.STATE.u] / pull.no_thrust_speed))

    still, blown = steady_state(craft, (0.0, 0.0)), steady_state(craft, (wind, 0.0))
    assert blown[at.STATE.u] == pytest.approx(4.0, rel=1e-3)
    past = 4.0 - ALOFT * wind
    # The wind's moment shifts load between the foils, in the wakes of each other, which changes their own drag a little.
    assert thrust(blown) - thrust(still) == pytest.approx(pressure * AREA * (abs(past) * past - 16.0), rel=1e-2)


@pytest.mark.parametrize("wind", [-6.0, 3.0, 10.0])
def test_a_side_wind_is_carried_by_the_struts(wind: float) -> None:
    """Air, weight across and struts balance; the leeway is what three small wings of Helmbold's slope need for that."""
    craft = quiet(changed(courier(), SAIL))
    slots = steady_state(craft, (0.0, wind))
    roll, pitch, yaw = slots[at.STATE.phi : at.STATE.u]
    u, v, _, *rates = slots[at.STATE.slots()][6:]
    assert np.abs(rates).max() < 1e-5
    over = rotation(roll, pitch, yaw).T @ np.array([0.0, ALOFT * wind, 0.0]) - np.array([u, v, 0.0])
    air = 0.5 * AIR * AREA * np.hypot(over[0], over[1]) * over[1]
    across = slots[at.MASS] * GRAVITY * np.sin(roll) * np.cos(pitch)
    depth = craft.struts.height - RIDE
    ratio = depth / craft.struts.chord
    slope = 2.0 * pi * ratio / (2.0 + np.sqrt(ratio**2 + 4.0))  # Helmbold 1942
    wings = [(foil, name == craft.steering.rudder) for name, foil in craft.foils.items() for _ in foil.strut_offsets]
    angles = [v / u + (slots[at.RUDDER.angle] if steers else 0.0) for _, steers in wings]
    struts = -0.5 * WATER.density * u**2 * depth * craft.struts.chord * slope * sum(angles)
    assert air + across == pytest.approx(-struts, rel=0.02)
    assert np.sign(v) == np.sign(air) == np.sign(roll) == np.sign(wind)  # it drifts down wind, and heels that way


def test_wind_abeam_is_felt_as_a_side_force() -> None:
    """By the air's speed past the craft, its own headwind included; nothing of it where there is no windage."""
    craft = changed(courier(), SAIL)
    state = state_of(craft, [0.0, 0.0, -RIDE - 0.05], velocity=[4.0, 0.0, 0.0])

    def air(one: Craft, wind: tuple[float, float]) -> np.ndarray:
        return probe.derivative(one, probe.Surroundings(WATER, wind=wind), state, np.zeros(3), 0.0, 0.0)["air"]

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
    assert draw_block(campaign, replace(usual, sea=FlatSea(name="calm")), 0).wind == (0.0, 0.0)


def test_a_wind_over_calm_water_comes_by_the_headings(tmp_path: Path) -> None:
    """One condition a heading; against the craft in head, from behind in following, across in beam; waves there are none."""
    campaign = load(
        tmp_path, ("calm: {kind: flat}", "calm: {kind: flat, wind: 6 m/s}"), ("[head, 120 deg]", "[head, beam, following]")
    )
    windy = [condition for condition in list_conditions(campaign) if condition.sea.name == "calm"]
    assert [condition.name for condition in windy][::2] == [
        "calm, head, 3.5 m/s",
        "calm, beam, 3.5 m/s",
        "calm, following, 3.5 m/s",
    ]
    blocks = [draw_block(campaign, condition, 0) for condition in windy[::2]]
    assert [block.wind for block in blocks] == [pytest.approx(way, abs=1e-12) for way in ((-6, 0), (0, 6), (6, 0))]
    assert all(len(block.omegas) == 0 for block in blocks)
    table = condition_table(list_conditions(campaign))
    assert list(table["heading_name"][:6:2]) == ["head", "beam", "following"]
    assert table["sea_period"][:6].isna().all()


def test_a_wind_may_cross_the_waves(tmp_path: Path) -> None:
    """Over to starboard where it is positive; no wave and no draw changes with it."""
    usual = load(tmp_path, ("period: 1.2 s}", "period: 1.2 s, wind: 4 m/s}"))
    crossed = load(tmp_path, ("period: 1.2 s}", "period: 1.2 s, wind: 4 m/s, wind_turned: 90 deg}"))
    along, across = (
        next(
            draw_block(one, condition, 0) for condition in list_conditions(one) if condition.name == "chop 4 cm, head, 3.5 m/s"
        )
        for one in (usual, crossed)
    )
    assert along.wind == pytest.approx((-4.0, 0.0))
    assert across.wind == pytest.approx((0.0, -4.0))  # waves and wind meet a bow that points along X; theirs to starboard is -Y
    assert np.array_equal(along.components, across.components)
    assert np.array_equal(along.phases, across.phases)


def test_a_wind_that_no_craft_feels_is_told(tmp_path: Path) -> None:
    flat = ("calm: {kind: flat}", "calm: {kind: flat, wind: 6 m/s}")
    (said,) = (warning for warning in load(tmp_path, flat).warnings if "windage" in warning)
    assert said.startswith("calm: the craft has no windage")
    path = write(tmp_path, (flat,), (("propulsor:", "windage: {area: 100 cm^2}\npropulsor:"),))
    assert not any("windage" in warning for warning in load_campaign(path).warnings)

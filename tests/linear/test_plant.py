"""The linear craft in the water is the slope of the model: of its rates at a state, of its flights, of what waves do."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest
from scipy.linalg import expm

from sweep.campaign.craft import Craft
from sweep.linear.craft import LinearCraft, linearise
from sweep.linear.plant import MOTION
from sweep.linear.ride import Waves, water_at
from sweep.model import layout as at
from sweep.model import probe
from sweep.model.physics.waves import Sea, regular_sea
from tests.linear.crafts import linear_of, shipped
from tests.model.crafts import WATER, Bench, Floats, changed, fleet_of

SPEED = 4.0
LATERAL = [MOTION.index(name) for name in ("phi", "psi", "v", "p", "r")]
CRAFTS = ("courier", "surveyor")
ODD = (1.0, -1.0)


class Trimmed:
    """A craft in trim for the probe, with its linear companion."""

    def __init__(self, name: str) -> None:
        self.craft: Craft = shipped(name)
        self.linear: LinearCraft = linear_of(self.craft, SPEED)
        bench = Bench(self.craft, SPEED)
        self.foils = len(self.craft.foils)
        self.angles = np.array([bench.get(bench.foil(i) + at.FOIL.servo.angle) for i in range(self.foils)])
        strips = [i * at.STRIP.width + at.STRIP.lag for i in range(2 * self.foils)]
        self.motion = bench.get(at.STATE)
        self.lags = np.array([bench.get(slot) for slot in strips])
        self.wakes = np.array([bench.get(bench.foil(i) + at.FOIL.downwash, self.foils) for i in range(self.foils)])
        self.felt = np.array([bench.get(at.WAKES + i * at.MAX_FOILS, self.foils) for i in range(self.foils)]) > 0.0
        self.thrust = bench.get(at.THRUST)

    def state(self, change: Floats) -> dict[str, Any]:
        """Trim plus a change of the linear companion's states."""
        motion = self.motion.copy()
        motion[2:] += change[:10]
        wakes = self.wakes.copy()
        wakes[self.felt] += change[10 + len(self.lags) : -1]
        parts = {"position": motion[:3], "angles": motion[3:6], "velocity": motion[6:9], "rates": motion[9:]}
        return parts | {
            "lift_lag": self.lags + change[10 : 10 + len(self.lags)],
            "downwash": wakes,
            "thrust": self.thrust + change[-1],
        }

    def rates(self, change: Floats, angles: Floats, sea: Sea | None = None, time: float = 0.0) -> Floats:
        """Accelerations and rates of the lags there, as the probe has them."""
        found = probe.derivative(
            self.craft, probe.Surroundings(WATER, sea), self.state(change), self.angles + angles[:-1], angles[-1], time
        )
        return np.concatenate([found["nu_dot"], found["z_dot"], found["downwash_dot"][self.felt]])


@pytest.mark.parametrize("name", CRAFTS)
def test_rates_near_trim_are_those_of_the_model(name: str) -> None:
    """Any small change of all states and angles at once, either way: 1e-4 of the largest rate."""
    trimmed = Trimmed(name)
    plant = trimmed.linear.plant
    for seed in range(10):
        generator = np.random.default_rng([seed, 11])
        change, angles = 1e-4 * generator.standard_normal(len(plant.a)), 1e-4 * generator.standard_normal(trimmed.foils + 1)
        ends = [trimmed.rates(sign * change, sign * angles) for sign in ODD]
        ours = (plant.a @ change + plant.angles @ angles)[4:-1]
        assert ours == pytest.approx(0.5 * (ends[0] - ends[1]), abs=1e-4 * np.abs(ours).max())


@pytest.mark.parametrize("name", CRAFTS)
def test_a_tenth_of_the_nudge_changes_nothing(name: str) -> None:
    fleet = fleet_of(shipped(name), SPEED)
    for wide, narrow in zip(linearise(fleet, 1e-4), linearise(fleet, 1e-5), strict=True):
        assert wide is not None
        assert narrow is not None
        for part, other in ((wide.plant, narrow.plant), (wide.code, narrow.code)):
            arrays = zip(part, other, strict=True)
            for one, two in ((a, b) for a, b in arrays if isinstance(a, np.ndarray)):
                assert one == pytest.approx(two, abs=1e-6 * np.abs(one).max())


def test_designs_side_by_side_are_as_alone_and_one_without_a_trim_is_none() -> None:
    crafts = [changed(shipped("courier"), {"body.mass": mass}) for mass in (2.5, 3.06, 30.0, 3.5)]
    together = linearise(fleet_of(crafts, SPEED))
    assert together[2] is None
    for craft, found in zip(crafts, together, strict=True):
        if found is not None:
            assert found.plant.a == pytest.approx(linear_of(craft, SPEED).plant.a, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("name", CRAFTS)
def test_a_symmetric_craft_heaves_without_rolling_and_rolls_without_heaving(name: str) -> None:
    """Of the largest term 1e-8; pairs of strips and of foils move together for the one, against each other for the other."""
    trimmed = Trimmed(name)
    plant, motion = trimmed.linear.plant, len(MOTION)
    along = [i for i in range(motion) if i not in LATERAL]
    a = plant.a[:motion, :motion]
    assert np.abs(a[np.ix_(along, LATERAL)]).max() < 1e-8 * np.abs(a).max()
    assert np.abs(a[np.ix_(LATERAL, along)]).max() < 1e-8 * np.abs(a).max()
    assert np.abs(plant.a[np.ix_(LATERAL, range(motion, len(plant.a)))] @ np.ones(len(plant.a) - motion)).max() < 1e-7
    assert np.abs(plant.angles[LATERAL, :-1].sum(axis=1)).max() < 1e-7  # all foils together
    assert np.abs(plant.angles[along, -1]).max() < 1e-7  # the rudder
    assert np.abs(plant.waves[LATERAL][:, :, [0, 1, 3]].sum(axis=1)).max() < 1e-7  # the same water at all points
    assert np.abs(plant.waves[along][:, :, 2].sum(axis=1)).max() < 1e-7


@pytest.mark.parametrize("name", CRAFTS)
def test_a_released_craft_moves_as_its_linear_companion_says(name: str) -> None:
    """Controls fixed, from a small push of all motions, over half a second: 1 % of the largest."""
    trimmed = Trimmed(name)
    a = trimmed.linear.plant.a
    push = np.zeros(len(a))
    push[:10] = 1e-4 * np.array([1.0, -1.0, 1.0, 0.0, 3.0, 2.0, -3.0, 2.0, 4.0, -3.0])
    fixed = np.append(trimmed.angles, 0.0)
    dt = 0.0025
    flown = [
        probe.open_loop(trimmed.craft, probe.Surroundings(WATER), trimmed.state(sign * push), lambda time: fixed, 0.5, dt)
        for sign in ODD
    ]
    ours = np.array([expm(a * dt * step) @ push for step in range(0, 201, 10)])[:, :10]
    theirs = 0.5 * (flown[0] - flown[1])[::10, 2:]
    scale = np.abs(theirs).max(axis=0)
    assert np.abs(ours - theirs).max(axis=0) == pytest.approx(np.zeros(10), abs=0.01 * scale.max())


@pytest.mark.parametrize(
    ("heading", "period", "depth"), [(pi, 1.0, 5.0), (0.7, 1.4, 0.4), (-pi / 2, 0.8, 5.0), (0.0, 1.2, 1.0)]
)
def test_waves_push_as_the_models_sea_does(heading: float, period: float, depth: float) -> None:
    """A wave of 0.1 mm met at its crest and a quarter of a period later, 0.2 % of the largest acceleration."""
    trimmed = Trimmed("courier")
    sea, still = regular_sea(2e-4, period, heading, depth), np.zeros(len(trimmed.linear.plant.a))
    waves = Waves(sea.omega[:1], sea.kx[:1], sea.ky[:1], depth)
    water = 1e-4 * water_at(trimmed.linear, waves)[0]
    push = np.einsum("spi,pi->s", trimmed.linear.plant.waves, water)[4:10]
    calm = trimmed.rates(still, np.zeros(trimmed.foils + 1))[:6]
    for time, part in ((0.0, push.real), (period / 4, -push.imag)):
        theirs = trimmed.rates(still, np.zeros(trimmed.foils + 1), sea, time)[:6] - calm
        assert part == pytest.approx(theirs, abs=2e-3 * np.abs(push).max())

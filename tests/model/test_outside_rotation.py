"""A rigid body thrown into the air, without water to speak of, tumbles as the textbooks say."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model.pack.mass import mass_properties
from sweep.model.physics.water import Water
from sweep.model.probe import Surroundings, open_loop
from tests.model.crafts import changed, courier, state_of
from tests.references import reference

NOTHING = Water(1e-12, 1e-6, 0.0, 100.0)
STEP = 1e-3


def body(inertia: tuple[float, float, float], mass: float) -> Craft:
    """A craft that is all body: its foils, struts and rangefinder weigh next to nothing and the wind does not hold it."""
    radii = dict(zip(("roll", "pitch", "yaw"), (sqrt(each / mass) for each in inertia), strict=True))
    values = {f"body.{name}_radius": radius for name, radius in radii.items()}
    weightless = {
        "foils.port.density": 1e-9,
        "foils.starboard.density": 1e-9,
        "foils.aft.density": 1e-9,
        "struts.density": 1e-9,
    }
    return changed(courier(), values | weightless | {"body.mass": mass, "rangefinders.mass": 0.0, "windage.area": 0.0})


@pytest.mark.parametrize(
    ("table", "inertia", "mass", "spin"),
    [("tumbling", (0.02, 0.05, 0.06), 0.5, (0.1, 2.0, 0.05)), ("top", (1.0, 2.0, 3.0), 20.0, (1.0, 0.0, 1.0))],
)
def test_a_free_body_tumbles_as_published(
    table: str, inertia: tuple[float, float, float], mass: float, spin: tuple[float, float, float]
) -> None:
    """Thrown up from a kilometre over the water, so that it is still in the air at the end."""
    craft = body(inertia, mass)
    assert mass_properties(craft).inertia == pytest.approx(np.diag(inertia), abs=1e-6 * max(inertia))
    state = state_of(craft, (0.0, 0.0, -1000.0), rates=spin)
    outside = reference("rotation", table)
    last = max(row["time s"] for row in outside.rows)
    rates = open_loop(craft, Surroundings(NOTHING), state, lambda time: np.zeros(4), last, STEP)[:, 9:12]
    for row in outside.rows:
        wanted = [row[f"{name} rad/s"] for name in "pqr"]
        assert rates[round(row["time s"] / STEP)] == pytest.approx(wanted, abs=outside.tolerance), row

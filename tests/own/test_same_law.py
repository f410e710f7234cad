"""The exported law, flown as own code, is the built-in law from the first tick on."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sweep.export.flown import without_quanta
from tests.benchmarks.own_code import OVER, pair
from tests.model.crafts import block_of, changed, courier, history, jonswap
from tests.own.laws import needs_compiler


@needs_compiler
@pytest.mark.parametrize("law", ["each-foil", "cascaded"])
def test_the_first_second_is_the_same(law: str) -> None:
    """To what single precision rounds: the first, noisy heading is no turn from the one before, and not the course to steer.

    The servos have no steps, of which a rounding may decide one.
    """
    craft = changed(courier(), {"control.law": law, "navigation.heading_noise": 0.05, **OVER[law]})
    rides = [history(without_quanta(fleet), block_of(jonswap(math.pi, 0.04), 1.0, 0.5)) for fleet in pair([craft])]
    assert np.ptp(rides[0]["rudder"]) > 0.01
    for name, within in (("rudder", 3e-5), ("foils", 3e-5), ("roll", 3e-5), ("throttle", 3e-5)):
        assert np.abs(rides[0][name] - rides[1][name]).max() < within, name

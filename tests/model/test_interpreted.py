"""The kernels compiled, and the same lines as Python runs them: a short flight through every load and the control code."""

from __future__ import annotations

import os
import subprocess
import sys
from math import pi
from pathlib import Path

import numpy as np

from sweep.model.flight import fly_record
from sweep.model.history import RECORDED
from sweep.model.onboard.faults import COLUMNS, DISARMED, LOST_LINK
from sweep.model.onboard.safety import LINK_LOST, LONGEST_LINK_AGE, SWITCHED_OFF
from tests.model.crafts import block_of, courier, fleet_of, jonswap

LENGTH, RATE = 0.1, 200.0
ROOT = Path(__file__).parents[2]
FLOWN = """\
import sys
import numpy as np
from tests.model.test_interpreted import flown
np.save(sys.argv[1], flown())
"""
COURSE = np.array([[0.015, 0.0, 0.3, 1.0, 4.0, 0.0], [0.0, 1e-4, 0.3, 0.0, 4.0, 1.0], [9.0, 0.0, -0.3, 0.0, 3.0, 0.0]])
STOPS = np.zeros((2, COLUMNS))
STOPS[:, :4] = [[LOST_LINK, -1.0, 0.015 - LONGEST_LINK_AGE, 0.025], [DISARMED, -1.0, 0.025, 0.035]]
WITHIN = 1e-6
"""m, rad, m/s, s, shares, hundreds of watts: fused multiply-adds round otherwise."""
SCALES = {"power": 100.0}


def flown() -> np.ndarray:
    """Every step of a flight in quartering waves, of half as long a course from afloat, and of one armed again.

    (rows, columns).

    In double precision: in single, one rounding by a fused multiply-add is more than the bar.
    """
    block = block_of(jonswap(pi / 4, height=0.12), LENGTH, settle=0.0)
    afloat = block._replace(length=LENGTH / 2.0, from_rest=True, course=COURSE)
    stopped = block._replace(length=LENGTH / 2.0, faults=STOPS)
    return np.concatenate([fly_record(fleet_of(courier()), each, RATE, precise=True)[0] for each in (block, afloat, stopped)])


def test_python_flies_as_the_compiled_kernels_do(tmp_path: Path) -> None:
    path = tmp_path / "interpreted.npy"
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-W", "ignore", "-c", FLOWN, str(path)], env=environment, cwd=ROOT, check=True)
    interpreted, compiled = np.load(path), flown()
    assert interpreted.shape == compiled.shape == (round(2.0 * LENGTH * RATE), len(RECORDED) + 3)
    scales = np.array([SCALES.get(name, 1.0) for name in (*RECORDED, *courier().foils)])
    apart = np.abs(interpreted - compiled) / scales
    assert apart.max() < WITHIN, dict(zip(RECORDED, apart.max(axis=0), strict=False))
    assert np.ptp(compiled[:, RECORDED.index("hull_load")]) > 0.5
    assert [*compiled[-10::2, RECORDED.index("stopped_by")]] == [0.0, 0.0, LINK_LOST, SWITCHED_OFF, 0.0]

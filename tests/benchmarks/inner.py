"""The kernel's inner part, the sea at points of the craft, beside the same in C; for `ratios`."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from sweep.model import layout as at
from sweep.model.block import Block
from sweep.model.compiled import LANES, kernel
from sweep.model.kernels import sea as column
from sweep.model.kernels.sea import elevation, place_points, put_sea, velocity
from sweep.model.kernels.sea_single import sample_point, take_phases

SOURCE = Path(__file__).with_name("sea_point.c")
PLACES, TIMES = 9, 1000  # the strips and struts of three foils
POINTS = PLACES * LANES
FLAGS = {
    "C, the library's functions": (),
    "C, the library's functions, -ffast-math": ("-ffast-math",),
    "C, the kernel's polynomials": ("-DPOLYNOMIALS",),
}


@kernel
def sample_single(workspace: np.ndarray, waves: int, times: int) -> None:
    """The sea at all places, as flights have it."""
    for _ in range(times):
        take_phases(workspace, waves, 0.0)
        for n in range(PLACES):
            place = n * at.STRIP.width
            sample_point(workspace, waves, 1.0, place + at.STRIP.x, place + at.STRIP.sea.eta, 1.0)


@kernel
def sample_double(workspace: np.ndarray, waves: int, times: int) -> None:
    """The same in double precision."""
    for _ in range(times):
        for n in range(PLACES):
            place = n * at.STRIP.width
            place_points(workspace, place + at.STRIP.x)
            elevation(workspace, waves, 0.0, 1.0, place + at.STRIP.sea.eta)
            velocity(workspace, waves, 1.0, place + at.STRIP.sea.eta, 1.0)


def placed() -> np.ndarray:
    """A workspace of level craft at different places, each with the same points under it."""
    draws, workspace = np.random.default_rng(1), np.zeros((at.SLOTS, LANES))
    workspace[[at.PREDICTED.x, at.PREDICTED.y]] = draws.uniform(0.0, 100.0, (2, LANES))
    workspace[[at.PREDICTED_ROTATION.xx, at.PREDICTED_ROTATION.yy, at.PREDICTED_ROTATION.zz]] = 1.0
    for n in range(PLACES):
        first = at.STRIP.x + n * at.STRIP.width
        workspace[first : first + 3] = draws.uniform([[-0.4], [-0.2], [0.1]], [[0.4], [0.2], [0.2]], (3, LANES))
    return workspace


def points_of(workspace: np.ndarray) -> np.ndarray:
    """Where they are: x, y and depth below the calm level, (3, points)."""
    first = at.STRIP.x + np.arange(PLACES) * at.STRIP.width
    return np.array([(workspace[at.PREDICTED.x + axis] + workspace[first + axis]).ravel() for axis in range(3)])


def sampled(workspace: np.ndarray) -> np.ndarray:
    """What was sampled, (points, 4)."""
    first = at.STRIP.sea.eta + np.arange(PLACES) * at.STRIP.width
    return np.array([workspace[first + slot].ravel() for slot in range(4)]).T


def in_c(flags: tuple[str, ...], block: Block, points: np.ndarray) -> Callable[[int], np.ndarray] | None:
    """The C function of so many samplings, compiled with -O3 -march=native; None without a compiler."""
    compiler = shutil.which("cc")
    if compiler is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        library = Path(folder) / "sea_point.so"
        always = ["-O3", "-march=native", "-shared", "-fPIC"]
        subprocess.run([compiler, *always, *flags, str(SOURCE), "-o", str(library), "-lm"], check=True)
        function = ctypes.CDLL(str(library)).sea_points
    columns = (column.AMPLITUDE, column.WAVE_X, column.WAVE_Y, column.WAVE_NUMBER, column.SURFACE_SPEED)
    waves = [np.ascontiguousarray(block.components[:, each]) for each in columns] + [block.phases.copy()]
    places, out = [np.ascontiguousarray(row) for row in points], np.zeros((points.shape[1], 4))

    def pointer(array: np.ndarray) -> ctypes.c_void_p:
        return ctypes.c_void_p(array.ctypes.data)

    def case(times: int) -> np.ndarray:
        for _ in range(times):
            function(out.shape[0], *map(pointer, places), len(block.phases), *map(pointer, waves), pointer(out))
        return out

    return case


def times_of(block: Block, rounds: int) -> dict[str, list[float]]:
    """Nanoseconds a point and wave, of every way in turn; block: of a sea in deep water."""
    workspace = placed()
    put_sea(workspace.ravel(), np.ones(LANES, dtype=bool), block.components, block.omegas, block.phases)
    cases: dict[str, Callable[[int], np.ndarray]] = {}
    for name, function in (("the kernel", sample_single), ("the kernel in double precision", sample_double)):

        def case(times: int, function: Callable[..., None] = function) -> np.ndarray:
            function(workspace.ravel(), len(block.omegas), times)
            return sampled(workspace)

        cases[name] = case
    for name, flags in FLAGS.items():
        if (found := in_c(flags, block, points_of(workspace))) is not None:
            cases[name] = found
    wanted = cases["the kernel in double precision"](1)
    taken: dict[str, list[float]] = {name: [] for name in cases}
    for name, case in cases.items():
        assert np.allclose(case(1), wanted, atol=1e-5), name
    for _ in range(rounds):
        for name, case in cases.items():
            begun = time.process_time()
            case(TIMES)
            taken[name].append(1e9 * (time.process_time() - begun) / (TIMES * POINTS * len(block.phases)))
    return taken

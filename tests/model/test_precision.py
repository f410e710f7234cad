"""One source in two precisions: literals follow the first argument, and flights in single precision those in double."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numba import float32, float64, njit, types

from sweep.model import elementary, layout
from sweep.model.compiled import LANES, part
from sweep.model.physics import foil, hull, propulsion, strut
from sweep.model.precision import Compiler, first_floating, narrowed
from sweep.model.stepping.integrate import move_on
from tests.model.crafts import Bench, courier

HALF, PAIR, WIDE = 0.5, (0.1, 0.2), np.float64(0.1)
FUNCTIONS = [
    elementary.clip, elementary.smoothstep, elementary.exp_negative, elementary.sine_cosine, elementary.arctangent,
    elementary.direction, elementary.logarithm, elementary.nearest, foil.surface_factor, foil.biplane_factor,
    foil.froude_factor, foil.lift_slope, foil.lift_and_stall, hull.wedge_area, hull.impact_per_length,
    hull.cross_flow_per_length, hull.hump_drag, propulsion.ideal_power, propulsion.shaft_power, strut.friction_of_log,
    strut.helmbold_slope, strut.side_coefficient,
]  # fmt: skip


def returned(function: Any, *arguments: Any) -> Any:
    """The type that a compiled function returns for arguments of these types."""
    function.compile(arguments)
    return function.overloads[arguments].signature.return_type


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.py_func.__name__)
@pytest.mark.parametrize("kind", [float32, float64])
def test_no_double_gets_into_single_precision(function: Any, kind: Any) -> None:
    """One literal in double precision, and all that comes of it would be in double precision too."""
    arguments = (kind,) * function.py_func.__code__.co_argcount
    found = returned(function, *arguments)
    assert {*(found.types if isinstance(found, types.BaseTuple) else [found])} == {kind}


def test_literals_and_named_constants_follow_the_first_argument() -> None:
    def blend(x: float, later: float) -> tuple[float, float, float, float, float]:
        return x * 0.1, x * HALF, x * PAIR[1], x * math.pi, x * WIDE

    compiled = njit(pipeline_class=Compiler)(blend)
    single = returned(compiled, float32, float64)
    assert tuple(single) == (float32, float32, float32, float32, float64)  # a constant of NumPy's keeps its precision
    assert tuple(returned(compiled, float64, float32)) == (float64,) * 5
    assert compiled(np.float32(3.0), 0.0)[0] == np.float32(3.0) * np.float32(0.1)


def test_the_first_floating_point_number_decides() -> None:
    array = types.Array(float32, 1, "C")
    assert first_floating((types.int64, types.Tuple((types.int64, array)), float64)) == float32
    assert first_floating((types.boolean, types.int64)) is None
    assert narrowed((1, (0.1, True), "text")) == (1, (np.float32(0.1), True), "text")


def test_an_error_in_a_kernel_is_told_as_usual() -> None:
    """The pass leaves the compiler's own messages alone."""

    @part
    def wrong(x: float) -> float:
        return x.nothing  # type: ignore[attr-defined, no-any-return]

    with pytest.raises(Exception, match="nothing"):
        wrong(np.float32(1.0))


def test_a_workspace_goes_there_and_back() -> None:
    """All slots but the sea's, to single precision; strips that a craft does not have stay empty."""
    bench = Bench(courier())
    bench.slots[layout.HEIGHT_ESTIMATE] = 1.0 / 3.0
    bench.slots[layout.STRIP.first + 5 * layout.STRIP.width] = 0.7
    bench.slots[layout.STRIP.first + 6 * layout.STRIP.width] = 9.0
    single = layout.in_single_precision(bench.flat, 6)
    rows = single[: layout.WAVE.first * LANES].reshape(-1, LANES)
    assert single.nbytes == bench.flat.nbytes
    assert (rows[layout.HEIGHT_ESTIMATE] == np.float32(1.0 / 3.0)).all()
    assert (rows[layout.STRIP.first + 5 * layout.STRIP.width] == np.float32(0.7)).all()
    assert not rows[layout.STRIP.first + 6 * layout.STRIP.width].any()
    rows[layout.HEIGHT_ESTIMATE] = 0.5
    layout.give_back(bench.flat, single, 6)
    assert (bench.slots[layout.HEIGHT_ESTIMATE] == 0.5).all()
    assert (bench.slots[layout.STRIP.first + 6 * layout.STRIP.width] == 9.0).all()


def test_a_long_way_grows_by_its_steps() -> None:
    """14 km on, where neighbouring numbers of single precision are 1 mm apart: 2 cm a step, ten thousand times."""
    bench = Bench(courier())
    bench.put(layout.ALIVE, 1.0)
    bench.put(layout.STATE.x, 14_000.0)
    bench.put(layout.RATE.x, 4.0037)
    single = layout.in_single_precision(bench.flat, 6)
    for _ in range(10_000):
        move_on(single, np.float32(0.005))
    layout.give_back(bench.flat, single, 6)
    assert bench.get(layout.STATE.x) - 14_000.0 == pytest.approx(10_000 * 0.005 * 4.0037, abs=2e-3)

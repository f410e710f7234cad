"""How much the kernel gains on what one would write otherwise, in one run, as ratios with their spread.

    python -m tests.benchmarks.ratios

Processor time of one core, so that a shared machine disturbs little; all candidates in turn, and each ratio is of neighbours in
time. The NumPy candidates fly open loop, without sensors, servos and control code, from which they gain. Some minutes.
"""

from __future__ import annotations

import math
import statistics
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp

from sweep.campaign.campaign import load_campaign
from sweep.campaign.designs import craft_of, lay_out
from sweep.model.block import Block, make_block
from sweep.model.compiled import LANES
from sweep.model.flight import fly
from sweep.model.onboard.noise import generator
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import Sea as Drawn
from sweep.model.physics.waves import draw_components
from tests.benchmarks import numpy_flights
from tests.benchmarks.inner import times_of
from tests.benchmarks.kernel import DEMO, DEPTH, chop, fleet_of
from tests.second.courier import FRESH
from tests.second.sea import Sea
from tests.second.second_model import Inputs, SecondModel, Trim, build, derivative, state_of, trim

ROUNDS = 5
STEP = 0.005
SPEED = 4.0
DISTINCT = 4  # designs that NumPy's batches repeat
SHORT, OPEN = 0.2, 1.0  # s of flight without control

Case = Callable[[], float]


def chop_drawn(depth: float = DEPTH) -> Drawn:
    """The sea of `kernel.chop`."""
    return draw_components(Spectrum(0.06, 1.1, 3.3), math.pi, depth, generator(1, "benchmark", 0, "sea"), 32)


def steady_designs() -> list[int]:
    """The first designs of the demo that fly to the end."""
    many = list(range(4 * LANES))
    return np.flatnonzero(fly(fleet_of(many, strips=2), chop(32)).status == 0)[:LANES].tolist()


def kernel_case(designs: list[int]) -> Case:
    """The kernel, all lanes at work."""
    fleet, block = fleet_of([designs[i % len(designs)] for i in range(LANES)], strips=2), chop(32)

    def case() -> float:
        begun = time.process_time()
        fly(fleet, block)
        return fleet.size * block.length / (time.process_time() - begun)

    return case


def scalar_case(designs: list[int]) -> Case:
    """The scalar double-precision path, in a process that stays."""
    command = [sys.executable, "-m", "tests.benchmarks.scalar", *map(str, designs)]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    sending, answers = process.stdin, process.stdout
    assert sending is not None
    assert answers is not None
    assert answers.readline() == "ready\n"

    def case() -> float:
        sending.write("\n")
        sending.flush()
        return float(answers.readline())

    return case


def second_models(designs: list[int]) -> list[tuple[SecondModel, Trim]]:
    """The second model of designs of the demo, and their trim."""
    campaign = load_campaign(DEMO)
    table = lay_out(campaign).iloc[designs]
    models = [build(craft_of(campaign, row), FRESH._replace(depth=DEPTH)) for _, row in table.iterrows()]
    return [(model, trim(model, SPEED)) for model in models]


def timed(simulated: float, work: Callable[[], object]) -> Case:
    """A case of so many simulated seconds."""

    def case() -> float:
        begun = time.process_time()
        work()
        return simulated / (time.process_time() - begun)

    return case


def numpy_cases(pairs: list[tuple[SecondModel, Trim]]) -> dict[str, Case]:
    """A script with solve_ivp, point by point and with the points side by side, and batches of designs at the kernel's step."""
    drawn = chop_drawn()
    sea = Sea(drawn.amplitude, drawn.omega, drawn.kx, drawn.ky, drawn.phase, settle=5.0)
    (model, level), *_ = pairs
    inputs = Inputs(level.foil_angles, 0.0, level.throttle)
    start = level.state.vector()
    one = numpy_flights.Craft([model], [level])
    check_agreement(one, model, level, sea)

    def plain(t: float, row: np.ndarray) -> np.ndarray:
        return derivative(model, sea, t, state_of(model, row), inputs).vector()

    def side_by_side(t: float, row: np.ndarray) -> np.ndarray:
        state = row[:, None]
        return numpy_flights.rate(one, numpy_flights.sample(one, sea, t, state), sea.wind, state)[:, 0]

    def batch(count: int, fly: Callable[..., np.ndarray]) -> Case:
        craft = numpy_flights.Craft(*zip(*(pairs[i % len(pairs)] for i in range(count)), strict=True))
        return timed(count * SHORT, lambda: fly(craft, sea, SHORT, STEP))

    return {
        "(a) SciPy script, point by point": timed(SHORT, lambda: solve_ivp(plain, (0.0, SHORT), start)),
        "(a) SciPy script, points side by side": timed(OPEN, lambda: solve_ivp(side_by_side, (0.0, OPEN), start)),
        "(b) NumPy, 32 designs at once": batch(32, numpy_flights.fly),
        "(b) NumPy, 256 designs at once": batch(256, numpy_flights.fly),
        "(b) the same, the sea once for two steps": batch(256, numpy_flights.fly_sparing),
    }


def check_agreement(one: numpy_flights.Craft, model: SecondModel, level: Trim, sea: Sea) -> None:
    """The NumPy equations are the second model's."""
    state = level.state._replace(rates=np.array([0.3, -0.2, 0.1]), angles=np.array([0.1, 0.05, 0.2]))
    wanted = derivative(model, sea, 3.0, state, Inputs(level.foil_angles, 0.0, level.throttle)).vector()
    row = state.vector()[:, None]
    found = numpy_flights.rate(one, numpy_flights.sample(one, sea, 3.0, row), sea.wind, row)[:, 0]
    assert np.allclose(found, wanted, rtol=1e-10, atol=1e-12)


def show(heading: str, ours: str, found: dict[str, list[float]], unit: str, more_is_better: bool) -> None:
    """Medians, and the ratio of neighbours in time: its median and its range."""
    print(f"\n{heading:44} {unit:>14} {'ratio':>8}  range")
    for name, values in found.items():
        pairs = zip(found[ours], values, strict=True)
        ratios = [us / them if more_is_better else them / us for us, them in pairs]
        middle = statistics.median(values)
        line = f"{name:44} {middle:14.4g} {statistics.median(ratios):8.3g}  {min(ratios):.3g} ... {max(ratios):.3g}"
        print(line, flush=True)


def deep_block() -> Block:
    """The chop in deep water, whole."""
    return make_block(chop_drawn(depth=60.0), 1, "benchmark", 0, 1.0, 0.0)


def main() -> None:
    """Measure and print."""
    designs = steady_designs()
    cases = {"the kernel": kernel_case(designs)} | numpy_cases(second_models(designs[:DISTINCT]))
    cases["(c) the kernel, scalar, double precision"] = scalar_case(designs[:DISTINCT])
    found: dict[str, list[float]] = {name: [] for name in cases}
    for case in cases.values():
        case()
    for _ in range(ROUNDS):
        for name, case in cases.items():
            found[name].append(case())
    show("whole flights", "the kernel", found, "x real time", more_is_better=True)
    show("(d) the sea at a point", "the kernel", times_of(deep_block(), 3 * ROUNDS), "ns a wave", more_is_better=False)


if __name__ == "__main__":
    main()

"""What each kind of part costs a flight: nanoseconds a step and lane, and the ratio to the plain craft, by processor time.

    python -m tests.benchmarks.part_costs [ROUNDS]

The courier in 32 lanes in its chop, in turn, 15 rounds by default; medians and middle halves of ratios to the plain craft.
One row is the plain craft along a course, whose sea has twice the components.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from sweep.campaign.craft import Craft
from sweep.model.block import Block
from sweep.model.compiled import LANES
from sweep.model.flight import fly
from sweep.model.pack.fleet import Fleet, build_fleets
from sweep.model.physics.water import fresh_water
from tests.benchmarks.kernel import DEPTH, chop
from tests.model.crafts import changed, courier, tap, with_each, with_lead, with_wand

ROUNDS, SPEED = 15, 4.0
PLAIN = "the plain courier"
RUDDER = {"length": 0.15, "chord": 0.025, "thickness": 0.004}
FOILS = tuple(courier().foils)


def described(**parts: Any) -> Craft:
    """The courier with other parts, SI: of a part that is described by a dictionary, what is not as it was."""
    description = courier().model_dump()
    for name, part in parts.items():
        description[name] = description[name] | part if isinstance(part, dict) else part
    return Craft.model_validate(description, context={"si": True})


def crafts() -> dict[str, Craft]:
    """By what they have that the plain one has not."""
    material = {f"foils.{name}.material": "glass-epoxy" for name in FOILS} | {"struts.material": "glass-epoxy"}
    battery = {"voltage": 16.8, "empty_voltage": 13.2, "resistance": 0.03, "charge": 0.5}
    return {
        PLAIN: courier(),
        "unlike struts": changed(courier(), {"foils.aft.strut.height": 0.26, "foils.aft.strut.chord": 0.035}),
        "unlike servos": changed(courier(), {"foils.aft.servo.rate": 2.0}),
        "4 strips on each foil": changed(courier(), {f"foils.{name}.strips": 4 for name in FOILS}),
        "taper and sweep (4 strips)": changed(
            courier(), {f"foils.{name}.{what}": value for name in FOILS for what, value in (("taper", 0.6), ("sweep", 0.2))}
        ),
        "two rudders more": described(
            steering={"rudders": {"port": {"x": -0.3, "y": -0.1} | RUDDER, "starboard": {"x": -0.3, "y": 0.1} | RUDDER}}
        ),
        "two rudders more, on servos of their own": described(
            steering={
                "rudders": {
                    "port": {"x": -0.3, "y": -0.1, "servo": {}} | RUDDER,
                    "starboard": {"x": -0.3, "y": 0.1, "servo": {}} | RUDDER,
                }
            }
        ),
        "hollow struts and foils of a material": changed(
            courier(), material | {f"foils.{name}.wall": 0.0008 for name in FOILS} | {"struts.wall": 0.001}
        ),
        "a wand and its sensor": with_wand(),
        "a wand that moves a fourth foil": with_lead(),
        "a pressure tap": with_each({"tap": tap()}),
        "a flap on each foil": changed(courier(), {f"foils.{name}.flap": 0.25 for name in FOILS} | {"servos.travel": 0.35}),
        "slack in all servos": changed(courier(), {"servos.backlash": 0.01, "steering.servo.backlash": 0.01}),
        "two rangefinders, each its own": with_each({"bow": {"ahead": 0.2}, "aft": {"x": -0.2, "rate": 12.0}}),
        "ballast": described(ballast={"lead": {"mass": 0.2, "x": 0.1, "height": 0.02}}),
        "a battery that sags": described(battery=battery),
        "losses in bursts": changed(courier(), {"rangefinders.burst": 0.3, "rangefinders.dropout": 0.05}),
        "material of all parts": changed(courier(), material),
        "material of the struts": changed(courier(), {"struts.material": "glass-epoxy"}),
    }


def turning() -> Block:
    """The chop along a course with one turn, in the sea of a course."""
    return chop(64)._replace(course=np.array([[6.0, 0.0, 0.0, 0.0, SPEED, 0.0], [0.0, 1e3, 1.0, 0.0, SPEED, 0.0]]))


def flight(fleet: Fleet, block: Block) -> Callable[[], float]:
    """A case that returns the nanoseconds a step and lane of one flight."""
    steps = round(block.length / fleet.structure.step) * LANES

    def case() -> float:
        begun = time.process_time()
        fly(fleet, block)
        return 1e9 * (time.process_time() - begun) / steps

    return case


def main() -> None:
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    cases = {}
    for name, craft in crafts().items():
        ((_, fleet),) = build_fleets([craft] * LANES, fresh_water(288.15, DEPTH), SPEED)
        if not fleet.feasible.all():
            raise SystemExit(f"{name}: no trim")
        cases[name] = flight(fleet, chop(32))
        if name == PLAIN:
            cases["a course with a turn"] = flight(fleet, turning())
    for case in cases.values():
        case()
    found: dict[str, list[float]] = {name: [] for name in cases}
    for _ in range(rounds):
        for name, case in cases.items():
            found[name].append(case())
    plain = found[PLAIN]
    print("| | ns a step and lane | ratio |")
    print("|---|---|---|")
    for name, times in found.items():
        ratios = sorted(one / other for one, other in zip(times, plain, strict=True))
        low, high = ratios[len(ratios) // 4], ratios[-1 - len(ratios) // 4]
        print(f"| {name} | {statistics.median(times):.0f} | {statistics.median(ratios):.3f} ({low:.3f} to {high:.3f}) |")


if __name__ == "__main__":
    main()

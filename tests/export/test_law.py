"""The exported law is the law that was flown: the kernel's flights, replayed by the compiled C."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from sweep.campaign.campaign import load_campaign
from sweep.campaign.craft import Craft
from sweep.export.compose import PARTS, resolve
from sweep.export.flown import fly_ticks, without_quanta
from sweep.export.settings import NoTrimError, law_of
from sweep.model import layout as at
from sweep.model.compiled import LANES
from sweep.model.flight import run_lanes, start_lanes
from sweep.model.onboard.faults import COLUMNS, DISARMED, LOST_LINK, SILENT, TURN
from sweep.model.onboard.safety import LINK_LOST, RANGE_LOST, SWITCHED_OFF
from tests.export.compiled import DOUBLE, SINGLE, all_files, flown, needs_compiler, replayed, spread
from tests.model.crafts import CASCADED, WATER, block_of, changed, courier, fleet_of, jonswap, with_each

CONFIGS = Path(__file__).resolve().parents[2] / "configs"
SEA = jonswap(math.pi, 0.02)
BLOCK = block_of(SEA, 3.0, 1.0)


@cache
def shipped(name: str) -> Craft:
    """The craft of a shipped campaign."""
    return load_campaign(CONFIGS / f"{name}.yaml").craft


class Case(NamedTuple):
    """A flight to replay from a time on (s), and the speed that is wanted (m/s)."""

    craft: Craft
    speed: float = 4.0
    begin: float = 1.0
    block: Any = BLOCK


CRAFTS = {"courier": ("courier-chop", 4.0), "lookout": ("lookout-lake", 5.0), "classroom": ("classroom-pond", 3.0)}
BY_LAW: dict[str, dict[str, Any]] = {
    **{law: {"control.law": law} for law in ("level-and-height", "fused-height", "each-foil")},
    "cascaded": CASCADED,
}
LAWS = {f"{craft}, {law}": (craft, law) for craft in CRAFTS for law in BY_LAW}
TIE = 0.004  # m: a gate of whole steps of the readings, which noisy readings often jump by
THREE = {"bow": {"y": 0.0}, "port": {"x": 0.1, "y": -0.15, "aside": -0.2}, "aft": {"x": -0.3, "y": 0.1, "trust": 0.5}}


def fused(**values: Any) -> dict[str, Any]:
    """Values of a craft with a fused height."""
    return {"control.law": "fused-height"} | {f"control.{name}": value for name, value in values.items()}


def turned(by: tuple[tuple[float, float], ...]) -> Any:
    """The block with turns: when (s), by how much (rad)."""
    faults = np.zeros((len(by), COLUMNS))
    for row, (when, angle) in zip(faults, by, strict=True):
        row[:5] = [TURN, -1.0, when, math.inf, angle]
    return BLOCK._replace(faults=faults)


def with_faults(*rows: tuple[float, float, float, float]) -> Any:
    """The block with faults: kind, which, from and to (s)."""
    faults = np.zeros((len(rows), COLUMNS))
    faults[:, :4] = rows
    return BLOCK._replace(faults=faults)


LINK = with_faults((LOST_LINK, -1.0, 1.2, 2.0), (DISARMED, -1.0, 2.0, 2.1))
DEAF = with_faults((SILENT, 0.0, 1.2, 1.75), (DISARMED, -1.0, 2.0, 2.1), (SILENT, 0.0, 2.6, 2.8))


def special(name: str) -> Case:
    """Flights in which some part of a law has work."""
    trims = {"control.trim_speeds": (3.0, 4.0, 5.0)}
    rangefinders: Mapping[str, Case] = {
        "gate and median": Case(changed(courier(), {"control.gate": 0.01, "control.median": 3, "rangefinders.spikes": 0.2})),
        "gate ties": Case(changed(courier(), {"control.gate": TIE})),
        "two readings a tick": Case(changed(courier(), {"control.rate": 50.0, "rangefinders.rate": 100.0})),
        "a plane": Case(changed(with_each({k: v | {"trust": 1.0} for k, v in THREE.items()}), {"control.combine": "plane"})),
        "a plane by trust": Case(changed(with_each(THREE), fused(combine="plane"))),
        "a mean by trust": Case(changed(with_each(THREE), {"control.median": 2})),
        "a vote": Case(changed(with_each(THREE | {"last": {"y": -0.1}}), {"control.combine": "vote", "control.gate": 0.005})),
        "one not trusted": Case(changed(with_each(THREE | {"last": {"trust": 0.0}}), fused(median=4))),
    }
    others = {
        "preview and schedule": Case(changed(courier(), {"control.preview": 0.5, "control.scheduled_at": 3.5})),
        "shares": Case(
            changed(courier(), {"control.pitch_share": 1.0, "control.throttle_share": 2.0, "control.roll.integral": 0.5})
        ),
        "through 180 degrees": Case(
            changed(courier(), {"control.bank_share": 1.0, "control.turn_rate": 2.5}), block=turned(((1.2, -0.5), (2.0, 1.0)))
        ),
        "by a second propeller": Case(shipped("lookout-lake"), 5.0, block=turned(((1.2, 0.5),))),
        "by propellers from rest": Case(
            shipped("lookout-lake"), 5.0, begin=0.5, block=turned(((0.6, 0.5),))._replace(from_rest=True)
        ),
        **{f"a lost link, {law}": Case(changed(courier(), values), block=LINK) for law, values in BY_LAW.items()},
        "a lost link in a turn": Case(
            shipped("lookout-lake"), 5.0, block=LINK._replace(faults=np.vstack([LINK.faults, turned(((1.4, 3.0),)).faults]))
        ),
        "a silent rangefinder": Case(courier(), block=DEAF),
        "one of three silent": Case(changed(with_each(THREE), fused(median=3)), block=DEAF),
        "from rest": Case(courier(), begin=0.5, block=BLOCK._replace(from_rest=True)),
        "trims, slow": Case(changed(courier(), trims), 3.0),
        "trims, between": Case(changed(courier(), trims), 4.4),
        "trims, beyond": Case(changed(courier(), trims), 5.5),
        "a rudder of its own": Case(shipped("ranger-struts"), 4.0),
        "the surveyor": Case(shipped("surveyor-harbour"), 3.0),
    }
    return {**rangefinders, **others}[name]


SPECIAL = (
    "gate and median", "gate ties", "two readings a tick", "a plane", "a plane by trust", "a mean by trust", "a vote",
    "one not trusted",
    "preview and schedule", "shares", "through 180 degrees", "by a second propeller", "from rest", "trims, slow",
    "trims, between", "trims, beyond", "a rudder of its own", "the surveyor", "by propellers from rest",
    *(f"a lost link, {law}" for law in BY_LAW), "a lost link in a turn", "a silent rangefinder", "one of three silent",
)  # fmt: skip


STOPS = ("a lost link, each-foil", "a lost link in a turn", "a silent rangefinder")


def case_of(name: str) -> Case:
    """A case by its name."""
    if name not in LAWS:
        return special(name)
    craft, law = LAWS[name]
    campaign, speed = CRAFTS[craft]
    return Case(changed(shipped(campaign), BY_LAW[law]), speed)


@needs_compiler
@pytest.mark.parametrize("name", [*LAWS, *SPECIAL])
def test_the_code_commands_what_the_kernel_commanded(name: str, tmp_path: Path) -> None:
    """To 1e-6 rad in double, within a step of the servos in float; over ticks in which there is something to command."""
    case = case_of(name)
    law, ticks = flown(case.craft, case.block, case.speed, case.begin)
    assert len(ticks) >= 100
    assert max(map(spread, zip(*(tick.commanded.foils for tick in ticks), strict=True))) > 0.002
    files = all_files(law, ticks, case.speed)
    for options in (DOUBLE, SINGLE):
        code, said = replayed(files, tmp_path, options)
        assert code == 0, said
        assert f"{len(ticks)} ticks" in said


def test_the_special_flights_have_what_they_are_for() -> None:
    def ticks_of(name: str) -> list[Any]:
        case = special(name)
        return flown(case.craft, case.block, case.speed, case.begin)[1]

    assert spread(tick.commanded.refused for tick in ticks_of("gate and median")) >= 2
    assert max(len(tick.given.ranges) for tick in ticks_of("two readings a tick")) >= 2
    turning = ticks_of("through 180 degrees")
    headings = [tick.given.heading for tick in turning]
    assert min(headings) < -0.05  # half a turn is added to them
    assert max(headings) > 0.05
    assert spread(tick.commanded.bank for tick in turning) > 0.1
    assert spread(tick.commanded.aside for tick in ticks_of("by a second propeller")) > 0.05
    stops = {name: [next(each) for _, each in groupby(tick.commanded.stopped_by for tick in ticks_of(name))] for name in STOPS}
    assert stops["a lost link, each-foil"] == stops["a lost link in a turn"] == [0.0, LINK_LOST, SWITCHED_OFF, 0.0]
    assert stops["a silent rangefinder"] == [0.0, RANGE_LOST, SWITCHED_OFF, 0.0]
    resting = ticks_of("from rest")
    assert {tick.given.go for tick in resting} == {False, True}


def test_jumps_by_the_gate_itself_are_no_ties() -> None:
    """Some readings jump by the gate to the last digit that they have; the law's gate lies half a step off."""
    case = special("gate ties")
    law, ticks = flown(case.craft, case.block, case.speed, case.begin)
    readings = [value for tick in ticks for _, value in tick.given.ranges]
    assert sum(round(abs(after - before) / 0.001) == 4 for before, after in pairwise(readings)) >= 2
    assert law.row[at.GATE] == pytest.approx(TIE + 0.0005)
    assert spread(tick.commanded.refused for tick in ticks) >= 1


@needs_compiler
@pytest.mark.parametrize(
    ("file", "right", "wrong"),
    [
        ("control.c", "w->bank - m->roll", "w->bank + m->roll"),
        ("control.c", "gains->derivative * rate", "2 * gains->derivative * rate"),
        ("control.c", "s->x + m->last * s->look[0]", "s->x - m->last * s->look[0]"),
        ("control.c", "(level_pitch - m->pitch)", "(level_pitch - m->roll)"),
        ("settings.c", ".smoothing = 0.08", ".smoothing = 0.081"),
        ("settings.c", ".rudder_side = 1.0", ".rudder_side = -1.0"),
    ],
)
def test_the_check_finds_a_mistake_in_the_code(file: str, right: str, wrong: str, tmp_path: Path) -> None:
    tilted = {"bow": {"ahead": 0.3}}
    law, ticks = flown(with_each(tilted), BLOCK, 4.0, 1.0)
    files = all_files(law, ticks, 4.0)
    assert files[file].count(right) == 1
    code, said = replayed(files | {file: files[file].replace(right, wrong)}, tmp_path, DOUBLE)
    assert code == 1
    assert "not the law that was flown" in said


def test_ticks_are_those_of_the_kernels_own_flight() -> None:
    """The flight tick by tick ends in the same bits as the one in a single call."""
    fleet = without_quanta(fleet_of(courier()))
    block = block_of(SEA, 1.0, 0.5)
    *_, last = fly_ticks(fleet, block)
    lanes = start_lanes(fleet)
    run_lanes(fleet, block._replace(length=last.number * fleet.structure.period), lanes, precise=True)
    slots = [*at.STATE.slots()] if not isinstance(at.STATE.slots(), slice) else range(at.SLOTS)[at.STATE.slots()]
    assert [last.before[slot] for slot in slots] == [lanes.workspace.reshape(-1, LANES)[slot, 0] for slot in slots]


def test_a_craft_without_a_trim_has_no_law() -> None:
    with pytest.raises(NoTrimError):
        law_of(courier(), WATER, [0.5])


def test_parts_are_resolved_as_a_preprocessor_would() -> None:
    text = "#if A\na\n#if !B\nab\n#endif\n#else\nother\n#endif\n#ifdef X\nx\n#else\ny\n#endif\n#if C > 1\nc\n#endif\n"
    assert resolve(text, {"A": 1, "B": 0, "C": 1}) == "a\nab\n#ifdef X\nx\n#else\ny\n#endif\n"
    assert resolve(text, {"A": 0, "B": 0, "C": 2}) == "other\n#ifdef X\nx\n#else\ny\n#endif\nc\n"
    with pytest.raises(ValueError, match="wanted one of A"):
        resolve("#if D\n#endif\n", {"A": 1})


def test_every_part_is_used_by_some_law() -> None:
    from sweep.export.compose import part_names, uses_of

    names = {
        name
        for case in map(case_of, [*LAWS, *SPECIAL])
        for name in part_names(uses_of(case.craft, 1), case.craft.control.combine)
    }
    assert {f"{name}.c" for name in names} | {"check.c", "host_check.c", "serial_check.c"} == {
        path.name for path in PARTS.glob("*.c")
    }

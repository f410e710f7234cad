"""The safe state of the exported code, and the bench sheet: the law driven by hand."""

from __future__ import annotations

import math
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from sweep.campaign.craft import Craft
from sweep.export.bench import Held, answer, at_ride_height, bench_sheet
from sweep.export.files import law_files
from sweep.export.settings import Law, law_of
from sweep.model import layout as at
from sweep.model.onboard.safety import LEAST_UPRIGHT, LONGEST_LINK_AGE, MOST_RANGE_AGE
from sweep.model.pack.control import range_patience
from tests.export.compiled import SINGLE, built, needs_compiler, written
from tests.export.test_law import THREE, shipped
from tests.model.crafts import CASCADED, WATER, changed, courier, with_each
from tests.model.test_rudder_servos import PAIR, alone, steered

pytestmark = needs_compiler
DRIVE = (Path(__file__).parent / "drive.c").read_text(encoding="utf-8")
STOPPED, DISARMED, RUNS = 0, 1, 2
SANITIZED = (*SINGLE, "-g", "-fsanitize=undefined,float-cast-overflow,float-divide-by-zero", "-fno-sanitize-recover=all")


@dataclass(frozen=True)
class Ticks:
    """So many ticks alike; a sound boat that flies at its ride height unless something else is said."""

    count: int = 1
    elapsed: float = 0.01
    armed: int = 1
    link_age: float = 0.0
    go: int = 1
    speed: float = 4.0
    heading: float = 0.0
    wanted_speed: float = 4.0
    wanted_course: float = 0.0
    wanted_height: float = 0.095
    gyro: tuple[float, ...] = (0.0, 0.0, 0.0)
    force: tuple[float, ...] = (0.0, 0.0, -9.81)
    ranges: tuple[tuple[int, float], ...] = ((0, 0.095),)

    def text(self) -> str:
        """The input of the driver."""
        first = [self.elapsed, self.armed, self.link_age, self.go, self.speed, self.heading, 1]
        flat = [value for reading in self.ranges for value in reading]
        given = [*first, self.wanted_speed, self.wanted_course, self.wanted_height, *self.gyro, *self.force, len(self.ranges)]
        return f"{' '.join(map(str, [*given, *flat]))}\n" * self.count


@dataclass(frozen=True)
class Told:
    """The commands of a tick."""

    mode: int
    throttle: float
    rudder: float
    foils: tuple[float, ...]
    height: float
    course: float

    @property
    def neutral(self) -> bool:
        """Whether nothing moves."""
        return not any((self.throttle, self.rudder, *self.foils))


def program(law: Law, folder: Path, options: Sequence[str] = SANITIZED) -> Path:
    """The driver of a law, compiled."""
    given = [*options, *(["-DTWO_PROPELLERS"] if law.uses.differential else []), *([] if law.uses.rudder else ["-DNO_RUDDER"])]
    return built(written(law_files(law) | {"drive.c": DRIVE}, folder), given, "drive.c")


def driven(driver: Path, *ticks: Ticks) -> list[Told]:
    """What a law commands."""
    text = "".join(each.text() for each in ticks)
    found = subprocess.run([driver], input=text, capture_output=True, text=True, check=True)
    lines = [[float(word) for word in line.split()] for line in found.stdout.splitlines()]
    return [Told(int(line[0]), line[1], line[2], tuple(line[3:-2]), line[-2], line[-1]) for line in lines]


@pytest.fixture(scope="module")
def courier_code(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return program(law_of(courier(), WATER, [4.0]), tmp_path_factory.mktemp("courier"))


START = (Ticks(2, armed=0), Ticks(20))


def test_a_sound_boat_runs_once_its_switch_has_been_off_and_on(courier_code: Path) -> None:
    told = driven(courier_code, *START)
    assert [each.mode for each in told] == [DISARMED] * 2 + [RUNS] * 20
    assert all(each.neutral for each in told[:2])
    assert told[-1].throttle > 0.1
    assert not told[-1].neutral


def test_a_switch_that_is_on_at_power_up_does_nothing(courier_code: Path) -> None:
    told = driven(courier_code, Ticks(200))
    assert {each.mode for each in told} == {STOPPED}
    assert all(each.neutral for each in told)


def test_without_go_the_throttle_stays_shut_and_the_foils_answer(courier_code: Path) -> None:
    told = driven(courier_code, Ticks(2, armed=0), Ticks(20, go=0))
    assert {each.mode for each in told[2:]} == {RUNS}
    assert {each.throttle for each in told} == {0.0}
    assert not told[-1].neutral


def rolled(degrees: float) -> tuple[float, ...]:
    """The specific force of a boat at rest, on its side (the tilt of a plumb line: geometry)."""
    roll = math.radians(degrees)
    return (0.0, -9.81 * math.sin(roll), -9.81 * math.cos(roll))


DANGERS = {
    "stale link": Ticks(link_age=0.6),
    "link age that is no number": Ticks(link_age=math.nan),
    "negative link age": Ticks(link_age=-1.0),
    "silent rangefinder": Ticks(60, ranges=()),
    "echoes out of range": Ticks(60, ranges=((0, 65.5),)),
    "no numbers for echoes": Ticks(60, ranges=((0, math.nan),)),
    "rolled by the gyro": Ticks(60, gyro=(3.0, 0.0, 0.0)),
    "rolled slowly": Ticks(3000, force=rolled(75.0)),
    "bow over": Ticks(60, gyro=(0.0, 3.0, 0.0)),
    "wild gyro": Ticks(gyro=(1e30, 0.0, 0.0)),
    "gyro that is no number": Ticks(gyro=(0.0, math.nan, 0.0)),
    "force that is no number": Ticks(force=(0.0, 0.0, math.inf)),
    "speed that is no number": Ticks(speed=math.nan),
    "heading in degrees": Ticks(heading=180.0),
    "no time": Ticks(elapsed=0.0),
    "a loop that hung": Ticks(elapsed=0.2),
    "no such rangefinder": Ticks(ranges=((7, 0.1),)),
    "more readings than room": Ticks(ranges=((0, 0.095),) * 9),
    "no wanted speed": Ticks(wanted_speed=0.0),
    "no wanted height": Ticks(wanted_height=math.nan),
}


@pytest.mark.parametrize("danger", DANGERS)
def test_a_danger_stops_the_boat_until_it_is_armed_again(danger: str, courier_code: Path) -> None:
    """Under the compiler's checks of undefined behaviour, and a boat that is sound again stays stopped."""
    wrong = DANGERS[danger]
    told = driven(courier_code, *START, wrong, Ticks(50), Ticks(2, armed=0), Ticks(400))
    before, during, after = told[21], told[21 + wrong.count], told[22 + wrong.count : 72 + wrong.count]
    assert (before.mode, before.neutral) == (RUNS, False)
    assert (during.mode, during.neutral) == (STOPPED, True)
    assert {each.mode for each in after} == {STOPPED}
    assert all(each.neutral for each in after)
    again = told[74 + wrong.count]
    upright = danger not in ("rolled by the gyro", "rolled slowly", "bow over")
    assert again.mode == (RUNS if upright else STOPPED)
    assert math.isfinite(told[-1].height)


@pytest.mark.parametrize(("degrees", "mode"), [(59.0, RUNS), (-59.0, RUNS), (61.0, STOPPED), (-61.0, STOPPED)])
def test_sixty_degrees_are_too_much(degrees: float, mode: int, courier_code: Path) -> None:
    assert driven(courier_code, *START, Ticks(4000, force=rolled(degrees)))[-1].mode == mode


@pytest.mark.parametrize("side", [1e-9, -1e-9])
def test_a_boat_upside_down_does_not_start(side: float, courier_code: Path) -> None:
    """However the accelerometer's noise flips the sign of half a turn."""
    upside = [Ticks(1, force=(0.0, side * way, 9.81), armed=0) for way in (1.0, -1.0)] * 600
    told = driven(courier_code, *upside, *(replace(each, armed=1) for each in upside))
    assert RUNS not in {each.mode for each in told}


def test_no_setting_switches_it_off(tmp_path: Path) -> None:
    """Settings that make no sense stop the boat, sooner or later; none keeps it running."""
    files = law_files(law_of(courier(), WATER, [4.0])) | {"drive.c": DRIVE}
    limit = ".range_age = 0.495"
    assert files["settings.c"].count(limit) == 1
    for number, value in enumerate(("1e9", "-1.0", "(number)NAN", "(number)INFINITY")):
        settings = "#include <math.h>\n" + files["settings.c"].replace(limit, f".range_age = {value}")
        driver = built(written(files | {"settings.c": settings}, tmp_path / str(number)), SINGLE, "drive.c")
        told = driven(driver, *START, Ticks(250, ranges=()))
        assert told[-1].mode == STOPPED


def test_the_code_has_the_limits_of_the_flights() -> None:
    header = law_files(law_of(courier(), WATER, [4.0]))["control.h"]
    limits = {"LONGEST_LINK_AGE": LONGEST_LINK_AGE, "LONGEST_RANGE_AGE": MOST_RANGE_AGE, "LEAST_UPRIGHT": LEAST_UPRIGHT}
    assert all(f"#define {name} ((number){value})" in header for name, value in limits.items())
    slow = changed(courier(), {"rangefinders.rate": 2.0})
    assert range_patience(slow.rangefinders) == MOST_RANGE_AGE
    assert law_of(slow, WATER, [4.0]).row[at.RANGE_PATIENCE] == pytest.approx(MOST_RANGE_AGE - 0.005)


def test_every_law_stops_for_a_link_and_a_tilt(tmp_path: Path) -> None:
    crafts = {
        "each": shipped("classroom-pond"),
        "fused": changed(courier(), {"control.law": "fused-height", "control.preview": 0.5, "control.gate": 0.01}),
        "pair": shipped("lookout-lake"),
    }
    for name, craft in crafts.items():
        law = law_of(craft, WATER, [4.0])
        ranges = tuple((i, 0.1) for i in range(law.uses.rangefinders))
        sound = Ticks(20, elapsed=1.0 / craft.control.rate, ranges=ranges)
        driver = program(law, tmp_path / name)
        for wrong in (replace(sound, link_age=1.0), replace(sound, gyro=(6.0, 0.0, 0.0))):
            told = driven(driver, replace(sound, armed=0), sound, wrong, sound)
            assert told[39].mode == RUNS and told[39].throttle > 0.0  # noqa: PT018
            assert told[-1].mode == STOPPED and told[-1].neutral  # noqa: PT018


def bench(craft: Craft, folder: Path, held: Held) -> tuple[Law, Told]:
    """What the code commands of a boat that is held so for a long time."""
    law = law_of(craft, WATER, [3.0, 4.0])
    sensors = tuple(enumerate(held.distances))
    force = (
        9.81 * math.sin(held.pitch),
        -9.81 * math.sin(held.roll) * math.cos(held.pitch),
        -9.81 * math.cos(held.roll) * math.cos(held.pitch),
    )
    still = Ticks(
        3000, 1.0 / craft.control.rate, go=0, speed=0.0, wanted_speed=law.trims[0].speed,
        wanted_height=craft.control.ride_height, force=force, ranges=sensors,
    )  # fmt: skip
    off = replace(still, count=1, armed=0)
    return law, driven(program(law, folder), off, replace(still, heading=held.off_course))[-1]


BENCHED: dict[str, Any] = {
    "courier": lambda: courier(),
    "fused, scheduled": lambda: changed(courier(), {"control.law": "fused-height", "control.scheduled_at": 4.0}),
    "cascaded, scheduled": lambda: changed(courier(), CASCADED | {"control.scheduled_at": 4.0}),
    "by trust": lambda: with_each(THREE),
    "a plane": lambda: changed(with_each(THREE), {"control.combine": "plane"}),
    "a vote": lambda: changed(with_each(THREE), {"control.combine": "vote", "control.pitch_share": 1.0}),
    "classroom": lambda: shipped("classroom-pond"),
    "surveyor": lambda: shipped("surveyor-harbour"),
}


@pytest.mark.parametrize("name", BENCHED)
def test_the_bench_sheet_says_what_the_code_does(name: str, tmp_path: Path) -> None:
    """Angles of the sheet are worked out without the code; the code, held so, gives them to a twentieth of a degree."""
    craft = BENCHED[name]()
    level = at_ride_height(law_of(craft, WATER, [3.0, 4.0]))
    near = [distance - 0.03 for distance in level]
    for number, held in enumerate((Held(level), Held(near), Held(level, roll=0.1), Held(level, pitch=0.12))):
        law, told = bench(craft, tmp_path / str(number), held)
        wanted = answer(law, held)
        assert told.mode == RUNS
        assert told.foils == pytest.approx(wanted.foils, abs=math.radians(0.05))


def test_the_bench_sheet_of_the_courier_by_hand() -> None:
    """Bow up: the foils ahead go down and the one behind up; starboard down: starboard up, port down; too low: all up."""
    sheet = bench_sheet(law_of(courier(), WATER, [4.0]))
    rows = {line.split("|")[1].strip().split(" by ")[0]: line.split("|")[2:5] for line in sheet.splitlines() if "|" in line}

    def ways(row: str) -> list[str]:
        return ["up" if "nose up" in cell else "down" if "nose down" in cell else "" for cell in rows[row]]

    assert ways("Bow up") == ["down", "down", "up"]
    assert ways("Starboard side down") == ["down", "up", ""]
    assert ways("Every board 3.0 cm nearer.") == ["up", "up", "up"]
    assert "the strut of foil aft to port" in sheet


def test_the_bench_sheet_tells_of_every_rudder_servo() -> None:
    sheets = [bench_sheet(law_of(steered({}, rudders), WATER, [4.0])) for rudders in (PAIR, alone(PAIR, "port", "starboard"))]
    assert "rudder port to port, rudder starboard to port. The servo turns by" in sheets[0]
    assert "Each of the 2 servos gets `rudder`, and turns by" in sheets[1]


def test_the_rudder_turns_the_bow_back(tmp_path: Path) -> None:
    """The heading is off its course to starboard, so the command is to port: aft, trailing edge to port (negative)."""
    law = law_of(courier(), WATER, [4.0])
    told = driven(program(law, tmp_path), Ticks(2, armed=0), Ticks(5, heading=0.3, wanted_course=0.0))
    assert told[-1].rudder < -0.01
    around = driven(tmp_path / "program", Ticks(2, armed=0, heading=3.1), Ticks(20, heading=-3.1, wanted_course=3.1))
    assert -0.3 < around[-1].rudder < 0.0  # 0.08 rad to starboard of its course, and not nearly a turn to port

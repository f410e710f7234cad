"""The layout of the workspace: records are laid out as they are declared, no slot is two fields', and nobody counts slots."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import numpy as np
import pytest

from sweep.model import layout as at
from sweep.model.compiled import LANES, kernel
from sweep.model.flight import start_lanes
from sweep.model.slots import Deal, Record, fields_of
from tests.model.crafts import Bench, courier

SWEEP = Path(at.__file__).parents[1]
MODEL = sorted(SWEEP.glob("model/**/*.py"))
READERS = sorted(path for path in SWEEP.glob("**/*.py") if "import layout as at" in path.read_text("utf-8"))


class Place(Record):
    """Three."""

    x: int
    y: int
    z: int


class Gauge(Place):
    """A record on another, with a record, several numbers and several records in it."""

    mark: int
    ends: Annotated[Place, 2]
    readings: Annotated[int, 5]
    last: int


def test_fields_lie_one_after_the_other_those_of_the_base_first() -> None:
    gauge = Gauge(40)
    assert (gauge.x, gauge.y, gauge.z, gauge.mark) == (40, 41, 42, 43)
    assert (gauge.ends.x, gauge.ends.z, gauge.ends.width, gauge.readings, gauge.last) == (44, 46, 3, 50, 55)
    assert (gauge.first, gauge.width) == (40, 16)
    assert list(gauge) == list(range(40, 56))
    assert list(range(100))[gauge.ends.slots(3)] == [47, 48, 49]


def test_what_is_dealt_out_follows_what_was() -> None:
    deal = Deal(7)
    assert (deal.one(), deal.many(3), deal.record(Place, 2).first, deal.record(Gauge).x, deal.next) == (7, 8, 11, 17, 33)


def test_the_kernels_see_the_same_places() -> None:
    @kernel
    def places() -> tuple[int, int, int, int]:
        return at.GYRO_READING.z, at.FOIL.servo.speed, at.MID.width, at.row(at.STATE.u)

    assert places() == (at.GYRO_READING.z, at.FOIL.servo.speed, at.MID.width, at.STATE.u * LANES)


def spans(record: Record) -> Iterator[tuple[int, int]]:
    """First slot and number of every field that is a number, in all of several alike."""
    for name, (kind, count) in fields_of(type(record)).items():
        field = getattr(record, name)
        if isinstance(field, Record):
            assert field.width == kind().width
            for number in range(count):
                yield from ((first + number * field.width, wide) for first, wide in spans(field))
        else:
            yield field, count


def dealt(dealer: str) -> Iterator[tuple[str, int, int]]:
    """Name, first slot and number of slots of every field that a dealer of the layout dealt out, by the layout's own text."""
    for node in ast.parse(Path(at.__file__).read_text("utf-8")).body:
        call = node.value if isinstance(node, ast.Assign) else None
        if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute) and ast.unparse(call.func.value) == dealer):
            continue
        name = ast.unparse(node.targets[0])  # type: ignore[attr-defined]
        given = [*call.args, *(keyword.value for keyword in call.keywords)]
        found = getattr(at, name)
        if isinstance(found, Record):
            count = _number(given[1]) if len(given) > 1 else 1
            for number in range(count):
                yield from ((name, first + number * found.width, wide) for first, wide in spans(found))
        else:
            yield name, found, _number(given[0]) if given else 1


def _number(expression: ast.expr) -> int:
    return int(eval(ast.unparse(expression), vars(at)))


@pytest.mark.parametrize(
    ("dealer", "first", "after"),
    [
        ("_slots", 0, at.SINGLE_POINT.first // 2),
        ("_singles", at.SINGLE_POINT.first, at.SINGLE_WAVE.first + at.MAX_COMPONENTS * at.SINGLE_WAVE.width),
    ],
)
def test_every_slot_is_one_fields(dealer: str, first: int, after: int) -> None:
    owners = np.zeros(after, dtype=int)
    for _, start, wide in dealt(dealer):
        owners[start : start + wide] += 1
    assert not owners[:first].any()
    assert (owners[first:] == 1).all()


def test_the_workspace_holds_all_of_them_and_a_design_ends_with_its_strips() -> None:
    assert 2 * at.SLOTS >= at.SINGLE_WAVE.first + at.MAX_COMPONENTS * at.SINGLE_WAVE.width > 2 * (at.SLOTS - 1)
    assert at.STRIP.first + at.MAX_STRIPS * at.STRIP.width == at.PARAMETERS == at.WAVE_GROUND


def terms(node: ast.expr) -> list[ast.expr]:
    """What a sum adds up, signs left out."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Sub):
        return [*terms(node.left), *terms(node.right)]
    return [node]


def is_slot(node: ast.expr) -> bool:
    """Whether an expression names something of the layout."""
    while isinstance(node, ast.Attribute):
        node = node.value
        if isinstance(node, ast.Name) and node.id == "at":
            return True
    return False


def is_number(node: ast.expr) -> bool:
    """Whether it is a number, or numbers and the lanes multiplied."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mult):
        return is_number(node.left) and is_number(node.right)
    return isinstance(node, ast.Constant) or (isinstance(node, ast.Name) and node.id == "LANES")


def counted(source: str) -> list[str]:
    """Where slots or counts are numbered by hand: `at.X + 3`, `workspace[row + 2 * LANES]`, `counts[4]`."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
            parts = terms(node)
            if any(map(is_slot, parts)) and any(isinstance(part, ast.Constant) for part in terms(node.right)):
                found.append(ast.unparse(node))
        if isinstance(node, ast.Subscript) and ast.unparse(node.value).endswith("counts"):
            found.append(ast.unparse(node))
        if isinstance(node, ast.Subscript) and ast.unparse(node.value) in ("workspace", "single"):
            index = [part for part in ast.walk(node.slice) if isinstance(part, ast.Name) and part.id == "LANES"]
            found += [ast.unparse(node)] * bool(index)
    return found


@pytest.mark.parametrize(
    "source",
    [
        "x = at.MID + 3",
        "x = row(at.FOIL.mix.height + 1)",
        "x = at.RANGE_PLACE.x + 3 * turn + 2",
        "x = place + at.STRIP.sea.eta + 1",
        "x = counts[4]",
        "x = structure.counts[at.FIRST + 1]",
        "x = workspace[at.POWER * LANES + lane]",
        "x = workspace[r + 6 * LANES + lane]",
        "x = workspace[LANES + lane]",
        "single[sea + LANES + lane] = 0.0",
    ],
)
def test_slots_numbered_by_hand_are_seen(source: str) -> None:
    assert counted(source)


def test_numbers_that_count_nothing_pass() -> None:
    assert not counted("x = at.PREVIEW_TICKS - 1\ny = workspace[row(at.RECENT + i) + lane] + 2.0\nz = at.RATE.u + axis")


@pytest.mark.parametrize("path", sorted({*MODEL, *READERS}), ids=lambda path: path.relative_to(SWEEP).as_posix())
def test_nobody_counts_slots(path: Path) -> None:
    assert counted(path.read_text("utf-8")) == []


def test_no_vector_of_lanes_lies_across_two_lines_of_the_cache() -> None:
    """Wherever the system places arrays: none of these is let go, so that each lies somewhere else."""
    fleet, kept = Bench(courier()).fleet, []
    for _ in range(8):
        lanes = start_lanes(fleet)
        kept += [lanes.workspace, lanes.sums, at.in_single_precision(lanes.workspace, sum(fleet.structure.strips))]
    assert {array.ctypes.data % at.CACHE_LINE for array in kept} == {0}


def test_the_counts_of_a_structure_are_those_of_its_parts() -> None:
    structure = Bench(courier()).fleet.structure._replace(foils=3, strips=(2, 4, 6))
    counts = structure.counts
    assert (counts.foils, counts.strips, counts.struts) == (3, 12, structure.struts)
    assert counts.strip_starts == (0, 2, 6, 12, 12, 12, 12)

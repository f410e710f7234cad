"""Whether the tests would notice: operators and numbers of the model changed at random places, one at a time.

    python -m tests.benchmarks.mutations [COUNT] [SEED] [NUMBER ...]

Each mutant lives in a temporary copy, where the kernels run interpreted on one lane instead of thirty-two, so that nothing is
compiled, and meets the tests that are quick enough for that: those of its own module first, then the second model and the
outside values, then all other quick ones. The first failure catches it. Survivors have passed them all; the slower tests, which
fly compiled, may still catch them. NUMBER: run only these of the mutants drawn. One line a mutant on standard output, then the
share and the survivors.
"""

from __future__ import annotations

import ast
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).parents[2]
COPIED = ("sweep", "tests", "site", "configs", "pyproject.toml")
PLACES = (
    "sweep/model/*.py",
    "sweep/insight/*.py",
    "sweep/insight/scores.py",
    "sweep/insight/limits.py",
    "sweep/insight/events.py",
)
LEFT_OUT = {"__init__.py", "layout.py", "compiled.py", "quantities.py", "probe.py"}  # names, slots and tools, no physics
LANES = 1
MOST_SECONDS = 600  # of one mutant's tests: what runs longer hangs
SLOW = 4.0  # s of the processor: a test that takes longer without a mutation is left out
PRELOADED = ("numba", "scipy.stats", "scipy.optimize", "scipy.integrate", "pandas", "pydantic", "pint", "hypothesis", "pytest")

_STATES = "tests/model/test_second_model.py::test_every_load_and_rate_is_the_same_at_random_states"
SECOND = tuple(
    f"{_STATES}[{moment}]"
    for moment in (
        "courier-flying-jonswap", "courier-hull in-flat", "courier-foils half out-regular", "courier-tumbling-flat",
        "courier-adrift-shallow", "ferry-flying-shallow",
    )
)  # fmt: skip
STATICS = "tests/model/test_second_statics.py"
CHECKS = "tests/checks/test_check_list.py"
OWN = {
    "afloat": [*SECOND, "tests/model/test_floating.py"],
    "body": [*SECOND, "tests/model/test_kinematics.py", "tests/model/test_mass.py", "tests/model/test_faults.py"],
    "block": ["tests/model/test_compiled_sea.py", "tests/model/test_noise.py"],
    "board": ["tests/model/test_board.py"],
    "builds": ["tests/insight/test_builds.py"],
    "causes": ["tests/insight/test_causes.py"],
    "contour": ["tests/insight/test_contour.py"],
    "control": ["tests/model/test_control.py", "tests/model/test_estimates.py"],
    "downwash": [*SECOND, STATICS],
    "drive": ["tests/model/test_drive.py", CHECKS, *SECOND],
    "effects": ["tests/insight/test_effects.py"],
    "elementary": ["tests/model/test_elementary.py", *SECOND],
    "estimates": ["tests/model/test_estimates.py"],
    "events": ["tests/insight/test_events.py"],
    "faults": ["tests/model/test_faults.py"],
    "fleet": ["tests/model/test_control.py", "tests/model/test_estimates.py", "tests/model/test_record.py", *SECOND, STATICS],
    "flight": ["tests/model/test_trim.py", "tests/model/test_record.py"],
    "foil": ["tests/model/test_outside_foils.py", CHECKS, *SECOND],
    "hull": ["tests/model/test_outside_hull.py", *SECOND],
    "integrate": ["tests/model/test_compiled_sea.py", *SECOND],
    "intervals": ["tests/insight/test_intervals.py", CHECKS],
    "limits": ["tests/insight/test_limits.py"],
    "mass": ["tests/model/test_mass.py", *SECOND],
    "matters": ["tests/report/pages/test_matters.py", "tests/insight/test_effects.py"],
    "nearby": ["tests/insight/test_nearby.py"],
    "noise": ["tests/model/test_noise.py"],
    "observe": ["tests/model/test_observe.py"],
    "pack_drive": ["tests/model/test_drive.py", *SECOND],
    "propeller_series": ["tests/model/test_propeller_series.py"],
    "propulsion": [CHECKS, "tests/model/test_record.py", *SECOND],
    "ranking": ["tests/insight/test_ranking.py"],
    "responses": ["tests/model/test_observe.py"],
    "robust": ["tests/insight/test_robust.py"],
    "scores": ["tests/insight/test_scores.py"],
    "sea_single": ["tests/model/test_sea_single.py"],
    "sea": ["tests/model/test_compiled_sea.py", *SECOND],
    "section": ["tests/model/test_section.py"],
    "sensors": ["tests/model/test_sensors.py", "tests/model/test_estimates.py"],
    "servo": ["tests/model/test_servo.py", CHECKS],
    "spectra": ["tests/model/test_spectra.py", CHECKS],
    "strut": ["tests/model/test_outside_foils.py", CHECKS, *SECOND],
    "tradeoffs": ["tests/insight/test_tradeoffs.py"],
    "trim": ["tests/model/test_trim.py", STATICS],
    "uneven": ["tests/flying/test_race_run.py"],
    "water": ["tests/model/test_water.py"],
    "waves": ["tests/model/test_waves.py", CHECKS],
}

SWAPS: dict[type, type] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Lt: ast.GtE, ast.Gt: ast.LtE,
    ast.LtE: ast.Gt, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
CALLS = {"min": "max", "max": "min", "sin": "cos", "cos": "sin", "minimum": "maximum", "maximum": "minimum"}


class Site(NamedTuple):
    """A place that can be mutated: file, the how-manieth of its places, line, and what becomes of it."""

    file: str
    place: int
    line: int
    change: str


class Mutator(ast.NodeTransformer):
    """Walks the places of a module in order; changes the one that is asked for, and notes them all."""

    def __init__(self, wanted: int = -1) -> None:
        self.wanted, self.places = wanted, 0
        self.found: list[tuple[int, str]] = []

    def here(self, node: ast.AST, change: str) -> bool:
        """Whether this place is the one to change."""
        self.found.append((getattr(node, "lineno", 0), change))
        self.places += 1
        return self.places - 1 == self.wanted

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        self.generic_visit(node)
        swap = SWAPS.get(type(node.op))
        if (
            swap
            and not _is_address(node)
            and self.here(node, f"{ast.unparse(node)}: {type(node.op).__name__} -> {swap.__name__}")
        ):
            node.op = swap()
        return node

    def visit_Compare(self, node: ast.Compare) -> ast.AST:
        self.generic_visit(node)
        swap = SWAPS.get(type(node.ops[0]))
        if swap and self.here(node, f"{ast.unparse(node)}: {type(node.ops[0]).__name__} -> {swap.__name__}"):
            node.ops[0] = swap()
        return node

    def visit_BoolOp(self, node: ast.BoolOp) -> ast.AST:
        self.generic_visit(node)
        if self.here(node, f"{ast.unparse(node)}: {type(node.op).__name__} -> {SWAPS[type(node.op)].__name__}"):
            node.op = SWAPS[type(node.op)]()
        return node

    def visit_Call(self, node: ast.Call) -> ast.AST:
        self.generic_visit(node)
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in CALLS and self.here(node, f"{ast.unparse(node)}: {name} -> {CALLS[name]}"):
            if isinstance(node.func, ast.Attribute):
                node.func.attr = CALLS[name]
            elif isinstance(node.func, ast.Name):
                node.func.id = CALLS[name]
        return node

    def visit_Subscript(self, node: ast.Subscript) -> ast.AST:
        node.value = self.visit(node.value)  # another slot of the workspace would be another program, not another model
        return node

    def visit_UnaryOp(self, node: ast.UnaryOp) -> ast.AST:
        if isinstance(node.op, ast.USub) and self.here(node, f"{ast.unparse(node)}: sign dropped"):
            self.generic_visit(node)
            return node.operand
        self.generic_visit(node)
        return node

    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        if isinstance(node.value, float) and self.here(node, f"{node.value} -> {_other(node.value)}"):
            return ast.copy_location(ast.Constant(_other(node.value)), node)
        return node

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        node.body = [self.visit(part) for part in node.body]
        return node

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        if node.value is not None:
            node.value = self.visit(node.value)
        return node


def _other(value: float) -> float:
    return 1.0 if value == 0.0 else value * 1.25


def _is_address(node: ast.AST) -> bool:
    """Whether this works out a slot of the workspace."""
    if isinstance(node, ast.Subscript):
        return False
    if isinstance(node, ast.Name) and node.id in ("at", "o", "column", "lane", "LANES"):
        return True
    return any(_is_address(part) for part in ast.iter_child_nodes(node))


def sites() -> list[Site]:
    """Every place of every module."""
    found = []
    for pattern in PLACES:
        for path in sorted(ROOT.glob(pattern)):
            if path.name not in LEFT_OUT:
                walker = Mutator()
                walker.visit(ast.parse(path.read_text(encoding="utf-8")))
                name = str(path.relative_to(ROOT))
                found += [Site(name, place, line, change) for place, (line, change) in enumerate(walker.found)]
    return found


def tests_of(site: Site) -> list[str]:
    """Tests of the copy in the order in which they are likely to notice."""
    return OWN.get(Path(site.file).stem, [CHECKS, *SECOND])


def copy_tree(folder: Path) -> None:
    """The program and its tests, with few lanes."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / name)
    compiled = folder / "sweep" / "model" / "compiled.py"
    compiled.write_text(compiled.read_text(encoding="utf-8").replace("LANES = 32", f"LANES = {LANES}"), encoding="utf-8")


def mutate(folder: Path, site: Site) -> None:
    """Change the copy at one place."""
    path = folder / site.file
    walker = Mutator(site.place)
    tree = walker.visit(ast.parse(path.read_text(encoding="utf-8")))
    path.write_text(ast.unparse(ast.fix_missing_locations(tree)), encoding="utf-8")


def restore(folder: Path, site: Site) -> None:
    """Put the module back."""
    shutil.copy(ROOT / site.file, folder / site.file)


def unfit_tests(folder: Path, tests: list[str]) -> list[str]:
    """Those that fail or are slow without any mutation: they need more lanes, or compiled kernels."""
    return list(dict.fromkeys(line for line in run_tests(folder, tests, (), first=False).splitlines() if line))


def run_tests(folder: Path, tests: list[str], without: Sequence[str], first: bool = True) -> str:
    """'' if they all pass, else what failed; in a child of this process, which has loaded the libraries already.

    without: tests to leave out; first: stop at the first failure. Otherwise slow tests are told too.
    """
    reader, writer = os.pipe()
    if not (child := os.fork()):
        _in_child(folder, tests, without, first, writer)
    os.close(writer)
    deadline = time.monotonic() + (MOST_SECONDS if first else 10 * MOST_SECONDS)
    while os.waitpid(child, os.WNOHANG) == (0, 0):
        if time.monotonic() > deadline:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            os.close(reader)
            return f"hangs: longer than {MOST_SECONDS} s"
        time.sleep(0.05)
    with os.fdopen(reader) as told:
        return told.read().strip()


def _too_slow(number: int, frame: object) -> None:
    raise TimeoutError(f"longer than {SLOW} s of the processor")


class Watcher:
    """Notes the tests that fail, and if asked the slow ones."""

    def __init__(self, slow: bool) -> None:
        self.slow = slow
        self.noted: list[str] = []
        self.since = time.process_time()

    def pytest_runtest_setup(self) -> None:
        """Let a test that is much too slow fail, when slow ones are looked for."""
        if self.slow:
            signal.signal(signal.SIGPROF, _too_slow)
            signal.setitimer(signal.ITIMER_PROF, 1.2 * SLOW)

    def pytest_runtest_logreport(self, report: Any) -> None:
        """A test's setup, call or end."""
        spent = time.process_time() - self.since
        self.since = time.process_time()
        if report.failed or (self.slow and spent > SLOW):
            self.noted.append(report.nodeid)
        if report.when == "teardown":
            signal.setitimer(signal.ITIMER_PROF, 0.0)

    def pytest_collectreport(self, report: Any) -> None:
        """A file that cannot be imported."""
        if report.failed:
            self.noted.append(f"{report.nodeid} (on import)")


def _in_child(folder: Path, tests: list[str], without: Sequence[str], first: bool, writer: int) -> None:
    """Run pytest, tell what was noted through the pipe, and end."""
    said = "the tests did not start"
    try:
        os.chdir(folder)
        sys.path.insert(0, str(folder))
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        import pytest

        watcher = Watcher(slow=not first)
        options = ["-q", "-p", "no:cacheprovider", "-W", "ignore", *(["-x"] if first else [])]
        code = pytest.main([*options, *(f"--deselect={name}" for name in without), *tests], plugins=[watcher])
        said = "\n".join(watcher.noted) or ("" if code == 0 else f"pytest ended with {int(code)}")
    finally:
        os.write(writer, said.encode())
        os._exit(0)


def chosen(count: int, seed: int) -> Iterator[Site]:
    """Places without repetition, drawn from all."""
    everything = sites()
    yield from random.Random(seed).sample(everything, min(count, len(everything)))


def main() -> None:
    """Draw, mutate, test, tell; survivors of their own tests meet all the others."""
    count, seed, *only = (int(text) for text in (*sys.argv[1:], *("100", "1")[len(sys.argv) - 1 :]))
    os.environ |= {"NUMBA_DISABLE_JIT": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    for name in PRELOADED:
        import_module(name)
    drawn = {number: site for number, site in enumerate(chosen(count, seed)) if not only or number in only}
    found: dict[int, str] = {}
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        copy_tree(folder)
        every = list(dict.fromkeys(test for tests in OWN.values() for test in tests))
        without = unfit_tests(folder, every)
        print(f"left out, as they fail or are slow with {LANES} lane: {', '.join(without)}", flush=True)
        for number, site in drawn.items():
            began = time.monotonic()
            mutate(folder, site)
            own = tests_of(site)
            found[number] = run_tests(folder, own, without) or run_tests(folder, [t for t in every if t not in own], without)
            restore(folder, site)
            told = found[number].partition("\n")[0] or "SURVIVED"
            print(f"{number} {site.file}:{site.line} {site.change} | {told} | {time.monotonic() - began:.0f} s", flush=True)
    survivors = [site for number, site in drawn.items() if not found[number]]
    caught = len(drawn) - len(survivors)
    print(f"{caught} of {len(drawn)} caught ({100.0 * caught / max(len(drawn), 1):.0f} %), seed {seed}")
    for site in survivors:
        print(f"survivor: {site.file}:{site.line} {site.change}")


if __name__ == "__main__":
    main()

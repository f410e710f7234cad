"""Whether the tests would notice: a program changed at random places, one at a time (`tests.benchmarks.mutants`).

    python -m tests.benchmarks.mutations [COUNT] [SEED] [--rooms ROOM ...] [--only NUMBER ...] [--table FILE]

ROOM: a room or a module, from `sweep` on, as insight or report/headline; without it the model and insight. NUMBER: run only
these of the mutants drawn. Each mutant meets the quick tests of its own module (`tests_of`); the first failure catches it. Slow
tests and those of other modules may still catch what survives.

Mutants of the model live in a copy of the program where the kernels run interpreted on one lane instead of thirty-two, so that
nothing is compiled; all others in one that flies compiled. One line a mutant on standard output, then a table of the modules
and the survivors. FILE: a CSV of all mutants.
"""

from __future__ import annotations

import argparse
import csv
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from importlib import import_module
from pathlib import Path
from time import process_time  # taken here: some tests fail whoever looks at a clock
from typing import Any, NamedTuple

import pytest

from tests.benchmarks.mutants import ROOT, Site, mutated, sites

COPIED = ("sweep", "tests", "site", "configs", "pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md")
LANES = 1
MOST_SECONDS = 600  # of one mutant's tests: what runs longer hangs
SLOW = 4.0  # s of the processor: a test that takes longer without a mutation is left out
PRELOADED = (
    "numba", "scipy.stats", "scipy.optimize", "scipy.integrate", "scipy.signal", "pandas", "pydantic", "pint", "hypothesis",
    "pytest", "altair", "jinja2", "joblib", "pyarrow", "ruamel.yaml",
)  # fmt: skip
KERNELS = ("sweep.model.flight", "sweep.model.responses", "sweep.model.probe")  # with all that they call
UNFIT = ("browser", "benchmarks", "lessons", "tows")  # folders of tests that need a browser, or minutes

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
OF_ROOM = {
    "campaign": ("tests/campaign/test_wrong_campaigns.py",),
    "campaign/text": ("tests/campaign/test_wrong_campaigns.py",),
    "report/pages": ("tests/report/pages/test_sentences.py",),
}
"""Tests that every module of a room meets."""
MORE = {
    "campaign/budget": ["tests/flying/test_race_run.py"],
    "campaign/campaign": ["tests/campaign/test_campaign.py", "tests/campaign/test_design_list.py"],
    "campaign/faults": ["tests/model/test_faults.py"],
    "campaign/follow_up_plan": ["tests/flying/test_follow_up.py"],
    "insight/findings": ["tests/insight/test_effects.py"],
    "insight/intervals": [CHECKS],
    "insight/matters": ["tests/report/pages/test_matters.py", "tests/insight/test_effects.py"],
    "insight/race": ["tests/flying/test_race_run.py"],
    "insight/uneven": ["tests/flying/test_race_run.py"],
    "model/block": ["tests/model/test_compiled_sea.py", "tests/model/test_noise.py"],
    "model/elementary": SECOND,
    "model/flight": ["tests/model/test_trim.py", "tests/model/test_record.py"],
    "model/kernels/foil_forces": ["tests/model/test_outside_foils.py", CHECKS, *SECOND],
    "model/kernels/frame": [*SECOND, "tests/model/test_kinematics.py"],
    "model/kernels/hull_forces": [*SECOND, "tests/model/test_floating.py"],
    "model/kernels/propulsion_forces": ["tests/model/test_drive.py", CHECKS, *SECOND],
    "model/kernels/rigid_body": [*SECOND, "tests/model/test_kinematics.py", "tests/model/test_mass.py"],
    "model/kernels/sea": ["tests/model/test_compiled_sea.py", *SECOND],
    "model/kernels/strut_forces": ["tests/model/test_outside_foils.py", CHECKS, *SECOND],
    "model/kernels/wakes": ["tests/model/test_wakes.py", *SECOND],
    "model/onboard/control": ["tests/model/test_estimates.py"],
    "model/onboard/sensors": ["tests/model/test_estimates.py"],
    "model/onboard/servo": [CHECKS],
    "model/pack/control": ["tests/model/test_control.py", "tests/model/test_estimates.py"],
    "model/pack/fleet": ["tests/model/test_control.py", "tests/model/test_record.py", *SECOND, STATICS],
    "model/pack/foils": [*SECOND, STATICS],
    "model/pack/mass": SECOND,
    "model/pack/propulsion": ["tests/model/test_drive.py", *SECOND],
    "model/pack/trim": [STATICS],
    "model/physics/downwash": [*SECOND, STATICS],
    "model/physics/foil": ["tests/model/test_outside_foils.py", CHECKS, *SECOND],
    "model/physics/hull": ["tests/model/test_outside_hull.py", *SECOND],
    "model/physics/propulsion": [CHECKS, "tests/model/test_record.py", *SECOND],
    "model/physics/spectra": [CHECKS],
    "model/physics/strut": ["tests/model/test_outside_foils.py", CHECKS, *SECOND],
    "model/physics/waves": [CHECKS],
    "model/responses": ["tests/model/test_observe.py"],
    "model/stepping/integrate": SECOND,
    "model/stepping/sampling": ["tests/model/test_compiled_sea.py", *SECOND],
    "model/stepping/measure": ["tests/model/test_observe.py"],
    "report/terminal": ["tests/report/test_terminal.py", "tests/report/pages/test_builds.py"],
    "results/rank_folder": ["tests/results/test_identity.py"],
    "results/shards": ["tests/results/test_store.py"],
    "results/store": ["tests/results/test_identity.py"],
    "report/headline": ["tests/words/test_words.py"],
}
"""Tests of a module besides `tests/<room>/test_<module>.py` and those of its room that import it."""


class Bench(NamedTuple):
    """A copy of the program that is mutated: where, whether its kernels are interpreted, and the tests that are unfit there."""

    folder: Path
    interpreted: bool
    without: tuple[str, ...] = ()


class Outcome(NamedTuple):
    """A mutant, and the test that caught it; '' if it survived."""

    number: int
    site: Site
    caught: str


@cache
def _tests_by_import() -> dict[str, list[str]]:
    """Files of tests by the modules of sweep that they import, as 'insight/builds'."""
    found: dict[str, list[str]] = {}
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        name = path.relative_to(ROOT).as_posix()
        if name.split("/")[1] not in UNFIT:
            text = path.read_text(encoding="utf-8")
            for dotted, names in re.findall(r"from sweep\.?([\w.]*) import ([^\n(]+)", text):
                for module in {dotted, *(f"{dotted}.{part.split(' as ')[0].strip()}" for part in names.split(","))}:
                    found.setdefault(module.strip(".").replace(".", "/"), []).append(name)
    return found


def tests_of(site: Site) -> list[str]:
    """Its own, those in `MORE` and `OF_ROOM`; a module without its own has those of its room that import it, or all that do."""
    module = site.file.removeprefix("sweep/").removesuffix(".py")
    room, _, stem = module.rpartition("/")
    top = room.partition("/")[0]
    own = [name for name in (f"tests/{room}/test_{stem}.py", f"tests/{top}/test_{stem}.py") if (ROOT / name).is_file()]
    named = [*own, *MORE.get(module, ())]
    if not named:
        importing = _tests_by_import().get(module, [])
        named = [name for name in importing if name.startswith(f"tests/{top}/")]
        named = named or ([] if room in OF_ROOM else importing)
    return list(dict.fromkeys([*named, *OF_ROOM.get(room, ())]))


def copy_tree(folder: Path, interpreted: bool) -> None:
    """The program and its tests; with few lanes where the kernels are interpreted."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / name)
    if interpreted:
        compiled = folder / "sweep" / "model" / "compiled.py"
        compiled.write_text(compiled.read_text(encoding="utf-8").replace("LANES = 32", f"LANES = {LANES}"), encoding="utf-8")


def unfit_tests(bench: Bench, tests: list[str]) -> tuple[str, ...]:
    """Those that fail or are slow without any mutation: they need more lanes, compiled kernels, or minutes."""
    return tuple(dict.fromkeys(line for line in run_tests(bench, tests, first=False).splitlines() if line))


def run_tests(bench: Bench, tests: list[str], first: bool = True) -> str:
    """'' if they all pass, else what failed; in a child of this process, which has loaded the libraries already.

    first: stop at the first failure. Otherwise slow tests are told too.
    """
    if not tests:
        return ""
    reader, writer = os.pipe()
    if not (child := os.fork()):
        _in_child(bench, tests, first, writer)
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
    raise TimeoutError("longer than a quick test of the processor's time")


class Watcher:
    """Notes the tests that fail, and if asked those slower than so many seconds of the processor."""

    def __init__(self, slow: float | None) -> None:
        self.slow = slow
        self.noted: list[str] = []
        self.since = process_time()

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_call(self) -> Iterator[None]:
        """Let a test that is much too slow fail, when slow ones are looked for."""
        if self.slow:
            signal.signal(signal.SIGPROF, _too_slow)
            signal.setitimer(signal.ITIMER_PROF, 1.2 * self.slow)
        yield
        signal.setitimer(signal.ITIMER_PROF, 0.0)

    def pytest_runtest_logreport(self, report: Any) -> None:
        """A test's setup, call or end."""
        spent = process_time() - self.since
        self.since = process_time()
        if report.failed or (self.slow and spent > self.slow):
            self.noted.append(report.nodeid)

    def pytest_collectreport(self, report: Any) -> None:
        """A file that cannot be imported."""
        if report.failed:
            self.noted.append(f"{report.nodeid} (on import)")


def _in_child(bench: Bench, tests: list[str], first: bool, writer: int) -> None:
    """Run pytest, tell what was noted through the pipe, and end."""
    said = "the tests did not start"
    try:
        os.chdir(bench.folder)
        sys.path.insert(0, str(bench.folder))
        os.environ["PYTHONPATH"] = str(bench.folder)
        _forget(bench)
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        import numba

        numba.config.DISABLE_JIT = int(bench.interpreted)
        watcher = Watcher(None if first else SLOW)
        options = ["-q", "-p", "no:cacheprovider", "-W", "ignore", *(["-x"] if first else [])]
        code = pytest.main(["-n0", *options, *(f"--deselect={name}" for name in bench.without), *tests], plugins=[watcher])
        ended = [] if code in (0, 1, 5) else [f"pytest ended with {int(code)}"]
        said = "\n".join(watcher.noted + ended)
    finally:
        os.write(writer, said.encode())
        os._exit(0)


def _forget(bench: Bench) -> None:
    """Let the program be imported anew from the copy; the compiled kernels stay, which no mutant of other rooms changes."""
    kept = {} if bench.interpreted else {name: each for name, each in sys.modules.items() if name.startswith("sweep.model")}
    for name in [name for name in sys.modules if name.partition(".")[0] in ("sweep", "tests")]:
        del sys.modules[name]
    sys.modules.update(kept)
    if kept:
        import_module("sweep").__dict__["model"] = kept["sweep.model"]


def try_all(drawn: dict[int, Site], interpreted: bool) -> Iterator[Outcome]:
    """Mutate, test and put back, one after another, in one copy."""
    with tempfile.TemporaryDirectory() as temporary:
        bench = Bench(Path(temporary), interpreted)
        copy_tree(bench.folder, interpreted)
        every = list(dict.fromkeys(test for site in drawn.values() for test in tests_of(site)))
        bench = bench._replace(without=unfit_tests(bench, every))
        print(f"left out, as they fail or are slow: {', '.join(bench.without) or 'none'}", flush=True)
        for number, site in drawn.items():
            began = time.monotonic()
            path = bench.folder / site.file
            text = path.read_text(encoding="utf-8")
            path.write_text(mutated(site, text), encoding="utf-8")
            caught = run_tests(bench, tests_of(site))
            path.write_text(text, encoding="utf-8")
            told = caught.partition("\n")[0]
            spent = time.monotonic() - began
            print(f"{number} {site.file}:{site.line} {site.change} | {told or 'SURVIVED'} | {spent:.0f} s", flush=True)
            yield Outcome(number, site, told)


def chosen(rooms: list[str], count: int, seed: int) -> list[Site]:
    """Places without repetition, drawn from all of some rooms."""
    everything = sites(rooms)
    return random.Random(seed).sample(everything, min(count, len(everything)))


def summary(found: Sequence[Outcome], seed: int) -> str:
    """How many were drawn, caught and survived of each module, and the survivors with their places."""
    drawn = Counter(each.site.file for each in found)
    survived = Counter(each.site.file for each in found if not each.caught)
    width = max(map(len, drawn), default=0)
    rows = [f"{'module':{width}}  drawn  caught  survived"]
    rows += [f"{name:{width}}  {n:5}  {n - survived[name]:6}  {survived[name]:8}" for name, n in sorted(drawn.items())]
    total, left = len(found), survived.total()
    rows += [f"{total - left} of {total} caught ({100.0 * (total - left) / max(total, 1):.0f} %), seed {seed}"]
    return "\n".join(rows + [f"survivor {n}: {site.file}:{site.line} {site.change}" for n, site, caught in found if not caught])


def write_table(path: Path, found: Sequence[Outcome]) -> None:
    """A CSV of all mutants: number, file, line, change, the test that caught it."""
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["number", "file", "line", "change", "caught by"])
        rows.writerows([each.number, each.site.file, each.site.line, each.site.change, each.caught] for each in found)


def main() -> None:
    """Draw, mutate, test, tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.mutations")
    parser.add_argument("count", nargs="?", type=int, default=100)
    parser.add_argument("seed", nargs="?", type=int, default=1)
    parser.add_argument("--rooms", nargs="+", default=["model", "insight"], metavar="ROOM")
    parser.add_argument("--only", nargs="+", type=int, default=[], metavar="NUMBER")
    parser.add_argument("--table", type=Path, metavar="FILE")
    asked = parser.parse_args()
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    sys.dont_write_bytecode = True
    for name in (*PRELOADED, *KERNELS):
        import_module(name)
    drawn = {
        n: site for n, site in enumerate(chosen(asked.rooms, asked.count, asked.seed)) if not asked.only or n in asked.only
    }
    found: list[Outcome] = []
    for interpreted in (True, False):
        mine = {number: site for number, site in drawn.items() if site.of_model == interpreted}
        found += try_all(mine, interpreted) if mine else ()
    found.sort()
    print(summary(found, asked.seed))
    if asked.table:
        write_table(asked.table, found)


if __name__ == "__main__":
    main()

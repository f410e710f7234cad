"""How the tests are run: the whole suite by one process a processor, and no test judged by the clock.

A file's tests stay together in one process, and so do the files of `TOGETHER`: what they share is then made once. The longest
begin, or one processor would wait at the end for the last of them.
"""

from __future__ import annotations

import gc
import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings
from xdist.scheduler import LoadFileScheduling

if TYPE_CHECKING:
    from xdist.remote import Producer

# As the command line does: threads of linear algebra wait busily, and what is imported is looked through again and again.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
gc.set_threshold(100_000, 20, 100)
# A first call compiles, and machines are shared.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
# What a shell has started in the background is deaf to Ctrl-C, and so is what comes of it: tests of that would wait for ever.
signal.signal(signal.SIGINT, signal.default_int_handler)

LONGEST = (
    "tests/test_house.py",
    "tests/lessons/",
    "tests/report/",
    "tests/browser/",
    "tests/preflight/",
    "tests/test_kills.py",
    "tests/test_cli.py",
    "tests/test_workflow.py",
    "tests/test_faults.py",
    "tests/test_fuzz.py",
    "tests/flying/",
    "tests/second/",
    "tests/model/test_second_model.py",
    "tests/model/test_second_statics.py",
)
"""Files and folders that take longest, in the order in which they begin."""
TOGETHER = ({"tests/report/", "tests/browser/"}, {"tests/test_cli.py", "tests/test_workflow.py"})
"""What is drawn of the same boats: what their cards fly is kept, in the process that flew it."""


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """As many processes as there are processors; none beside this one for files that are named, which so start at once."""
    named = [Path(config.invocation_params.dir, argument.split("::")[0]) for argument in config.args]
    processors = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return 0 if processors == 1 or all(path.is_file() for path in named) else processors


class LongestFirst(LoadFileScheduling):
    """Deals out files one at a time, in the order of the collection; those that stand together as if they were one."""

    def _split_scope(self, nodeid: str) -> str:
        together = (min(group) for group in TOGETHER if nodeid.startswith(tuple(group)))
        return next(together, super()._split_scope(nodeid))


def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> LongestFirst:
    """Deal out files as `LongestFirst` does, whatever `--dist` says."""
    return LongestFirst(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest files first, where several processes share the work."""
    order = {name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: next((place for name, place in order.items() if item.nodeid.startswith(name)), len(order)))


@pytest.fixture
def unpublished(monkeypatch: pytest.MonkeyPatch) -> None:
    """Runs without a site, which is most of their time."""
    monkeypatch.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")


@pytest.fixture
def undoubted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Runs that do not look at their designs in trim before they begin, which writes nothing: for tests of what comes then."""
    monkeypatch.setattr("sweep.preflight.forecast.doubts", lambda campaign: [])


@pytest.fixture
def without_design_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sites without the pages of single designs, which take most of their time: for tests that look at no such page."""
    monkeypatch.setattr("sweep.report.publishing.DESIGN_PAGES", {})

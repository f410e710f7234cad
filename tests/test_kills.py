"""A run that is killed ten times at seeded random moments: the command `kills` does it more often, and to workers."""

import random
import signal

import pytest

from tests.benchmarks.kills import ended, kill_program, start, undisturbed

KILLS = 10


@pytest.fixture(scope="module", params=["a sweep", "a sweep that settles"])
def one(request, tmp_path_factory):
    """An undisturbed run."""
    return undisturbed(tmp_path_factory.mktemp("kills"), request.param)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")
def test_a_run_that_is_killed_again_and_again_leaves_the_same_bytes(one, tmp_path):
    folder = tmp_path / "killed"
    fell = kill_program(one, folder, random.Random(1), KILLS, among=1.0, reach=1)
    assert ended(start(one.campaign, folder, site=False)) == 0
    assert one.compare(folder) == []
    assert len(fell) == KILLS

"""Runs that are killed between shards, at seeded random moments: the benchmark `kills` does it to whole runs, anywhere."""

import random
import signal

import pytest

from sweep import cli
from tests.benchmarks.kills import contents, kill_after_shards, shard_times
from tests.test_pipeline import CRAFT, SMALL, unpublished

__all__ = ["unpublished"]
SHARDS = 2 * 12


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    """A small campaign with many shards, each long enough to be killed in."""
    path = tmp_path_factory.mktemp("kills") / "small.yaml"
    text = SMALL.replace("  replicates: 2\n", "  replicates: 12\n").replace("length: 4 s", "length: 12 s")
    path.write_text(text.format(craft=CRAFT), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def whole(path):
    """What an undisturbed run leaves, and how long a shard takes, s."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("sweep.pages.publish", lambda folder: folder / "site")
        assert cli.main(["run", str(path), "--out", str(path.parent / "whole"), "--workers", "1"]) == 0
    times = shard_times(path.parent / "whole")
    assert len(times) == SHARDS
    return contents(path.parent / "whole"), (times[-1] - times[0]) / (SHARDS - 1)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")
@pytest.mark.usefixtures("unpublished")
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_killed_run_goes_on_to_the_same_bytes(path, whole, tmp_path, seed):
    expected, interval = whole
    draws = random.Random(seed)
    kept = kill_after_shards(path, tmp_path / "killed", draws.randrange(1, 8), draws.uniform(0.0, interval))
    assert 0 < kept < SHARDS
    assert not (tmp_path / "killed" / "standings.parquet").exists()
    assert cli.main(["run", str(path), "--out", str(tmp_path / "killed")]) == 0
    assert contents(tmp_path / "killed") == expected

"""What befalls a night: the command `faults` makes each fault often and prints a table; here each once, but for three."""

import random
import resource
import signal
import subprocess
import sys

import pytest

from sweep import cli
from tests.benchmarks.faults import FAULTS, ROOT, disk_full, gone_on, night, no_memory, read_only

BY_COMMAND = (disk_full, read_only, no_memory)  # they want root, or depend on how much memory libraries take
MADE_HERE = [name for name, (make, _) in FAULTS.items() if make not in BY_COMMAND]


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    """An undisturbed night."""
    return night(tmp_path_factory.mktemp("night"))


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")
@pytest.mark.parametrize("name", MADE_HERE)
def test_nothing_is_lost_and_nothing_is_wrong(one, tmp_path, name):
    told = FAULTS[name][0](one, tmp_path / "run", random.Random(name))
    assert (told.lost, told.wrong) == (0, 0), told.said


def test_a_file_that_the_disk_does_not_take_is_told(one, tmp_path, capfd):
    """A limit on the size of files stands for a disk that is full: campaigns and manifests still fit, shards do not."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    folder = tmp_path / "run"
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, hard))
    try:
        assert cli.main(["run", str(one.path), "--out", str(folder)]) == 1
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    told = capfd.readouterr().err.splitlines()[-1]
    assert told.endswith("make room, or let this folder be written to, and the same command goes on from there.")
    assert "could not be written (File too large)" in told
    assert not list((folder / "flights").glob(".*"))
    assert gone_on(one, folder, 10**6)[1:] == (0, 0)


@pytest.mark.parametrize("error", [MemoryError(), RuntimeError("can't start new thread")])
def test_too_little_memory_is_told_without_a_traceback(monkeypatch, capsys, tmp_path, error):
    def fails(asked):
        raise error

    monkeypatch.setitem(cli.ACTIONS, "publish", fails)
    assert cli.main(["publish", str(tmp_path)]) == 1
    assert capsys.readouterr().err.startswith("Not enough memory")


def test_a_folder_that_cannot_be_made_is_told(one, tmp_path, capsys):
    (tmp_path / "file").write_text("")
    assert cli.main(["run", str(one.path), "--out", str(tmp_path / "file" / "results")]) == 2
    said = capsys.readouterr().err.splitlines()[-1]
    assert said == f"--out: found the file '{tmp_path / 'file'}', wanted a folder, or a name that is free"


def test_machine_code_at_work_does_not_hold_up_ctrl_c(tmp_path):
    """It is left behind: here a digest in C, which no exception reaches for many minutes."""
    code = (
        "import hashlib, sys; from sweep import cli\n"
        "def work(asked): print('at work', flush=True); hashlib.pbkdf2_hmac('sha256', b'', b'', 2_000_000_000)\n"
        "cli.ACTIONS['publish'] = work; sys.exit(cli.main(['publish', 'x']))\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        process.stdout.readline()
        process.send_signal(signal.SIGINT)
        told = process.communicate()[1]
    assert process.returncode == 130
    assert told == "\nInterrupted.\n"

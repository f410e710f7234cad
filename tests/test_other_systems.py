"""What Windows and macOS have not, or do otherwise, by patching this system: nothing here was run on those."""

from __future__ import annotations

import errno
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from sweep import cli
from sweep.flying.progress import Progress
from sweep.logs.begin.command import _seen_from
from sweep.results import lock, plain_files, store
from sweep.results.plain_files import StoreError, write_whole
from tests.test_workflow import CRAFT, SMALL

ROOT = Path(__file__).parents[1]

AS_ON_WINDOWS = """
import os, sys, types
import altair, jinja2, joblib, llvmlite.binding, numba, numpy, pandas, pint, pyarrow.parquet, pydantic, ruamel.yaml, scipy.stats

grabbed = []
guard = types.ModuleType("msvcrt")
guard.LK_NBLCK = 2
guard.locking = lambda handle, mode, count: grabbed.append((mode, count))
sys.modules["msvcrt"], sys.modules["fcntl"] = guard, None
sys.platform = "win32"
for name in ("getuid", "fork", "fchmod", "O_NOFOLLOW", "O_NONBLOCK", "O_DIRECTORY"):
    delattr(os, name)
os.supports_dir_fd = {each for each in os.supports_dir_fd if each is not os.open}
from sweep import cli
from sweep.report import publishing
from sweep.results import held_folder

publishing.DESIGN_PAGES = {}  # which write as the others do
assert not held_folder._HANDLES
run = ["run", "small.yaml"]
for arguments in (["check", "small.yaml"], [*run, "--quiet"], run, ["publish", "results/small"]):
    assert cli.main(arguments) == 0, arguments
assert grabbed
"""


def test_a_campaign_flies_with_what_windows_has(tmp_path: Path) -> None:
    """Without folder handles, owners of files, forks, and the locks of POSIX."""
    (tmp_path / "small.yaml").write_text(SMALL.format(craft=CRAFT), encoding="utf-8")
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", AS_ON_WINDOWS], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert (tmp_path / "results" / "small" / "site" / "index.html").exists()


def test_a_reader_that_has_had_enough_is_no_error_on_windows(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def unread(_: object) -> None:
        raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setitem(cli.ACTIONS, "publish", unread)
    with open(tmp_path / "out", "w", encoding="utf-8") as out:
        monkeypatch.setattr(sys, "stdout", out)
        assert cli.main(["publish", "x"]) == cli.FAILED
        monkeypatch.setattr(sys, "platform", "win32")
        assert cli.main(["publish", "x"]) == cli.DONE


@pytest.mark.parametrize(("system", "held", "written"), [("win32", 3, True), ("win32", 99, False), ("linux", 1, False)])
def test_a_file_that_a_virus_guard_holds_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, system: str, held: int, written: bool
) -> None:
    replace, tries = os.replace, []

    def guarded(*paths: str, **handles: int | None) -> None:
        tries.append(paths)
        if len(tries) <= held:
            raise PermissionError(errno.EACCES, "Access is denied")
        replace(*paths, **handles)

    monkeypatch.setattr(os, "replace", guarded)
    monkeypatch.setattr(sys, "platform", system)
    monkeypatch.setattr(plain_files, "PAUSE", 0.0)
    if written:
        write_whole(tmp_path / "table", b"rows")
        assert (tmp_path / "table").read_bytes() == b"rows"
    else:
        with pytest.raises(StoreError, match="could not be written"):
            write_whole(tmp_path / "table", b"rows")
        assert len(tries) == (plain_files.TRIES if system == "win32" else 1)
    assert [path.name for path in tmp_path.iterdir()] == (["table"] if written else [])


def test_a_console_of_windows_gets_no_escape_codes(monkeypatch: pytest.MonkeyPatch) -> None:
    class Console(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("COLUMNS", "30")
    console = Console()
    progress = Progress(console, clock=lambda: 0.0)
    progress.begin(10, 0, 1.0)
    progress.say("Wait.")
    assert "\x1b" not in console.getvalue()
    assert console.getvalue().endswith("\r" + 29 * " " + "\rWait.\n")


def test_a_log_on_another_drive_is_named_whole(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert _seen_from(tmp_path / "mapping.yaml", tmp_path / "logs" / "a.csv") == "logs/a.csv"

    def no_way(path: Path, start: Path) -> str:
        raise ValueError("path is on mount 'D:', start on mount 'C:'")

    monkeypatch.setattr(os.path, "relpath", no_way)
    assert _seen_from(tmp_path / "mapping.yaml", tmp_path / "a.csv") == (tmp_path / "a.csv").as_posix()


@pytest.mark.parametrize("code", [errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOLCK])
def test_a_disk_without_locks_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, code: int) -> None:
    def refused(handle: int) -> None:
        raise OSError(code, "Operation not supported")

    monkeypatch.setattr(lock, "_grab", refused)
    with pytest.raises(StoreError, match="its disk knows no locks"), store.locked(tmp_path):
        pass

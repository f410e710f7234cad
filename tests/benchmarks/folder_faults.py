"""Lines of the table of `faults` on what a folder holds besides a run's own files, and on what comes after the flights."""

from __future__ import annotations

import contextlib
import io
import os
import random
import resource
import shutil
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from unittest import mock

from sweep import cli, workflow
from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.follow_up_plan import plan_tail
from sweep.flying import follow_up
from sweep.flying.flights import warm_up
from sweep.flying.heats import Heats
from sweep.flying.work import Work
from sweep.report import publishing
from sweep.results import store
from sweep.results.rank_folder import _rank_tables
from sweep.results.site_folder import WRITTEN, write_site
from tests.benchmarks.faults import ROOT, Ears, Night, Told, ended, gone_on, remount, small_disk

OUTSIDE = b"nobody's business\n"
PLACES = (".lock", "manifest.json", "campaign.yaml", "standings.parquet", "flights/SHA256SUMS", "flights/part-00003.parquet")
FOREIGN = {"photos/boat.jpg": "a boat", ".git/HEAD": "a branch", "data/mine.csv": "1,2", "robots.txt": "none"}
STAGES = ("record_leaders", "explain_troubles", "map_rides", "try_changes", "pages")


def _plug(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as end:
        end.bind(os.path.relpath(path))


def _huge(path: Path) -> None:
    with open(path, "wb") as file:
        file.truncate(10**12)


def no_file(one: Night, folder: Path, draws: random.Random) -> Told:
    """A link, a pipe, a socket, a device or a terabyte in the place of a file: every command refuses, then all goes on."""
    one.copy(folder)
    letter, path = folder.with_name(f"{folder.name}.letter"), folder / draws.choice(PLACES)
    letter.write_bytes(OUTSIDE)
    kept = path.read_bytes() if path.exists() else None
    path.unlink(missing_ok=True)
    makers: list[Callable[[], object]] = [
        lambda: path.symlink_to(letter),
        lambda: path.symlink_to(folder / "nowhere"),
        lambda: os.mkfifo(path),
        lambda: _plug(path),
        lambda: _huge(path),
        lambda: os.mknod(path, stat.S_IFCHR | 0o600, os.makedev(1, 5)),
    ]
    draws.choice(makers)()
    said, wrong = "", 0
    for command in (["rank", str(folder)], ["publish", str(folder)], ["run", str(one.path), "--out", str(folder)]):
        heard = io.StringIO()
        with contextlib.redirect_stderr(heard), contextlib.redirect_stdout(heard):
            wrong += cli.main(command) != cli.FAILED
        said = heard.getvalue()
        wrong += "which no run leaves" not in said
    path.unlink()
    if kept is not None:
        path.write_bytes(kept)
    told = gone_on(one, folder, 0)
    return Told(said, told.lost, told.wrong + wrong + (letter.read_bytes() != OUTSIDE))


def other_things(one: Night, folder: Path, draws: random.Random) -> Told:
    """--out on a folder of other things: it is left as it was, to its times."""
    folder.mkdir()
    for name, text in FOREIGN.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text)
    before = {path: path.stat().st_mtime_ns for path in (folder, *folder.rglob("*"))}
    heard = io.StringIO()
    with contextlib.redirect_stderr(heard):
        code = cli.main(["run", str(one.path), "--out", str(folder)])
    same = {path: path.stat().st_mtime_ns for path in (folder, *folder.rglob("*"))} == before
    return Told(heard.getvalue(), 0, (code != cli.FAILED) + (not same) + ("not a results folder" not in heard.getvalue()))


def exchange_for_ever(folder: Path) -> None:
    """Write sites, each of its own number, into a folder until one is killed."""
    number = 0
    while True:
        number += 1
        write_site(folder, {f"{name}": str(number) for name in ("index.html", "parts/style.css", "data/designs.js")})


def killed_in_exchange(one: Night, folder: Path, draws: random.Random) -> Told:
    """SIGKILL among exchanges of a site, or of the web root that it links to, with others' files in it; then one more."""
    folder.mkdir()
    if draws.random() < 0.5:
        root = folder.with_name(f"{folder.name}.www")
        root.mkdir()
        (folder / "site").symlink_to(root)
    write_site(folder, {"index.html": "0"})
    for name, text in FOREIGN.items():
        (folder / "site" / name).parent.mkdir(exist_ok=True)
        (folder / "site" / name).write_text(text)
    command = [sys.executable, "-c", "import sys; from pathlib import Path; from tests.benchmarks.folder_faults import *; "]
    command[-1] += "print('ready', flush=True); exchange_for_ever(Path(sys.argv[1]))"
    with subprocess.Popen([*command, str(folder)], cwd=ROOT, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(draws.uniform(0.0, 0.3))
        process.send_signal(signal.SIGKILL)
    site = (folder / "site").resolve()
    sites = [path for path in site.parent.iterdir() if path == site or path.name.startswith(".site.")]
    lost = sum(sum((each / name).exists() for each in sites) != 1 for name in FOREIGN)
    with store.locked(folder):
        write_site(folder, {"index.html": "last"})
    held = {path.relative_to(site).as_posix(): path.read_text() for path in site.rglob("*") if path.is_file()}
    held.pop(WRITTEN)
    left = [path.name for path in (*folder.iterdir(), *site.parent.iterdir()) if path.name.startswith(".site")]
    return Told(f"{left}", lost, (held != FOREIGN | {"index.html": "last"}) + bool(left))


def ranked_read_only(one: Night, folder: Path, draws: random.Random) -> Told:
    """A tmpfs mounted read-only: `rank` prints the standings."""
    with small_disk(folder, 10_000):
        shutil.copytree(one.whole, folder, dirs_exist_ok=True)
        remount(folder, "ro")
        told, printed = io.StringIO(), io.StringIO()
        with contextlib.redirect_stderr(told), contextlib.redirect_stdout(printed):
            code = cli.main(["rank", str(folder), "--csv", "-"])
        remount(folder, "rw")
        after_it = gone_on(one, folder, 0)
    rows = len(printed.getvalue().splitlines()) - 1
    wrong = (code != 0) + (rows != 5) + ("cannot be written to" not in told.getvalue())
    return Told(told.getvalue(), after_it.lost, after_it.wrong + wrong)


def short_after(one: Night, folder: Path, draws: random.Random) -> Told:
    """A limit on memory that recording, causes, map, changes or pages reach."""
    one.copy(folder)
    more = draws.choice((draws.randrange(0, 100_000_000), draws.randrange(0, 3_000_000_000)))
    command = [
        sys.executable,
        "-m",
        "tests.benchmarks.folder_faults",
        draws.choice(STAGES),
        str(more),
        str(one.path),
        str(folder),
    ]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as process:
        words = ended(process)
    clear = process.returncode == 0 or (process.returncode == cli.FAILED and "Not enough memory" in words)
    for path in (folder / "leaders", folder / "site"):
        shutil.rmtree(path, ignore_errors=True)
    for name in ("rides", "changes", "troubles", "moments"):
        (folder / f"{name}.parquet").unlink(missing_ok=True)
    told = gone_on(one, folder, 0)
    wrong = told.wrong + (not clear) + ("Traceback" in words)
    return Told(f"{command[3:5]} {process.returncode} {words[-500:]}", told.lost, wrong)


def stage_short(stage: str, more: str, path: str, folder: str) -> int:
    """A stage of what follows the flights, with so many bytes beyond what this process has; told of as by `run`."""

    def act(asked: object) -> None:
        campaign = load_campaign(path)
        usual = load_campaign(ROOT / "configs" / "courier-chop.yaml").map
        assert usual is not None
        campaign = campaign.model_copy(update={"map": usual.model_copy(update={"asked": False})})
        designs, conditions = lay_out(campaign), list_conditions(campaign)
        work = Work(campaign, designs, conditions, 2, Ears())
        ranked, tail = _rank_tables(campaign, Path(folder))[0], plan_tail(campaign, len(designs), len(conditions))
        warm_up(campaign, designs, conditions)
        taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (taken + int(more), resource.RLIM_INFINITY))
        if stage == "pages":
            publishing.publish_locked(folder)
        elif stage == "try_changes":
            follow_up.try_changes(work, Path(folder), ranked, tail, Heats(work, Path(folder), set()))
        else:
            getattr(follow_up, stage)(work, Path(folder), workflow.choose_leaders(ranked.standings), tail)

    with mock.patch.dict(cli.ACTIONS, run=act):
        return cli.main(["run", path, "--out", folder])


def crowd(one: Night, folder: Path, draws: random.Random) -> Told:
    """A run with 20 000 workers."""
    ears = Ears()
    with mock.patch.object(workflow, "follow"), mock.patch.object(publishing, "publish_locked"):
        workflow.run(load_campaign(one.path), folder, workers=20_000, watcher=ears)
    said = " ".join(ears.said)
    told = gone_on(one, folder, 0)
    return Told(said, told.lost, told.wrong + ("20000 workers were asked for" not in said))


FOLDER_FAULTS: dict[str, tuple[Callable[[Night, Path, random.Random], Told], str]] = {
    "no file in a file's place": (no_file, "a link, a pipe, a socket, a device or a terabyte; `rank`, `publish`, `run`"),
    "a folder of other things": (other_things, "--out on photographs and a repository"),
    "a kill in the exchange of a site": (killed_in_exchange, "SIGKILL among exchanges, of a folder or a linked web root"),
    "a read-only disk, ranked": (ranked_read_only, "a tmpfs mounted read-only; `rank`"),
    "too little memory after the flights": (short_after, "RLIMIT_AS up to 3 GB over what it has, in each stage and the pages"),
    "20 000 workers": (crowd, "asked for on a computer of a few processors"),
}

if __name__ == "__main__":
    sys.exit(stage_short(*sys.argv[1:]))

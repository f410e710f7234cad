"""What befalls a night: each fault made at seeded random places, then the same command again. Is anything lost, or wrong?

    python -m tests.benchmarks.faults [TIMES] [SEED] [NAME]

Prints its table for RESULTS.md, or those of its lines that have NAME in them. Lost: flights that were flown again though a
sound shard held them, or a run that did not go on. Wrong: tables that differ from an undisturbed run's in a byte, a traceback,
or no word of what happened. A full or a read-only disk is a small tmpfs, for which the command must be root; without that the
two lines say so.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple
from unittest import mock

from sweep import workflow
from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import lay_out
from sweep.flying.cluster import on_cluster
from sweep.flying.flights import trial_flight, warm_up
from sweep.flying.progress import Watcher
from sweep.flying.work import Work
from sweep.results import store
from sweep.results.claim import begin
from sweep.results.rank_folder import rank
from tests.benchmarks.kills import contents, kept

ROOT = Path(__file__).parents[2]
CRAFT = ROOT / "configs" / "craft" / "courier.yaml"
CAMPAIGN = f"""\
title: A short night
craft: {CRAFT}
factors:
  foils.*.area: [40 cm^2, 60 cm^2]
  struts.height: [16 cm, 20 cm]
conditions:
  seas: {{chop: {{kind: jonswap, height: 4 cm, period: 1 s}}}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: 6
flight: {{length: 4 s, settle: 1 s, seed: 3}}
fly_on: none
limits: {{touchdowns: 60 /min, upsets: 80 %}}
score: {{ride_height_error: {{scale: 1 cm}}}}
map: {{speeds: 4 m/s, heights: 4 cm, headings: head, replicates: 0}}
"""
SHARDS = 2 * 6
HANGS = 120.0
"""Seconds after which a run of a few counts as hung."""
TABLES = ("designs", "conditions", "standings", "limits", "effects")


class Told(NamedTuple):
    """What one fault led to: the words that a person saw, and what is lost and wrong."""

    said: str
    lost: int
    wrong: int


class Ears(Watcher):
    """Keeps what it is told."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.flights = 0

    def say(self, sentence: str) -> None:
        """Keep a sentence."""
        self.said.append(sentence)

    def flown(self, flights: int) -> None:
        """Count flights."""
        self.flights += flights


class Night(NamedTuple):
    """A campaign's file, an undisturbed results folder of it, and that folder's contents."""

    path: Path
    whole: Path
    expected: dict[str, str]

    def copy(self, to: Path) -> Path:
        """The undisturbed folder again."""
        shutil.copytree(self.whole, to)
        return to


def trial(path: str) -> Callable[[], bytes]:
    """What workers of a cluster must fly as this machine does."""
    campaign = load_campaign(path)
    return trial_flight(campaign, lay_out(campaign), list_conditions(campaign))


def fly(path: Path, folder: Path, ears: Ears, workers: int | None = 1) -> None:
    """Flights and standings of a campaign: what a night makes, without map and site."""
    campaign = load_campaign(path)
    designs, conditions = lay_out(campaign), list_conditions(campaign)
    folder.mkdir(exist_ok=True)
    with store.locked(folder):
        ears.said += begin(folder, campaign, with_costs(campaign, designs), conditions)
        workflow.fly_missing(Work(campaign, designs, conditions, workers, ears), folder)
    rank(folder)


def night(place: Path) -> Night:
    """A campaign flown without a fault."""
    path = place / "night.yaml"
    path.write_text(CAMPAIGN, encoding="utf-8")
    fly(path, place / "whole", Ears())
    return Night(path, place / "whole", left(place / "whole"))


def left(folder: Path) -> dict[str, str]:
    """Digests of what a folder holds of its own campaign: not of what was set aside."""
    return {
        name: digest
        for name, digest in contents(folder).items()
        if not name.endswith((".torn", ".other")) and "earlier" not in Path(name).parts
    }


def gone_on(one: Night, folder: Path, reflown: int) -> Told:
    """Run again, and compare; reflown: how many flights that may fly."""
    ears = Ears()
    fly(one.path, folder, ears)
    return Told(" ".join(ears.said), int(ears.flights > reflown), int(left(folder) != one.expected))


def told_and_gone_on(one: Night, folder: Path, words: str, reflown: int) -> Told:
    """A run that must fail in these words; then as `gone_on`."""
    try:
        fly(one.path, folder, Ears())
    except (store.StoreError, OSError) as error:
        said = str(error)
    else:
        said = ""
    after = gone_on(one, folder, reflown)
    return Told(said, after.lost, after.wrong + (words not in said))


def damage(path: Path, draws: random.Random) -> None:
    """Truncate a file, flip a bit of it, fill a sector with zeros, or empty it."""
    content = bytearray(path.read_bytes())
    place = draws.randrange(len(content))
    kind = draws.randrange(4)
    if kind == 0:
        content = content[:place]
    elif kind == 1:
        content[place] ^= 1 << draws.randrange(8)
    elif kind == 2:
        content[place : place + 512] = bytes(len(content[place : place + 512]))
    else:
        content = bytearray()
    path.write_bytes(content)


def some_shard(folder: Path, draws: random.Random) -> Path:
    """One of the shards."""
    return draws.choice(sorted((folder / "flights").glob("part-*.parquet")))


def torn_shard(one: Night, folder: Path, draws: random.Random) -> Told:
    """A shard truncated, with a bit flipped, a sector of zeros, or empty."""
    shard = some_shard(one.copy(folder), draws)
    before = shard.read_bytes()
    damage(shard, draws)
    same = shard.read_bytes() == before
    told = gone_on(one, folder, 5)
    return told._replace(wrong=told.wrong + (not same and "damaged" not in told.said))


def missing_shard(one: Night, folder: Path, draws: random.Random) -> Told:
    """A shard deleted."""
    some_shard(one.copy(folder), draws).unlink()
    return gone_on(one, folder, 5)


def damaged_sums(one: Night, folder: Path, draws: random.Random) -> Told:
    """The list of checksums damaged: shards without a line are flown again."""
    damage(one.copy(folder) / "flights" / "SHA256SUMS", draws)
    return gone_on(one, folder, 5 * SHARDS)


def damaged_manifest(one: Night, folder: Path, draws: random.Random) -> Told:
    """The manifest damaged or deleted: what was flown is known by its keys."""
    path = one.copy(folder) / "manifest.json"
    damage(path, draws) if draws.random() < 0.8 else path.unlink()
    return gone_on(one, folder, 0)


def damaged_table(one: Night, folder: Path, draws: random.Random) -> Told:
    """A table beside the flights damaged: `rank` tells or is right, and a run makes it again."""
    damage(one.copy(folder) / f"{draws.choice(TABLES)}.parquet", draws)
    with contextlib.suppress(store.StoreError):
        rank(folder)
    return gone_on(one, folder, 0)


def second_run(one: Night, folder: Path, draws: random.Random) -> Told:
    """A second run while another holds the folder."""
    some_shard(one.copy(folder), draws).unlink()
    with store.locked(folder):
        try:
            fly(one.path, folder, Ears())
        except store.StoreError as error:
            said = str(error)
    told = gone_on(one, folder, 5)
    return told._replace(said=said, wrong=told.wrong + (f"in use by process {os.getpid()}" not in said))


def stale_lock(one: Night, folder: Path, draws: random.Random) -> Told:
    """The lock file of a process that is gone, or of nobody."""
    some_shard(one.copy(folder), draws).unlink()
    (folder / ".lock").write_text(draws.choice(["process 4 on elsewhere\n", "", "\0\0\0", "process"]), encoding="utf-8")
    return gone_on(one, folder, 5)


def clock_back(one: Night, folder: Path, draws: random.Random) -> Told:
    """Every look at a clock gives an earlier time than the one before."""
    times = iter(range(10_000_000, 0, -draws.randrange(1, 50)))
    days = (f"{year:04}-01-01T00:00:00+00:00" for year in range(2030, 1, -1))
    with (
        mock.patch("sweep.results.manifest.now", side_effect=days),
        mock.patch("sweep.flying.full_run.time", mock.Mock(monotonic=lambda: float(next(times)))),
    ):
        return gone_on(one, folder, 5 * 5 * SHARDS)


@contextlib.contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[None]:
    """A disk of its own for a folder; raises PermissionError where that is not allowed."""
    folder.mkdir()
    options = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)]
    if subprocess.run(options, capture_output=True, check=False).returncode:
        raise PermissionError("needs root")
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def remount(folder: Path, option: str) -> None:
    """Change how the disk is mounted."""
    subprocess.run(["mount", "-o", f"remount,{option}", str(folder)], check=True)


def disk_full(one: Night, folder: Path, draws: random.Random) -> Told:
    """A disk that fills up at some point of the run; then there is room."""
    size = sum(path.stat().st_size for path in one.whole.rglob("*") if path.is_file()) // 1024
    with small_disk(folder, draws.randrange(8, size)):
        try:
            fly(one.path, folder, Ears())
            said = ""
        except (store.StoreError, OSError) as error:
            said = str(error)
        held = sum(1 for _ in store.whole_shards(folder / "flights"))
        remount(folder, f"size={size * 10}k")
        told = gone_on(one, folder, 5 * (SHARDS - held))
    return told._replace(said=said, wrong=told.wrong + ("No space left" not in said))


def read_only(one: Night, folder: Path, draws: random.Random) -> Told:
    """A disk that takes no writing; then it does."""
    with small_disk(folder, 10_000):
        shutil.copytree(one.whole, folder, dirs_exist_ok=True)
        some_shard(folder, draws).unlink()
        remount(folder, "ro")
        try:
            fly(one.path, folder, Ears())
            said = ""
        except (store.StoreError, OSError) as error:
            said = str(error)
        remount(folder, "rw")
        told = gone_on(one, folder, 5)
    return told._replace(said=said, wrong=told.wrong + ("Read-only file system" not in said))


def heed_interrupts() -> None:
    """Have processes that are started from now on heed Ctrl-C: what a shell has started in the background is deaf to it, and so
    is all that comes of it.
    """
    signal.signal(signal.SIGINT, signal.default_int_handler)


def started(one: Night, folder: Path, *options: str) -> subprocess.Popen[bytes]:
    """A run in a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.faults", "--fly", str(one.path), str(folder), *options]
    return subprocess.Popen(
        command, env=os.environ | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd=ROOT
    )


def ended(process: subprocess.Popen[bytes]) -> str:
    """The last words of a run, which is killed if it has none for long."""
    try:
        return process.communicate(timeout=HANGS)[1].decode()
    except subprocess.TimeoutExpired:
        process.kill()
        return f"Traceback of a run that hung: {process.communicate()[1].decode()}"


def wait_for_shards(process: subprocess.Popen[bytes], folder: Path, draws: random.Random) -> None:
    """Wait for a random moment after the first shard."""
    wanted = draws.randrange(1, SHARDS)
    while process.poll() is None and sum(1 for _ in (folder / "flights").glob("part-*.parquet")) < wanted:
        time.sleep(0.001)
    time.sleep(draws.uniform(0.0, 0.05))


def kept_waiting() -> float:
    """Seconds, so far, in which something on this machine waited for a processor; 0 where the system does not count them."""
    try:
        return int(Path("/proc/pressure/cpu").read_text().split("total=", 1)[1].split()[0]) / 1e6
    except (OSError, IndexError):
        return 0.0


class After(NamedTuple):
    """What a sign led to: whether the run was among its flights then, its exit code, seconds to its end, and last words."""

    flying: bool
    code: int
    seconds: float
    words: str


def after_some_shards(one: Night, folder: Path, draws: random.Random, sign: int) -> After:
    """Send a sign at a random moment after the first shard.

    Of the seconds those do not count in which something waited for a processor: on a busy machine they are no one's fault.
    """
    with started(one, folder) as process:
        wait_for_shards(process, folder, draws)
        flying, begun, waited = kept(folder) < SHARDS, time.monotonic(), kept_waiting()
        process.send_signal(sign)
        words = ended(process)
    return After(flying, process.returncode, time.monotonic() - begun - (kept_waiting() - waited), words)


def killed(one: Night, folder: Path, draws: random.Random) -> Told:
    """SIGKILL at a random moment of the flights."""
    after_some_shards(one, folder, draws, signal.SIGKILL)
    held = sum(1 for _ in store.whole_shards(folder / "flights"))
    return gone_on(one, folder, 5 * (SHARDS - held))


def interrupted(one: Night, folder: Path, draws: random.Random) -> Told:
    """Ctrl-C at a random moment of the flights: exit 130 within two seconds, and how to go on."""
    after = after_some_shards(one, folder, draws, signal.SIGINT)
    held = sum(1 for _ in store.whole_shards(folder / "flights"))
    told = gone_on(one, folder, 5 * (SHARDS - held))
    told_how = after.code == 130 and "the same command goes on" in after.words and "Traceback" not in after.words
    sound = told_how or (after.code == 0 and not after.flying)
    return told._replace(said=f"{after}", wrong=told.wrong + (not sound) + (after.seconds > 2.0))


def taken_away(one: Night, folder: Path, draws: random.Random, replace: bool = False) -> Told:
    """The folder moved away at a random moment of the flights; replace: with somebody's results put in its place."""
    moved = folder.with_name(f"{folder.name}-moved")
    with started(one, folder) as process:
        wait_for_shards(process, folder, draws)
        flying = kept(folder) < SHARDS
        folder.rename(moved)
        if replace:
            shutil.copytree(one.whole, folder)
            (folder / "campaign.yaml").write_text("title: somebody's\n", encoding="utf-8")
        before = everything(folder)
        words = ended(process)
    held = sum(1 for _ in store.whole_shards(moved / "flights"))
    touched = int(everything(folder) != before)
    shutil.rmtree(folder, ignore_errors=True)
    moved.rename(folder)
    told = gone_on(one, folder, 5 * (SHARDS - held))
    silent = flying and "was moved away or replaced while this ran" not in words
    return told._replace(said=words, wrong=told.wrong + touched + int(silent) + ("Traceback" in words))


def replaced(one: Night, folder: Path, draws: random.Random) -> Told:
    """The folder moved away in mid-run, and somebody's results put in its place: nothing of them is touched."""
    return taken_away(one, folder, draws, replace=True)


def everything(folder: Path) -> dict[str, bytes]:
    """All files of a folder and what is in them."""
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()} if folder.exists() else {}


def copied(one: Night, folder: Path, draws: random.Random) -> Told:
    """The folder copied file by file in mid-run: the copy and the original each go on by themselves."""
    copy = folder.with_name(f"{folder.name}-copy")
    with started(one, folder) as process:
        wait_for_shards(process, folder, draws)
        shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("*.unfinished"))
        words = ended(process)
    held = sum(1 for _ in store.whole_shards(copy / "flights"))
    told, other = gone_on(one, folder, 0), gone_on(one, copy, 5 * (SHARDS - held))
    wrong = told.wrong + other.wrong + ("Traceback" in words) + (process.returncode != 0)
    return Told(f"{words} {other.said}", told.lost + other.lost, wrong)


def foreign_shard(one: Night, folder: Path, draws: random.Random) -> Told:
    """A shard of another place in the table, listed with its checksum: known by its content, and flown again."""
    one.copy(folder)
    here, there = draws.sample(sorted((folder / "flights").glob("part-*.parquet")), 2)
    sums = folder / "flights" / store.SUMS
    lines = dict(reversed(line.split("  ")) for line in sums.read_text(encoding="ascii").splitlines())
    lines[here.name] = lines[there.name]
    sums.write_text("".join(f"{checksum}  {name}\n" for name, checksum in lines.items()), encoding="ascii")
    here.write_bytes(there.read_bytes())
    told = gone_on(one, folder, 5)
    return told._replace(wrong=told.wrong + ("of other flights than these" not in told.said))


EDITS = (
    ("height: 4 cm, period", "height: 9 cm, period"),
    ("length: 4 s", "length: 40 s"),
    ("[40 cm^2, 60 cm^2]", "[40 cm^2, 50 cm^2, 60 cm^2]"),
    ("replicates: 6", "replicates: 7"),
    ("[head, following]", "[head, beam]"),
)


def edited(one: Night, folder: Path, draws: random.Random) -> Told:
    """The campaign of the folder edited: `rank` refuses it, with what differs; undone, nothing is flown again."""
    path = one.copy(folder) / "campaign.yaml"
    text, (old, new) = path.read_text(encoding="utf-8"), draws.choice(EDITS)
    path.write_text(text.replace(old, new), encoding="utf-8")
    before, said = everything(folder), ""
    try:
        rank(folder)
    except store.ChangedCampaignError as error:
        said = str(error)
    touched = int(everything(folder) != before)
    path.write_text(text, encoding="utf-8")
    told = gone_on(one, folder, 0)
    return told._replace(said=said, wrong=told.wrong + touched + ("What differs" not in said))


def no_memory(one: Night, folder: Path, draws: random.Random) -> Told:
    """A limit on memory that the flights reach at some point."""
    with started(one, folder, str(draws.randrange(0, 24_000_000))) as process:
        words = ended(process)
    folder.mkdir(exist_ok=True)
    told = gone_on(one, folder, 5 * SHARDS)
    clear = process.returncode == 0 or "Not enough memory" in words
    return told._replace(said=words, wrong=told.wrong + (not clear) + ("Traceback" in words))


FAULTS: dict[str, tuple[Callable[[Night, Path, random.Random], Told], str]] = {
    "the program killed": (killed, "SIGKILL at a random moment of the flights"),
    "Ctrl-C": (interrupted, "SIGINT at a random moment; exit 130 within 2 s, with a word how to go on"),
    "the folder moved away": (taken_away, "at a random moment of the flights; then back"),
    "the folder replaced": (replaced, "moved away, and somebody's results in its place"),
    "the folder copied": (copied, "file by file in mid-run; both go on"),
    "a shard of other flights": (foreign_shard, "in the place of another, with its checksum"),
    "an edit of what was flown": (edited, "sea, length, levels, replicates or headings; `rank`, then undone"),
    "a torn shard": (torn_shard, "truncated, a bit flipped, a sector of zeros, or emptied"),
    "a missing shard": (missing_shard, "deleted"),
    "a damaged list of checksums": (damaged_sums, "as a torn shard"),
    "a damaged manifest": (damaged_manifest, "as a torn shard, or deleted"),
    "a damaged table": (damaged_table, "as a torn shard; `rank`, then the run again"),
    "a full disk": (disk_full, "a tmpfs of 8 kB up to nearly enough, then enlarged"),
    "a read-only disk": (read_only, "a tmpfs mounted read-only, then not"),
    "a clock that goes back": (clock_back, "every look at a clock gives an earlier time"),
    "too little memory": (no_memory, "RLIMIT_AS up to 24 MB over what the program has before its flights"),
    "a second run on the folder": (second_run, "while the lock is held"),
    "a stale lock": (stale_lock, "the lock file of a process that is gone, or garbage"),
}


def fly_apart(path: str, folder: str, more: str = "", address: str = "") -> int:
    """A run in this process, told of as the command line tells; more: bytes that it may take beyond what it has.

    address: of a cluster's scheduler.
    """
    from sweep import cli

    def act(asked: object) -> None:
        if more:
            campaign = load_campaign(path)
            warm_up(campaign, lay_out(campaign), list_conditions(campaign))
            taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
            resource.setrlimit(resource.RLIMIT_AS, (taken + int(more), resource.RLIM_INFINITY))
        with on_cluster(address or None, lambda: trial(path)):
            fly(Path(path), Path(folder), Ears(), workers=None if address else 1)

    with mock.patch.dict(cli.ACTIONS, run=act):
        return cli.main(["run", path, "--out", folder])


def main() -> None:
    """Make every fault so often and print the table."""
    if sys.argv[1:2] == ["--fly"]:
        sys.exit(fly_apart(*sys.argv[2:]))
    times, seed = (int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 10), (2, 1)))
    from tests.benchmarks.cluster_faults import CLUSTER_FAULTS
    from tests.benchmarks.folder_faults import FOLDER_FAULTS

    heed_interrupts()
    chosen = {
        name: fault
        for name, fault in (FAULTS | FOLDER_FAULTS | CLUSTER_FAULTS).items()
        if len(sys.argv) <= 3 or sys.argv[3] in name
    }
    bad = 0
    with tempfile.TemporaryDirectory() as place:
        one = night(Path(place))
        print("| fault | how it was made | times | lost | wrong |\n|---|---|---|---|---|")
        for name, (make, how) in chosen.items():
            lost = wrong = made = 0
            draws, note = random.Random(f"{seed} {name}"), io.StringIO()
            for number in range(times):
                try:
                    told = make(one, Path(place) / f"{make.__name__}-{number}", draws)
                except PermissionError as error:
                    how = f"not made: {error}"
                    break
                made, lost, wrong = made + 1, lost + told.lost, wrong + told.wrong
                if told.lost or told.wrong:
                    print(f"{name} {number}: {told}", file=note)
            print(f"| {name} | {how} | {made} | {lost} | {wrong} |", flush=True)
            print(note.getvalue(), end="", file=sys.stderr)
            bad += lost + wrong
    sys.exit(bad > 0)


if __name__ == "__main__":
    main()

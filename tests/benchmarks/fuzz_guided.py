"""Files that are changed towards what the readers have not done before: is each read, or refused in words, and nothing else?

    python -m tests.benchmarks.fuzz_guided [SECONDS] [SEED] [KIND]

Wants atheris, which no other command does: `pip install atheris`. For SECONDS each kind of file of `fuzz` is changed, from the
shipped ones on, by libFuzzer and by the changes of `fuzz` in turn; what takes the readers along a new branch is kept and
changed further. Findings are printed once each and do not stop it. Branches: how many the sound files take, and how many the
changed ones have. Results folders are changed as `fuzz_steered` says.
"""

from __future__ import annotations

import importlib.util
import json
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
READERS = ["sweep.campaign", "sweep.logs"]
FOLDER_READERS = [
    f"sweep.{name}"
    for name in (
        *("forms", "values", "whole", "shards", "store", "identity", "content", "unfinished", "pipeline", "plain_files"),
        *("limits", "scores", "findings", "insight", "accounts.logs", "campaign"),
    )
]
KINDS = ("campaigns", "crafts", "polars", "designs", "mappings", "logs", "folders")
LONGEST = 60_000  # bytes
COVERED = re.compile(r"\bcov: (\d+)")


class Fuzzed(NamedTuple):
    """What is fuzzed: sound contents, what comes of one, and another content made of one."""

    sound: list[bytes]
    came_of: Callable[[bytes], str]
    mutate: Callable[[bytes, random.Random], bytes]


def _files(kind: str, place: Path) -> Fuzzed:
    """The files of a kind of `fuzz`, each read in the place of the first of them, beside what that one names."""
    from tests.benchmarks import fuzz

    target = fuzz.targets()[kind]
    shutil.copytree(fuzz.CONFIGS, place / "configs")
    fuzz.put_logs(place / "configs" / "log")
    paths = target.copy(place / "configs")
    sound = [path.read_bytes() for path in paths if path.parent == paths[0].parent]

    def mutate(content: bytes, draws: random.Random) -> bytes:
        return fuzz.as_bytes(target.mutate(content.decode("utf-8", errors="replace"), draws))

    return Fuzzed(sound, lambda content: fuzz.try_one(target, paths[0], content), mutate)


def _folders(place: Path) -> Fuzzed:
    """Results folders."""
    from tests.benchmarks.fuzz_steered import Folders

    folders = Folders(place)
    return Fuzzed(folders.seeds(), folders.try_one, folders.mutated)


def fuzz_kind(kind: str, place: Path, options: list[str]) -> None:
    """Fuzz a kind of file in this process, which ends with it; counts and findings are kept in `place`."""
    import atheris

    from sweep.model import flight  # noqa: F401  (what is compiled cannot be followed: so it is there before)
    from sweep.model.pack import fleet  # noqa: F401

    with atheris.instrument_imports(include=FOLDER_READERS if kind == "folders" else READERS):
        fuzzed = _folders(place) if kind == "folders" else _files(kind, place)
    corpus = place / "corpus"
    corpus.mkdir()
    for number, sound in enumerate(fuzzed.sound):
        (corpus / str(number)).write_bytes(sound)
    counts, findings = Counter[str](), dict[str, str]()

    def read_one(content: bytes) -> None:
        came = fuzzed.came_of(content)
        counts[came if came in ("read", "refused") else "findings"] += 1
        if came not in ("read", "refused"):
            findings.setdefault(came.splitlines()[-1][:200], f"{came}\n{content[:3000]!r}")
        (place / "told").write_text(json.dumps([counts, findings]), encoding="utf-8")

    def change(content: bytes, most: int, seed: int) -> bytes:
        draws = random.Random(seed)
        if draws.random() < 0.5:
            return bytes(atheris.Mutate(content, most))
        return fuzzed.mutate(content, draws)[:most]

    atheris.Setup([sys.argv[0], *options, str(corpus)], read_one, custom_mutator=change)
    atheris.Fuzz()


def told_of(kind: str, seconds: int, seed: int) -> tuple[str, dict[str, str]]:
    """A line of the table for a kind of file, fuzzed in a process of its own, and what was found."""
    with tempfile.TemporaryDirectory() as place:
        options = [f"-max_total_time={seconds}", f"-seed={seed}", f"-max_len={LONGEST}", "-len_control=0", "-timeout=120"]
        command = [sys.executable, "-m", "tests.benchmarks.fuzz_guided", "--kind", kind, place, *options, "-rss_limit_mb=0"]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, errors="replace", check=False)
        counts, findings = json.loads((Path(place) / "told").read_text(encoding="utf-8"))
    if done.returncode:
        findings[f"exit code {done.returncode}"] = done.stderr[-3000:]
    seen = [int(found) for found in COVERED.findall(done.stderr)]
    counted = " | ".join(str(counts.get(came, 0)) for came in ("read", "refused"))
    return f"| {kind} | {sum(counts.values())} | {counted} | {seen[0]} | {seen[-1]} | {len(findings)} |", findings


def main() -> None:
    """Fuzz every kind of file and print the counts."""
    if importlib.util.find_spec("atheris") is None:
        sys.exit("This wants atheris: pip install atheris")
    if sys.argv[1:2] == ["--kind"]:
        fuzz_kind(sys.argv[2], Path(sys.argv[3]), sys.argv[4:])
    seconds, seed = (int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 120), (2, 1)))
    found: dict[str, str] = {}
    print("| files | changed | read | refused in words | branches of sound files | of changed ones | findings |")
    print("|---|---|---|---|---|---|---|")
    for kind in sys.argv[3:] or KINDS:
        line, findings = told_of(kind, seconds, seed)
        print(line, flush=True)
        for what, text in findings.items():
            print(f"--- {what}\n{text}", file=sys.stderr, flush=True)
        found |= findings
    sys.exit(bool(found))


if __name__ == "__main__":
    main()

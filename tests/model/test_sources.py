"""The identity of equations: it knows every number of every room, and no comment."""

from __future__ import annotations

import ast
import io
import os
import shutil
import subprocess
import sys
import time
import tokenize
from pathlib import Path

import pytest

from sweep.model import identity, sources
from sweep.model.compiled import cache_folder
from sweep.model.sources import MODEL, SWEEP, bytes_digest, files, syntax_digest
from sweep.results.digests import FLIGHT, flight_digest

COUNTED = [path.relative_to(SWEEP).as_posix() for path in files(FLIGHT)]
ROOMS = {"", "physics", "kernels", "onboard", "pack", "stepping"}


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The program's sources, to be edited."""
    place = tmp_path_factory.mktemp("copy") / "sweep"
    shutil.copytree(SWEEP, place, ignore=lambda folder, names: [name for name in names if name in ("__pycache__", "_site")])
    return place


def with_another_number(source: str) -> str:
    """A source with its last number changed; with one more where it has none."""
    numbers = [each for each in tokenize.generate_tokens(io.StringIO(source).readline) if each.type == tokenize.NUMBER]
    if not numbers:
        return f"{source}\nMORE = 1\n"
    lines = source.splitlines(keepends=True)
    row, (start, stop) = numbers[-1].start[0] - 1, (numbers[-1].start[1], numbers[-1].end[1])
    lines[row] = f"{lines[row][:start]}987654321{lines[row][stop:]}"
    return "".join(lines)


def with_other_words(source: str) -> str:
    """A source that does the same, with another docstring and a comment, everything a line lower."""
    told = source.replace('"""', '"""Otherwise told: ', 1) if source.startswith('"""') else f'"""Told."""\n{source}'
    return f"# said first\n\n{told}\n# said last\n"


def test_every_room_of_the_model_counts() -> None:
    model = [path.relative_to(SWEEP / "model") for path in files(MODEL)]
    assert {path.parts[0] if len(path.parts) > 1 else "" for path in model} == ROOMS
    assert {path.parent for path in model} == {
        path.parent.relative_to(SWEEP / "model") for path in (SWEEP / "model").rglob("*.py")
    }
    assert {path.as_posix() for path in model} == {name.removeprefix("model/") for name in COUNTED if name.startswith("model/")}


def test_every_named_source_is_there() -> None:
    """A pattern that holds nothing, after a file has moved, would let its equations go unnoticed."""
    assert all(files([pattern]) for pattern in FLIGHT)


@pytest.mark.parametrize("name", COUNTED)
def test_a_number_counts_in_every_source_and_words_in_none(copy: Path, name: str) -> None:
    path = copy / name
    source = path.read_text(encoding="utf-8")
    before = {patterns: (bytes_digest(patterns, copy), syntax_digest(patterns, copy)) for patterns in (MODEL, FLIGHT)}
    try:
        path.write_text(with_another_number(source), encoding="utf-8")
        assert syntax_digest(FLIGHT, copy) != before[FLIGHT][1]
        assert (syntax_digest(MODEL, copy) != before[MODEL][1]) == name.startswith("model/")
        path.write_text(with_other_words(source), encoding="utf-8")
        assert bytes_digest(FLIGHT, copy) != before[FLIGHT][0]
        assert [syntax_digest(patterns, copy) for patterns in (MODEL, FLIGHT)] == [before[MODEL][1], before[FLIGHT][1]]
    finally:
        path.write_text(source, encoding="utf-8")


def test_a_source_that_comes_or_moves_counts(copy: Path) -> None:
    before, added = syntax_digest(MODEL, copy), copy / "model" / "physics" / "added.py"
    added.write_text("")
    with_one_more = syntax_digest(MODEL, copy)
    added.rename(copy / "model" / "kernels" / "added.py")
    assert len({before, with_one_more, syntax_digest(MODEL, copy)}) == 3
    (copy / "model" / "kernels" / "added.py").unlink()
    assert syntax_digest(MODEL, copy) == before


def test_comments_docstrings_and_layout_change_no_word_and_code_does() -> None:
    def words(text: str) -> list[str]:
        return list(sources.syntax(ast.parse(text)))

    plain = words("A = 1.5\ndef f(x: float) -> float:\n    return A * x\n")
    head = '"""What."""\nA = 1.5  # m\n"""Its meaning."""\n\n\n'
    assert words(head + 'def f(\n    x: float,\n) -> float:\n    """Returns."""\n    return (A * x)\n') == plain
    assert words("A = 1.5\ndef f(x: float) -> float:\n    return A / x\n") != plain
    assert words("A = 2.5\ndef f(x: float) -> float:\n    return A * x\n") != plain
    assert words("x = 1") != words("x = 1.0") != words("x = '1.0'")


def test_a_digest_is_kept_and_asked_for_in_milliseconds(monkeypatch: pytest.MonkeyPatch) -> None:
    found, read = flight_digest(), []
    monkeypatch.setattr(sources, "syntax_digest", read.append)
    begun = time.thread_time()
    assert identity.digest_of(FLIGHT) == found
    assert not read
    assert time.thread_time() - begun < 0.1


def test_what_is_kept_is_that_of_these_bytes(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Damaged, it is made anew; of other bytes, it is not looked at."""
    wanted = syntax_digest(MODEL)
    assert sources.digest_of(MODEL, tmp_path) == wanted
    (kept,) = tmp_path.iterdir()
    assert (kept.name, kept.read_text()) == (f"syntax-{bytes_digest(MODEL)}", wanted)
    kept.write_text("half a dig")
    assert sources.digest_of(MODEL, tmp_path) == wanted == kept.read_text()
    kept.write_text("f" * 32)
    assert sources.digest_of(MODEL, tmp_path) == "f" * 32
    monkeypatch.setattr(sources, "bytes_digest", lambda patterns, root: "0" * 32)
    assert sources.digest_of(MODEL, tmp_path) == wanted
    assert sources.digest_of(MODEL, None) == wanted


def test_the_folder_of_machine_code_is_named_by_what_the_model_does() -> None:
    folder = cache_folder()
    assert folder is None or Path(folder).name == syntax_digest(sources.compiled())


def is_compiled(function: ast.stmt) -> bool:
    decorators = function.decorator_list if isinstance(function, ast.FunctionDef) else []
    return any(ast.unparse(each) in ("kernel", "part") for each in decorators)


def taken_from(tree: ast.Module, modules: set[str]) -> set[str]:
    """The names that a source imports from some modules below `sweep`, or that are such modules."""
    imports = [each for each in ast.walk(tree) if isinstance(each, ast.ImportFrom) and each.module]
    return {
        alias.asname or alias.name
        for each in imports
        for alias in each.names
        if {each.module, f"{each.module}.{alias.name}"} & {f"sweep.{module}" for module in modules}
    }


@pytest.mark.parametrize("path", sources.files(sources.compiled()), ids=lambda path: path.relative_to(SWEEP).as_posix())
def test_no_compiled_function_reads_a_source_that_does_not_count_for_machine_code(path: Path) -> None:
    """Nor does a constant that it may read: such names stand in plain functions and in annotations only."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    others = taken_from(tree, {each.removesuffix(".py").replace("/", ".") for each in sources.UNCOMPILED})
    assert not any(
        alias.name.startswith("sweep") for each in ast.walk(tree) if isinstance(each, ast.Import) for alias in each.names
    )
    for statement in tree.body:
        is_plain = isinstance(statement, ast.FunctionDef) and not is_compiled(statement)
        if is_plain or isinstance(statement, ast.ImportFrom | ast.ClassDef | ast.AnnAssign):
            continue
        if isinstance(statement, ast.If) and ast.unparse(statement.test) == "TYPE_CHECKING":
            continue
        assert not {each.id for each in ast.walk(statement) if isinstance(each, ast.Name)} & others, ast.unparse(statement)


def test_sources_without_machine_code_have_no_compiled_function() -> None:
    for path in sources.files(sources.UNCOMPILED):
        assert not any(map(is_compiled, ast.parse(path.read_text(encoding="utf-8")).body)), path
    assert len(sources.files(sources.UNCOMPILED)) == len(sources.UNCOMPILED)


def test_an_edit_without_machine_code_shares_the_folder(copy: Path) -> None:
    names = sources.compiled(copy)
    assert {*names} | {*sources.UNCOMPILED} == {path.relative_to(SWEEP).as_posix() for path in files(MODEL)}
    before, path = syntax_digest(names, copy), copy / "model" / "pack" / "fleet.py"
    source = path.read_text(encoding="utf-8")
    try:
        path.write_text(with_another_number(source), encoding="utf-8")
        assert syntax_digest(sources.compiled(copy), copy) == before
    finally:
        path.write_text(source, encoding="utf-8")


ELSEWHERE = """
import sys
from pathlib import Path
import sweep
from sweep.campaign.campaign import load_campaign
from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying.flights import warm_up
from sweep.model.flight import fly_lanes
campaign = load_campaign(Path(sys.argv[1]))
warm_up(campaign, lay_out(campaign), list_conditions(campaign))
print(Path(sweep.__file__).parent, sum(fly_lanes.stats.cache_hits.values()))
"""


@pytest.mark.skipif(cache_folder() is None, reason="no private folder for machine code")
def test_two_versions_with_the_same_kernels_share_their_machine_code(copy: Path) -> None:
    """Another copy of the program, other code in every room but the kernels': it flies with what this one compiled."""
    changed = [copy / "report" / "terminal.py", copy / "flying" / "clock.py", *(copy / name for name in sources.UNCOMPILED)]
    kept = {path: path.read_text(encoding="utf-8") for path in changed}

    def ask(place: Path) -> list[str]:
        told = subprocess.run(
            [sys.executable, "-P", "-c", ELSEWHERE, str(SWEEP.parent / "configs" / "quick.yaml")],
            env=os.environ | {"PYTHONPATH": str(place.parent)},
            cwd=place.parent,
            capture_output=True,
            text=True,
            check=True,
        )
        return told.stdout.split()

    try:
        for path, source in kept.items():
            path.write_text(f"{with_other_words(source)}\nMORE = 1\n", encoding="utf-8")
        assert bytes_digest(["**/*.py"], copy) != bytes_digest(["**/*.py"])
        assert ask(SWEEP)[0] == str(SWEEP)
        assert ask(copy) == [str(copy), "1"]
    finally:
        for path, source in kept.items():
            path.write_text(source, encoding="utf-8")


NAMED = """
import sys
from pathlib import Path
from sweep.model import compiled
compiled.cache_folder = lambda: sys.argv[1]
import called
print(called.called(3.0), sum(called.called.stats.cache_hits.values()))
"""


def test_machine_code_is_found_from_anywhere_at_any_line_and_time(tmp_path: Path) -> None:
    def ask(place: str, source: str) -> list[str]:
        (tmp_path / place).mkdir()
        (tmp_path / place / "called.py").write_text(source)
        told = subprocess.run(
            [sys.executable, "-c", NAMED, str(tmp_path / "code")],
            cwd=tmp_path / place,
            capture_output=True,
            text=True,
            check=True,
        )
        return told.stdout.split()

    source = CALLED.replace("from numba import njit", "from sweep.model.compiled import kernel")
    source = source.replace("@njit(cache=True)", "@kernel")
    (tmp_path / "code").mkdir()
    assert ask("here", source) == ["6.0", "0"]
    assert ask("there", with_other_words(source)) == ["6.0", "1"]


AT_ONCE = """
import sys
from sweep.model import compiled
compiled.cache_folder = lambda: sys.argv[1]
from several import several
print("ready", flush=True)
for text in sys.stdin.readline().split():
    several(tuple(range(int(text))))
print(sum(several.stats.cache_hits.values()), flush=True)
"""


def test_processes_that_compile_at_once_keep_all_that_any_of_them_compiled(tmp_path: Path) -> None:
    (tmp_path / "several.py").write_text(
        "from sweep.model.compiled import kernel\n\n@kernel\ndef several(numbers):\n    return numbers[0]\n"
    )
    (tmp_path / "code").mkdir()
    lengths = [[str(2 + process + 4 * turn) for turn in range(6)] for process in range(4)]

    def start() -> subprocess.Popen[str]:
        command = [sys.executable, "-c", AT_ONCE, str(tmp_path / "code")]
        process = subprocess.Popen(command, cwd=tmp_path, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        return process

    together = [start() for _ in lengths]
    for process, some in zip(together, lengths, strict=True):
        assert process.stdin is not None
        process.stdin.write(" ".join(some) + "\n")
        process.stdin.flush()
    assert [process.communicate()[0] for process in together] == ["0\n"] * 4
    told, _ = start().communicate(" ".join(text for some in lengths for text in some) + "\n")
    assert told == "24\n"


CALLED = """
from numba import njit
SLOPE = 2.0

@njit(cache=True)
def called(x):
    return SLOPE * x
"""
CALLER = """
from numba import njit
from called import called

@njit(cache=True)
def caller(x):
    return called(x) + 1.0
"""
ASK = "import caller; print(caller.caller(3.0), sum(caller.caller.stats.cache_hits.values()))"


def test_machine_code_is_that_of_the_caller_whatever_the_called_one_says(tmp_path: Path) -> None:
    """What the folder's name rests on: words above a called function leave its caller's code good and found; its number does
    not, and is not noticed, so that it must change the name."""

    def ask(source: str) -> list[str]:
        (tmp_path / "called.py").write_text(source)
        surroundings = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path / "code"), "PYTHONDONTWRITEBYTECODE": "1"}
        told = subprocess.run(
            [sys.executable, "-c", ASK], cwd=tmp_path, env=surroundings, capture_output=True, text=True, check=True
        )
        return told.stdout.split()

    (tmp_path / "caller.py").write_text(CALLER)
    assert ask(CALLED) == ["7.0", "0"]
    assert ask(with_other_words(CALLED)) == ["7.0", "1"]
    assert ask(CALLED.replace("2.0", "5.0")) == ["7.0", "1"]
    words = [list(sources.syntax(ast.parse(text))) for text in (CALLED, with_other_words(CALLED), CALLED.replace("2.0", "5.0"))]
    assert words[0] == words[1] != words[2]

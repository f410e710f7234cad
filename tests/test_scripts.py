"""What a script and a small terminal get: one object with the keys that are documented; every encoding; 60 and 80 columns."""

from __future__ import annotations

import contextlib
import io
import json
import shlex
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from sweep import arguments, cli
from sweep.logs.fit.craft_fit import Fitted, Result
from sweep.logs.law.day import SetupLaw
from sweep.logs.law.flew import Flew, Law
from sweep.logs.law.settings import settings_of
from sweep.logs.report import commands
from sweep.logs.report.day import compare_day
from sweep.logs.report.notes import RUN_KEYS
from sweep.reference.objects import EVERY, OBJECTS, RUNS
from sweep.words.columns import fitted
from sweep.words.objects import object_text
from sweep.words.plain_text import tell
from tests.model.crafts import courier
from tests.test_workflow import CRAFT, SMALL

NAMED = SMALL.replace("title: ", "title: Мачта Łódź Ö ")
"""No encoding but Unicode has all of these letters."""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a campaign, its results, and a day of demo logs."""
    folder = tmp_path_factory.mktemp("place")
    (folder / "small.yaml").write_text(NAMED.format(craft=CRAFT), encoding="utf-8")
    (folder / "wrong.yaml").write_text(NAMED.format(craft=CRAFT).replace("pitch_rms", "pitch_rsm"), encoding="utf-8")
    with contextlib.chdir(folder), contextlib.redirect_stdout(io.StringIO()):
        assert cli.main(["log", "demo", "day"]) == 0
    return folder


@pytest.fixture(scope="module")
def ran(place: Path) -> dict[str, Any]:
    """What `run --json` wrote."""
    return said(place, "run", "small.yaml", "--workers", "1", "--quiet", "--json")[1]


@pytest.fixture(scope="module")
def judged_once(place: Path) -> Iterator[None]:
    """The day's logs, which take seconds to judge, are judged once."""
    with contextlib.chdir(place):
        day = commands.judged(Path("day/afternoon.yaml"), lambda text: None)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(commands, "judged", lambda path, say: day)
        yield


def said(place: Path, *arguments: str) -> tuple[int, dict[str, Any]]:
    """The exit code, and the one line on the standard output as an object."""
    out = io.StringIO()
    with contextlib.chdir(place), contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        code = cli.main(arguments)
    (line,) = out.getvalue().splitlines()
    assert line.isascii()
    found = json.loads(line, parse_constant=pytest.fail)
    assert found["exit"] == code
    assert found["ok"] == (code == 0)
    assert set(EVERY) <= set(found)
    return code, found


def own_keys(found: dict[str, Any]) -> set[str]:
    return set(found) - set(EVERY)


def test_check_tells_its_numbers(place: Path) -> None:
    code, found = said(place, "check", "small.yaml", "--json")
    assert (code, found["command"]) == (0, "check")
    assert own_keys(found) == set(OBJECTS["check"])
    assert (found["designs"], found["conditions"], found["replicates"], found["flights"]) == (5, 2, 2, 20)
    assert found["simulated"] == 80.0
    assert set(found["doubts"]) <= set(found["sentences"])
    assert found["title"].startswith("Мачта Łódź Ö")


def test_run_and_rank_tell_the_same_as_the_csv(place: Path, ran: dict[str, Any]) -> None:
    code, ranked = said(place, "rank", "results/small", "--json")
    assert code == 0
    assert own_keys(ran) == own_keys(ranked) == set(OBJECTS["run"]) == set(OBJECTS["rank"])
    assert ran["standings"] == ranked["standings"]
    assert (place / ran["site"]).exists()
    assert ranked["site"] is None
    out = io.StringIO()
    with contextlib.chdir(place), contextlib.redirect_stdout(out):
        assert cli.main(["rank", "results/small", "--csv", "-"]) == 0
    table = pd.read_csv(io.StringIO(out.getvalue()))
    assert list(ranked["standings"][0]) == list(table)
    for row, (_, line) in zip(ranked["standings"], table.iterrows(), strict=True):
        for name in table.columns:
            value = line[name]
            unknown = pd.isna(value) or value == float("inf")
            assert row[name] in (None, "") if unknown else row[name] == pytest.approx(value), name


@pytest.mark.usefixtures("judged_once")
@pytest.mark.parametrize("part", ["read", "sea", "passes"])
def test_logs_tell_what_they_hold(place: Path, part: str) -> None:
    code, found = said(place, "log", part, "day/afternoon.yaml", "--json")
    assert (code, found["command"]) == (0, f"log {part}")
    assert own_keys(found) <= set(OBJECTS[f"log {part}"])
    assert found["title"]
    assert found["sentences"]
    if part == "sea":
        assert own_keys(found) == set(OBJECTS["log sea"])
        sea = found["sea"]
        assert 0.0 < sea["height"]["low"] < sea["height"]["value"] < sea["height"]["high"] < 1.0
        assert {run["kind"] for run in found["runs"]} >= {"flying"}


@pytest.fixture
def found_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """What takes minutes to find is made up, or found from few flights."""
    craft = courier()
    flew = Flew(settings_of(craft)[0], 0.7, 2.1, 1.95, 2.25, True)
    law = SetupLaw("soft", False, Law((flew,), (1, 1, 1), "commands", 0.01, 40.0), "")
    result = Result((Fitted("lift", 1.0, 0.93, 0.9, 0.96, True),), (("lift", "drag", 0.95),), 1.0, 60, craft)
    monkeypatch.setattr(commands, "laws_of", lambda mapping, progress=None: [law])
    monkeypatch.setattr(commands, "law_of_runs", lambda mapping, recorded: None)
    monkeypatch.setattr(commands, "fit_day", lambda day, names, progress, settings: result)
    monkeypatch.setattr(commands, "compare_day", partial(compare_day, flights=10))
    monkeypatch.setattr(commands, "_foretold", lambda day, found, score, say: [])


@pytest.mark.usefixtures("judged_once", "found_at_once")
@pytest.mark.parametrize(("part", "keys"), [("law", "laws"), ("compare", "comparisons"), ("fit", "numbers")])
def test_what_logs_show_is_told_by_documented_keys(place: Path, part: str, keys: str) -> None:
    code, found = said(place, "log", part, "day/afternoon.yaml", "--json")
    assert (code, found["command"]) == (0, f"log {part}")
    assert own_keys(found) == set(OBJECTS[f"log {part}"])
    assert found[keys]
    for each in found[keys]:
        told = OBJECTS[f"log {part}"][keys]
        assert [name for name in each if name not in told and name != "setup"] == []


def test_what_a_run_of_a_log_has_is_documented() -> None:
    assert [name for name in RUN_KEYS if name not in RUNS["runs"]] == []


def test_a_mistake_is_told_with_its_place(place: Path) -> None:
    code, found = said(place, "check", "wrong.yaml", "--json")
    assert code == cli.WRONG_INPUT
    assert own_keys(found) == set(OBJECTS["error"])
    (problem,) = found["problems"]
    assert set(problem) == {"file", "line", "column", "address", "found", "wanted"}
    assert (problem["address"], problem["line"] > 0) == ("score.pitch_rsm", True)
    code, found = said(place, "rank", "nowhere", "--json")
    assert (code, found["problems"]) == (cli.FAILED, [])
    assert "nowhere does not exist" in found["message"]


def test_no_number_is_none_in_json() -> None:
    line = object_text("check", 0, {"a": float("nan"), "b": [float("inf"), 1.5], "c": {"d": Path("x")}})
    assert json.loads(line, parse_constant=pytest.fail) == {
        **{"format": 1, "command": "check", "ok": True, "exit": 0},
        **{"a": None, "b": [None, 1.5], "c": {"d": "x"}},
    }


def test_the_keys_are_told_by_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["explain", "json"]) == 0
    told = capsys.readouterr().out
    for keys in (EVERY, *OBJECTS.values()):
        assert all(f"  {name}" in told for name in keys)


@pytest.mark.parametrize("command", arguments.EXAMPLES)
def test_every_help_has_examples_that_are_commands(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        cli.main([*command.split(), "--help"])
    assert stopped.value.code == 0
    told = capsys.readouterr().out
    for example in arguments.EXAMPLES[command]:
        assert f"\n  foilsweep {example}\n" in told
        assert len(example) <= 64
        asked = cli.build_parser().parse_args(shlex.split(example))
        assert command.split()[0] == asked.verb


class Terminal(io.TextIOWrapper):
    """A terminal that cannot write every letter."""

    def isatty(self) -> bool:
        return True


COMMANDS = [
    ("check", "small.yaml"),
    ("check", "wrong.yaml"),
    ("rank", "results/small"),
    ("fly", "small.yaml", "--design", "9", "--condition", "0"),
    ("explain",),
    ("explain", "jonswap"),
    ("explain", "json"),
    ("log", "read", "day/afternoon.yaml"),
    ("log", "sea", "day/afternoon.yaml"),
    ("log", "passes", "day/afternoon.yaml"),
]


@pytest.mark.usefixtures("ran", "judged_once")
@pytest.mark.parametrize("width", [60, 80])
@pytest.mark.parametrize("encoding", ["ascii", "cp1250", "cp1251"])
def test_every_terminal_is_told(place: Path, encoding: str, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    for command in COMMANDS:
        out, err = Terminal(io.BytesIO(), encoding=encoding), Terminal(io.BytesIO(), encoding=encoding)
        with contextlib.chdir(place), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = cli.main(command)
        out.seek(0)
        text = out.read()
        assert code == (2 if "wrong.yaml" in command or "9" in command else 0)
        assert text or code
        long = [line for line in text.splitlines() if len(line) > width and len(line.split()) > 1]
        assert long == [], command


def test_a_table_that_is_too_wide_stands_in_parts() -> None:
    table = "name    first number  second number\na bow   1 cm          22 cm\nan aft  3 cm          4 cm"
    assert list(fitted([table], 40)) == table.split("\n")
    assert list(fitted([table], 24)) == [
        *("name    first number", "a bow   1 cm", "an aft  3 cm"),
        *("", "name    second number", "a bow   22 cm", "an aft  4 cm"),
    ]


def test_signs_that_an_encoding_lacks_are_typed_in_letters() -> None:
    for encoding, wanted in (
        ("ascii", 'x0.96 +-2 deg "so" ?'),
        ("cp1251", "x0.96 \u00b12\u00b0 \u201cso\u201d ?"),
        ("utf-8", None),
    ):
        stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
        text = "\u00d70.96 \u00b12\u00b0 \u201cso\u201d \u754c"
        tell(text, stream, end="")
        stream.seek(0)
        assert stream.read() == (wanted or text)

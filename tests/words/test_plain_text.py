"""What leaves for a terminal or a spreadsheet goes through one place, and holds nothing that acts there."""

import ast
import csv
import io
import re
import unicodedata
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import sweep
from sweep import cli
from sweep.flying.progress import Progress
from sweep.report.terminal import standings_csv
from sweep.words.plain_text import csv_text, plain, tell

SOURCES = sorted(Path(sweep.__file__).parent.rglob("*.py"))
ONE_PLACE = {"plain_text.py": {"print", "to_csv"}, "fingerprint.py": {"to_csv"}}
"""In `fingerprint.py` a table becomes a digest."""


def test_nothing_else_prints_or_makes_csv():
    found = {}
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = getattr(node.func, "id", getattr(node.func, "attr", "")) if isinstance(node, ast.Call) else ""
            if name in ("print", "to_csv", "writerow", "writerows") or (
                name == "write" and re.search("std(out|err)", ast.dump(node.func))
            ):
                found.setdefault(path.name, set()).add(name)
    assert found == ONE_PLACE


@given(st.text())
def test_no_control_character_is_left(text):
    """General categories of the Unicode Standard, chapter 4: Cc but tab and line feed, and what turns the text (annex 9)."""
    said = plain(text)
    assert all(unicodedata.category(sign) != "Cc" or sign in "\t\n" for sign in said)
    assert not any(
        unicodedata.bidirectional(sign) in ("LRE", "RLE", "PDF", "LRO", "RLO", "LRI", "RLI", "FSI", "PDI") for sign in said
    )
    assert plain(said) == said


@given(st.text(), st.text())
def test_no_cell_is_a_formula_and_each_comes_back(heading, value):
    """What begins with = + - @ is a formula to a spreadsheet (common practice, no source), also after spaces."""
    text = csv_text(pd.DataFrame({heading: [value, "x"]}))
    (first, second, last) = csv.reader(io.StringIO(text, newline=""))
    assert last == ["x"]
    for cell in (*first, *second):
        assert not cell.lstrip(" \n").startswith(("=", "@", "\t", "\r", "＝"))
        if cell.lstrip(" \n").startswith(("+", "-")):
            float(cell)


@pytest.mark.parametrize("value", ["=1+1", "@x", "+x", "-x", "\t=1", " =1", "\n=1", "＝1", '=HYPERLINK("x")'])
def test_a_formula_is_quoted(value):
    (cell,) = list(csv.reader(io.StringIO(csv_text(pd.DataFrame({"a": [value]})), newline="")))[1]
    assert cell.startswith("'")


def test_numbers_stay_numbers():
    table = pd.DataFrame({"a": [-1.5, 2.0], "b": ["-1.5e-3", "+2"]})
    assert csv_text(table) == "a,b\n-1.5,-1.5e-3\n2.0,+2\n"


def test_a_terminal_without_a_sign_is_told_another():
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    tell("2 cm², \x1b[2J", stream)
    stream.seek(0)
    assert stream.read() == "2 cm^2, ?[2J\n"


def test_names_steer_no_terminal(capsys, tmp_path):
    """A campaign's title, a file's name, an unknown word, and what is said in mid-run."""
    (tmp_path / "x.yaml").write_text("title: 'a\x1b[2Jb'\n\x1b]0;owned\x07: 1\n")
    assert cli.main(["check", str(tmp_path / "x.yaml")]) == 2
    assert cli.main(["check", str(tmp_path / "\x1b[31mred.yaml")]) == 2
    with pytest.raises(SystemExit):
        cli.main(["run", "x", "--\x1b[31m"])
    told = capsys.readouterr()
    assert "\x1b" not in told.err + told.out
    stream = io.StringIO()
    Progress(stream).say("one\x1b[2J\u202etwo")
    assert stream.getvalue() == "one\ufffd[2J\ufffdtwo\n"


def test_standings_as_csv_hold_no_formula():
    designs = pd.DataFrame({"=cmd": ["@x", "y"]}, index=pd.Index([0, 1], name="design"))
    text = standings_csv(designs, pd.DataFrame({"design": [1, 0], "reason": ["-bad", ""]}))
    assert text == "design,reason,'=cmd\n1,'-bad,y\n0,,'@x\n"

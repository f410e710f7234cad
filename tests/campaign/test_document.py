from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweep.campaign.text.document import DEEPEST, LARGEST_FILE, MOST_VALUES, read_document
from sweep.campaign.text.problems import CampaignError, Problem


def refused(path: Path, content: bytes) -> str:
    path.write_bytes(content)
    with pytest.raises(CampaignError) as caught:
        raise CampaignError(read_document(path).problems)
    return str(caught.value).removeprefix(str(path))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "file.yaml"


def test_values_are_those_of_yaml_1_2(file: Path) -> None:
    file.write_text("a: no\nb: on\nc: 1:30\nd: 0o17\ne: 012\nf: ~\ng: true\nh: 1e3\ni: .inf\nj: '12'\nk: 2024-01-01\nl: 0x1F\n")
    assert read_document(file).plain() == {
        "a": "no", "b": "on", "c": "1:30", "d": 15, "e": 12, "f": None, "g": True, "h": 1000.0, "i": float("inf"), "j": "12",
        "k": "2024-01-01", "l": 31,
    }  # fmt: skip


def test_places_have_line_column_and_address(file: Path) -> None:
    file.write_text("a:\n  b: [1, {c: 2}]\n  d:\n")
    document = read_document(file)
    place = document.place(("a", "b", 1, "c"))
    assert (place.address, place.node.line, place.node.column) == ("a.b[1].c", 2, 14)
    assert document.problem(("a", "d"), "something").column == 3  # the key: nothing stands behind it
    passed_over = document.place(("a", "tag", "b", 0))
    assert passed_over.address == "a.b[0]"
    assert document.plain(("a", "x")) is None


@pytest.mark.parametrize(
    ("text", "where", "mend"),
    [
        ("a: &x 1", ":1:4", "anchors are not taken"),
        ("a: &x 1\nb: *x", ":2:4", "aliases are not taken"),
        ("a: !!str 1", ":1:4", "tags are not taken"),
        ("a: !python/object:os.system x", ":1:4", "tags are not taken"),
        ("a: {<<: {b: 1}}", ":1:5", "merging is not taken"),
        ("a: 1\nb: 2\na: 3", ":3:1", "found the key 'a' again (first in line 1), wanted every key once"),
        ("1: a\n0x1: b", ":2:1", "wanted every key once"),
        ("? [1, 2]\n: 3", ":1:3", "a word as key"),
        ("a: 1\n---\nb: 2", ":2:1", "one document"),
        ("%YAML 1.1\n---\na: no", ":2:1", "without directives"),
        ("%TAG ! tag:x,2000:\n---\na: 1", ":2:1", "without directives"),
        ("a:\n\tb: 1", ":2:1", "found a tab, wanted spaces"),
        ("b: 1\na: 'open\nc: 2", ":2:4", "a quotation mark that is not closed"),
        ("a: b: c", ":1:5", "text that has a colon in quotes"),
        ("b: 1\na: [1, 2\nc: 3", ":2:4", "a ] after the last"),
        ("b: 1\na: {c: 1, d: 2\ne: 3", ":2:4", "a } after the last"),
        ("a: {b: 1 c: 2}", ":1:4", "commas between entries"),
        ("a:\n  b: 1\n c: 2", ":3:2", "the same indent for all of them"),
        ("a: 1\nb\nc: 2", ":2:1", "a space after the colon"),
        ('a: "b"c', ":1:7", "one pair of quotes around the whole text"),
        ("a: @b", ":1:4", "YAML 1.2"),
        ("a: \x07", ":1:4", "a character that YAML does not allow"),
        ("[" * 50_000, f":1:{DEEPEST + 2}", "levels of nesting"),
        ("[" + "1," * (MOST_VALUES + 1) + "]", ":1:", "values"),
    ],
)  # fmt: skip
def test_what_is_refused(file: Path, text: str, where: str, mend: str) -> None:
    message = refused(file, text.encode())
    assert any(line.removeprefix(str(file)).startswith(where) for line in message.splitlines()), message
    assert mend in message


def test_every_refusal_of_a_file_at_once(file: Path) -> None:
    assert len(refused(file, b"a: &x 1\nb: !!int 2\na: 3\nc: *x").splitlines()) == 4


def test_files_that_cannot_be_read(tmp_path: Path, file: Path) -> None:
    assert "found the byte 0xff, wanted text in UTF-8" in refused(file, b"a: 1\nb: \xff")
    assert ":2:4: found the byte 0xe9, wanted text in UTF-8: letters with accents" in refused(
        file, "a: 1\nb: é".encode("latin-1")
    )
    for encoding in ("utf-16", "utf-16-be"):
        text = "a: 1\n".encode(encoding) if encoding == "utf-16" else b"\xfe\xff" + "a: 1\n".encode(encoding)
        assert refused(file, text) == ": found text in UTF-16, wanted text in UTF-8: save it again with that encoding"
    assert refused(file, b"a: 1\nb: \xff").startswith(":2:4")
    assert "UTF-8" in refused(file, "a: 1".encode("utf-16"))
    assert "over 1 MB" in refused(file, b"#" * (LARGEST_FILE + 1))
    with pytest.raises(CampaignError, match="no such file"):
        read_document(tmp_path / "none.yaml")
    with pytest.raises(CampaignError, match="found a folder, wanted a YAML file"):
        read_document(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(CampaignError, match="no regular file"):
        read_document(tmp_path / "pipe")


def test_a_byte_order_mark_and_windows_lines_are_taken(file: Path) -> None:
    file.write_bytes(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n")
    assert read_document(file).plain() == {"a": 1, "b": 2}


def test_an_empty_file_holds_nothing(file: Path) -> None:
    file.write_text("# nothing but a comment\n")
    assert read_document(file).plain() is None


@given(st.lists(st.sampled_from([*"abc01.:-,[]{}&*!|>'\"#%@`?<=~ \t\n", "\r\n", "---", "<<", "\ufeff", "\x85"]), max_size=30))
def test_any_marks_are_read_or_refused_with_a_place(tmp_path_factory: pytest.TempPathFactory, marks: list[str]) -> None:
    path = tmp_path_factory.getbasetemp() / "marks.yaml"
    path.write_text("a: " + "".join(marks), encoding="utf-8", newline="")
    problems: tuple[Problem, ...] = ()
    try:
        problems = read_document(path).problems
    except CampaignError as error:
        problems = error.problems
    assert all(problem.line >= 1 and problem.column >= 1 for problem in problems)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("{a: 5,5 cm, b: 1}", {"a": "5,5 cm", "b": 1}),
        ("{a: -0,5, b: 1}", {"a": "-0,5", "b": 1}),
        ("{a: [16,5 cm, 20 cm, 1,25 m]}", {"a": ["16,5 cm", "20 cm", "1,25 m"]}),
        (
            "{a: [1,2,3], b: [1,2.5], c: [1 cm,2 cm], d: [1,2e3]}",
            {"a": [1, 2, 3], "b": [1, 2.5], "c": ["1 cm", "2 cm"], "d": [1, 2e3]},
        ),
        ("{a: 5, 5 cm}", {"a": 5, "5 cm": None}),
    ],
)
def test_a_decimal_comma_in_braces_stays_one_number(file: Path, text: str, value: object) -> None:
    """So that it is told as what it is, and not as a number without a unit and an unknown key."""
    file.write_text(text)
    assert read_document(file).plain() == value

"""A YAML 1.2 file as values that remember their line and column.

Only plain data is read: no anchors, aliases, tags, merge keys, directives or second documents.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)
from ruamel.yaml.nodes import ScalarNode

from sweep.campaign.text.problems import CampaignError, Problem

Scalar: TypeAlias = str | int | float | bool | None
Location: TypeAlias = Sequence[str | int]

LARGEST_FILE = 1_000_000
"""Bytes of a campaign or craft file (judgement)."""
MOST_VALUES = 20_000
"""Values in such a file (judgement)."""
DEEPEST = 20
"""Levels of a value within others (judgement): a campaign has under ten."""
_TAG = "tag:yaml.org,2002:"


@dataclass(frozen=True)
class Node:
    """One value of a file: a scalar, a list of nodes, or a mapping of keys to (key node, value node)."""

    value: Scalar | tuple[Node, ...] | dict[Scalar, tuple[Node, Node]]
    text: str
    line: int
    column: int

    def plain(self) -> Any:
        """The same as plain Python values."""
        if isinstance(self.value, dict):
            return {key: node.plain() for key, (_, node) in self.value.items()}
        if isinstance(self.value, tuple):
            return [node.plain() for node in self.value]
        return self.value

    def found(self) -> str:
        """The words that a message has for it."""
        if isinstance(self.value, dict):
            return "a mapping" if self.value else "an empty mapping"
        if isinstance(self.value, tuple):
            return "a list" if self.value else "an empty list"
        if self.value is None:
            return "nothing"
        text = self.text if len(self.text) <= 60 else self.text[:57] + "..."
        return repr(text) if isinstance(self.value, str) else text


@dataclass(frozen=True)
class Place:
    """What is at a location: the node, its key if it has one, its address, and how many steps of it the file has."""

    node: Node
    key: Node | None
    address: str
    steps: int

    @property
    def spot(self) -> Node:
        """The node to point at: the key, if it has no value."""
        return self.key if self.key and self.node.value is None and not self.node.text else self.node


@dataclass(frozen=True)
class Document:
    """A file as read, with the mistakes of its notation; `base`: location of the part in question, as a craft in a campaign."""

    file: str
    text: str
    root: Node
    problems: tuple[Problem, ...] = ()
    base: tuple[str, ...] = ()

    def place(self, location: Location) -> Place:
        """Follow a location as far as the file has it; steps that the file lacks are skipped."""
        node, key, address, steps = self.root, None, "", 0
        for step in (*self.base, *location):
            steps += 1
            if isinstance(node.value, dict) and step in node.value:
                key, node = node.value[step]
                address = f"{address}.{step}" if address else str(step)
            elif isinstance(node.value, tuple) and isinstance(step, int) and step < len(node.value):
                key, node = None, node.value[step]
                address = f"{address}[{step}]"
            else:
                steps -= 1
        return Place(node, key, address, steps)

    def plain(self, location: Location = ()) -> Any:
        """The plain value at a location; None where there is none."""
        place = self.place(location)
        return place.node.plain() if place.steps == len(self.base) + len(location) else None

    def problem(self, location: Location, wanted: str, found: str | None = None) -> Problem:
        """A mistake at a location; `found` replaces the file's own text."""
        place = self.place(location)
        return Problem(self.file, place.spot.line, place.spot.column, place.address, found or place.node.found(), wanted)


def read_document(path: Path) -> Document:
    """Read one file. Raises CampaignError if it is not YAML."""
    text = read_text(path, "a YAML file", LARGEST_FILE)
    builder = _Builder(str(path))
    try:
        root = builder.read(text)
    except MarkedYAMLError as error:
        raise _misplaced(path, text, error) or _yaml_refusal(path, error) from error
    except YAMLError as error:
        line, column = _line_and_column(text, getattr(error, "position", 0) or 0)
        raise _refusal(path, "a character that YAML does not allow", "plain text", line, column) from error
    return Document(str(path), text, root, tuple(builder.problems))


def read_text(path: Path, kind: str, largest: int) -> str:
    """The text of a file of this kind, `largest` bytes at most. Raises CampaignError if it cannot be read."""
    return _decode(path, _bytes(path, kind, largest))


def _yaml_refusal(path: Path, error: MarkedYAMLError) -> CampaignError:
    """A mistake of YAML's notation in a builder's words, at its start; in the parser's own words where we have none."""
    start, mark = error.context_mark, error.problem_mark or error.context_mark
    context, problem = error.context or "", error.problem or ""
    for inside, said, found, wanted in _SLIPS:
        if inside in context and said in problem:
            begun = start if start and inside and "block" not in inside else mark
            line, column = (begun.line + 1, begun.column + 1) if begun else (0, 0)
            return _refusal(path, found, wanted, line, column)
    line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
    since = f"{context} that begins in line {start.line + 1}: " if start and context else ""
    return _refusal(path, f"a mistake ({since}{problem})", "YAML 1.2, indented with spaces", line, column)


OUT_OF_LINE = ("expected <block end>", "mapping values are not allowed")
"""What the parser says where a line that stands too far out or in ended a block."""


def _misplaced(path: Path, text: str, error: MarkedYAMLError) -> CampaignError | None:
    """The line that is meant, where one stands in another column than those around it: the parser tells the line after it."""
    mark, lines = error.problem_mark, text.splitlines()
    if mark is None or not any(said in (error.problem or "") for said in OUT_OF_LINE):
        return None
    filled = [at for at, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")]
    here = filled.index(mark.line) if mark.line in filled else 0
    if here < 2 or lines[filled[here - 1]].rstrip().endswith((":", ",", "{", "[")):
        return None
    before, above, indent = filled[here - 1], _indent(lines[filled[here - 2]]), _indent(lines[mark.line])
    after = _indent(lines[filled[here + 1]]) if here + 1 < len(filled) else -1
    out = _indent(lines[before])
    if not out < indent or after == out or not (above >= indent or lines[filled[here - 2]].rstrip().endswith(":")):
        return None
    wanted = f"{indent}, as the lines after it have, if it belongs with them"
    key = lines[before].strip().partition(":")[0][:40]
    return _refusal(path, f"{key!r} with {out or 'no'} space{'' if out == 1 else 's'} before it", wanted, before + 1, out + 1)


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _bytes(path: Path, kind: str, largest: int) -> bytes:
    try:
        if str(path) == "-" and not path.exists():
            raise _refusal(path, "the standard input", f"{kind}: save what comes from there, and name that file")
        if not path.exists():
            raise _refusal(path, "no such file", kind)
        if not path.is_file():
            raise _refusal(path, "a folder" if path.is_dir() else "no regular file", kind)
        with path.open("rb") as stream:
            raw = stream.read(largest + 1)
    except OSError as error:
        raise _refusal(path, f"a file that cannot be read ({error.strerror})", f"{kind} that can be read") from error
    if len(raw) > largest:
        raise _refusal(path, f"a file over {largest // 1_000_000} MB", f"{kind} smaller than that")
    return raw


UTF_16 = (b"\xff\xfe", b"\xfe\xff")
"""What a file in UTF-16 begins with (Unicode 15.0, section 23.8)."""


def _decode(path: Path, raw: bytes) -> str:
    if raw.startswith(UTF_16) or raw[:2000].count(0) > 0.4 * len(raw[:2000]):
        raise _refusal(path, "text in UTF-16", "text in UTF-8: save it again with that encoding")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8-sig", errors="replace")
        line, column = _line_and_column(before, len(before))
        if any(byte in raw[:2000] for byte in range(8)):  # control characters, which no text has
            raise _refusal(path, "a file that is no text", "a text file") from error
        found = f"the byte {raw[error.start]:#04x}"
        wanted = "text in UTF-8: letters with accents are so in Latin-1 and others; save it again with that encoding"
        raise _refusal(path, found, wanted, line, column) from error


def _line_and_column(text: str, position: int) -> tuple[int, int]:
    before = text[:position]
    return before.count("\n") + 1, len(before) - before.rfind("\n")


def _refusal(path: Path, found: str, wanted: str, line: int = 0, column: int = 0) -> CampaignError:
    return CampaignError([Problem(str(path), line, column, "", found, wanted)])


_SLIPS = (
    ("", "'\\t'", "a tab", "spaces: YAML is not indented with tabs"),
    ("quoted scalar", "unexpected end", "a quotation mark that is not closed", "another at the end of this text"),
    ("flow mapping", "", "a { whose entries do not come to their }", "commas between entries, and a } after the last"),
    ("flow sequence", "", "a [ whose entries do not come to their ]", "commas between entries, and a ] after the last"),
    (
        "",
        "mapping values are not allowed",
        "a colon that has no place here",
        "one key: value in a line, a space after the colon, and text that has a colon in quotes",
    ),
    ("block", "'<scalar>'", "text that no key leads to", "key: value, and one pair of quotes around the whole text"),
    (
        "block",
        "expected <block end>",
        "a line that begins in another column than those beside it",
        "the same indent for all of them",
    ),
    ("simple key", "expected ':'", "a line without a colon", "key: value, with a space after the colon"),
)
"""What the parser was reading, what it said, and both in plain words: what was found, what would be right."""


class _Builder:
    """Nodes from the parser's events; what a file must not contain is noted and skipped."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.count = 0
        self.yaml = YAML(typ="safe", pure=True)

    def read(self, text: str) -> Node:
        events = iter(self.yaml.parse(text))
        root: Node | None = None
        for event in events:
            if isinstance(event, DocumentStartEvent):
                if root is not None:
                    self.refuse(event, "a second document (---)", "one document")
                    break
                if event.version or event.tags:
                    self.refuse(event, "a directive (%)", "plain YAML 1.2 without directives")
                root = self.node(next(events), events, 0)
        return root or Node(None, "", 1, 1)

    def refuse(self, event: Any, found: str, wanted: str) -> None:
        mark = event.start_mark
        self.problems.append(Problem(self.file, mark.line + 1, mark.column + 1, "", found, wanted))

    def node(self, event: Any, events: Iterator[Any], depth: int) -> Node:
        self.check(event, depth)
        line, column = event.start_mark.line + 1, event.start_mark.column + 1
        if isinstance(event, MappingStartEvent):
            return Node(self.mapping(events, depth + 1), "", line, column)
        if isinstance(event, SequenceStartEvent):
            items = [self.node(item, events, depth + 1) for item in _until(SequenceEndEvent, events)]
            return Node(_commas_joined(items) if event.flow_style else tuple(items), "", line, column)
        if isinstance(event, ScalarEvent):
            return Node(self.scalar(event), event.value, line, column)
        return Node(None, "", line, column)

    def check(self, event: Any, depth: int) -> None:
        self.count += 1
        if depth > DEEPEST or self.count > MOST_VALUES:
            self.refuse(event, "too much of it", f"at most {DEEPEST} levels of nesting and {MOST_VALUES} values")
            raise CampaignError(self.problems)
        if isinstance(event, AliasEvent):
            self.refuse(event, f"the alias *{event.anchor}", "the value itself: aliases are not taken")
        elif event.anchor:
            self.refuse(event, f"the anchor &{event.anchor}", "the value alone: anchors are not taken")
        if getattr(event, "tag", None):
            self.refuse(event, f"the tag {event.tag}", "the value alone: tags are not taken")

    def mapping(self, events: Iterator[Any], depth: int) -> dict[Scalar, tuple[Node, Node]]:
        entries: dict[Scalar, tuple[Node, Node]] = {}
        for event in _until(MappingEndEvent, events):
            key = self.node(event, events, depth)
            value = self.node(next(events), events, depth)
            last = next(reversed(entries)) if entries else None
            if value.value is None and last is not None and _beside(entries[last][1], key):
                entries[last] = entries[last][0], _joined(entries[last][1], key)
            elif isinstance(key.value, dict | tuple):
                self.refuse(event, f"{key.found()} as a key", "a word as key")
            elif key.text == "<<":
                self.refuse(event, "the merge key <<", "the keys themselves: merging is not taken")
            elif key.value in entries:
                first = entries[key.value][0]
                self.refuse(event, f"the key {key.text!r} again (first in line {first.line})", "every key once")
            else:
                entries[key.value] = (key, value)
        return entries

    def scalar(self, event: ScalarEvent) -> Scalar:
        kind = str(self.yaml.resolver.resolve(ScalarNode, event.value, event.implicit)).removeprefix(_TAG)
        if kind not in _READERS:
            return str(event.value)
        try:
            value: Scalar = _READERS[kind](event.value)
        except ValueError:  # such as 5000 digits
            return str(event.value)
        return value


def _beside(before: Node, after: Node) -> bool:
    """Whether two values in braces or brackets are digits with nothing but a comma between: 5,5 in {height: 5,5 cm}."""
    close = before.line == after.line and after.column == before.column + len(before.text) + 1
    return close and re.fullmatch(r"[+-]?\d+", before.text) is not None and after.text[:1].isdigit()


def _joined(before: Node, after: Node) -> Node:
    text = f"{before.text},{after.text}"
    return Node(text, text, before.line, before.column)


def _commas_joined(items: Sequence[Node]) -> tuple[Node, ...]:
    """Entries of a list, a number with a decimal comma as one entry: whoever reads the number then reports the mistake."""
    joined: list[Node] = []
    for item in items:
        if joined and _beside(joined[-1], item) and re.match(r"\d+\s*[^\d\s.eE]", item.text):  # not so [1,2] nor [1,2.5]
            joined[-1] = _joined(joined[-1], item)
        else:
            joined.append(item)
    return tuple(joined)


def _until(end: type, events: Iterator[Any]) -> Iterator[Any]:
    for event in events:
        if isinstance(event, end):
            return
        yield event


def _integer(text: str) -> int:
    return int(text, 0) if text.lstrip("+-").lower().startswith(("0x", "0o", "0b")) else int(text)


def _real(text: str) -> float:
    bare = text.lower().lstrip("+-")
    if bare == ".nan":
        return math.nan
    return math.copysign(math.inf, -1 if text.startswith("-") else 1) if bare == ".inf" else float(text)


_READERS: dict[str, Any] = {
    "null": lambda text: None,
    "bool": lambda text: text.lower() == "true",
    "int": _integer,
    "float": _real,
}

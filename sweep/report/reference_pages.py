"""The reference as pages: every key of the files that people write, every response and unit, with links between them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import NamedTuple

from markupsafe import Markup

from sweep.campaign.text.dimensions import KINDS
from sweep.campaign.text.problems import ChoiceError
from sweep.reference.explain import OF_OBJECTS, in_a_line, of_value
from sweep.reference.keys import ANY, RESPONSE, Key, list_keys
from sweep.reference.objects import EVERY, OBJECTS
from sweep.report.embed import Files
from sweep.report.pages.frame import POLICY
from sweep.report.publishing import page_templates, soft, sources
from sweep.results.plain_files import write_whole
from sweep.version import __version__
from sweep.words.phrases import sentence

FAULTS, SCORE = "conditions.faults", "score."
TITLES = {
    "craft": ("Craft file", "What the boat is. A campaign names it with craft:, or holds it."),
    "campaign": ("Campaign file", "What may be chosen, what the water may do, and how to judge."),
    "faults": ("Faults", f"What goes wrong in a flight, under {FAULTS} in a campaign file."),
    "mapping": ("Mapping file", "What each column of a log is, for 'foilsweep log'."),
    "answers": ("Answers", "Measurements for 'foilsweep new', as a file that --answers reads."),
    RESPONSE: ("Responses", "What every flight gives, as scores and limits name it."),
    "json": ("For scripts", OF_OBJECTS),
    "units": ("Units", "Any unit of the right kind will do, also products and powers of these, as N*cm or m/s^2."),
}
"""The pages, each with its title and what it holds."""
LINKED = re.compile(r"[a-z]+(?:[_.][a-z*]+)+")
MARK = '<meta name="generator" content="Foilsweep reference">'
TOP = "top"


class Row(NamedTuple):
    """A key in the table of its group: its anchors in the page, what it means and may be, and examples."""

    anchors: tuple[str, ...]
    name: Markup
    meaning: Markup
    value: str
    shown: tuple[str, ...]


class Group(NamedTuple):
    """A group of keys: its anchor, its address and meaning, and its rows; kinds: those that it may be."""

    anchor: str
    address: str
    meaning: Markup
    rows: list[Row]
    kinds: list[Row]


class Entry(NamedTuple):
    """A key in the list of all: where it is, its address and its meaning."""

    link: str
    address: str
    meaning: str


class Tab(NamedTuple):
    """A page in the list of pages."""

    file: str
    title: str


@dataclass(frozen=True)
class ReferencePage:
    """One page: what it holds, by groups; entries: on the first page, all keys of all pages."""

    title: str
    lead: str
    here: str
    groups: list[Group]
    entries: list[Entry]
    tabs: list[Tab]
    policy: str = POLICY
    version: str = __version__


def write_reference(folder: Path) -> Path:
    """Write the pages into a folder and return the first.

    Raises ChoiceError if that is a file, or has a first page of another kind; StoreError if the disk does not take it.
    """
    first = folder / "index.html"
    if folder.exists() and not folder.is_dir():
        raise ChoiceError(f"--pages: found the file {str(folder)!r}, wanted a folder, or a name that is free.")
    if first.exists() and MARK not in first.read_text(encoding="utf-8", errors="replace"):
        raise ChoiceError(f"--pages: {first} is no page of the reference; wanted another folder.")
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in reference().items():
        write_whole(folder / name, text.encode())
    return first


def reference() -> Files:
    """All pages by their name, with their style and script."""
    template = page_templates().get_template("reference.html")
    tabs = [Tab("index.html", "All keys"), *(Tab(f"{page}.html", title) for page, (title, _) in TITLES.items())]
    first = ReferencePage("All keys", "Every key of every file, every response and every unit.", "index.html", [], _all(), tabs)
    pages = [first]
    for page, (title, lead) in TITLES.items():
        groups = {"units": _units, "json": _objects}.get(page, partial(_groups, page))()
        pages.append(ReferencePage(title, lead, f"{page}.html", list(groups), [], tabs))
    files = {page.here: template.render(page=page) for page in pages}
    style = (sources() / "parts" / "style.css").read_text(encoding="utf-8")
    script = (sources() / "reference" / "find.js").read_text(encoding="utf-8")
    return {**files, "style.css": style, "find.js": script}


def page_of(key: Key) -> str:
    """The page that has a key: faults, and what scores a response, are where a reader looks for them."""
    if key.file == "campaign" and key.address.startswith(f"{FAULTS}."):
        return "faults"
    scored = key.address.removeprefix(SCORE).partition(".")[0] if key.address.startswith(SCORE) else ""
    return RESPONSE if scored in _by_address()[RESPONSE] else key.file


def anchor(key: Key) -> str:
    """Its anchor in its page."""
    return re.sub(r": ?", "-", key.address)


def _link(key: Key) -> str:
    return f"{page_of(key)}.html#{anchor(key)}"


def _all() -> list[Entry]:
    return [Entry(_link(key), key.address, key.meaning) for key in list_keys() if not _is_folded(key)]


def _is_folded(key: Key) -> bool:
    """Whether a key is told in the row of its response."""
    return page_of(key) == RESPONSE and key.file != RESPONSE


def _groups(page: str) -> Iterable[Group]:
    keys = [key for key in list_keys() if page_of(key) == page and not _is_folded(key)]
    if page == RESPONSE:
        yield Group(TOP, "", Markup(), [_response(key) for key in keys], [])
        return
    by_group: dict[str, list[Key]] = {}
    for key in keys:
        by_group.setdefault(_above(key), []).append(key)
    told = {key.address: key for key in list_keys() if key.file == keys[0].file}
    for above, inner in by_group.items():
        meaning = told[above].meaning if above in told else ""
        rows = [_row(key) for key in inner if key.what != "a kind"]
        kinds = [_row(key) for key in inner if key.what == "a kind"]
        yield Group(f"keys-of-{above}" if above else TOP, above, _linked(sentence(meaning), keys[0]), rows, kinds)


def _above(key: Key) -> str:
    return key.address.partition(".kind: ")[0] if key.what == "a kind" else key.address.rpartition(".")[0]


def _row(key: Key) -> Row:
    name = key.name
    inner = [each for each in list_keys() if each.file == key.file and _above(each).removesuffix(f".{ANY}") == key.address]
    if inner and key.what != "a kind":
        page = page_of(inner[0])
        at = TOP if page == RESPONSE else f"keys-of-{_above(inner[0])}"
        shown = Markup('<a href="{}.html#{}">{}</a>').format(page, at, soft(name))
    elif (key.file, key.address) == ("campaign", "craft"):
        shown = Markup('<a href="craft.html">craft</a>')
    else:
        shown = soft(name)
    keys = [f"its keys: {', '.join(key.below)}"] if key.what == "a kind" else [of_value(key)]
    return Row((anchor(key),), shown, _linked(key.meaning, key), "; ".join(keys), tuple(filter(None, [in_a_line(key)])))


def _response(key: Key) -> Row:
    """A response, with what scores and limits say of it."""
    keys = _by_address()["campaign"]
    own = [
        keys[name] for name in (f"{SCORE}{key.name}", f"{SCORE}{key.name}.weight", f"{SCORE}{key.name}.scale") if name in keys
    ]
    shown = [f"score: {{{key.name}: {{{', '.join(in_a_line(each) for each in own[1:])}}}}}"] if own else []
    if limit := keys.get(f"limits.{key.name}"):
        shown.append(f"limits: {{{in_a_line(limit)}}}")
    anchors = (anchor(key), *map(anchor, own))
    unit = f"in {key.units[0]}" if key.units and key.units[0] else "a number"
    return Row(anchors, soft(key.name), _linked(key.meaning, key), unit, tuple(shown))


@lru_cache(maxsize=1)
def _by_address() -> Mapping[str, Mapping[str, Key]]:
    found: dict[str, dict[str, Key]] = {}
    for key in list_keys():
        found.setdefault(key.file, {})[key.address] = key
    return found


def _linked(text: str, key: Key) -> Markup:
    """A meaning in which the names of keys beside it, of whole addresses and of responses are links."""
    own, responses = _by_address()[key.file], _by_address()[RESPONSE]
    made, at = Markup(), 0
    for found in LINKED.finditer(text):
        beside = f"{_above(key)}.{found[0]}"
        meant = own.get(beside) or own.get(found[0]) or _by_address()["craft"].get(found[0]) or responses.get(found[0])
        if meant is not None and meant != key:
            link = Markup('<a href="{}">{}</a>').format(_link(meant), found[0])
            made += Markup("{}").format(text[at : found.start()]) + link
            at = found.end()
    return made + Markup("{}").format(text[at:])


def _objects() -> Iterable[Group]:
    """The keys of the objects that commands write."""
    return [
        Group(command.replace(" ", "-"), command, Markup(), [_of_object(command, *each) for each in keys.items()], [])
        for command, keys in {"every command": EVERY, **OBJECTS}.items()
    ]


def _of_object(command: str, name: str, meaning: str) -> Row:
    return Row((f"{command}.{name}".replace(" ", "-"),), soft(name), Markup("{}").format(meaning), "", ())


def _units() -> Iterable[Group]:
    """The kinds of quantity, each with the units that people use for it."""
    by_noun: dict[str, Sequence[str]] = {kind.noun: kind.units for kind in KINDS if kind.units and kind.units[0]}
    rows = [
        Row((f"unit-{at}",), soft(noun), Markup(), ", ".join(units), (f"10 {units[0]}",))
        for at, (noun, units) in enumerate(by_noun.items())
    ]
    return [Group(TOP, "", Markup(), rows, [])]

"""What a word of a file or of the pages means, in a few lines."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from fnmatch import fnmatchcase

from sweep.campaign.addresses import is_read_once
from sweep.campaign.text.dimensions import noun_of
from sweep.campaign.text.explain import nearest
from sweep.campaign.text.problems import ChoiceError
from sweep.reference.examples import example
from sweep.reference.keys import ANY, FILES, RESPONSE, Key, list_keys
from sweep.reference.objects import EVERY, OBJECTS
from sweep.words.phrases import listed
from sweep.words.units import UnitError, unit

WHOLE = 3
"""Keys that are told in full; of more, a line each (judgement)."""
USUAL_WIDTH, NARROW = 100, 24
"""Columns of a line, and the fewest that a meaning beside its address gets before it goes under it (judgement)."""
OF_OBJECTS = (
    "With --json a command writes one object on one line, the last of its output: numbers in SI, angles in rad, null where "
    "nothing is known. What goes on meanwhile, and mistakes in words, go to the standard error."
)
GROUPS = ("a group", "a group by name", "a kind")
NAMES = {
    "craft": "craft file",
    "campaign": "campaign file",
    "mapping": "mapping file of logs",
    "answers": "answers to 'foilsweep new'",
    RESPONSE: "what a flight gives",
}


def explain(word: str, width: int = USUAL_WIDTH) -> list[str]:
    """What is known of a key, by its address or its last word, of a choice, a response or a unit, in lines of so many columns.

    Raises ChoiceError with the nearest words for one that nothing has.
    """
    if word == "json":
        return [*textwrap.wrap(OF_OBJECTS, width), "", *objects(width)]
    found = find(word)
    if not found and (measures := _of_unit(word)):
        return [measures]
    if not found:
        words = dict.fromkeys(each for key in list_keys() for each in (key.name, key.address, *key.choices))
        near = nearest(word, words)
        raise ChoiceError(f"Nothing is called {word!r}" + (f"; the nearest: {listed(near)}." if near else "."))
    if len(found) > WHOLE:
        return [
            *textwrap.wrap(f"{len(found)} keys are called {word!r}; ask for one by its address:", width),
            *_table(found, width),
            *_within_them(found, width),
        ]
    return [line for key in found for line in (*_told(key, width), "")][:-1]


def contents(width: int = USUAL_WIDTH) -> list[str]:
    """The groups of every file, and all responses."""
    tops = {file: [key for key in list_keys() if key.file == file and "." not in key.address] for file in (*FILES, RESPONSE)}
    return [line for file, keys in tops.items() for line in (f"{NAMES[file].capitalize()}:", *_table(keys, width), "")][:-1]


def objects(width: int = USUAL_WIDTH) -> Iterator[str]:
    """The keys of the objects that commands write with --json."""
    for command, keys in {"every command": EVERY, **OBJECTS}.items():
        yield f"{command}:"
        yield from _table([Key(name, "json", meaning, "") for name, meaning in keys.items()], width)


def find(word: str) -> list[Key]:
    """The keys that a word means: by their whole address, or else their last words, or else a choice that they have.

    In an address the names of one's own stand for *: foils.bow.area is foils.*.area. What a group has by name is told by the
    group.
    """
    keys, asked = list_keys(), _plain(word.strip()).removeprefix("craft.")
    whole = [key for key in keys if key.address.lower() == asked or fnmatchcase(asked, _plain(key.address))]
    last = [key for key in keys if _plain(key.address).endswith(f".{asked}") or _plain(key.name) == asked]
    choice = [key for key in keys if asked in map(_plain, key.choices)]
    found = whole if "." in asked and whole else [*whole, *(key for key in last if key not in whole)]
    named = [key for key in (find(asked.rpartition(".")[0]) if "." in asked else []) if ANY in key.below]
    return found or choice or named


def _plain(text: str) -> str:
    return text.replace("-", "_").lower()


def _of_unit(word: str) -> str:
    try:
        return f"{word} is a unit of {noun_of(unit(word)).removeprefix('a ').removeprefix('an ')}."
    except UnitError:
        return ""


def _told(key: Key, width: int) -> Iterator[str]:
    yield f"{key.address} ({NAMES[key.file]})"
    lines = [_sentence(key.meaning)]
    if key.what not in GROUPS:
        lines.append(_sentence(of_value(key)))
    if key.file == "craft" and is_read_once(key.address):
        lines.append("It becomes other keys as the file is read: those may be factors.")
    elif key.file == "craft" and key.what not in GROUPS:
        lines.append(f"In a campaign it may be a factor: {key.address}: [one value, another].")
    if shown := in_a_line(key):
        lines.append(f"For example: {shown}")
    for line in filter(None, lines):
        yield from textwrap.wrap(line, width, initial_indent="  ", subsequent_indent="  ")
    if key.below:
        yield "  In it:"
        yield from _table(_inside(key), width, "    ")


def _within_them(groups: list[Key], width: int) -> list[str]:
    """The keys that groups of one name have in them, each once, by their last words."""
    inner = {each.name: each for key in groups for each in _inside(key)}
    return ["In them:", *_table([key._replace(address=name) for name, key in inner.items()], width)] if inner else []


def _inside(key: Key) -> list[Key]:
    addresses = set(_addresses(key)) if key.below else set()
    return [each for each in list_keys() if each.file == key.file and each.address in addresses]


def _addresses(key: Key) -> list[str]:
    if key.below == (ANY,):
        depth = key.address.count(".") + 2
        return [each.address for each in list_keys() if _within(each.address, key.address) and each.address.count(".") == depth]
    group = key.address.partition(".kind: ")[0]
    return [f"{group}.{name}" for name in key.below] + [f"{group}.{ANY}.{name}" for name in key.below]


def _within(address: str, group: str) -> bool:
    """Whether an address is in a group by name."""
    return address.startswith(f"{group}.{ANY}.")


def in_a_line(key: Key) -> str:
    """An example of a key, or of a kind, as a file has it; '' where its own keys tell it."""
    shown = example(key)
    return f"{key.name}: {shown}" if shown and key.what != "a kind" else shown


def of_value(key: Key) -> str:
    """'A time, in s, ms or min; 0.06 s by default; from 0 s, at most 0.3 s'."""
    parts = [f"{key.what} {listed(key.choices)}" if key.what == "one of" else key.what]
    if key.units and any(key.units):
        parts[0] += f", in {listed(key.units)}"
    if key.choices and key.what != "one of":
        parts.append(f"or {listed(key.choices)}")
    return "; ".join([*parts, *([f"{key.default} by default"] if key.default else []), *filter(None, [key.bounds])])


def _sentence(text: str) -> str:
    text = text.rstrip(".")
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _table(keys: Iterable[Key], width: int, indent: str = "  ") -> Iterator[str]:
    """An address and its meaning, in two columns where there is room for both."""
    rows = list(keys)
    beside = len(indent) + 2 + max((len(key.address) for key in rows), default=0)
    for key in rows:
        if width - beside < NARROW:
            yield f"{indent}{key.address}"
            yield from textwrap.wrap(key.meaning, width, initial_indent=f"{indent}  ", subsequent_indent=f"{indent}  ")
        else:
            lines = textwrap.wrap(key.meaning, width - beside) or [""]
            yield from (f"{indent}{key.address}".ljust(beside) + lines[0], *(" " * beside + line for line in lines[1:]))

"""Reads the unknowns of a campaign file: a word, ranges by address, or a CSV of draws; and says what is wrong with them."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple, TypeAlias

from pydantic import BeforeValidator, Discriminator, Tag, ValidationError, WithJsonSchema
from pydantic_core import PydanticCustomError

from sweep.campaign.addresses import Leaf, leaves, matches, near, value_at
from sweep.campaign.craft import Craft
from sweep.campaign.factors import Factor, at_the_ends
from sweep.campaign.text.dimensions import Kind, split
from sweep.campaign.text.document import Document, read_text
from sweep.campaign.text.explain import problems_of, reason
from sweep.campaign.text.problems import MOST_PROBLEMS, CampaignError, Problem, wrong
from sweep.campaign.text.shapes import metadata
from sweep.campaign.unknowns import Unknown, Unknowns
from sweep.words.phrases import listed

KEY, FILE = "unknowns", "file"
WANTED = "none, usual, or ranges by address, as wake.strength: +- 25 % or rangefinders.latency: 0 to 40 ms"
RANGE_WANTED = "a range, such as +- 25 % (of what the craft has), +- 10 ms or 0 to 40 ms"
FILE_WANTED = "the name of a CSV beside the campaign, such as fit.csv: no folders"
PLAIN_NAME = re.compile(r"^[A-Za-z0-9][A-Za-z0-9 ._-]*\.csv$")
LARGEST_FILE, FEWEST_ROWS = 50_000_000, 20
"""Bytes of a file of draws, and rows without which it is none (judgement)."""
WAVES_A_DRAW = 2
"""Replicates of one draw where settings are chosen anew in each: one to choose by, and another to be judged by."""

USUAL = (
    (("foils.*.section.lift_slope",), 0.15),
    (("foils.*.section.drag_min",), 0.4),
    (("wake.strength",), 0.25),
    (("rangefinders.latency", "rangefinders.each.*.latency"), 0.5),
    (("body.roll_radius", "body.pitch_radius", "body.yaw_radius"), 0.15),
)
"""What `usual` draws, each up to this share of what the craft has, either way (judgement)."""


def _sort(value: object) -> str | None:
    if isinstance(value, str) and value in ("none", "usual"):
        return "word"
    return "ranges" if isinstance(value, dict) and value else None


def _range(value: object) -> object:
    if not isinstance(value, str):
        raise wrong(RANGE_WANTED)
    return value


Range: TypeAlias = Annotated[str, BeforeValidator(_range), WithJsonSchema({"type": "string"})]
UnknownsFile: TypeAlias = Annotated[
    Annotated[Literal["none", "usual"], Tag("word")] | Annotated[dict[str, Range], Tag("ranges")],
    Discriminator(_sort, custom_error_type="wrong", custom_error_message=WANTED),
]


class Read(NamedTuple):
    """Unknowns as read, None without any; what is wrong; the name and the text of their file."""

    unknowns: Unknowns | None
    problems: Sequence[Problem] = ()
    name: str = ""
    text: str = ""


def read_unknowns(said: UnknownsFile, craft: Craft, factors: Mapping[str, Factor], document: Document, folder: Path) -> Read:
    """The unknowns that a campaign file asks for; craft: the base craft; folder: where a CSV of draws lies."""
    if said == "none":
        return Read(None)
    if isinstance(said, str):
        unknowns = Unknowns(each=tuple(usual(craft, factors)))
        return Read(unknowns if unknowns.each else None, _impossible(unknowns, craft, factors, lambda unknown: Spot(document)))
    reader, found, problems, text = Reader(craft, factors), list[Unknown](), list[Problem](), ""
    for label, written in said.items():
        place = Spot(document, label)
        try:
            if label == FILE:
                text = _text(folder, written, place)
                found += reader.columns(text, folder / written)
            else:
                found.append(reader.range(label, written, place))
        except CampaignError as error:
            problems += error.problems
    problems += _twice(found, document)
    unknowns = Unknowns(each=tuple(found))
    if not problems:
        spots = {unknown.label: Spot(document, FILE if unknown.drawn else unknown.label) for unknown in found}
        problems += _impossible(unknowns, craft, factors, lambda unknown: spots[unknown.label])
    return Read(unknowns, problems, str(said.get(FILE, "")), text)


def usual(craft: Craft, factors: Mapping[str, Factor]) -> Iterator[Unknown]:
    """What is usually not known; not what a factor sets or a polar decides, nor a share of nothing."""
    known, chosen = leaves(craft.model_dump()), _chosen(factors)
    for patterns, share in USUAL:
        found = [address for pattern in patterns for address in matches(pattern, known)]
        left = [each for each in found if each not in chosen and value_at(craft, each) and not _of_polar(craft, each, chosen)]
        if left:
            label = ", ".join(pattern for pattern in patterns if matches(pattern, known))
            yield _unknown(craft, label, left, "times", (1.0 - share, 1.0 + share))


def _chosen(factors: Mapping[str, Factor]) -> set[str]:
    return {address for factor in factors.values() for address in factor.addresses}


def _of_polar(craft: Craft, address: str, chosen: Collection[str]) -> bool:
    """Whether a polar decides what is at an address, or may in some design."""
    foil, _, number = address.removeprefix("foils.").partition(".section.")
    if not number:
        return False
    return craft.foils[foil].section.polar is not None or f"foils.{foil}.section.polar" in chosen


def _unknown(
    craft: Craft, label: str, addresses: Sequence[str], way: Literal["times", "plus", "to"], ends: tuple[float, float]
) -> Unknown:
    described = tuple(value_at(craft, address) for address in addresses)
    return Unknown(label=label, addresses=tuple(addresses), way=way, low=ends[0], high=ends[1], described=described)


class Spot(NamedTuple):
    """Where a mistake is: at a key of the campaign, or in a line and column of a CSV."""

    file: Document | str
    label: str = ""
    line: int = 1
    column: int = 0

    def wrong(self, wanted: str, found: str | None = None) -> CampaignError:
        """The mistake there."""
        if isinstance(self.file, Document):
            return CampaignError([self.file.problem((KEY, self.label) if self.label else (KEY,), wanted, found)])
        return CampaignError([Problem(self.file, self.line, self.column, self.label, found or "this", wanted)])


class Reader:
    """Reads one unknown after the other by the craft; each method raises CampaignError for a mistake."""

    def __init__(self, craft: Craft, factors: Mapping[str, Factor]) -> None:
        self.craft, self.chosen = craft, _chosen(factors)
        self.known: dict[str, Leaf] = leaves(craft.model_dump())

    def range(self, label: str, written: str, place: Spot) -> Unknown:
        """The unknown of a range: '+- 25 %', '+- 10 ms' or '0 to 40 ms'."""
        addresses = self._addresses(label, place)
        text = written.strip().replace("±", "+-").replace("+/-", "+-")
        if text.startswith("+-"):
            return self._either_way(label, addresses, text.removeprefix("+-").strip(), place)
        low, _, high = text.partition(" to ")
        first, last = split(low), split(high)
        if first is None or last is None:
            raise place.wrong(RANGE_WANTED, repr(written))
        ends = [self._value(addresses, f"{number} {unit or last[1]}", place) for number, unit in (first, last)]
        if ends[0] >= ends[1]:
            raise place.wrong("the smaller number first", repr(written))
        return _unknown(self.craft, label, addresses, "to", (ends[0], ends[1])).model_copy(update={"unit": last[1]})

    def columns(self, text: str, path: Path) -> list[Unknown]:
        """The unknowns of a CSV: addresses at the top, each with its unit or with % of what the craft has; a row a draw."""
        lines = [row for row in csv.reader(io.StringIO(text, newline="")) if any(cell.strip() for cell in row)]
        found, problems = [], list[Problem]()
        for at, heading in enumerate(lines[0]):
            cells = [row[at].strip() if at < len(row) else "" for row in lines[1:]]
            try:
                found.append(self._column(heading, cells, Spot(str(path), "", 1, at + 1)))
            except CampaignError as error:
                problems += error.problems
        if problems:
            raise CampaignError(problems[:MOST_PROBLEMS])
        return found

    def _addresses(self, pattern: str, place: Spot) -> list[str]:
        """The addresses of a pattern, all of which may be unknown."""
        found = matches(pattern, self.known)
        if not found:
            hint = listed(near(pattern, self.known) or list(self.known)[:3])
            raise place.wrong(f"an address in the craft; the nearest: {hint}", f"{pattern!r}, which addresses nothing")
        for address in found:
            if address in self.chosen:
                raise place.wrong("a factor or an unknown: what is chosen is known", f"{address}, which is a factor too")
            if self.known[address].kind != "number" or ".price" in address:
                raise place.wrong("the address of a measured number", f"{address}, which is none")
            if address.startswith("control.") and address != "control.delay":
                raise place.wrong("a number of the boat: what the control code is set to is known", address)
            if _of_polar(self.craft, address, self.chosen):
                raise place.wrong("an address that does something", f"{address}, while the foil's polar decides it")
        return found

    def _either_way(self, label: str, addresses: Sequence[str], text: str, place: Spot) -> Unknown:
        parts = split(text)
        if parts is None or not float(parts[0]) > 0.0:
            raise place.wrong(RANGE_WANTED, repr(text))
        for address in addresses:
            if value_at(self.craft, address) is None:
                raise place.wrong("a range from one number to another", f"{address}, of which the craft has none")
            if parts[1] == "%" and value_at(self.craft, address) == 0.0:
                raise place.wrong("a range with a unit: a share of nothing is nothing", f"{address}, which is 0 in the craft")
        if parts[1] == "%":
            share = float(parts[0]) / 100.0
            return _unknown(self.craft, label, addresses, "times", (1.0 - share, 1.0 + share))
        kind = next(note for note in metadata(self.known[addresses[0]].annotation) if isinstance(note, Kind))
        try:
            plus = kind.read(text if parts[1] else float(parts[0]))
        except PydanticCustomError as error:
            raise place.wrong(f"{error.message()}, or a share in %", repr(text)) from None
        return _unknown(self.craft, label, addresses, "plus", (-plus, plus)).model_copy(update={"unit": parts[1]})

    def _value(self, addresses: Sequence[str], text: str, place: Spot) -> float:
        """A number in SI that each address takes."""
        parts = split(text)
        raw: Any = float(parts[0]) if parts is not None and not parts[1] else text.strip()
        try:
            values = [float(self.known[address].adapter.validate_python(raw)) for address in addresses]
        except ValidationError as error:
            if isinstance(place.file, Document):
                at = (KEY, place.label)
                raise CampaignError(problems_of(error, place.file, self.known[addresses[0]].annotation, at)) from None
            raise place.wrong(reason(error)[1], repr(text.strip())) from None
        return values[0]

    def _column(self, heading: str, cells: Sequence[str], place: Spot) -> Unknown:
        label, _, rest = heading.strip().partition(" ")
        unit, place = rest.strip(" ()[]"), place._replace(label=label)
        addresses = self._addresses(label, place)
        numbers = []
        for line, cell in enumerate(cells, start=2):
            there = place._replace(line=line)
            numbers.append(_share(cell, there) if unit == "%" else self._value(addresses, f"{cell} {unit}", there))
        way: Literal["times", "to"] = "times" if unit == "%" else "to"
        found = _unknown(self.craft, label, addresses, way, (min(numbers), max(numbers)))
        return found.model_copy(update={"unit": unit, "drawn": tuple(numbers)})


def _share(cell: str, place: Spot) -> float:
    try:
        number = float(cell) / 100.0
    except ValueError:
        number = math.nan
    if not 0.0 < number < math.inf:
        raise place.wrong("per cent of what the craft has, such as 97.5", repr(cell))
    return number


def _text(folder: Path, name: str, place: Spot) -> str:
    """The text of a CSV of draws."""
    if not PLAIN_NAME.match(name):
        raise place.wrong(FILE_WANTED, repr(name))
    try:
        text = read_text(folder / name, "a CSV file", LARGEST_FILE)
    except CampaignError as error:
        raise place.wrong(FILE_WANTED, f"{name!r}, where there is {error.problems[0].found}") from None
    if (rows := sum(bool(line.strip(" ,")) for line in text.splitlines()) - 1) < FEWEST_ROWS:
        raise place.wrong(f"at least {FEWEST_ROWS} draws, a row each, under a line of addresses", f"a file of {max(rows, 0)}")
    return text


def _twice(found: Sequence[Unknown], document: Document) -> Iterator[Problem]:
    """Mistakes: an address that two unknowns move."""
    owner: dict[str, Unknown] = {}
    for unknown in found:
        for address in unknown.addresses:
            if (other := owner.setdefault(address, unknown)) is not unknown:
                told = f"{address}, which {other.label!r} has too"
                yield document.problem((KEY, FILE if unknown.drawn else unknown.label), "every address once", told)


def _impossible(
    unknowns: Unknowns, craft: Craft, factors: Mapping[str, Factor], spot: Callable[[Unknown], Spot]
) -> list[Problem]:
    """The first unknown whose end, alone or with all others', makes an impossible craft, perhaps with a factor's end."""
    crafts, middle = (craft, *at_the_ends(craft, factors.values())), [each.as_described for each in unknowns.each]
    alone = [
        (unknown, [*middle[:at], end, *middle[at + 1 :]])
        for at, unknown in enumerate(unknowns.each)
        for end in (unknown.low, unknown.high)
    ]
    together = [(unknowns.each[-1], [getattr(each, end) for each in unknowns.each]) for end in ("low", "high") if alone]
    found: list[Problem] = []
    for unknown, numbers in (*alone, *together):
        why = _why_not(unknowns, crafts, numbers)
        if why and not found:
            found += spot(unknown).wrong(why, f"{unknown.label} {unknown.said()}, which makes an impossible craft").problems
    return found


def _why_not(unknowns: Unknowns, crafts: Sequence[Craft], numbers: Sequence[float]) -> str | None:
    """What would be right, if some craft cannot have these numbers."""
    for craft in crafts:
        try:
            unknowns.of(craft, numbers)
        except ValidationError as error:
            where, wanted = reason(error)
            return f"{wanted} (at {where} in the craft)"
    return None


def unfit(unknowns: Unknowns, replicates: int, beside: str, document: Document) -> Iterator[Problem]:
    """Mistakes: what a campaign with these unknowns cannot ask for; beside: a race or a search that it asks for, or ''."""
    if beside:
        wanted = f"no {beside} beside them: it drops designs before they have met whole draws"
        yield document.problem((KEY,), wanted, f"a {beside} too")
    if replicates % unknowns.waves:
        wanted = f"a multiple of {unknowns.waves}: settings are chosen by one flight of a draw, and judged by another"
        yield document.problem(("conditions", "replicates"), wanted, f"{replicates}, with {KEY} and set factors")


def shared_draws(unknowns: Unknowns, factors: Mapping[str, Factor], replicates: int) -> Unknowns:
    """The unknowns, with draws that replicates share where there are settings to choose in them."""
    if any(factor.kind == "set" for factor in factors.values()):
        return unknowns.model_copy(update={"waves": WAVES_A_DRAW, "shared": replicates})
    return unknowns

"""What the flights of a campaign depend on: whether old flights may stand beside new ones, and tables beside flights."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import compress
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.campaign.addresses import value_at
from sweep.campaign.craft import Craft
from sweep.campaign.designs import craft_of, rows_of
from sweep.campaign.flight import Flight
from sweep.campaign.plan import Search
from sweep.campaign.text.dimensions import Kind
from sweep.campaign.text.shapes import metadata, type_at
from sweep.campaign.water import WaterBody
from sweep.results.digests import flight_digest
from sweep.words.units import quantity

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.conditions import Condition
    from sweep.campaign.factors import Factor
    from sweep.campaign.ride_map import RideMap

NOT_FLOWN: dict[str, Any] = {
    **dict.fromkeys(("title", "name", "limits", "score", "decide", "map", "tolerances", "outings", "warnings"), True),
    **dict.fromkeys(("campaign_text", "craft_text", "listed", "listed_text", "searched", "polar_texts", "drawn_texts"), True),
    **dict.fromkeys(("fly_on", "rules", "season", "cost_limits", "cost_weights"), True),
    "craft": {
        "name": True,
        "body": {"price"},
        "struts": {"price", "price_per_length"},
        "servos": {"price"},
        "battery": {"price"},
        "rangefinders": {"price": True, "each": {"__all__": {"price"}}},
        "foils": {
            "__all__": {
                "price": True,
                "price_per_area": True,
                "strut": {"price", "price_per_length"},
                "servo": {"price"},
            }
        },
        "wands": {"__all__": {"price"}},
        "steering": {"servo": {"price"}, "rudders": {"__all__": {"price"}}},
    },
    "factors": {"__all__": {"label", "unit", "kind"}},
    "headings": {"__all__": {"name"}},
    "faults": {"__all__": {"name"}},
    "courses": {"__all__": {"name"}},
    "unknowns": {"each": {"__all__": {"label", "unit"}}},
}
"""What may change in a campaign without touching its flights: words, prices, how it judges."""

KEYED = ("craft", "factors", "plan", "budget", "seas", "headings", "speeds", "faults", "courses", "replicates")
"""What touches a flight only through its design, its condition, its replicate, or whether it is flown at all."""

JUDGED = ("score", "limits")
JUDGED_TOO = ("season", "cost_limits", "cost_weights")
"""What a race or a search goes by beside its flights; of the second, what a campaign has."""

NOT_IN_THE_WATER = ["mass", "price"]
"""Columns of the design table that are told of a craft: its flights follow from the craft itself."""

PARTS = {"craft": Craft, "flight": Flight, "water": WaterBody}
"""Parts of a campaign whose numbers are told with their units."""
CHANGED = {
    "designs": "the design table that comes of it",
    "model": "the craft model: this is another version of the program, and its flights may not stand beside the old ones",
}


def flown_content(campaign: Campaign, designs: pd.DataFrame) -> dict[str, Any]:
    """What the flights of a campaign depend on, as JSON: all but `NOT_FLOWN`; and the sources that fly them, as `model`."""
    flown = campaign.model_dump(mode="json", exclude=NOT_FLOWN)
    flown["seas"] = [sea.content() for sea in campaign.seas]
    flown["factors"] = {", ".join(each["addresses"]): each for each in flown["factors"].values()}
    if decides(campaign):  # what flies next follows from how the flights are judged
        flown |= judged_content(campaign)
    if isinstance(campaign.plan, Search) and campaign.rules:  # by which it proposes designs
        flown["rules"] = [rule.text for rule in campaign.rules]
    laid_out = (
        designs.head(1) if isinstance(campaign.plan, Search) else designs
    )  # the others of a search follow from its flights
    return flown | {"designs": designs_flown(laid_out), "model": flight_digest()}


def judged_content(campaign: Campaign) -> dict[str, Any]:
    """How the flights of a campaign are judged, as JSON."""
    return campaign.model_dump(mode="json", include={*JUDGED, *(name for name in JUDGED_TOO if getattr(campaign, name))})


def decides(campaign: Campaign) -> bool:
    """Whether a race or a search decides by the flights what to fly next."""
    return campaign.budget is not None or isinstance(campaign.plan, Search)


def designs_flown(designs: pd.DataFrame) -> str:
    """The digest of a design table by its values: whatever its factors are called."""
    table = designs.drop(columns=NOT_IN_THE_WATER, errors="ignore").to_csv(lineterminator="\n", header=False)
    return hashlib.sha256(table.encode()).hexdigest()


def map_content(ride_map: RideMap) -> dict[str, Any]:
    """What the flights of a map depend on beside the campaign's own settings, as JSON: names left out."""
    flown = ride_map.model_dump(mode="json", exclude={"asked": True, "headings": {"__all__": {"name"}}})
    return flown | {"sea": ride_map.sea.content()}


def called(change: str, campaign: Campaign) -> str:
    """A difference of two contents, its factor called as the campaign calls it."""
    for label, factor in campaign.factors.items():
        change = change.replace(f"factors.{', '.join(factor.addresses)}", f"factors.{label}", 1)
    return change


class Keys(NamedTuple):
    """Digests of what flights depend on: two flights with the same three and the same replicate are the same flight.

    settings: the sources, the water, length and seed; designs, conditions: one each, in the order of their numbers.
    """

    settings: str
    designs: list[str]
    conditions: list[str]

    def of_flights(self, condition: int, replicate: int, designs: Iterable[int]) -> str:
        """The digest of some designs' flights through one block; raises LookupError for a number that has no key."""
        if min(designs := [int(design) for design in designs], default=0) < 0 or condition < 0:
            raise LookupError("a number below 0")
        return digest([self.settings, self.conditions[condition], replicate, [self.designs[design] for design in designs]])

    def of_records(self, design: int) -> str:
        """The digest of a design's recorded flights, one a condition."""
        return digest([self.settings, self.designs[design], self.conditions])

    def of_rows(self, flights: pd.DataFrame) -> str:
        """The digest of rows of one block; raises ValueError for none or of several, LookupError as `of_flights`."""
        blocks = flights[["condition", "replicate"]].drop_duplicates()
        if len(blocks) != 1:
            raise ValueError(f"rows of {len(blocks)} blocks")
        condition, replicate = (int(value) for value in blocks.iloc[0])
        return self.of_flights(condition, replicate, flights["design"])


def share_flights(one: Keys, other: Keys | None) -> bool:
    """Whether two campaigns may have a flight in common."""
    if other is None or one.settings != other.settings:
        return False
    return all(set(a) & set(b) for a, b in ((one.designs, other.designs), (one.conditions, other.conditions)))


def flight_keys(campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> Keys:
    """The keys of a campaign's flights: each craft and each condition by all that it holds but `NOT_FLOWN`."""
    left_out = NOT_FLOWN | dict.fromkeys(KEYED, True)
    settings = campaign.model_dump(mode="json", exclude=left_out) | {"model": flight_digest()}
    built = [_digest(text) for text in _built_texts(campaign, designs)]
    return Keys(digest(settings), built, [digest(_met(each)) for each in conditions])


def _built_texts(campaign: Campaign, designs: pd.DataFrame) -> Iterator[str]:
    """What of each design's craft is flown, as JSON: made once for designs that differ in numbers only, but for these."""
    factors = list(campaign.factors.values())
    numeric = [
        not factor.scaled and all(isinstance(value_at(campaign.craft, each), float) for each in factor.addresses)
        for factor in factors
    ]
    others = [not number for number in numeric]
    forms: dict[tuple[Any, ...], tuple[str, list[int]]] = {}
    for row in rows_of(campaign, designs):
        values = list(row.values())
        if any(value is None for value in values):
            yield json.dumps(_built(craft_of(campaign, row)))
            continue
        alike = tuple(compress(values, others))
        if (form := forms.get(alike)) is None:
            form = forms[alike] = _form(_built(craft_of(campaign, row)), list(compress(factors, numeric)))
        numbers = [repr(float(value) + 0.0) for value in compress(values, numeric)]
        text, places = form
        yield text % tuple([numbers[place] for place in places])


def _form(built: dict[str, Any], factors: Sequence[Factor]) -> tuple[str, list[int]]:
    """The JSON of a craft with %s for each value of some factors, and which factor's comes there."""
    for number, factor in enumerate(factors):
        for address in factor.addresses:
            group, (*path, last) = built, address.split(".")
            for step in path:
                group = group[step]
            if last in group:  # a price is not flown
                group[last] = f"\0{number}\0"
    text, *parts = re.split(r'"\\u0000(\d+)\\u0000"', json.dumps(built).replace("%", "%%"))
    return "%s".join([text, *parts[1::2]]), [int(part) for part in parts[::2]]


def _built(craft: Craft) -> dict[str, Any]:
    """What of a craft is flown; of the polars, those that its own foils have."""
    flown = craft.model_dump(mode="json", exclude=NOT_FLOWN["craft"])
    own = {foil.section.polar for foil in craft.foils.values()}
    return flown | {"polars": {name: polar for name, polar in flown["polars"].items() if name in own}}


def _met(condition: Condition) -> list[Any]:
    """What of a condition is flown: all but the names."""
    fault = condition.fault.model_dump(mode="json", exclude={"name"})
    return [condition.sea.content(), condition.heading.angle, condition.speed, fault, condition.legs]


def designs_digest(campaign: Campaign) -> str:
    """What the design table is made from: its factors with their labels, and crafts with their prices."""
    beside = {name for name in ("searched", "rules") if getattr(campaign, name)}
    return digest(campaign.model_dump(mode="json", include={"craft", "factors", "plan", "listed", *beside}))


def conditions_digest(campaign: Campaign) -> str:
    """What the table of conditions is made from, names among it."""
    seas = [{"name": sea.name} | sea.content() for sea in campaign.seas]
    return digest({"seas": seas} | campaign.model_dump(mode="json", include={"headings", "speeds", "faults", "courses"}))


def ranking_digest(campaign: Campaign, content: Mapping[str, Any], sums: Iterable[tuple[str, str]]) -> str:
    """What standings and findings are made from: flown content, names of factors and conditions, how they are judged, flights.

    sums: name and checksum of every shard.
    """
    judged = judged_content(campaign) | campaign.model_dump(mode="json", include={"decide", "factors"})
    return digest(
        [
            {key: judged[key] for key in sorted(judged)},
            designs_digest(campaign),
            conditions_digest(campaign),
            content,
            sorted(sums),
        ]
    )


def digest(value: Any) -> str:
    """Of a value as JSON, 32 hexadecimal digits."""
    return _digest(json.dumps(value))


def _digest(text: str) -> str:
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()


def differences(before: Any, now: Any, address: str = "") -> Iterator[str]:
    """Each value that differs between two contents, by its address: what it was and what it is."""
    if isinstance(before, Mapping) and isinstance(now, Mapping):
        for key in sorted(before.keys() | now.keys()):
            yield from differences(before.get(key), now.get(key), f"{address}.{key}".strip("."))
    elif _alike(before, now):
        for at, (one, other) in enumerate(zip(before, now, strict=True)):
            yield from differences(one, other, f"{address}[{at}]")
    elif before != now:
        yield CHANGED.get(address) or f"{address}: was {_brief(before, address)}, is {_brief(now, address)}"


def _alike(before: Any, now: Any) -> bool:
    """Whether two values are lists of as many mappings, whose entries are told one by one."""
    both = isinstance(before, list) and isinstance(now, list) and len(before) == len(now)
    return both and all(isinstance(each, Mapping) for each in (*before, *now))


def _brief(value: Any, address: str = "") -> str:
    """A value in few characters, in the unit that its place in a campaign or craft is read in."""
    if isinstance(value, float) and (unit := _unit(address)):
        return quantity(value, unit)
    text = "not there" if value is None else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _unit(address: str) -> str:
    """The usual unit of an address such as craft.body.mass; '' where it has none, or none is known."""
    top, *steps = address.split(".")
    found = type_at(PARTS[top], tuple(steps)) if top in PARTS else None
    return next((note.units[0] for note in metadata(found) if isinstance(note, Kind) and note.units), "")

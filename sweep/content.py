"""What the flights of a campaign depend on: whether old flights may stand beside new ones."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd

from sweep.designs import craft_of
from sweep.model.sources import source_hash

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.craft import Craft
    from sweep.conditions import Condition

NOT_FLOWN: dict[str, Any] = {
    **dict.fromkeys(("title", "name", "limits", "score", "map", "tolerances", "warnings"), True),
    **dict.fromkeys(("campaign_text", "craft_text", "listed", "listed_text", "polar_texts"), True),
    "craft": {
        "name": True,
        "body": {"price"},
        "struts": {"price"},
        "rangefinders": {"price"},
        "foils": {"__all__": {"price"}},
    },
    "seas": {"__all__": {"name"}},
    "headings": {"__all__": {"name"}},
}
"""What may change in a campaign without touching its flights: words, prices, how it judges."""

KEYED = ("craft", "factors", "plan", "budget", "seas", "headings", "speeds", "faults", "replicates")
"""What touches a flight only through its design, its condition, its replicate, or whether it is flown at all."""

NOT_IN_THE_WATER = ["mass", "price"]
"""Columns of the design table that are told of a craft: its flights follow from the craft itself."""

CHANGED = {
    "designs": "the design table that comes of it",
    "model": "the craft model: this is another version of the program, and its flights may not stand beside the old ones",
}


def flown_content(campaign: Campaign, designs: pd.DataFrame) -> dict[str, Any]:
    """What the flights of a campaign depend on, as JSON: all but `NOT_FLOWN`; and the model."""
    flown = campaign.model_dump(mode="json", exclude=NOT_FLOWN)
    table = designs.drop(columns=NOT_IN_THE_WATER, errors="ignore").to_csv(lineterminator="\n").encode()
    if campaign.budget:  # the order of a race's flights follows from how they are judged
        flown |= campaign.model_dump(mode="json", include={"score", "limits"})
    return flown | {"designs": hashlib.sha256(table).hexdigest(), "model": source_hash()}


class Keys(NamedTuple):
    """Digests of what flights depend on: two flights with the same three and the same replicate are the same flight.

    settings: the model, the water, length and seed; designs, conditions: one each, in the order of their numbers.
    """

    settings: str
    designs: list[str]
    conditions: list[str]


def flight_keys(campaign: Campaign, designs: pd.DataFrame, conditions: Sequence[Condition]) -> Keys:
    """The keys of a campaign's flights: each craft and each condition by all that it holds but `NOT_FLOWN`."""
    settings = campaign.model_dump(mode="json", exclude=NOT_FLOWN | dict.fromkeys(KEYED, True)) | {"model": source_hash()}
    crafts = (craft_of(campaign, row) for _, row in designs.iterrows())
    return Keys(_digest(settings), [_digest(_built(craft)) for craft in crafts], [_digest(_met(each)) for each in conditions])


def _built(craft: Craft) -> dict[str, Any]:
    """What of a craft is flown; of the polars, those that its own foils have."""
    flown = craft.model_dump(mode="json", exclude=NOT_FLOWN["craft"])
    own = {foil.section.polar for foil in craft.foils.values()}
    return flown | {"polars": {name: polar for name, polar in flown["polars"].items() if name in own}}


def _met(condition: Condition) -> list[Any]:
    """What of a condition is flown: all but the names."""
    sea, fault = (part.model_dump(mode="json", exclude={"name"}) for part in (condition.sea, condition.fault))
    return [sea, condition.heading.angle, condition.speed, fault]


def _digest(value: Any) -> str:
    return hashlib.blake2b(json.dumps(value).encode(), digest_size=16).hexdigest()


def differences(before: Any, now: Any, address: str = "") -> Iterator[str]:
    """Each value that differs between two contents, by its address: what it was and what it is."""
    if isinstance(before, Mapping) and isinstance(now, Mapping):
        for key in sorted(before.keys() | now.keys()):
            yield from differences(before.get(key), now.get(key), f"{address}.{key}".strip("."))
    elif before != now:
        yield CHANGED.get(address) or f"{address}: was {_brief(before)}, is {_brief(now)}"


def _brief(value: Any) -> str:
    text = "not there" if value is None else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}..."

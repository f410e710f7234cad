"""What the flights of a campaign depend on: whether old flights may stand beside new ones."""

from __future__ import annotations

import functools
import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign

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

CHANGED = {
    "designs": "the design table that comes of it",
    "model": "the craft model: this is another version of the program, and its flights may not stand beside the old ones",
}


def flown_content(campaign: Campaign, designs: pd.DataFrame) -> dict[str, Any]:
    """What the flights of a campaign depend on, as JSON: all but `NOT_FLOWN`; and the model."""
    flown = campaign.model_dump(mode="json", exclude=NOT_FLOWN)
    table = designs.to_csv(lineterminator="\n").encode()
    if campaign.budget:  # the order of a race's flights follows from how they are judged
        flown |= campaign.model_dump(mode="json", include={"score", "limits"})
    return flown | {"designs": hashlib.sha256(table).hexdigest(), "model": model_hash()}


@functools.cache
def model_hash() -> str:
    """Hash of the source of the craft model, which says whether flights of two versions may stand side by side."""
    folder = Path(__file__).parent / "model"
    sources = sorted(folder.glob("*.py"))
    return hashlib.sha256(b"".join(path.name.encode() + path.read_bytes() for path in sources)).hexdigest()


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

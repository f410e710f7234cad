"""What went wrong in the recorded flights of a design, and why, for its page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sweep.events import KINDS
from sweep.wording import count, together

if TYPE_CHECKING:
    import pandas as pd

    from sweep.store import Results

MOST_LISTED = 40
PLAIN = {
    "blind range": "too close for the rangefinder to see",
    "servo limit": "a servo at its limit",
    "ventilation": "foils that draw air",
    "drop-out": "readings that did not come, or misled",
    "wave beyond the window": "waves beyond what the struts allow",
    "loop oscillation": "a loop that swings",
    "thrust short": "too little thrust",
    "not clear": "not clear from the record",
}
"""Causes of `sweep.insight.causes` as people say them."""


def tables(results: Results, events: pd.DataFrame) -> dict[str, Any]:
    """The events of a design's recorded flights with their causes, `events` as `name_causes` gives them."""
    names = dict(zip(results.conditions["condition"], results.conditions["name"], strict=True))
    listed = events.sort_values(["condition", "begin"]).head(MOST_LISTED)
    return {
        "sentence": _sentence(events),
        "rows": [
            (names[row["condition"]], f"{row['begin']:.1f} s", KINDS[row["kind"]], PLAIN[row["cause"]], row["why"])
            for row in listed.to_dict("records")
        ],
        "left": len(events) - len(listed),
    }


def _sentence(events: pd.DataFrame) -> str:
    if events.empty:
        return "Nothing went wrong in these flights."
    causes = events["cause"].value_counts()
    parts = [f"{PLAIN[str(cause)]} ({number})" for cause, number in causes.items()]
    return f"{count(len(events), 'thing', 'things').capitalize()} went wrong in these flights, by {together(parts)}."

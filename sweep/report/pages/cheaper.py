"""Whether a design that costs less than the first would do, as far as that is sure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweep.insight.good_enough import promised
from sweep.insight.ranking import ranked
from sweep.report.headline import SAME, least
from sweep.words.numbers import portion, with_unit
from sweep.words.phrases import called, called_within

if TYPE_CHECKING:
    from sweep.results.store import Results


def cheaper(results: Results) -> str:
    """A sentence or two; '' where prices do not differ, or nothing has a place."""
    order = ranked(results.standings)
    if not priced(results) or order.empty:
        return ""
    first = int(order.iloc[0]["design"])
    prices = results.designs["price"].astype(float)
    price = with_unit(float(prices[first]), "", 4)
    own = f"{called(first)}, the first, costs {price}."
    good = order[order["good_enough"]]
    found = next((each for each in least(results, good) if each.word == "cheapest"), None)
    if found is None:
        dear = (prices.loc[good["design"]] >= (1.0 - SAME) * prices[first]).all()
        why = "none that costs less is surely good enough" if dear else "scores are not known well enough to choose by cost"
        return f"Whether a cheaper design would do is not known: {why}. {own}"
    within = f"surely within {portion(promised(good))} of the best score"
    riding = " unless it fails" if np.isfinite(good["failing_high"]).any() else ""
    if found.design == first:
        return f"Of the designs {within}{riding}, the first is the cheapest: {called_within(first)} costs {price}."
    return f"{called(found.design)} would do, and costs {found.value}: it is the cheapest of those {within}{riding}. {own}"


def priced(results: Results) -> bool:
    """Whether designs differ in price."""
    return "price" in results.designs and results.designs["price"].max() > (1.0 + SAME) * results.designs["price"].min()

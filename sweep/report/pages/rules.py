"""The rules that the templates name in their sentences, in words; each is defined where it is applied."""

from __future__ import annotations

from typing import NamedTuple

from sweep.insight.builds import GOOD_WITHIN
from sweep.insight.intervals import CONFIDENCE_SAID
from sweep.report.pages.changes import COSTS, SPOILT
from sweep.words.numbers import portion


class Rules(NamedTuple):
    """confidence: of every interval; good_within: of a build's best score, how much worse a good setting is at most.

    costs: of the leader's score, what a poorer part may cost; spoilt: share of flights more that may have a bad event with it.
    """

    confidence: str = CONFIDENCE_SAID
    good_within: str = portion(GOOD_WITHIN - 1.0)
    costs: str = portion(COSTS)
    spoilt: str = portion(SPOILT)


RULES = Rules()

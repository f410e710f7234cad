"""Which kind of file a document is: a file given in place of another kind gets one message that says so."""

from __future__ import annotations

from sweep.campaign.text.document import Document
from sweep.campaign.text.problems import CampaignError, Problem

CAMPAIGN, CRAFT, ANSWERS, MAPPING = "a campaign file", "a craft file", "a file of measurements", "a mapping file of logs"
_KEYS = {
    CAMPAIGN: {"conditions", "factors", "plan", "limits"},
    CRAFT: {"body", "hulls", "rangefinders", "control"},
    ANSWERS: {"balance", "swing", "cruise", "pull"},
    MAPPING: {"columns", "clock", "logs", "waves"},
}
"""Keys at the top of such a file, and of no other."""

_USE = {
    CAMPAIGN: "`foilsweep run` takes",
    CRAFT: "a campaign names",
    ANSWERS: "`foilsweep new --answers` takes",
    MAPPING: "`foilsweep log` takes",
}


def of_sort(document: Document, wanted: str) -> Document:
    """The document. Raises one CampaignError, instead of a line for every key, if it plainly is a file of another kind."""
    keys = set(document.root.value) if isinstance(document.root.value, dict) else set()
    if not keys & _KEYS[wanted]:
        for sort, telling in _KEYS.items():
            if len(keys & telling) > 1:
                raise CampaignError([Problem(document.file, 0, 0, "", f"{sort}, which {_USE[sort]}", wanted)])
    return document

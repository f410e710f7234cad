"""Every cause that a rule can name has plain words on the pages, and counts all its events, of which the first are listed."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd

from sweep.insight import causes, following, turning
from sweep.report.pages.causes import MOST_OF_A_CAUSE, PLAIN, of_events
from sweep.results.store import Results


def test_every_cause_has_words_for_people() -> None:
    """Names that stand in a rule, by themselves or in a choice of two."""
    text = "".join(Path(module.__file__).read_text(encoding="utf-8") for module in (causes, following, turning))
    named = set(re.findall(r'Cause\(\s*"([^"]+)"', text)) | set(re.findall(r'"((?:\w+ )*(?:in|out of|into) a turn)"', text))
    assert len(named) >= 15
    assert named <= set(PLAIN)


def test_a_cause_counts_all_its_events_and_lists_the_first(told: Results) -> None:
    """Also where the most frequent begins after the others."""
    rows = [(0, 10.0 + 0.5 * at, "ventilation") for at in range(19)] + [(0, 5.0 + at, "servo limit") for at in range(3)]
    events = pd.DataFrame(rows, columns=["condition", "begin", "cause"]).assign(kind="touchdown", why="by a rule", replicate=0)
    found = of_events(told, events)
    assert [group.cause for group in found.causes] == [f"{PLAIN['ventilation']} (19)", f"{PLAIN['servo limit']} (3)"]
    assert [len(group.rows) for group in found.causes] == [MOST_OF_A_CAUSE, 3]
    assert [row.at for row in found.causes[0].rows] == [f"{10.0 + 0.5 * at:.1f} s" for at in range(MOST_OF_A_CAUSE)]
    assert found.left == 19 - MOST_OF_A_CAUSE

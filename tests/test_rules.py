"""Each rule is defined once: what the sentences, the templates and the pages' scripts say of it follows from there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from sweep.campaign import follow_up_plan
from sweep.flying import replay
from sweep.insight import builds, contour, intervals
from sweep.model.flight import GROWS_FOR, ramp
from sweep.report.pages import changes
from sweep.report.pages.rules import Rules
from sweep.words.numbers import portion

ROOT = Path(__file__).parents[1]
HOMES = {
    "CONFIDENCE": "sweep/insight/intervals.py",
    "TAIL": "sweep/insight/intervals.py",
    "LEADERS": "sweep/campaign/follow_up_plan.py",
    "REPLICATES": "sweep/campaign/follow_up_plan.py",
    "GOOD_WITHIN": "sweep/insight/builds.py",
    "RECORD_RATE": "sweep/model/history.py",
    "GROWS_FOR": "sweep/model/flight.py",
    "SETTLE": "sweep/logs/compare/simulated_log.py",
    "LONGEST_FLIGHT": "sweep/logs/compare/simulated_log.py",
    "LEAST_FOR_SEA": "sweep/logs/sea/judge.py",
    "MOST_PROBLEMS": "sweep/campaign/text/problems.py",
    "CAP": "sweep/insight/scores.py",
}
WRITTEN = re.compile(r"\b95\s?%|\bnine\b.* in ten|\bhalf the time\b|\b50 rows a second|\bthan ten points|\bwithin a quarter of")
"""What sentences would say of a rule by themselves."""


def named(path: Path) -> set[str]:
    """The names that a module gives to values, but not those that it takes from elsewhere."""
    targets = [
        target
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, (ast.Assign, ast.AnnAssign))
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
    ]
    return {each.id for target in targets for each in ast.walk(target) if isinstance(each, ast.Name)}


def texts(path: Path) -> list[str]:
    """The texts of a module, but for those that document it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told
    ]


@pytest.mark.parametrize("name", HOMES)
def test_a_rule_is_defined_in_one_module(name: str) -> None:
    modules = [str(path.relative_to(ROOT)) for path in (ROOT / "sweep").rglob("*.py") if name in named(path)]
    assert modules == [HOMES[name]]


def test_no_sentence_says_a_rule_by_itself() -> None:
    found = {
        str(path.relative_to(ROOT)): said
        for path in (ROOT / "sweep").rglob("*.py")
        if (said := [text for text in texts(path) if WRITTEN.search(text)])
    }
    found |= {
        str(path.relative_to(ROOT)): said
        for path in [*(ROOT / "site" / "templates").glob("*.html"), *(ROOT / "site" / "parts").glob("*.js")]
        if (said := [line for line in path.read_text(encoding="utf-8").splitlines() if WRITTEN.search(line.split("//")[0])])
    }
    # The checks' own words: a table of a handbook is for 95 %, whatever the intervals here are.
    assert found.keys() == {"sweep/checks/comparisons.py"}


def test_what_would_be_said_of_a_rule_is_found() -> None:
    said = ("with 95 % confidence", "nine clean flights in ten", "more than half the time", "of 50 rows a second")
    assert all(WRITTEN.search(text) for text in said)


def test_rules_are_said_in_plain_words() -> None:
    assert [portion(share) for share in (0.5, 1 / 3, 0.25, 0.1, 0.15)] == ["half", "a third", "a quarter", "a tenth", "15 %"]
    assert Rules() == Rules("95 %", "a quarter", "a tenth")


def test_rules_hang_together() -> None:
    assert pytest.approx((1.0 - intervals.CONFIDENCE) / 2.0) == intervals.TAIL
    assert 0.5 < contour.ENOUGH < 1.0 < builds.GOOD_WITHIN
    assert follow_up_plan.FOLLOWED == follow_up_plan.LEADERS + 1
    assert 0.0 < changes.COSTS < 1.0


def test_the_sea_grows_alike_in_the_model_in_a_replay_and_on_the_page() -> None:
    """The page has the time from the page's data; the curve, three squares less two cubes, it knows itself."""
    assert ramp(0.0, 4.0) == 0.0
    assert ramp(0.999 * GROWS_FOR * 4.0, 4.0) < 1.0 == ramp(GROWS_FOR * 4.0, 4.0)
    script = (ROOT / "site" / "parts" / "ride.js").read_text(encoding="utf-8")
    assert "now.time / grows" in script
    assert "grown * grown * (3 - 2 * grown)" in script
    drawing = (ROOT / "site" / "templates" / "drawing.html").read_text(encoding="utf-8")
    assert 'data-grows="{{ ride.grows }}"' in drawing
    assert replay.GROWS_FOR is GROWS_FOR

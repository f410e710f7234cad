"""The pass that would narrow the least certain effect most, and that flying it narrows the effect as foretold."""

from __future__ import annotations

import numpy as np
import pytest

from sweep.logs.compare.comparison import Pass, split
from sweep.logs.compare.next_pass import next_pass, reach_of
from tests.logs.test_compare import SCATTER, expected

SEA, OTHER = (0.05, 1.1), (0.036, 0.95)


def passes(counts: dict[tuple[str, int], int], seas: dict[str, tuple[float, float]]) -> list[Pass]:
    """So many passes of each set-up and group, each set-up in its sea, with the model's own scatter."""
    random = np.random.default_rng(5)
    return [
        Pass(setup, float(expected().value("sensed_error", *seas[setup])[0]) * np.exp(SCATTER * noise), *seas[setup], group)
        for (setup, group), count in counts.items()
        for noise in random.standard_normal(count)
    ]


def test_the_set_up_that_flew_less_flies_next_where_it_flew_least() -> None:
    rows = passes({("a", 0): 4, ("a", 1): 4, ("b", 0): 2, ("b", 1): 1}, {"a": SEA, "b": SEA})
    found = split(rows, [expected(), expected()], "sensed_error", "a", "b")
    best = next_pass({"sensed_error": rows}, [expected(), expected()], {"sensed_error": found}, 0.0)
    assert best is not None
    assert (best.setup, best.group) == ("b", 1)
    assert best.after < best.before == pytest.approx(reach_of(found))


def test_set_ups_that_met_unlike_seas_meet_each_other_s_next() -> None:
    rows = passes({("a", 0): 4, ("b", 0): 4}, {"a": SEA, "b": OTHER})
    found = split(rows, [expected()], "sensed_error", "a", "b", 0.4)
    best = next_pass({"sensed_error": rows}, [expected()], {"sensed_error": found}, 0.4)
    assert best is not None
    other = OTHER if best.setup == "a" else SEA
    assert (best.height, best.period) == pytest.approx(other)


def test_flying_it_narrows_the_effect_as_foretold() -> None:
    """Within a twentieth: the scatter of the new pass is not known before."""
    rows = passes({("a", 0): 3, ("b", 0): 2}, {"a": SEA, "b": OTHER})
    found = split(rows, [expected()], "sensed_error", "a", "b", 0.2)
    best = next_pass({"sensed_error": rows}, [expected()], {"sensed_error": found}, 0.2)
    assert best is not None
    value = float(expected().value("sensed_error", best.height, best.period)[0])
    flown = [*rows, Pass(best.setup, value, best.height, best.period, best.group)]
    assert reach_of(split(flown, [expected()], "sensed_error", "a", "b", 0.2)) == pytest.approx(best.after, rel=0.05)


def test_no_other_pass_narrows_the_effect_more() -> None:
    """Every set-up, way and sea flown in turn, each split anew: the pass that was named is the best, to a hundredth."""
    models = [expected(), expected()]
    rows = passes({("a", 0): 4, ("a", 1): 2, ("b", 0): 3, ("b", 1): 1}, {"a": SEA, "b": OTHER})
    found = split(rows, models, "sensed_error", "a", "b", 0.2)
    best = next_pass({"sensed_error": rows}, models, {"sensed_error": found}, 0.2)
    assert best is not None

    def flown(setup: str, group: int, sea: tuple[float, float]) -> float:
        more = Pass(setup, float(models[group].value("sensed_error", *sea)[0]), *sea, group)
        return reach_of(split([*rows, more], models, "sensed_error", "a", "b", 0.2))

    others = [flown(setup, group, sea) for setup in "ab" for group in (0, 1) for sea in (SEA, OTHER)]
    assert flown(best.setup, best.group, (best.height, best.period)) < 1.01 * min(others)


def test_without_a_split_there_is_none() -> None:
    assert next_pass({}, [expected()], {}, 0.0) is None

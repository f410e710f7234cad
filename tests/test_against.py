"""The command that tells which of two checkouts is faster: its ratios, its verdict, and a side that flies."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.against import HOME, Ratio, Side, ratio_of, verdict
from tests.campaign.files import CRAFT

TINY = """\
title: Tender in calm water
craft: tender.yaml
factors: {struts.height: [18 cm, 20 cm]}
conditions: {seas: {calm: {kind: flat}}, headings: [head], speeds: [4 m/s], replicates: 1}
flight: {length: 2 s, settle: 1 s, seed: 7}
"""


def test_the_ratio_is_of_neighbours_in_time() -> None:
    """A machine that slows down as rounds go by tells nothing of either side."""
    assert ratio_of([2.0, 3.0, 4.0], [1.0, 1.5, 2.0]) == Ratio(0.5, 0.5, 0.5)


@pytest.mark.parametrize(
    ("ratio", "said"),
    [
        (Ratio(0.8, 0.78, 0.83), "The working tree is slower, by 20.0% of the other's speed"),
        (Ratio(1.25, 1.2, 1.3), "The commit is slower, by 20.0% of the other's speed"),
        (Ratio(0.9, 0.8, 1.1), "Neither side"),
        (Ratio(0.98, 0.97, 0.99), "Neither side"),
    ],
)
def test_a_side_is_slower_only_where_all_rounds_agree_and_it_is_enough(ratio: Ratio, said: str) -> None:
    assert verdict(ratio, 3).startswith(said)


def test_a_side_flies_its_parts(tmp_path: Path) -> None:
    (tmp_path / "tender.yaml").write_text(CRAFT, encoding="utf-8")
    (tmp_path / "tiny.yaml").write_text(TINY, encoding="utf-8")
    side = Side(HOME, [tmp_path / "tiny.yaml"])
    try:
        (part,) = side.parts
        assert part["simulated"] == 6.0  # the base craft flies too
        assert sum(part["endings"].values()) == 3
        assert side.fly(0) > 0.0
    finally:
        side.end()

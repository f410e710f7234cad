"""The section that a craft has by default, beside calculated sections at the Reynolds number of small boats.

Sources differ by a third there (tests/references/low_reynolds.toml), so the bands are wide.
"""

from __future__ import annotations

from math import radians
from typing import Any

import pytest

from sweep.campaign.foils import Section
from sweep.model.physics.foil import DragPolar, drag_coefficient, lift_and_stall
from tests.references import reference

SECTION = Section()


def lift_and_drag(angle: float, **own: float) -> tuple[float, float]:
    """Of an endless foil at the section's reference Reynolds number; angle from no lift, rad."""
    section = SECTION.model_copy(update=own)
    lift, stalled, sine = lift_and_stall(section.lift_slope, 1.0 / section.lift_slope, angle, section.lift_max)
    polar = DragPolar(section.drag_min, section.drag_rise, 0.0, section.lift_of_least_drag)
    drag = drag_coefficient(lift, polar, 0.0, 0.0, stalled, sine)
    return float(lift), float(drag)


def compare(table: str, zero_lift: float, **own: float) -> None:
    outside = reference("low_reynolds", table)
    tolerance: dict[str, Any] = outside.tolerance
    for row in outside.rows:
        lift, drag = lift_and_drag(radians(row["angle deg"] - zero_lift), **own)
        assert lift == pytest.approx(row["lift"], rel=tolerance["lift"]), row
        assert drag == pytest.approx(row["drag"], rel=tolerance["drag"]), row


def test_the_default_section_is_within_a_band_of_a_symmetric_one() -> None:
    """Without its camber: least drag at no lift."""
    compare("naca_0015", 0.0, lift_of_least_drag=0.0)


def test_the_default_section_is_within_a_band_of_a_cambered_one() -> None:
    (row,) = reference("low_reynolds", "zero_lift").rows
    compare("naca_2412", row["angle deg"])

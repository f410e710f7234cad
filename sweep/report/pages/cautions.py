"""The page of cautions: what can hurt, before every launch, and what no campaign knows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sweep.report.page import Made, Material
from sweep.words.numbers import with_unit

if TYPE_CHECKING:
    from sweep.results.store import Results


@dataclass(frozen=True)
class CautionsPage:
    """What can hurt; energy: that of the base craft at its fastest in a sentence, '' where it is not known."""

    energy: str


def make(material: Material) -> Made:
    """The page."""
    return Made(cautions_page(material.results), {})


def cautions_page(results: Results) -> CautionsPage:
    """The cautions, with what the base craft of these results carries."""
    if "mass" not in results.designs or results.conditions.empty:
        return CautionsPage("")
    mass, speed = float(results.designs["mass"].loc[0]), float(results.conditions["speed"].max())
    joules = with_unit(0.5 * mass * speed**2, "J", 2)
    return CautionsPage(f"The base craft of this campaign at its fastest, {with_unit(speed, 'm/s')}, carries {joules}.")

"""Plans: how designs are laid out over the factors."""

from __future__ import annotations

from collections.abc import Mapping
from math import prod
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from sweep.campaign.factors import Factor
from sweep.campaign.text.base import Part, ShortForm
from sweep.campaign.text.dimensions import Count
from sweep.campaign.text.problems import wrong

MOST_DESIGNS = 5_000_000
"""Designs of one campaign (judgement)."""

SEARCH_ROUNDS, LEAST_A_ROUND, MOST_SEARCHED = 8, 20, 100_000
"""Rounds of a search; designs of a round, at least, and of all, at most (judgement)."""

CARRIED = 6
"""Designs of the rounds before that fly every round again, so that rounds can be compared (judgement)."""
FINALISTS, FEWEST_FINALISTS = 16, 4
"""Designs of the final, besides the base craft (judgement)."""
MOST_BLOCKS = 12
"""Blocks of a round: with more conditions than that each round flies some of them, all in turn (judgement)."""
ENDS = 2
"""Ends of ranges that a budget always leaves flights for (judgement)."""

Searched = Annotated[Count, Field(ge=SEARCH_ROUNDS * LEAST_A_ROUND, le=MOST_SEARCHED)]
Seed = Annotated[Count, Field(ge=0, lt=2**63, description="another one draws other designs")]


class FullFactorial(Part):
    """Every level with every other."""

    kind: Literal["full-factorial"] = Field(description="which plan")
    seed: ClassVar[int] = 0
    not_here: ClassVar[dict[str, str]] = {"designs": "while the levels of the factors say how many"}


class LatinHypercube(Part):
    """Each equal part of every range once."""

    kind: Literal["latin-hypercube"] = Field(description="which plan")
    designs: Count = Field(ge=1, le=MOST_DESIGNS, description="how many, besides the base craft")
    seed: Seed = 0


class Sobol(Part):
    """A scrambled Sobol sequence: evenly spread over all factors together, most so with a power of two designs."""

    kind: Literal["sobol"] = Field(description="which plan")
    designs: Count = Field(ge=1, le=MOST_DESIGNS, description="how many, besides the base craft; best a power of two")
    seed: Seed = 0


class VarianceBased(Part):
    """Two samples and their mixtures, which give the share of each factor in the variance of the score.

    (factors + 2) x base designs fly.
    """

    kind: Literal["variance-based"] = Field(description="which plan")
    base: Count = Field(ge=2, le=MOST_DESIGNS, description="designs in each of the two samples, best a power of two")
    seed: Seed = 0


class Search(Part):
    """Rounds of samples that narrow around what is good; the best of them fly a final in waves of its own.

    How many designs fly follows from `designs`, or else from the budget.
    """

    kind: Literal["search"] = Field(description="which plan")
    designs: Searched | None = Field(None, description="how many in all, besides the base craft, where no budget says it")
    seed: Seed = 0


class Listed(Part):
    """The rows of a CSV file."""

    kind: Literal["listed"] = Field(description="which plan")
    file: str = Field(min_length=1, description="the path of a CSV, seen from here, with a column for each factor")
    seed: ClassVar[int] = 0


EXAMPLES = {
    "full-factorial": "full-factorial",
    "latin-hypercube": "{kind: latin-hypercube, designs: 200}",
    "sobol": "{kind: sobol, designs: 256}",
    "variance-based": "{kind: variance-based, base: 128}",
    "search": "{kind: search, designs: 1200}",
    "listed": "{kind: listed, file: designs.csv}",
}


def _of_a_word(value: object) -> object:
    """full-factorial needs only its name."""
    if value == "full-factorial":
        return {"kind": value}
    if isinstance(value, str):
        raise wrong(EXAMPLES.get(value, f"one of {', '.join(EXAMPLES.values())}"))
    return value


Plan = Annotated[
    FullFactorial | LatinHypercube | Sobol | VarianceBased | Search | Listed,
    Field(discriminator="kind"),
    ShortForm(_of_a_word, {"const": "full-factorial"}),
]


def count_designs(plan: Plan, factors: Mapping[str, Factor]) -> int:
    """How many designs the plan lays out, the base craft not counted; not known here, of a list or a budget: 0."""
    if isinstance(plan, FullFactorial):
        return prod(len(factor.levels) for factor in factors.values())
    if isinstance(plan, VarianceBased):
        return plan.base * (len(factors) + 2)
    return 0 if isinstance(plan, Listed) else plan.designs or 0


def uneven(plan: Plan) -> tuple[str, ...]:
    """A caution where a sequence is cut off within its pattern."""
    count = plan.designs if isinstance(plan, Sobol) else plan.base if isinstance(plan, VarianceBased) else 1
    if count & (count - 1) == 0:
        return ()
    lower = 1 << (count.bit_length() - 1)
    return (f"{count} is no power of two: {lower} or {2 * lower} points of a Sobol sequence are spread more evenly",)


def blocks_a_round(conditions: int) -> int:
    """How many blocks every design of a round flies."""
    return min(conditions, MOST_BLOCKS)


def least_flights(conditions: int, replicates: int) -> int:
    """Flights of the smallest search."""
    rounds = SEARCH_ROUNDS * LEAST_A_ROUND + company()
    return blocks_a_round(conditions) * rounds + after_rounds(conditions * replicates, FEWEST_FINALISTS)


def company() -> int:
    """Designs that fly in the rounds besides the new ones: the base craft in each, those carried on in all but the first."""
    return SEARCH_ROUNDS + (SEARCH_ROUNDS - 1) * CARRIED


def after_rounds(each: int, finalists: int) -> int:
    """Flights of the final, and of the ends with its best and the base craft beside; each: of one design."""
    return each * (finalists + 1) + each * (ENDS + 2)

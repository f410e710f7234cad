"""Designs: one choice of every factor each. Plans speak the unit cube; scaling to levels is separate and invertible."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.campaign import Campaign
from sweep.campaign.craft import Craft
from sweep.campaign.factors import Factor

if TYPE_CHECKING:
    import pandas as pd


def lay_out(campaign: Campaign) -> pd.DataFrame:
    """The design table, SI: index `design` with the base craft as 0, one column per factor label.

    A factor whose addresses hold different values in the base craft, or none, has none (NaN) in design 0.
    """
    import pandas as pd

    factors = list(campaign.factors.values())
    columns = _full_factorial(factors) if campaign.plan.kind == "full-factorial" else _latin_hypercube(campaign, factors)
    base = [base_value(campaign.craft, factor) for factor in factors]
    table = {factor.label: [first, *column] for factor, first, column in zip(factors, base, columns, strict=True)}
    designs = pd.DataFrame({label: pd.Series(values).infer_objects() for label, values in table.items()})
    designs.index.name = "design"
    return designs


def craft_of(campaign: Campaign, design_row: Mapping[str, Any] | pd.Series[Any]) -> Craft:
    """The craft of one row of the design table; a factor without a value there stays as in the base craft.

    Raises pydantic's ValidationError if there is no such craft.
    """
    values = {
        address: value
        for label, factor in campaign.factors.items()
        if (value := _plain(design_row[label])) is not None
        for address in factor.addresses
    }
    return replace_values(campaign.craft, values)


def base_value(craft: Craft, factor: Factor) -> Any:
    """What the base craft has for a factor; NaN if its addresses differ or hold nothing."""
    values = {value_at(craft, address) for address in factor.addresses}
    value = values.pop()
    return math.nan if values or value is None else value


def from_cube(factor: Factor, shares: NDArray[np.float64]) -> list[Any]:
    """Shares of 0 up to 1 as values of a factor: along its range, or each level an equal part."""
    if factor.levels:
        places = np.minimum((shares * len(factor.levels)).astype(int), len(factor.levels) - 1)
        return [factor.levels[place] for place in places]
    low, high = _ends(factor)
    values: list[float] = (low * (high / low) ** shares if factor.spacing == "log" else low + (high - low) * shares).tolist()
    return values


def to_cube(factor: Factor, values: list[Any]) -> NDArray[np.float64]:
    """The shares that values of a factor come from; of a level, the middle of its part."""
    if factor.levels:
        return np.array([(factor.levels.index(value) + 0.5) / len(factor.levels) for value in values])
    low, high = _ends(factor)
    array = np.asarray(values, dtype=float)
    return np.log(array / low) / math.log(high / low) if factor.spacing == "log" else (array - low) / (high - low)


def _full_factorial(factors: list[Factor]) -> list[tuple[Any, ...]]:
    """Every level with every other; the last factor changes fastest."""
    return list(zip(*product(*(factor.levels for factor in factors)), strict=True))


def _latin_hypercube(campaign: Campaign, factors: list[Factor]) -> list[list[Any]]:
    """McKay, Beckman & Conover 1979, Technometrics 21(2), 239-245, by scipy."""
    from scipy.stats import qmc

    assert campaign.plan.designs is not None
    sampler = qmc.LatinHypercube(len(factors), rng=np.random.default_rng(campaign.plan.seed))
    cube = sampler.random(campaign.plan.designs)
    return [from_cube(factor, cube[:, place]) for place, factor in enumerate(factors)]


def _ends(factor: Factor) -> tuple[float, float]:
    assert factor.low is not None
    assert factor.high is not None
    return factor.low, factor.high


def _plain(value: Any) -> Any:
    """A table's value as Python's own; None where there is none."""
    value = value.item() if isinstance(value, np.generic) else value
    return None if value is None or value != value else value

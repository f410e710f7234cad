"""Designs: one choice of every factor each. A plan gives points of the unit cube; these become levels and values."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from sweep.campaign.addresses import replace_values, value_at
from sweep.campaign.campaign import Campaign
from sweep.campaign.craft import Craft
from sweep.campaign.factors import Factor
from sweep.campaign.plan import FullFactorial, LatinHypercube, Listed, Search, Sobol, VarianceBased
from sweep.campaign.rules import is_of_the_whole, keeps, whole
from sweep.campaign.text.problems import CampaignError, ChoiceError, Problem

if TYPE_CHECKING:
    import pandas as pd
from typing import TYPE_CHECKING

import pandas as pd

from sweep.campaign.text.dimensions import in_unit

if TYPE_CHECKING:
    from sweep.campaign.campaign import Campaign
    from sweep.campaign.factors import Factor

Floats: TypeAlias = NDArray[np.float64]
Places: TypeAlias = NDArray[np.int64]


def lay_out(campaign: Campaign) -> pd.DataFrame:
    """The design table, SI: index `design` with the base craft as 0, one column per factor label.

    Of a search it has the designs that are decided so far, `campaign.searched`. Of another plan it has those that keep all
    rules. A factor whose addresses have different values in the base craft, or none, is NaN in design 0. Raises CampaignError
    if no design but the base craft keeps the rules.
    """
    planned = _planned(campaign)
    if not campaign.rules or isinstance(campaign.plan, Search):
        return planned
    kept = np.flatnonzero(~breaking(campaign, planned)[1:].any(axis=1))
    if not len(kept):
        raise none_left(campaign, len(planned) - 1)
    designs: pd.DataFrame = planned.iloc[[0, *(1 + kept).tolist()]].reset_index(drop=True)
    designs.index.name = "design"
    return designs


def _planned(campaign: Campaign) -> pd.DataFrame:
    """The design table with all that the plan lays out, whether it keeps the rules or not."""
    import pandas as pd

    factors = list(campaign.factors.values())
    base = [base_value(campaign.craft, factor) for factor in factors]
    table = {factor.label: [first, *column] for factor, first, column in zip(factors, base, _columns(campaign), strict=True)}
    designs = pd.DataFrame({label: pd.Series(values).infer_objects() for label, values in table.items()})
    designs.index.name = "design"
    return designs


def breaking(campaign: Campaign, designs: pd.DataFrame) -> NDArray[np.bool_]:
    """Which rules each design breaks, (designs, rules); designs: rows of a design table, the base craft first."""
    made = list(crafts_of(campaign, designs)) if any(rule.of_the_whole for rule in campaign.rules) else []
    owner = {address: label for label, factor in campaign.factors.items() for address in factor.addresses}

    def value(address: str) -> NDArray[Any]:
        if is_of_the_whole(address):
            return np.array([whole(address, craft) for craft in made])
        base = value_at(campaign.craft, address)
        column = [_plain(each) for each in designs[owner[address]].tolist()] if address in owner else [base] * len(designs)
        scaled = address in owner and campaign.factors[owner[address]].scaled
        values = [base, *(base * each if scaled else each for each in column[1:])]
        numbers = all(isinstance(each, int | float) for each in values)
        return np.array(values, dtype=np.float64 if numbers else object)

    return np.column_stack([~keeps(rule, value) for rule in campaign.rules])


def allowed_points(campaign: Campaign) -> Callable[[Floats], NDArray[np.bool_]] | None:
    """Which points of the unit cube, (points, factors), keep the rules of a search; None without rules."""
    if not campaign.rules:
        return None

    def allowed(points: Floats) -> NDArray[np.bool_]:
        tried = campaign.model_copy(update={"searched": tuple(map(tuple, points.tolist()))})
        return np.asarray(~breaking(campaign, _planned(tried))[1:].any(axis=1))

    return allowed


class Unbuilt(NamedTuple):
    """How many designs a plan lays out, the base craft not counted; how many break a rule; and how many each rule, by name."""

    planned: int
    broken: int
    each: dict[str, int]


def unbuilt(campaign: Campaign) -> Unbuilt:
    """What the rules of a campaign leave out of its plan; of a search, which draws no such design, nothing."""
    names = [rule.name for rule in campaign.rules]
    if not names or isinstance(campaign.plan, Search):
        return Unbuilt(0, 0, dict.fromkeys(names, 0))
    broken = breaking(campaign, _planned(campaign))[1:]
    return Unbuilt(len(broken), int(broken.any(axis=1).sum()), dict(zip(names, broken.sum(axis=0).tolist(), strict=True)))


def none_left(campaign: Campaign, planned: int) -> CampaignError:
    """The mistake of rules that no design keeps, of so many that were looked at."""
    found = f"rules that none of {planned} designs keeps"
    wanted = "rules that leave designs to fly: where a sum or a ratio is held, allow a little to either side"
    return CampaignError([Problem(f"{campaign.name}.yaml", 0, 0, "rules", found, wanted)])


class VarianceBlocks(NamedTuple):
    """The designs of a variance-based plan that belong together: `a[n]`, `b[n]` and every `mixed[label][n]` for each n.

    a, b: the two samples, (base,); mixed: factor label -> the designs of `a` with this one factor as in `b`, (base,).
    With y the response of a design, the first-order and total shares of a factor in the variance of y are estimated by
    mean(y[b] * (y[mixed] - y[a])) / variance and mean((y[a] - y[mixed])**2) / (2 * variance): Saltelli et al. 2010, Computer
    Physics Communications 181, 259-270, table 2 (b) and (f).
    """

    a: Places
    b: Places
    mixed: dict[str, Places]


def variance_blocks(campaign: Campaign, designs: pd.DataFrame) -> VarianceBlocks:
    """The blocks of a variance-based plan; raises ValueError for another plan or another plan's table."""
    plan, labels = campaign.plan, list(campaign.factors)
    if not isinstance(plan, VarianceBased) or len(designs) != 1 + plan.base * (len(labels) + 2):
        raise ValueError(f"{len(designs)} designs of plan {plan.kind}; wanted all designs of a variance-based plan")
    a, b, *mixed = np.arange(1, len(designs)).reshape(-1, plan.base)
    return VarianceBlocks(a, b, dict(zip(labels, mixed, strict=True)))


def craft_of(campaign: Campaign, design_row: Mapping[str, Any] | pd.Series[Any]) -> Craft:
    """The craft of one row of the design table; a factor without a value there stays as in the base craft.

    Raises pydantic's ValidationError if there is no such craft.
    """
    values = {
        address: value
        for label, factor in campaign.factors.items()
        if (level := _plain(design_row[label])) is not None
        for address, value in factor.values(level).items()
    }
    return replace_values(campaign.craft, values)


def row_of(campaign: Campaign, design: int) -> pd.Series[Any]:
    """The row of a design in the design table; raises ChoiceError if there is none of this number."""
    designs = lay_out(campaign)
    if isinstance(campaign.plan, Search) and len(designs) == 1 <= design:
        raise ChoiceError(f"design {design}: the designs of a search are in its results folder; give that in place of the file")
    if not design < len(designs):
        raise ChoiceError(f"design {design}: wanted a design of this campaign, 0 (the base craft) to {len(designs) - 1}")
    return designs.loc[[design]].iloc[0]


def crafts_of(campaign: Campaign, designs: pd.DataFrame) -> Iterator[Craft]:
    """The crafts of a design table's rows, as `craft_of` makes each."""
    return (craft_of(campaign, row) for row in rows_of(campaign, designs))


def rows_of(campaign: Campaign, designs: pd.DataFrame) -> Iterator[dict[str, Any]]:
    """Each design's values, plain ones, by the label of their factor; None where it has none."""
    columns = {label: [_plain(value) for value in designs[label].tolist()] for label in campaign.factors}
    return ({label: column[row] for label, column in columns.items()} for row in range(len(designs)))


def base_value(craft: Craft, factor: Factor) -> Any:
    """The base craft's value of a factor; NaN if its addresses differ or have no value, 1 if it scales them."""
    if factor.scaled:
        return 1.0
    values = {value_at(craft, address) for address in factor.addresses}
    value = values.pop()
    return math.nan if values or value is None else value


def from_cube(factor: Factor, shares: Floats) -> list[Any]:
    """Shares from 0 to 1 as values of a factor: along its range, or an equal part for each level."""
    if factor.levels:
        places = np.minimum((shares * len(factor.levels)).astype(int), len(factor.levels) - 1)
        return [factor.levels[place] for place in places]
    low, high = _ends(factor)
    values: list[float] = (low * (high / low) ** shares if factor.spacing == "log" else low + (high - low) * shares).tolist()
    return values


def _columns(campaign: Campaign) -> Iterable[Sequence[Any]]:
    """The values of each factor, in the plan's order of designs."""
    plan, factors = campaign.plan, list(campaign.factors.values())
    if isinstance(plan, FullFactorial):  # the last factor changes fastest
        sizes = [len(factor.levels) for factor in factors]
        places = np.unravel_index(np.arange(math.prod(sizes)), sizes)
        return [[factor.levels[at] for at in each.tolist()] for factor, each in zip(factors, places, strict=True)]
    if isinstance(plan, Listed):
        return zip(*campaign.listed, strict=True)
    searched = np.array(campaign.searched).reshape(-1, len(factors))
    cube = searched if isinstance(plan, Search) else _cube(plan, len(factors))
    return [from_cube(factor, cube[:, place]) for place, factor in enumerate(factors)]


def _cube(plan: LatinHypercube | Sobol | VarianceBased, factors: int) -> Floats:
    """Designs in the unit cube, (designs, factors)."""
    from scipy.stats import qmc

    draws = np.random.default_rng(plan.seed)
    if isinstance(plan, LatinHypercube):  # McKay, Beckman & Conover 1979, Technometrics 21(2), 239-245
        return qmc.LatinHypercube(factors, rng=draws).random(plan.designs)
    if isinstance(plan, Sobol):
        return sobol_points(plan.designs, factors, draws)
    a, b = np.hsplit(sobol_points(plan.base, 2 * factors, draws), 2)
    mixed = np.repeat(a[None], factors, axis=0)
    for place in range(factors):
        mixed[place, :, place] = b[:, place]
    return np.concatenate((a, b, *mixed))


def sobol_points(count: int, dimensions: int, draws: np.random.Generator | None) -> Floats:
    """The first `count` points of a Sobol sequence, (count, dimensions); scrambled by `draws`, or as it is.

    Directions by Joe & Kuo 2008, scrambling by Matousek 1998; scipy.
    """
    from scipy.stats import qmc

    sequence = qmc.Sobol(dimensions, scramble=draws is not None, rng=draws)
    return sequence.random_base2((count - 1).bit_length())[:count]


def _ends(factor: Factor) -> tuple[float, float]:
    assert factor.low is not None
    assert factor.high is not None
    return factor.low, factor.high


def _plain(value: Any) -> Any:
    """A table's value as a Python one; None if there is none."""
    value = value.item() if isinstance(value, np.generic) else value
    return None if value is None or value != value else value


DIGITS = 4
"""Significant digits of a value that is shown (judgement)."""


def significant(values: pd.Series, digits: int = DIGITS) -> pd.Series:
    """Numbers rounded to so many significant digits; integers, words and NaN as they are."""
    if not pd.api.types.is_float_dtype(values):
        return values
    numbers = values.to_numpy(dtype=np.float64)
    with np.errstate(divide="ignore"):
        places = digits - 1.0 - np.floor(np.log10(np.abs(numbers)))
    places = np.where(np.isfinite(places), np.clip(places, -300.0, 300.0), 0.0)
    finer, coarser = 10.0 ** np.maximum(places, 0.0), 10.0 ** np.maximum(-places, 0.0)  # whole powers: exact, as tenths are not
    return pd.Series(np.round(numbers / coarser * finer) / finer * coarser, index=values.index, name=values.name)


def shown_factor(factor: Factor, values: pd.Series) -> pd.Series:
    """The factor's SI values in the unit that its campaign file wrote; words stay words."""
    if not pd.api.types.is_numeric_dtype(values):
        return values.astype(str)
    if not factor.unit:
        return significant(values)
    # Units are affine, so two conversions stand for a hundred thousand.
    offset = in_unit(0.0, factor.unit)
    return significant(values * (in_unit(1.0, factor.unit) - offset) + offset)

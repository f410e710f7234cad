"""Results as tables and charts for a notebook: tables in SI, charts in the units that people read.

Every table has `attrs["units"]`, the unit of each column that has one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from sweep.campaign.scoring import LARGER_IS_BETTER
from sweep.flying.failures import moment as around
from sweep.insight.tradeoffs import front, knee
from sweep.model.quantities import RESPONSE, RESPONSE_NAMES
from sweep.words.units import si_unit

if TYPE_CHECKING:
    import altair as alt

    from sweep.results.store import Results

CHARTS = ("standings", "builds", "effects", "tolerances", "conditions", "trade-offs")


def standings(results: Results) -> pd.DataFrame:
    """The standings with the factors, mass and price of each design, best first."""
    return _with_units(results, results.standings.join(results.designs, on="design"))


def builds(results: Results) -> pd.DataFrame:
    """Builds at their own best settings (`insight.builds.BUILD_COLUMNS`), with the factors, mass and price of that design."""
    return _with_units(results, results.builds.join(results.designs, on="design"))


def effects(results: Results, response: str = "score") -> pd.DataFrame:
    """How much each factor, and pair of factors, matters for the score or a response that the campaign judges by.

    Columns as `insight.effects.COLUMNS`; shares are parts of one. Raises ValueError for a response without effects.
    """
    rows = results.effects[results.effects["response"] == response] if len(results.effects) else results.effects
    if rows.empty:
        there = ", ".join(dict.fromkeys(results.effects["response"])) if len(results.effects) else "none"
        raise ValueError(f"no effects on {response!r}; there are: {there}")
    return rows.drop(columns="response").reset_index(drop=True)


def trade_offs(results: Results, *names: str) -> pd.DataFrame:
    """The designs that no other beats in all of two or more quantities, by the first: design, the quantities, knee.

    names: responses, 'score', 'mass', 'price', or factors; less is better, except where `judging.LARGER_IS_BETTER` says
    otherwise. Designs that broke a limit are left out, by the rule of `pages.tradeoffs`. knee: of two quantities only.
    Raises ValueError for fewer, or for an unknown one.
    """
    if len(names) < 2:
        raise ValueError("the least that a trade-off takes is two quantities")
    ranked = results.standings[results.standings["verdict"] != "broken"]
    table = pd.DataFrame({"design": ranked["design"].to_numpy()}).assign(
        **{name: _values(results, ranked, name) for name in names}
    )
    values = table[list(names)].to_numpy(float) * [-1.0 if name in LARGER_IS_BETTER else 1.0 for name in names]
    rows = front(values)
    corner = knee(values[rows]) if len(names) == 2 else None
    return _with_units(results, table.iloc[rows].reset_index(drop=True).assign(knee=np.arange(len(rows)) == corner))


def _with_units(results: Results, table: pd.DataFrame) -> pd.DataFrame:
    """The table with the SI units of its factors, responses and costs."""
    shown = {name: response.unit.replace("count", "") for name, response in RESPONSE.items()}
    shown |= {label: factor.unit for label, factor in results.campaign.factors.items()} | {"mass": "kg"}
    table.attrs["units"] = {name: si_unit(shown[name]) for name in map(str, table.columns) if shown.get(name)}
    return table


def causes(results: Results, design: int | None = None) -> pd.DataFrame:
    """What went wrong in the leaders' flights, or in those of one of them, and why: `troubles.EVENT` and condition_name."""
    rows = results.troubles if design is None or results.troubles.empty else results.troubles.query("design == @design")
    names = results.conditions.set_index("condition")["name"]
    return rows.assign(condition_name=rows["condition"].map(names)).reset_index(drop=True) if len(rows) else rows


def moment(results: Results, event: pd.Series) -> pd.DataFrame:
    """The seconds around an event, a row of `causes`: the record of its flight as `recording.record_flights` has it, SI."""
    return around(results.moments, event)


def _values(results: Results, ranked: pd.DataFrame, name: str) -> np.ndarray:
    if name == "score":
        return ranked["score"].to_numpy(float)
    for source in (results.designs, results.responses.set_index("design")):
        if name in source:
            return source[name].reindex(ranked["design"]).to_numpy(float)
    known = ["score", *results.designs, *RESPONSE_NAMES]
    raise ValueError(f"no quantity is called {name!r}; there are: {', '.join(map(str, known))}")


def chart(
    results: Results, name: str = "standings", response: str = "score", design: int | None = None, between: Sequence[str] = ()
) -> alt.TopLevelMixin:
    """A chart of the site with its data in it, for a notebook.

    name: one of `CHARTS`; response: of the effects; design: of tolerances and conditions, the first leader by default; between:
    the two quantities of a trade-off. It draws without a network, as SVG, unless another renderer of Altair's is enabled.
    Raises ValueError for another name, or where there is nothing to draw.
    """
    import altair as alt

    if alt.renderers.active == "default":  # which takes the library that draws from a network
        alt.renderers.enable("svg")
    if name in ("standings", "builds"):
        return _intervals(results, name)
    if name == "effects":
        return _effects(results, response)
    if name in ("tolerances", "conditions"):
        return _tornado(results, name.removesuffix("s"), design)
    if name == "trade-offs":
        return _trade_off(results, between)
    raise ValueError(f"no chart is called {name!r}; there are: {', '.join(CHARTS)}")


def _drawn(table: pd.DataFrame, name: str) -> pd.DataFrame:
    if table.empty:
        raise ValueError(f"these results hold nothing to draw of {name}")
    return table


def _intervals(results: Results, name: str) -> alt.LayerChart:
    from sweep.report.charts.standings import score_intervals
    from sweep.report.display import design_table
    from sweep.report.pages import builds as of_builds
    from sweep.report.pages.standings import leading

    if name == "standings":
        return score_intervals(leading(results, design_table(results)[1]))
    return score_intervals(of_builds.chart_table(_drawn(of_builds.build_table(results), name)), "build")


def _effects(results: Results, response: str) -> alt.LayerChart:
    from sweep.report.charts.matters import effect_shares
    from sweep.report.pages.matters import share_table

    effects(results, response)
    table = share_table(results)
    rows = _drawn(table[table["response"] == response], "effects")
    return effect_shares(rows, list(dict.fromkeys(rows["how"])))


def _tornado(results: Results, kind: str, design: int | None) -> alt.LayerChart:
    from sweep.report.charts.matters import tornado
    from sweep.report.pages.robust import leaders, robust_table

    table = robust_table(results)
    chosen = next(iter(leaders(results)), 0) if design is None else design
    return tornado(_drawn(table[(table["design"] == chosen) & (table["kind"] == kind)], f"{kind}s"), kind)


def _trade_off(results: Results, between: Sequence[str]) -> alt.LayerChart:
    from sweep.report.charts.tradeoffs import trade_off
    from sweep.report.pages.tradeoffs import find_front, first_pair, quantities

    columns, table = quantities(results, [*between])
    across, up = between or first_pair(columns)
    if unknown := [each for each in (across, up) if each not in {column.key for column in columns}]:
        raise ValueError(f"cannot trade off {unknown[0]!r}; there are: {', '.join(column.key for column in columns)}")
    found = find_front(table, across, up)
    on_it = table.set_index("design", drop=False).loc[found.designs]
    rows: list[dict[Any, Any]] = on_it.assign(order=range(len(on_it)), knee=on_it["design"] == found.knee).to_dict("records")
    return trade_off(table, columns, across, up).properties(datasets={"front": rows})

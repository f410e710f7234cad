"""The pages that go beyond the standings: builds, what matters, trade-offs, and the spectra of a ride."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from sweep.campaign.designs import significant
from sweep.insight.ride_spectra import ride_spectra
from sweep.report.charts.builds import setting_curves
from sweep.report.charts.matters import effect_shares, level_means, together, tornado
from sweep.report.charts.ride_spectra import HEIGHTS, spectrum
from sweep.report.charts.standings import score_intervals
from sweep.report.charts.tradeoffs import trade_off
from sweep.report.display import factor_columns, thinned
from sweep.report.embed import Files, as_csv, as_json, as_spec, data_script
from sweep.report.pages import builds as of_builds
from sweep.report.pages import matters as of_matters
from sweep.report.pages import robust as of_robust
from sweep.report.pages import tradeoffs as of_tradeoffs
from sweep.report.pages.explore import sample_note

if TYPE_CHECKING:
    import pandas as pd

    from sweep.results.store import Results

MOST_IN_VIEWS = 10_000  # designs whose rows a chart takes: judgement
MOST_AS_SVG = 1_500  # marks that a browser draws well one by one: judgement

PageOf = Callable[..., str]
"""Makes a page from the name of its template and what that wants."""


def files(results: Results, page_of: PageOf) -> Files:
    """All files of these pages, by their path in the site."""
    return {**_builds(results, page_of), **_matters(results, page_of), **_tradeoffs(results, page_of)}


def _builds(results: Results, page_of: PageOf) -> Files:
    if results.builds.empty or (table := of_builds.build_table(results)).empty:
        page = page_of("builds.html", sentences=of_builds.sentences(results), rows=[])
        return {"builds.html": page}
    factors, along = of_builds.setting_curves(results)
    curves = [
        {
            "id": f"along-{column.key}",
            "title": f"Score of the first builds along {label}",
            "spec": as_spec(setting_curves(along, column, results.campaign.factors[label].spacing == "log"), "settings"),
        }
        for label, column in factors
    ]
    chart = of_builds.chart_table(table)
    page = page_of(
        "builds.html",
        sentences=of_builds.sentences(results),
        chart=as_spec(score_intervals(chart, "build"), "builds"),
        curves=curves,
        **of_builds.tables(results, table),
    )
    return {
        "builds.html": page,
        **data_script("builds", chart),
        **data_script("settings", along),
        **as_csv("builds", table.drop(columns=["label", "page"]), of_builds.csv_headings(results)),
        **as_csv("settings", of_builds.setting_csv(results)),
    }


def _matters(results: Results, page_of: PageOf) -> Files:
    effects, robust = of_matters.tables(results), of_robust.robust_table(results)
    found = of_robust.tables(results, robust)
    charts, files = _effect_charts(results) if effects["responses"] else ({"means": [], "pair": None}, {})
    if len(robust):
        files |= data_script("robust", robust) | as_csv("robust", robust)
        charts["off"] = as_spec(tornado(robust, of_robust.TOLERANCE), "robust") if found["tolerances"] else ""
        charts["worse"] = as_spec(tornado(robust, of_robust.CONDITION), "robust") if found["conditions"] else ""
    data = [name.removeprefix("data/").removesuffix(".js") for name in files if name.endswith(".js")]
    page = page_of("matters.html", sentences=of_matters.sentences(results), data=data, **effects, **found, **charts)
    return {"matters.html": page, **files}


def _effect_charts(results: Results) -> tuple[dict[str, Any], Files]:
    shares, levels, pair = of_matters.share_table(results), of_matters.level_table(results), of_matters.pair_table(results)
    hows = [how for how in (of_matters.ALONE, of_matters.JOINTLY) if (shares["how"] == how).any()]
    files = data_script("effects", shares) | as_csv("effects", of_matters.effect_csv(results))
    charts: dict[str, Any] = {"shares": as_spec(effect_shares(shares, hows), "effects"), "means": [], "pair": None}
    if len(levels):
        files |= data_script("levels", levels) | as_csv("levels", of_matters.level_csv(results, levels))
        charts["means"] = [
            {"id": f"along-{column.key}", "title": f"Along {label}", "spec": as_spec(level_means(levels, column), "levels")}
            for label, column in factor_columns(results.campaign, results.designs).items()
        ]
    if pair is not None:
        (across, beside), rows = pair
        files |= data_script("pair", rows) | as_csv("pair", rows[["across", "beside", "score"]], of_matters.pair_headings(pair))
        title = f"The score along {across.title} at each {beside.title}"
        charts["pair"] = {"title": title, "spec": as_spec(together(rows, across, beside), "pair")}
    return charts, files


def _tradeoffs(results: Results, page_of: PageOf) -> Files:
    columns, table = of_tradeoffs.quantities(results)
    if len(columns) < 2 or len(table) < 2:
        nothing = ["There are no two quantities in which designs differ: nothing to trade off."]
        return {"tradeoffs.html": page_of("tradeoffs.html", sentences=nothing, spec="")}
    across, up = of_tradeoffs.first_pair(columns)
    fronts = of_tradeoffs.fronts(columns, table)
    told = of_tradeoffs.told(columns, table, fronts)
    on_any = {design for each in fronts.values() for design in each.designs}
    rows = thinned(table, MOST_IN_VIEWS)
    shown = table[table["design"].isin(on_any | set(rows["design"]))]
    keys = ["design", "label", "group", "page", *(column.key for column in columns)]
    page = page_of(
        "tradeoffs.html",
        sentences=[told[" ".join(sorted((across, up)))]["said"]],
        spec=as_spec(trade_off(shown, columns, across, up), "tradeoffs"),
        columns=[{"key": column.key, "words": of_tradeoffs.better(column)} for column in columns],
        columns_json=as_json([of_tradeoffs.heading(column) for column in columns]),
        fronts=as_json(told),
        across=across,
        up=up,
        renderer="svg" if len(shown) <= MOST_AS_SVG else "canvas",
        note=sample_note(len(shown), len(table)),
        rule=of_tradeoffs.RULE,
    )
    linked = shown.assign(page=[of_tradeoffs.page_of(row) for row in shown[["design", "page"]].to_dict("records")])
    files = data_script("tradeoffs", linked[keys]) | as_csv("fronts", of_tradeoffs.front_csv(columns, table, fronts))
    return {"tradeoffs.html": page, **files}


def spectra_of(history: pd.DataFrame, design: int, settle: float) -> tuple[Files, list[dict[str, Any]]]:
    """The data and the charts of a ride's spectra; none where no flight lasted."""
    table, name = ride_spectra(history, settle), f"spectra-{design}"
    if table.empty:
        return {}, []
    wanted = (
        ("heights", HEIGHTS, "cm", "the surface and of the ride height"),
        ("pitch", {"pitch": "pitch"}, "deg", "the pitch"),
    )
    charts = [
        {"id": f"spectrum-{key}", "title": f"Spectrum of {said}", "spec": as_spec(spectrum(table, lines, unit), name)}
        for key, lines, unit, said in wanted
        if set(lines) <= set(table)
    ]
    rounded = table.assign(**{column: significant(table[column]) for column in table.columns[1:]})
    return {**data_script(name, rounded), **as_csv(name, rounded)}, charts

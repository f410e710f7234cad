"""Results and the templates of `site/` become pages: `render` makes them as text, `publish` writes them.

Dates come from the manifest, never from the clock: the same results give the same bytes.
"""

from __future__ import annotations

import functools
import importlib.resources
import json
import re
import shutil
from collections.abc import Iterable, Sequence
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import altair as alt
import jinja2
import pandas as pd
from markupsafe import Markup

from sweep import accounts
from sweep.charts.conditions import condition_scores
from sweep.charts.explore import explore
from sweep.charts.ride import panels, ride
from sweep.charts.standings import score_intervals
from sweep.designs import craft_of
from sweep.drawing import View, draw
from sweep.sheet import sheet
from sweep.shown import (
    Column,
    condition_table,
    design_table,
    judged_responses,
    response_column,
    ride_headings,
    ride_table,
    thinned,
    worth_exploring,
)
from sweep.wording import called, number, result

if TYPE_CHECKING:
    from sweep.store import Results

MOST_IN_TABLE = 2_000
MOST_IN_VIEWS = 10_000
MOST_AS_SVG = 1_500
WINDOWS_S = (20, 10, 5, 2)
FIRST_WINDOW_S = 10

PAGES = {"index.html": "Standings", "explore.html": "Explore", "sure.html": "How sure", "cautions.html": "Cautions"}

# `file:` stands beside 'self' because a browser need not take a file's neighbours for its own.
POLICY = (
    "default-src 'none'; script-src 'self' file:; style-src 'self' file:; img-src 'self' file:; "
    "base-uri 'none'; form-action 'none'"
)

Files = dict[str, str]


def publish(folder: Path) -> Path:
    """Write the site of a results folder into its `site/`, whole or not at all, and return that path."""
    from sweep.store import load_results

    site, fresh, stale = folder / "site", folder / ".site.unfinished", folder / ".site.old"
    pages = render(load_results(folder))
    for left_over in (fresh, stale):
        shutil.rmtree(left_over, ignore_errors=True)
    for name, text in pages.items():
        path = fresh / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    if site.exists():
        site.rename(stale)
    fresh.rename(site)
    shutil.rmtree(stale, ignore_errors=True)
    return site


def render(results: Results) -> Files:
    """All files of a site, by their path in it."""
    templates = _environment(results)
    columns, table = design_table(results)
    files = {f"parts/{part.name}": part.read_text(encoding="utf-8") for part in _parts()}
    files["parts/vega.js"] = chart_library()
    files |= _standings(templates, results, columns, table)
    files |= _explore(templates, columns, table)
    for design in sorted(results.leaders):
        files |= _design(templates, results, design)
    sure, cautions = accounts.how_sure(results), accounts.cautions(results)
    files["sure.html"] = _page(templates, "sure.html", **sure)
    files["cautions.html"] = _page(templates, "cautions.html", **cautions)
    return dict(sorted(files.items()))


def sources() -> Traversable:
    """The folder of templates, styles and scripts: inside an installed package, or beside it in a checkout."""
    packaged = importlib.resources.files("sweep") / "_site"
    return packaged if packaged.is_dir() else Path(__file__).resolve().parent.parent / "site"


def _parts() -> Iterable[Traversable]:
    return sorted((sources() / "parts").iterdir(), key=lambda part: part.name)


@functools.cache
def chart_library() -> str:
    """Vega, Vega-Lite and their embedder as one script; wrapped, since its many top-level names would meet the pages' own."""
    import vl_convert

    version = alt.SCHEMA_VERSION.removeprefix("v").rpartition(".")[0]
    bundle = vl_convert.javascript_bundle(vl_version=version)  # type: ignore[call-arg]  # its stub hides a default
    return f"(function () {{{bundle}}})();\n"


def _environment(results: Results) -> jinja2.Environment:
    def read(name: str) -> str:
        return (sources() / "templates" / name).read_text(encoding="utf-8")

    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(read),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters |= {"number": number, "soft": soft, "loose": lambda text: re.sub(r"([._])", "\\1\u200b", text)}
    environment.globals.update(
        campaign=results.campaign, policy=POLICY, pages=list(PAGES.items()), footer=accounts.footer(results.manifest)
    )
    return environment


def soft(text: str) -> Markup:
    """Text that may break after the dots and underscores of an address."""
    return Markup("").join(part if part not in "._" else Markup("{}<wbr>").format(part) for part in re.split(r"([._])", text))


def _page(templates: jinja2.Environment, template: str, here: str = "", **context: Any) -> str:
    return templates.get_template(template).render(here=here or template, **context)


def as_json(value: Any) -> Markup:
    """JSON that may stand inside a script element: it holds no '<'."""
    return Markup(json.dumps(value, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c"))


def data_script(name: str, table: pd.DataFrame) -> Files:
    """The table as a script that assigns its columns: a page under file:// may not read a JSON file."""
    columns = {str(key): [_plain(value) for value in table[key].tolist()] for key in table}
    text = as_json(columns)
    return {f"data/{name}.js": f"(window.foilsweep ??= {{ data: {{}} }}).data[{as_json(name)}] = {text};\n"}


def _plain(value: Any) -> Any:
    """A value for JSON: null for what is not known, whole numbers without a point."""
    if isinstance(value, float):
        if value != value:
            return None
        return int(value) if value.is_integer() else value
    return value


def as_csv(name: str, table: pd.DataFrame, headings: dict[str, str] | None = None) -> Files:
    """The table as CSV; a heading that a spreadsheet would take for a formula is quoted."""
    names = {key: f"'{heading}" if heading[:1] in "=+-@" else heading for key, heading in (headings or {}).items()}
    return {f"data/{name}.csv": table.rename(columns=names).to_csv(index=False, lineterminator="\n")}


def as_spec(chart: alt.TopLevelMixin, data: str) -> Markup:
    """A chart's specification with its data left to the script of that name."""
    named: Any = chart
    named = named.copy(deep=False)
    named.data = alt.NamedData(data)
    with alt.theme.enable("none"):
        return as_json(named.to_dict())


def _standings(templates: jinja2.Environment, results: Results, columns: Sequence[Column], table: pd.DataFrame) -> Files:
    leaders = accounts.leading(results, table)
    shown = [*accounts.STANDING_COLUMNS, *(column for column in columns if column.key != "score"), *accounts.CLOSING_COLUMNS]
    rows = table.head(MOST_IN_TABLE)
    page = _page(
        templates,
        "index.html",
        sentences=result(results),
        score_chart=as_spec(score_intervals(leaders), "leaders") if len(leaders) else "",
        columns=[accounts.heading(column) for column in shown],
        columns_json=as_json([accounts.heading(column) for column in shown]),
        table_note=accounts.table_note(len(rows), len(table)),
        **accounts.standings(results, columns, table, leaders),
    )
    headings = {column.key: column.heading for column in columns}
    return {
        "index.html": page,
        **data_script("leaders", leaders),
        **data_script("designs", rows.drop(columns=["label", "spread"])),
        **as_csv("leaders", leaders.drop(columns=["page"])),
        **as_csv("designs", table.drop(columns=["label", "page", "spread"]), headings),
        **as_csv("limits", accounts.limit_rows(results)),
    }


def _explore(templates: jinja2.Environment, columns: Sequence[Column], table: pd.DataFrame) -> Files:
    chosen = worth_exploring(columns, table)
    rows = thinned(table, MOST_IN_VIEWS)
    context: dict[str, Any] = {"spec": "", "sentences": ["There are no two designs to compare yet."]}
    if chosen and len(table) > 1:
        across, up = accounts.first_axes(table, chosen)
        context = {
            "sentences": accounts.explore_sentences(table, chosen),
            "spec": as_spec(explore(rows, chosen, across, up), "explore"),
            "columns": chosen,
            "columns_json": as_json([accounts.heading(column) for column in chosen]),
            "across": across.key,
            "up": up.key,
            "renderer": "svg" if len(rows) <= MOST_AS_SVG else "canvas",
            "note": accounts.sample_note(len(rows), len(table)),
        }
    keys = ["design", "label", "group", "page", "place", "spread", *(column.key for column in chosen)]
    return {"explore.html": _page(templates, "explore.html", **context), **data_script("explore", rows[keys])}


def _design(templates: jinja2.Environment, results: Results, design: int) -> Files:
    by_condition = condition_table(results, design)
    judged = judged_responses(results.campaign)
    compared, names = accounts.against_base(results, design, by_condition)
    history = ride_table(results.leaders[design])
    conditions, moving = f"conditions-{design}", f"ride-{design}"
    whole = float(history["time"].max()) if len(history) else 0.0
    shown = panels(history) if len(history) else []
    drawn = dict.fromkeys(name for panel in shown for name in panel.lines)
    craft = craft_of(results.campaign, accounts.design_row(results, design))
    page = _page(
        templates,
        "design.html",
        here=f"design-{design}.html",
        design=design,
        name=called(design),
        sentences=accounts.design_sentences(results, design),
        views=[_paper(view) for view in draw(craft)],
        numbers=[table for table in sheet(craft) if table.rows],
        condition_chart=as_spec(condition_scores(compared, names), conditions),
        panels=[
            {"id": panel.key, "title": f"{panel.title}, {panel.unit}", "spec": as_spec(ride(history, panel), moving)}
            for panel in shown
        ],
        lengths=[length for length in WINDOWS_S if length < whole],
        first_length=FIRST_WINDOW_S,
        whole=whole,
        **accounts.design(results, design, by_condition, history),
    )
    return {
        f"design-{design}.html": page,
        **data_script(conditions, compared),
        **data_script(moving, history[["condition", "time", *drawn]]),
        **as_csv(conditions, by_condition, {name: response_column(name, by_condition[name]).heading for name in judged}),
        **as_csv(moving, history, ride_headings(history)),
    }


def _paper(view: View) -> dict[str, Any]:
    """A view with its numbers as text, in whole and tenth millimetres."""

    def millimetres(value: float) -> str:
        return f"{1e3 * value:.1f}".removesuffix(".0")

    left, top, width, height = view.frame
    bar = f"M {millimetres(left + 0.02)} {millimetres(top + 0.02)} h 100"
    shapes = [
        {
            "kind": shape.kind,
            "name": shape.name,
            "points": " ".join(f"{millimetres(x)},{millimetres(y)}" for x, y in shape.points),
        }
        for shape in view.shapes
    ]
    return {
        "key": view.key,
        "title": view.title,
        "frame": [millimetres(value) for value in (left, top, width, height)],
        "shapes": shapes,
        "scale": bar,
    }

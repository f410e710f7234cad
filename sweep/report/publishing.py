"""Results and the templates of `site/` become pages: `render` makes them as text, `publish` writes them.

Dates come from the manifest, never from the clock: the same results give the same bytes.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Sequence
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jinja2
import pandas as pd
from markupsafe import Markup

from sweep.campaign.designs import craft_of
from sweep.campaign.text.resources import shipped
from sweep.flying.replay import draw_seas
from sweep.insight.ranking import ranked
from sweep.report import chapters
from sweep.report.bundle import bundle
from sweep.report.chapters import MOST_AS_SVG, MOST_IN_VIEWS
from sweep.report.charts.conditions import condition_scores
from sweep.report.charts.explore import explore
from sweep.report.charts.logs import measured_beside_predicted
from sweep.report.charts.rides import ride_map
from sweep.report.charts.standings import score_intervals
from sweep.report.craft_sheet import sheet
from sweep.report.display import (
    Column,
    condition_table,
    design_table,
    judged_responses,
    response_column,
    thinned,
    worth_exploring,
)
from sweep.report.drawing import draw
from sweep.report.drawing_marks import paper
from sweep.report.embed import Files, as_csv, as_json, as_spec, chart_library, data_script, straight
from sweep.report.headline import result
from sweep.report.motions import ride_of, stability_of
from sweep.report.pages import card as of_card
from sweep.report.pages import causes as of_causes
from sweep.report.pages import changes as of_changes
from sweep.report.pages import compare as of_compare
from sweep.report.pages import design as of_design
from sweep.report.pages import doubts as of_doubts
from sweep.report.pages import explore as of_explore
from sweep.report.pages import former as of_former
from sweep.report.pages import frame, race, sure
from sweep.report.pages import ranges as of_ranges
from sweep.report.pages import rides as of_rides
from sweep.report.pages import standings as of_standings
from sweep.report.pages.logs import HEADINGS, kept_logs, log_table
from sweep.report.pages.rules import Rules
from sweep.results.site_folder import write_site
from sweep.words.numbers import number
from sweep.words.phrases import called

if TYPE_CHECKING:
    from sweep.results.store import Results

MOST_IN_TABLE = 2_000  # rows that a page's table takes: judgement

PAGES = {
    "index.html": "Standings",
    "builds.html": "Builds",
    "explore.html": "Explore",
    "matters.html": "What matters",
    "tradeoffs.html": "Trade-offs",
    "compare.html": "Side by side",
    "rides.html": "Where it rides",
    "sure.html": "How sure",
    "cautions.html": "Cautions",
}

# `file:` stands beside 'self' because a browser need not take a file's neighbours for its own.
POLICY = (
    "default-src 'none'; script-src 'self' file:; style-src 'self' file:; img-src 'self' file:; "
    "base-uri 'none'; form-action 'none'"
)


def publish(folder: str | Path, archive: bool = False, former: str | Path | None = None) -> Path:
    """Write the site of a results folder into its `site/`, whole or not at all, and return that path.

    A run that was stopped gives the pages that it has, each with what is missing. archive: write it as `site.zip` too, as is
    done anyway where one lies there, so that none is sent that is out of date. former: another results folder of the campaign,
    before a change, that a page sets beside this one. Raises StoreError for a folder of another version's form.
    """
    from altair.utils.schemapi import debug_mode

    from sweep.results.form_check import check_forms
    from sweep.results.partial import load_so_far
    from sweep.results.store import load_results, write_whole

    folder = Path(folder)
    for each in (folder, *([Path(former)] if former else [])):
        check_forms(each)
    results, missing = load_so_far(folder)
    before = load_results(former) if former else None
    with debug_mode(False):  # charts are checked against their schema where they are tested: it is a fifth of the time
        pages = render(results, kept_logs(folder), missing, before)
    site = write_site(folder, pages)
    if archive or (folder / "site.zip").exists():
        write_whole(folder / "site.zip", bundle(results.campaign.name, pages))
    return site


def render(
    results: Results, logs: dict[str, Any] | None = None, missing: Sequence[str] = (), former: Results | None = None
) -> Files:
    """All files of a site, by their path in it.

    logs: what `kept_logs` has of the water, if anything; missing: what every page says of a run that was stopped;
    former: the results before a change.
    """
    templates = page_templates(results)
    templates.globals["missing"] = missing
    more = {"former.html": "Before and after"} if former else {}
    more |= {"logs.html": "After the water"} if logs else {}
    templates.globals["pages"] = [*list(PAGES.items())[:-2], *more.items(), *list(PAGES.items())[-2:]]
    columns, table = design_table(results)
    files = {f"parts/{part.name}": part.read_text(encoding="utf-8") for part in _parts()}
    files["parts/vega.js"] = chart_library()
    files |= _standings(templates, results, columns, table)
    files |= chapters.files(results, functools.partial(_page, templates))
    files |= _explore(templates, columns, table)
    files |= _compare(templates, results, columns)
    files |= _rides(templates, results)
    seas = draw_seas(results) if results.leaders else {}
    for design in sorted(results.leaders):
        files |= _design(templates, results, design, seas)
    files |= _logs(templates, logs) if logs else {}
    files |= _former(templates, results, former) if former else {}
    reliance, cautions = sure.tables(results), frame.cautions(results)
    files["sure.html"] = _page(templates, "sure.html", **reliance)
    files |= as_csv("checks", sure.check_table())
    files["cautions.html"] = _page(templates, "cautions.html", **cautions)
    return dict(sorted(files.items()))


def sources() -> Traversable:
    """The folder of templates, styles and scripts."""
    return shipped("site")


def _parts() -> Iterable[Traversable]:
    return sorted((sources() / "parts").iterdir(), key=lambda part: part.name)


def page_templates(results: Results) -> jinja2.Environment:
    """The templates of `site/`, with what every page of these results needs; of the results, campaign and manifest are read."""

    def read(name: str) -> str:
        return (sources() / "templates" / name).read_text(encoding="utf-8")

    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(read),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=straight,
    )
    environment.filters |= {"number": number, "soft": soft, "loose": lambda text: re.sub(r"([._])", "\\1\u200b", text)}
    environment.globals.update(
        campaign=results.campaign,
        policy=POLICY,
        pages=list(PAGES.items()),
        footer=frame.footer(results.manifest),
        rules=Rules(),
        missing=(),
    )
    return environment


def soft(text: str) -> Markup:
    """Text that may break after the dots and underscores of an address."""
    return Markup("").join(part if part not in "._" else Markup("{}<wbr>").format(part) for part in re.split(r"([._])", text))


def _page(templates: jinja2.Environment, template: str, here: str = "", **context: Any) -> str:
    return templates.get_template(template).render(here=here or template, **context)


def _standings(templates: jinja2.Environment, results: Results, columns: Sequence[Column], table: pd.DataFrame) -> Files:
    leaders = of_standings.leading(results, table)
    counters, table = of_doubts.with_counters(results, table)
    columns = [*columns, *counters]
    between = [column for column in columns if column.key != "score"]
    shown = [*of_standings.STANDING_COLUMNS, *between, *of_standings.CLOSING_COLUMNS]
    rows = table.head(MOST_IN_TABLE)
    page = _page(
        templates,
        "index.html",
        sentences=result(results),
        first=first_page(results),
        score_chart=as_spec(score_intervals(leaders), "leaders") if len(leaders) else "",
        columns=[of_standings.heading(column) for column in shown],
        columns_json=as_json([of_standings.heading(column) for column in shown]),
        table_note=of_standings.table_note(len(rows), len(table)),
        **of_standings.tables(results, columns, table, leaders),
        **race.tables(results),
    )
    headings = {column.key: column.heading for column in columns}
    return {
        "index.html": page,
        **data_script("leaders", leaders),
        **data_script("designs", rows.drop(columns=["label", "spread"])),
        **as_csv("leaders", leaders.drop(columns=["page"])),
        **as_csv("designs", table.drop(columns=["label", "page", "spread"]), headings),
        **as_csv("limits", of_standings.limit_rows(results)),
    }


def first_page(results: Results) -> int | None:
    """The design that comes first, if it has a page."""
    order = ranked(results.standings)["design"].head(1)
    return next((int(design) for design in order if design in results.leaders), None)


def _explore(templates: jinja2.Environment, columns: Sequence[Column], table: pd.DataFrame) -> Files:
    chosen = worth_exploring(columns, table)
    rows = thinned(table, MOST_IN_VIEWS)
    context: dict[str, Any] = {"spec": "", "sentences": ["There are no two designs to compare yet."]}
    if chosen and len(table) > 1:
        across, up = of_explore.first_axes(table, chosen)
        context = {
            "sentences": of_explore.sentences(table, chosen),
            "spec": as_spec(explore(rows, chosen, across, up), "explore"),
            "columns": chosen,
            "columns_json": as_json([of_standings.heading(column) for column in chosen]),
            "across": across.key,
            "up": up.key,
            "renderer": "svg" if len(rows) <= MOST_AS_SVG else "canvas",
            "note": of_explore.sample_note(len(rows), len(table)),
        }
    keys = ["design", "label", "group", "page", "place", "spread", *(column.key for column in chosen)]
    return {"explore.html": _page(templates, "explore.html", **context), **data_script("explore", rows[keys])}


def _compare(templates: jinja2.Environment, results: Results, columns: Sequence[Column]) -> Files:
    wave, _ = of_design.highest_wave(results)
    crafts = {design: craft_of(results.campaign, of_design.design_row(results, design)) for design in sorted(results.leaders)}
    shown = [*of_standings.STANDING_COLUMNS, *(column for column in columns if column.key != "score")]
    page = _page(
        templates,
        "compare.html",
        columns_json=as_json([of_standings.heading(column) for column in shown if column.key != "design"]),
        views=[(design, called(design), paper(draw(craft, wave)[0])) for design, craft in crafts.items()],
        **of_compare.tables(results),
    )
    return {"compare.html": page, **data_script("beside", of_compare.beside(results))}


def _rides(templates: jinja2.Environment, results: Results) -> Files:
    table = of_rides.ride_table(results)
    found = of_rides.tables(results, table)
    maps = [
        {"id": f"map-{at}", "title": of_rides.sea_of(heading), "spec": as_spec(ride_map(table, heading), "rides")}
        for at, heading in enumerate(found["headings"])
    ]
    page = _page(templates, "rides.html", maps=maps, **found)
    named = of_rides.HEADINGS
    return {"rides.html": page, **data_script("rides", table), **as_csv("rides", table[list(named)], named)}


def _former(templates: jinja2.Environment, results: Results, former: Results) -> Files:
    page = _page(templates, "former.html", **of_former.tables(results, former))
    return {"former.html": page, **as_csv("former", of_former.shared(results, former))}


def _logs(templates: jinja2.Environment, logs: dict[str, Any]) -> Files:
    table = log_table(logs)
    chart = as_spec(measured_beside_predicted(table), "passes") if len(table) else ""
    page = _page(templates, "logs.html", log=logs, passes=len(table), chart=chart)
    return {"logs.html": page, **data_script("passes", table), **as_csv("passes", table, HEADINGS)}


def _design(templates: jinja2.Environment, results: Results, design: int, seas: dict[int, pd.DataFrame]) -> Files:
    by_condition = condition_table(results, design)
    judged = judged_responses(results.campaign)
    compared, names = of_design.against_base(results, design, by_condition)
    conditions = f"conditions-{design}"
    craft = craft_of(results.campaign, of_design.design_row(results, design))
    wave, said = of_design.highest_wave(results)
    doubts = of_doubts.of_design(results, design)
    ride_files, ridden = ride_of(results, design, craft, seas)
    steady_files, steady = stability_of(results, design, craft)
    troubles = of_causes.of_design(results, design)
    if troubles:
        ride_files |= as_csv(f"troubles-{design}", troubles["troubles"]["events"])
    page = _page(
        templates,
        "design.html",
        here=f"design-{design}.html",
        design=design,
        name=called(design),
        sentences=[*of_design.sentences(results, design), *of_doubts.sentences(doubts)],
        doubts=doubts,
        views=[paper(view) for view in draw(craft, wave)],
        wave=said,
        numbers=[table for table in sheet(craft) if table.rows],
        condition_chart=as_spec(condition_scores(compared, names), conditions),
        **ridden | troubles,
        **of_changes.tables(results, design),
        **steady,
        ranges=of_ranges.of_design(results, design, craft),
        **of_design.tables(results, design, by_condition, results.leaders[design]),
    )
    card = _page(templates, "card.html", design=design, name=called(design), **of_card.tables(results, design, craft))
    return {
        f"design-{design}.html": page,
        f"card-{design}.html": card,
        **data_script(conditions, compared),
        **as_csv(conditions, by_condition, {name: response_column(name, by_condition[name]).heading for name in judged}),
        **ride_files,
        **steady_files,
    }

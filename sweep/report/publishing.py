"""Results and the templates of `site/` become pages: `render` makes them as text, `publish` writes them.

Dates come from the manifest, never from the clock: the same results give the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import jinja2
from markupsafe import Markup

from sweep.campaign.text.resources import shipped
from sweep.insight.ranking import ranked
from sweep.report.bundle import bundle
from sweep.report.display import craft_of_design
from sweep.report.embed import Files, chart_library, straight
from sweep.report.log_summary import LogSummary, read_log_summary
from sweep.report.one_file import one_file
from sweep.report.page import Made, Material, gather
from sweep.report.pages import (
    builds,
    card,
    cautions,
    compare,
    design,
    explore,
    former,
    logs,
    matters,
    rides,
    standings,
    sure,
    tradeoffs,
    words,
)
from sweep.report.pages.frame import Frame, Link, footer
from sweep.results.site_folder import write_site

if TYPE_CHECKING:
    from sweep.results.store import Results


class Page(NamedTuple):
    """A page of a site: its file, which is the name of its template too, its title, and what makes it or makes none."""

    file: str
    title: str
    make: Callable[[Material], Made | None]


PAGES = (
    Page("index.html", "Standings", standings.make),
    Page("builds.html", "Builds", builds.make),
    Page("explore.html", "Explore", explore.make),
    Page("matters.html", "What matters", matters.make),
    Page("tradeoffs.html", "Trade-offs", tradeoffs.make),
    Page("compare.html", "Side by side", compare.make),
    Page("rides.html", "Where it rides", rides.make),
    Page("former.html", "Before and after", former.make),
    Page("logs.html", "After the water", logs.make),
    Page("sure.html", "How sure", sure.make),
    Page("cautions.html", "Cautions", cautions.make),
    Page("words.html", "Words", words.make),
)
"""In the order in which every page lists them; those that there is nothing for are left out."""

PREVIEW = "parts/preview.png"
DESIGN_PAGES = {"design": design.make, "card": card.make}
"""The pages of a design by the name of their template: design.html is that of design-7.html."""


def publish(folder: str | Path, archive: bool = False, former: str | Path | None = None, alone: bool = False) -> Path:
    """Write the site of a results folder into its `site/`, whole or not at all, and return that path.

    A run that was stopped gives the pages that it has, each with what is missing. archive: write it as `site.zip` too, as is
    done anyway where one lies there, so that none is sent that is out of date. former: another results folder of the campaign,
    before a change, that a page sets beside this one. alone: write the first page and the cards as one file too, `site.html`,
    which is kept as the archive is. Raises StoreError for a folder of another version's form, or in use.
    """
    from sweep.results.lock import locked

    with locked(Path(folder)):
        return publish_locked(folder, archive, former, alone)


def publish_locked(folder: str | Path, archive: bool = False, former: str | Path | None = None, alone: bool = False) -> Path:
    """As `publish`, of a folder whose lock is held."""
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
        pages = render(results, read_log_summary(folder), missing, before)
    files = pages | preview()
    site = write_site(folder, files)
    if archive or (folder / "site.zip").exists():
        write_whole(folder / "site.zip", bundle(results.campaign.name, files))
    if alone or (folder / "site.html").exists():
        write_whole(folder / "site.html", one_file(pages).encode())
    return site


def render(
    results: Results, summary: LogSummary | None = None, missing: Sequence[str] = (), before: Results | None = None
) -> Files:
    """All files of a site, by their path in it.

    summary: of what was measured on the water, if anything; missing: what every page says of a run that was stopped;
    before: the results before a change.
    """
    with _cards_ahead(results) as flown:
        material, templates = gather(results, summary, before), page_templates()
        # The first page comes last: it tells what the card of the first design flies meanwhile.
        made = {page: found for page in reversed(PAGES) if (found := page.make(material)) is not None}
        links = tuple(Link(page.file, page.title) for page in PAGES if page in made)
        frame = replace(frame_of(results), preview=PREVIEW, pages=links, missing=tuple(missing))
        files = parts()
        for page, (value, beside) in made.items():
            files |= beside | {page.file: write_page(templates, page.file, replace(frame, here=page.file), value)}
        for number in sorted(results.leaders):
            for name, make in DESIGN_PAGES.items():
                if name == "card":
                    flown[number].result()
                value, beside = make(material, number)
                here = f"{name}-{number}.html"
                files |= beside | {here: write_page(templates, f"{name}.html", replace(frame, here=here), value)}
    return dict(sorted(files.items()))


@contextmanager
def _cards_ahead(results: Results) -> Iterator[dict[int, Future[None]]]:
    """What the leaders' cards fly, the first design's first, by a thread beside the one that makes pages: a third of a site."""
    first = ranked(results.standings)["design"].tolist()[:1]
    numbers = sorted(results.leaders, key=lambda number: (number not in first, number))
    crafts = {number: craft_of_design(results, number) for number in numbers if "card" in DESIGN_PAGES}
    pool = ThreadPoolExecutor(max_workers=1)
    try:
        yield {number: pool.submit(card.fly_ahead, results.campaign, craft) for number, craft in crafts.items()}
    finally:
        pool.shutdown(cancel_futures=True)


def frame_of(results: Results) -> Frame:
    """What stands around every page of these results, of which campaign and manifest are read; its list of pages is empty."""
    return Frame(results.campaign.title, footer(results.manifest))


def write_page(templates: jinja2.Environment, template: str, frame: Frame, value: object) -> str:
    """The text of a page: its template reads `page`, the value, and `frame`."""
    return words.explained(templates.get_template(template).render(page=value, frame=frame))


def sources() -> Traversable:
    """The folder of templates, styles and scripts."""
    return shipped("site")


def parts() -> Files:
    """The styles and scripts of every page."""
    folder = sorted((sources() / "parts").iterdir(), key=lambda part: part.name)
    texts = [part for part in folder if f"parts/{part.name}" != PREVIEW]
    return {f"parts/{part.name}": part.read_text(encoding="utf-8") for part in texts} | {"parts/vega.js": chart_library()}


def preview() -> dict[str, bytes]:
    """The picture that a message shows beside a link to a site; the same of every site."""
    return {PREVIEW: (sources() / PREVIEW).read_bytes()}


@cache
def page_templates() -> jinja2.Environment:
    """The templates of `site/`; one that reads what its value has not raises."""

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
    environment.filters |= {"soft": soft, "loose": loose}
    return environment


def soft(text: str) -> Markup:
    """Text that may break after the dots and underscores of an address."""
    return Markup("").join(part if part not in "._" else Markup("{}<wbr>").format(part) for part in re.split(r"([._])", text))


def loose(text: str) -> str:
    """The same in an attribute, where no element may stand."""
    return re.sub(r"([._])", "\\1\u200b", text)

"""A real browser on made-up sites under file://: offline, alone, and watched for every message and request."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from altair.utils.schemapi import debug_mode
from playwright.sync_api import Browser, Page, sync_playwright

from sweep.report.log_summary import LogSummary
from sweep.report.publishing import render
from sweep.results.store import Results
from tests.site_results import former_of, log_account, results

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

Opener = Callable[..., Page]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        told = f"no browser at {CHROMIUM}: install Debian's chromium and fonts-dejavu-core to test the pages"
        (pytest.fail if os.environ.get("CI") else pytest.skip)(told)
    with sync_playwright() as playwright:
        flags = [*FLAGS, "--host-resolver-rules=MAP * ~NOTFOUND"]
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=flags)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    """The results that the site tells of."""
    return results(tmp_path_factory.mktemp("campaign"))


@pytest.fixture(scope="session")
def site(told: Results, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its site, with logs beside and the results before a change."""
    return write(told, tmp_path_factory.mktemp("site"), log_account("firm <b>gains</b>"), former_of(told))


def write(told: Results, folder: Path, logs: LogSummary | None = None, former: Results | None = None) -> Path:
    with debug_mode(False):  # as `publish` draws it: charts are checked against their schema where they are tested
        files = render(told, logs, before=former)
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def visit(browser: Browser) -> Iterator[Opener]:
    """Opens a page and waits until it is ready; at the end the console must have stayed silent and the network unasked."""
    heard: list[str] = []
    contexts = []

    def open_page(path: Path, width: int = 1280, scheme: str = "light", touch: bool = False) -> Page:
        context = browser.new_context(
            offline=True,
            viewport={"width": width, "height": 900},
            color_scheme="dark" if scheme == "dark" else "light",
            has_touch=touch,
        )
        contexts.append(context)
        context.set_default_timeout(60_000)
        page = context.new_page()
        page.on("console", lambda message: heard.append(f"{path.name}: {message.type}: {message.text}"))
        page.on("pageerror", lambda error: heard.append(f"{path.name}: {error}"))
        page.on("dialog", lambda dialog: (heard.append(f"{path.name}: a dialog: {dialog.message}"), dialog.dismiss()))
        folder = path.parent.as_uri() + "/"
        page.on("request", lambda request: None if request.url.startswith(folder) else heard.append(f"request: {request.url}"))
        page.goto(path.as_uri())
        if page.locator("script[src='parts/charts.js']").count():
            page.locator("html[data-ready=yes]").wait_for(state="attached")
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert heard == []


MARKS = """id => {
  const counts = {};
  (function walk(item) {
    if (item.role && /^(axis|legend|title)/.test(item.role)) return;
    const kind = item.marktype;
    if (kind && kind !== "group") counts[kind] = (counts[kind] || 0) + item.items.length;
    for (const inner of item.items || []) walk(inner);
  })(foilsweep.views[id].view.scenegraph().root);
  return counts;
}"""


def marks(page: Page, chart: str) -> dict[str, int]:
    """How many items of each kind of mark a chart has drawn: {'symbol': 12, 'rule': 30, ...}, axes and legends left out."""
    counts: dict[str, int] = page.evaluate(MARKS, chart)
    return counts


def first(told: Results) -> int:
    """The first design of the standings that is not the base craft: one with a page."""
    return next(design for design in told.leaders if design != 0)


def path_of(site: Path, told: Results, name: str) -> Path:
    return site / (f"{name}-{first(told)}.html" if name in ("design", "card") else f"{name}.html")

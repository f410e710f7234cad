"""How soon a site of many designs draws, and what its pages weigh: `python -m tests.benchmarks.site [DESIGNS ...]`.

The results are made up (`tests.site_results`), with as many areas and gains as it takes; nothing is flown. Times are from the
start of loading, in a fresh browser context: until the first chart has marks, the table has rows, the page is ready; on a
desk (1280 px wide), and as on a phone (360 px, the processor throttled to a quarter). Twice each; the slower one counts.
A page's weight is that of itself and all that it loads, without the chart library.
"""

from __future__ import annotations

import re
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from sweep.report.publishing import render
from tests.browser.conftest import CHROMIUM, FLAGS
from tests.site_results import results

LAYOUTS = 3
PAGES = ("index.html", "explore.html", "compare.html")
WATCH = """
  addEventListener("DOMContentLoaded", () => {
    const seen = window.seen = {};
    const look = () => {
      if (!seen.chart && document.querySelector(".plot [class*='mark-'] path, .plot canvas")) seen.chart = performance.now();
      if (!seen.table && document.querySelector("[data-table] tbody tr, #numbers tbody tr")) seen.table = performance.now();
      if (!seen.ready && document.documentElement.dataset.ready) seen.ready = performance.now();
      if (!seen.ready) requestAnimationFrame(look);
    };
    look();
  });
"""


def weight(site: Path, name: str) -> int:
    """Bytes of a page and of what it loads, without the chart library."""
    linked = re.findall(
        r'(?:<script defer src|<link rel="stylesheet" href)="([^"]+)"', (site / name).read_text(encoding="utf-8")
    )
    return sum((site / path).stat().st_size for path in [name, *linked] if path != "parts/vega.js")


def seen(browser: Browser, page: Path, width: int, throttled: float) -> dict[str, float]:
    """Milliseconds until the chart, the table and all are there."""
    context = browser.new_context(offline=True, viewport={"width": width, "height": 900})
    opened = context.new_page()
    opened.add_init_script(WATCH)
    context.new_cdp_session(opened).send("Emulation.setCPUThrottlingRate", {"rate": throttled})
    opened.goto(page.as_uri())
    opened.locator("html[data-ready=yes]").wait_for(state="attached", timeout=120_000)
    opened.wait_for_timeout(300)
    found: dict[str, float] = opened.evaluate("window.seen")
    context.close()
    return found


def measure(browser: Browser, designs: int, folder: Path) -> None:
    """Print the rows of one number of designs."""
    (folder / "campaign").mkdir()
    gains = max(4, designs // 2_000)
    told = results(folder / "campaign", areas=max(2, round(designs / gains / LAYOUTS)), gains=gains, replicates=2)
    begun = time.monotonic()
    for name, text in render(told).items():
        path = folder / "site" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    print(f"{len(told.designs)} designs: rendered in {time.monotonic() - begun:.1f} s", flush=True)
    for name in PAGES:
        print(f"  {name}: {weight(folder / 'site', name) / 1e6:.2f} MB", flush=True)
        for kind, width, throttled in (("desk", 1280, 1.0), ("phone", 360, 4.0)):
            looks = [seen(browser, folder / "site" / name, width, throttled) for _ in range(2)]
            slower = {
                what: max(look[what] for look in looks) / 1000.0 for what in ("chart", "table", "ready") if what in looks[0]
            }
            print(f"    {kind}: " + ", ".join(f"{what} {time:.2f} s" for what, time in slower.items()), flush=True)


def main() -> None:
    """Measure the sites of the numbers that were asked for."""
    wanted = [int(text) for text in sys.argv[1:]] or [1_000, 10_000, 100_000]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for designs in wanted:
            with tempfile.TemporaryDirectory() as folder:
                measure(browser, designs, Path(folder))
        browser.close()


if __name__ == "__main__":
    main()

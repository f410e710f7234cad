"""What a site weighs, and when its pages are there over 1.6 Mb/s: `python -m tests.benchmarks.weights RESULTS`.

RESULTS: a results folder with its site and its `site.zip`. Each page of `PAGES` is opened in a browser that has seen nothing,
over a line of `served`, with its files as they are and packed; it takes the seconds until the text can be read and until the
first chart is drawn. Goals: 2 s and 7 s, and 2.5 MB of zip.
"""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.conftest import CHROMIUM, FLAGS
from tests.browser.served import seen, served

READABLE_S, DRAWN_S, MOST_ZIPPED = 2.0, 7.0, 2.5e6
PAGES = ("index.html", "design-*.html", "explore.html", "matters.html", "rides.html")


def main() -> None:
    """Measure a site; exits with 1 where a goal is missed."""
    folder, missed = Path(sys.argv[1]), 0
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for packed in (False, True):
            with served(folder / "site", packed) as address:
                for name in (sorted((folder / "site").glob(pattern))[-1].name for pattern in PAGES):
                    found = seen(browser, f"{address}/{name}")
                    late = found["text"] > READABLE_S or found.get("chart", 0.0) > DRAWN_S
                    missed += late
                    print(
                        f"{'gzip' if packed else 'as it is'}  {name:16s} text {found['text']:.2f} s, "
                        f"first chart {found.get('chart', float('nan')):.2f} s, all {found['ready']:.2f} s, "
                        f"{found['bytes'] / 1e6:.2f} MB{'  TOO LATE' if late else ''}",
                        flush=True,
                    )
        browser.close()
    zipped = (folder / "site.zip").stat().st_size
    missed += zipped > MOST_ZIPPED
    print(f"zip {zipped / 1e6:.2f} MB{'  TOO MUCH' if zipped > MOST_ZIPPED else ''}")
    sys.exit(1 if missed else 0)


if __name__ == "__main__":
    main()

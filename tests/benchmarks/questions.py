"""The questions of a first page, asked in a browser: `python -m tests.benchmarks.questions RESULTS ... [--truth FOLDER]`.

RESULTS: results folders with their sites; FOLDER: with truths that `advice fly` has kept, of other waves, each called as its
campaign: `python -m tests.benchmarks.advice fly pond-race 64 FOLDER 2 900`. For each question it says how many clicks lead from
the first page to its answer, on which screen of 1440 by 900 that ends, how many seconds the words take from the top of where
the click leads to its end (and those of the list of questions up to it) at four words a second (judgement; of the table of
what to set, to its first row), and whether it is right (`answers`): by the tables that the results folder keeps, and in the
truth. An answer that says what the campaign lacks is right where the campaign lacks it.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
from playwright.sync_api import Browser, Page, sync_playwright

from sweep.insight.ranking import ranked
from sweep.results.store import load_results
from tests.benchmarks import advice, answers
from tests.benchmarks.answers import Site
from tests.browser.conftest import CHROMIUM, FLAGS

WORDS_A_SECOND = 4.0
MOST_S, MOST_SCREENS = 30.0, 1
SLOWEST_MS = 180_000.0  # that a page may take to load beside other work: judgement
READ = """
  ([from, element]) => {
    const end = element.getBoundingClientRect(), words = [];
    const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
      if (!node.parentElement.checkVisibility() || node.parentElement.closest("script, noscript, svg")) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      const box = range.getBoundingClientRect();
      const within = element.contains(node) || box.bottom <= end.top + 1;
      if (box.bottom >= from && within) words.push(...node.textContent.split(/\\s+/).filter(Boolean));
    }
    return [words.length, end.bottom];
  }
"""


class Question(NamedTuple):
    """Where its answer stands, the first of these that is there, and what finds out whether it is right ('' if it is)."""

    places: tuple[str, ...]
    wrong: Callable[[Site, Page, str], str]


QUESTIONS = {
    "Which others would do?": Question(("section[aria-labelledby=leading] .note",), answers.others),
    "How sure is it?": Question((".lead .first",), answers.sure),
    "What do I set?": Question((".set tbody tr", ".card tbody tr"), answers.settings),
    "How rough, how fast?": Question((".lead",), answers.rough),
    "What goes wrong?": Question(("#troubles + p", "#refused ~ table", ".lead .first"), answers.troubles),
    "Would cheaper parts do?": Question((".lead .first",), answers.cheaper),
    "What does another sensor buy?": Question(("#levels ~ ul li:has-text('rangefinder')", ".lead .first"), answers.sensor),
    "How good is my boat as it is?": Question((".lead .first",), answers.base),
}


def ask(site: Site, page: Page, asked: str) -> tuple[int, float, float, str, str]:
    """Clicks, screens, seconds, the answer and what is wrong with it."""
    page.goto((site.folder / "site" / "index.html").as_uri())
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    item = page.locator("nav.asked li", has_text=asked)
    before = len(page.locator("nav.asked").inner_text().partition(asked)[0].split()) + len(item.inner_text().split())
    link = item.get_by_role("link")
    if not link.count():
        wrong = "" if answers.lacks(site, asked) else "the campaign has what it takes"
        return 0, 1.0, before / WORDS_A_SECOND, item.inner_text(), wrong
    link.click()
    page.wait_for_load_state()
    if page.locator("script[src='parts/charts.js']").count():
        page.locator("html[data-ready=yes]").wait_for(state="attached")
    page.wait_for_timeout(100)
    question = QUESTIONS[asked]
    place = next(page.locator(each).first for each in question.places if page.locator(each).count())
    words, bottom = page.evaluate(READ, [0, place.element_handle()])
    text = place.inner_text()
    return 1, max(1.0, np.ceil(bottom / 900)), (before + words) / WORDS_A_SECOND, text, question.wrong(site, page, text)


def tell(browser: Browser, site: Site) -> int:
    """Print a line for each question; returns how many miss the goal or are wrong."""
    missed = 0
    print(f"{site.told.campaign.title}{'' if site.truth is None else ', in the long truth'}")
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    page.set_default_timeout(SLOWEST_MS)
    for asked in QUESTIONS:
        clicks, screens, seconds, text, wrong = ask(site, page, asked)
        late = screens > MOST_SCREENS or seconds > MOST_S
        missed += bool(late or wrong)
        judged = f"WRONG: {wrong}" if wrong else "right"
        short = re.sub(r"\s+", " ", text)[:110]
        told = f"{clicks} click, screen {screens:.0f}, {seconds:4.0f} s{' LATE' if late else ''}"
        print(f"  {asked:30s} {told}; {judged}; {short}", flush=True)
    page.close()
    return missed


def main() -> None:
    """Ask every site."""
    parser = argparse.ArgumentParser()
    parser.add_argument("results", nargs="+", type=Path)
    parser.add_argument("--truth", type=Path)
    given = parser.parse_args()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        missed = 0
        for folder in given.results:
            told = load_results(folder)
            order = ranked(told.standings)
            known = given.truth / f"{told.campaign.name}.npz" if given.truth else None
            truth = advice.load(known) if known and known.exists() else None
            best = int(order["design"].iloc[0]) if len(order) else None
            missed += tell(browser, Site(folder, told, truth, best))
        browser.close()
    print(f"{missed} of {len(QUESTIONS) * len(given.results)} miss the goal or are wrong")


if __name__ == "__main__":
    main()

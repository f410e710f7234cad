"""The questions of a site's first page, asked in a browser: `python -m tests.benchmarks.questions RESULTS ... [--truth FILE]`.

RESULTS: results folders with their sites; FILE: a truth that `advice fly` has kept, of the first of them. For each question it
says how many clicks lead from the first page to its answer, on which screen of 1440 by 900 that ends, how many seconds the
words take from the top of where the click leads to its end (and those of the list of questions up to it) at four words a second
(judgement; of the table of what to set, to its first row), and whether it is right: by the tables that the results folder
keeps, and by the truth where it is given. An answer that says what the campaign lacks is right where the campaign lacks it.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from playwright.sync_api import Browser, Page, sync_playwright

from sweep.insight.ranking import ranked
from sweep.report.pages.causes import PLAIN
from sweep.results.store import Results, load_results
from tests.benchmarks import advice
from tests.browser.conftest import CHROMIUM, FLAGS

WORDS_A_SECOND = 4.0
MOST_S, MOST_SCREENS = 30.0, 1
NUMBER = r"-?[0-9.]+"
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


class Site(NamedTuple):
    """A site that is asked: its folder, what it tells of, the truth of it if one is known, and its first design."""

    folder: Path
    told: Results
    truth: advice.Truth | None
    best: int | None


class Question(NamedTuple):
    """Where its answer stands, the first of these that is there, and what finds out whether it is right ('' if it is)."""

    places: tuple[str, ...]
    wrong: Callable[[Site, Page, str], str]


def true_scores(truth: advice.Truth) -> np.ndarray[Any, Any]:
    """The mean score of each design over all conditions and replicates."""
    return np.asarray(np.nanmean(np.nanmean(truth.scores, axis=2), axis=1))


def others(site: Site, page: Page, text: str) -> str:
    """The chart colours those that are good enough, and in the truth none of them is further from the best than it says."""
    drawn = page.evaluate("foilsweep.rows('leaders').filter(row => row.group === 'good enough').map(row => Number(row.design))")
    standings = ranked(site.told.standings)
    good = standings[standings["good_enough"]]["design"].tolist()
    told = [0] if "base craft is good enough too" in text else []
    if missing := [design for design in good[:20] if design not in [*drawn, *told]]:
        return f"designs {missing} are good enough and are not shown so"
    if site.truth is None:
        return ""
    scores, share = true_scores(site.truth), float(standings["good_share"].iloc[0]) if "good_share" in standings else np.inf
    far = [design for design in good if scores[design] > (1.0 + share) * np.nanmin(scores)]
    return f"in the truth designs {far} are further from the best" if far else ""


def sure(site: Site, page: Page, text: str) -> str:
    """The best in the truth is among those that may be the best; the gain is at least what it says."""
    named = re.search(r"designs ([0-9, or]+);|Design (\d+) is the best of all", text)
    if site.truth is None:
        return "" if named or site.best is None else "it names no design"
    scores = true_scores(site.truth)
    best = int(np.nanargmin(scores))
    if named and str(best) not in re.findall(r"\d+", named[0]):
        return f"in the truth design {best} is the best"
    least = re.search(rf"by at least ({NUMBER})", text)
    gain = float(scores[0] - scores[site.best or 0])
    return f"in the truth it is {gain:.3f} better" if least and gain < float(least[1].rstrip(".")) else ""


def settings(site: Site, page: Page, text: str) -> str:
    """Its card has the factors that are settings as the design has them."""
    held = {label: site.told.designs.loc[site.best, label] for label in site.told.campaign.factors}
    gain = held.get("control.height.proportional")
    if gain is None:
        return ""
    said = np.degrees(float(gain)) / 100.0
    card = page.locator(".card").first.inner_text()
    return "" if f"{said:.3g}" in card else f"the height gain {said:.3g} deg/cm is not on it"


def rough(site: Site, page: Page, text: str) -> str:
    """The height up to which nine flights in ten are clean, counted again from the map's cells."""
    kept = "keeps nine flights in ten clean up to"
    found = re.search(rf"{kept} ({NUMBER}) cm(?:, the highest tried,)? in head seas at ({NUMBER}) m/s", text)
    if not found:
        return "" if kept in text or "not" in text else "no height is named"
    height, speed = float(found[1]), float(found[2])
    rides = site.told.rides
    head = rides[(rides["design"] == (site.best or 0)) & np.isclose(rides["speed"], speed) & (rides["heading_name"] == "head")]
    share = pd.Series((head["clean"] / head["flights"]).to_numpy(), index=100 * head["height"])
    good = [at for at in sorted(share.index) if (share[share.index <= at + 1e-6] >= 0.9).all()]
    return "" if good and np.isclose(good[-1], height) else f"by the cells it is {good[-1] if good else 'none'}"


def troubles(site: Site, page: Page, text: str) -> str:
    """Its most frequent cause is that of the table of events."""
    design = int(re.findall(r"\d+", page.url.rpartition("/")[2])[0]) if "design-" in page.url else None
    if design is None:
        return ""
    told = site.told.troubles
    rows = told[told["design"] == design] if len(told) else told
    if rows.empty:
        return ""
    most = rows["cause"].value_counts()
    return "" if PLAIN.get(str(most.index[0]), str(most.index[0])) in text else f"the most frequent cause is {most.index[0]}"


def sensor(site: Site, page: Page, text: str) -> str:
    """The best level of a rangefinder's number on average; in the truth it is that among the designs that fly."""
    found = re.search(rf"latency[^:]*: ({NUMBER}) ms is the best", text)
    if site.truth is None or not found:
        return "" if found or "cannot" in text or "may be" in text or "not known" in text else "no level is named"
    scores = pd.Series(true_scores(site.truth))[1:]
    best = scores.groupby(site.told.designs["rangefinders.latency"].iloc[1:].round(6).to_numpy()).mean().idxmin()
    return "" if np.isclose(1000 * best, float(found[1])) else f"in the truth {1000 * best:g} ms is the best"


def base(site: Site, page: Page, text: str) -> str:
    """The base craft's score is the standings'; its interval holds the truth."""
    row = site.told.standings.set_index("design").loc[0]
    found = re.search(rf"its score is ({NUMBER}) \(({NUMBER}) to ({NUMBER})\)", text)
    if not found or not np.isclose(float(found[1]), row["score"], rtol=0.01):
        return f"the standings have {row['score']:.3g}"
    if site.truth is None:
        return ""
    true = float(true_scores(site.truth)[0])
    return "" if float(found[2]) <= true <= float(found[3].rstrip(".")) else f"in the truth it is {true:.3f}"


QUESTIONS = {
    "Which others would do?": Question(("section[aria-labelledby=leading] .note",), others),
    "How sure is it?": Question((".lead .first",), sure),
    "What do I set?": Question((".set tbody tr", ".card tbody tr"), settings),
    "How rough, how fast?": Question((".lead .first",), rough),
    "What goes wrong?": Question(("#troubles + p", "#refused ~ table", ".lead .first"), troubles),
    "Would cheaper parts do?": Question((".lead .first",), lambda site, page, text: ""),
    "What does another sensor buy?": Question(("#levels ~ ul li:has-text('rangefinder')", ".lead .first"), sensor),
    "How good is my boat as it is?": Question((".lead .first",), base),
}


def lacks(site: Site, asked: str) -> bool:
    """Whether a question has no answer here, as the first page says."""
    addresses = [address for factor in site.told.campaign.factors.values() for address in factor.addresses]
    return {
        "How rough, how fast?": site.told.rides.empty,
        "Would cheaper parts do?": site.told.designs["price"].nunique() < 2,
        "What does another sensor buy?": not any(address.startswith("rangefinders.") for address in addresses),
    }.get(asked, site.best is None and asked != "What goes wrong?")


def ask(site: Site, page: Page, asked: str) -> tuple[int, float, float, str, str]:
    """Clicks, screens, seconds, the answer and what is wrong with it."""
    page.goto((site.folder / "site" / "index.html").as_uri())
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    item = page.locator("nav.asked li", has_text=asked)
    before = len(page.locator("nav.asked").inner_text().partition(asked)[0].split()) + len(item.inner_text().split())
    link = item.get_by_role("link")
    if not link.count():
        wrong = "" if lacks(site, asked) else "the campaign has what it takes"
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
    print(f"{site.told.campaign.title}")
    page = browser.new_page(viewport={"width": 1440, "height": 900})
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
        for at, folder in enumerate(given.results):
            told = load_results(folder)
            order = ranked(told.standings)
            truth = advice.load(given.truth) if given.truth and at == 0 else None
            best = int(order["design"].iloc[0]) if len(order) else None
            missed += tell(browser, Site(folder, told, truth, best))
        browser.close()
    print(f"{missed} of {len(QUESTIONS) * len(given.results)} miss the goal or are wrong")


if __name__ == "__main__":
    main()

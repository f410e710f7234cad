"""Maps, rides over time, the boat that replays them and the card, in a real browser."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from sweep.report.pages.card import MOST_ROWS
from sweep.results.store import Results
from tests.browser.conftest import Opener, first, marks, path_of

LONGER = """rows => {
  const table = [...document.querySelectorAll(".card table")].find(each => each.caption.textContent.startsWith("Expect in"));
  const body = table.tBodies[0];
  while (body.rows.length < rows) body.append(body.rows[0].cloneNode(true));
  for (const row of body.rows) row.cells[0].textContent = "long-waves, following, 4 m/s, start-and-turn";
}"""


def line_of(page: Page, panel: str) -> str:
    return page.locator(f"#panel-{panel} svg .mark-line path").last.get_attribute("d") or ""


def test_the_ride_and_its_spectra_follow_condition_and_window(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / f"design-{first(told)}.html")
    for panel in ("heights", "ride", "foils", "attitude", "speed", "throttle", "power", "load"):
        assert page.locator(f"#panel-{panel} svg").count() == 1
    assert marks(page, "panel-ride")["line"] > 0, "though a sensor tells nothing"
    assert marks(page, "spectrum-heights")["line"] > 0
    before, spectrum = line_of(page, "heights"), page.locator("#spectrum-heights svg .mark-line path").first
    spectrum_before = spectrum.get_attribute("d") or ""
    page.get_by_label("Condition", exact=True).select_option("2")
    assert line_of(page, "heights") != before
    expect(spectrum).not_to_have_attribute("d", spectrum_before)
    whole = line_of(page, "heights")
    expect(page.locator("#window-said")).to_have_text("4.0 to 14.0 s")
    page.get_by_label("Show", exact=True).select_option("5")
    expect(page.locator("#window-said")).to_have_text("4.0 to 9.0 s")
    assert line_of(page, "heights") != whole
    page.locator("#begin").focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    expect(page.locator("#window-said")).to_have_text("4.3 to 9.3 s")
    domain = page.evaluate("foilsweep.views['panel-load'].view.scale('x').domain()")
    assert domain == pytest.approx([4.3, 9.3])


def test_a_ride_comes_after_the_charts_of_the_rest(site: Path, told: Results, visit: Opener) -> None:
    """Its records outweigh the page: over a slow line they would hold up the first chart."""
    page = visit(site / "cautions.html")
    page.add_init_script(
        """document.addEventListener("load", event => {
          if (event.target.src?.includes("/ride-")) window.drawn = Object.keys(foilsweep.views);
        }, true)"""
    )
    page.goto((site / f"design-{first(told)}.html").as_uri())
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    before = page.evaluate("window.drawn")
    assert "condition-scores" in before
    assert not [chart for chart in before if chart.startswith(("panel-", "spectrum-"))]
    assert marks(page, "spectrum-heights")["line"] > 0


def test_a_ride_s_address_leads_to_the_same_moment(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / f"design-{first(told)}.html")
    page.get_by_label("Condition", exact=True).select_option("2")
    page.get_by_label("Show", exact=True).select_option("5")
    page.locator("#begin").fill("7")
    page.locator("#moment").fill("8.5")
    page.wait_for_url(re.compile(r"#condition=[^&]+&length=5&begin=7&moment=8\.5$"))
    lines, address = line_of(page, "heights"), page.url
    again = visit(site / "index.html")
    again.goto(address)
    again.locator("html[data-ready=yes]").wait_for(state="attached")
    expect(again.locator("#window-said")).to_have_text("7.0 to 12.0 s")
    expect(again.locator("#moment-said")).to_contain_text("8.5 s")
    assert line_of(again, "heights") == lines
    assert boat(again) == boat(page)


def cells_of(page: Page, chart: str) -> list[dict[str, float]]:
    found: list[dict[str, float]] = page.evaluate(
        """id => {
          const rects = foilsweep.views[id].view.scenegraph().root;
          const found = [];
          (function walk(item) {
            if (item.marktype === "rect") found.push(...item.items.map(each => each.datum).filter(datum => "share" in datum));
            for (const inner of item.items || []) walk(inner);
          })(rects);
          return found.map(({ speed, height, share, design }) => ({ speed, height, share, design }));
        }""",
        chart,
    )
    return found


def test_the_maps_show_one_design_at_a_time(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "rides.html")
    assert told.campaign.map is not None
    cells = len(told.campaign.map.speeds) * len(told.campaign.map.heights)
    best = first(told)
    for at in range(3):
        drawn = cells_of(page, f"map-{at}")
        assert len(drawn) == cells
        assert {cell["design"] for cell in drawn} == {best}
        shares = told.rides[(told.rides["design"] == best) & (told.rides["heading_name"] == ("head", "beam", "following")[at])]
        wanted = (100.0 * shares["clean"] / shares["flights"]).to_numpy()
        assert sorted(cell["share"] for cell in drawn) == pytest.approx(sorted(wanted), rel=1e-2)
    assert page.evaluate("foilsweep.views['map-0'].view.scale('x').domain().length") == len(told.campaign.map.speeds)
    assert page.locator("[data-design]:visible").count() == 1
    page.get_by_label("Design", exact=True).select_option("0")
    drawn = cells_of(page, "map-0")
    assert len(drawn) == cells - len(told.campaign.map.heights), "at the lowest speed the base craft cannot fly"
    speeds = page.evaluate("foilsweep.views['map-0'].view.scale('x').domain()")
    assert speeds == sorted(told.campaign.map.speeds)[1:], "and has no column there"
    assert {cell["design"] for cell in drawn} == {0}
    expect(page.locator("[data-design]:visible h2")).to_have_text("The base craft (design 0) in numbers")
    assert page.url.endswith("#design=0")
    page.reload()
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    expect(page.get_by_label("Design", exact=True)).to_have_value("0")


def boat(page: Page) -> tuple[str, str, str]:
    """Where the boat is, how its surface lies, how its first foil stands."""
    found: tuple[str, str, str] = page.evaluate(
        """() => {
          const of = (selector, name) => document.querySelector(`#side ${selector}`).getAttribute(name);
          return [of("#boat", "transform"), of("#sea", "points"), of("[data-foil]", "transform")];
        }"""
    )
    return found


def test_the_boat_moves_as_its_flight_did_and_by_hand_where_less_motion_is_asked_for(
    site: Path, told: Results, visit: Opener
) -> None:
    page = visit(site / f"design-{first(told)}.html")
    page.get_by_label("Condition", exact=True).select_option("1")
    page.locator("#moment").fill("6")
    history = told.leaders[first(told)]
    rows = history[history["condition"] == 1]
    row = rows.iloc[(rows["time"] - 6.0).abs().argmin()]
    transform, surface, foil = boat(page)
    height, pitch = (float(text) for text in re.findall(r"translate\(0 (\S+)\) rotate\((\S+) ", transform)[0])
    assert height == pytest.approx(-1e3 * row["keel_height"], abs=0.1)
    assert pitch == pytest.approx(-math.degrees(row["pitch"]), abs=0.0051)  # a page has two decimals
    assert foil.startswith("rotate(")
    points = [tuple(map(float, point.split(","))) for point in surface.split()]
    pivot = float(page.locator("#side").get_attribute("data-pivot") or "")
    nearest = min(points, key=lambda point: abs(point[0] - pivot))
    slope = 0.35 * abs(nearest[0] - pivot)
    assert nearest[1] == pytest.approx(-1e3 * row["surface"], abs=1.0 + slope)
    assert max(point[1] for point in points[:-2]) - min(point[1] for point in points[:-2]) > 2.0, "waves, not a level"
    page.locator("#moment").press("ArrowRight")
    assert boat(page)[0] != transform
    page.emulate_media(reduced_motion="reduce")
    expect(page.get_by_role("button", name="Play")).to_be_hidden()
    expect(page.get_by_text("Your device asks for less motion")).to_be_visible()
    before = boat(page)
    page.locator("#moment").fill("8")
    assert boat(page) != before


def test_the_replay_plays_and_takes_the_panels_along(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / f"design-{first(told)}.html")
    page.locator("#slowly").uncheck()
    before = boat(page)
    page.get_by_role("button", name="Play").click()
    expect(page.locator("#moment-said")).to_have_text(re.compile(r"^(5\.[5-9]|[6-9]\.|1\d\.)"))
    page.get_by_role("button", name="Stop").click()
    moment = float(page.locator("#moment").input_value())
    assert boat(page) != before
    assert page.evaluate("foilsweep.views['panel-load'].view.signal('moment')") == pytest.approx(moment, abs=0.3)
    page.locator("#moment").fill("19")
    expect(page.locator("#window-said")).to_contain_text("19.9 s")


def test_events_are_listed_marked_and_gone_to(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / f"design-{first(told)}.html")
    expect(page.locator("#events-said")).to_have_text("Nothing went wrong in this flight.")
    assert marks(page, "panel-heights").get("symbol", 0) == 0
    page.get_by_label("Condition", exact=True).select_option("2")
    listed = page.locator("#events button").all_inner_texts()
    assert [re.sub(r"^.*?: ", "", text).split(",")[0] for text in listed] == [
        "the hull touched the water", "a foil's tip came under half a chord deep", "a foil drew air",
    ]  # fmt: skip
    assert marks(page, "panel-heights")["symbol"] == marks(page, "panel-load")["symbol"] == 3
    page.locator("#events button").nth(2).click()
    assert float(page.locator("#moment").input_value()) == pytest.approx(13.0, abs=0.05)
    page.get_by_label("Condition", exact=True).select_option("3")
    assert page.locator("#events button").all_inner_texts() == ["9.0 s: the flight ended here"]
    assert marks(page, "panel-heights")["line"] < len(told.leaders[0]) / 2


def test_the_card_prints_on_one_page(site: Path, told: Results, visit: Opener) -> None:
    """Also with as many conditions as a card may have, named as those of a course are."""
    page = visit(path_of(site, told, "card"))
    for rows in (0, MOST_ROWS):
        if rows:
            page.evaluate(LONGER, rows)
        for paper in ("A4", "Letter"):
            assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper))) == 1, rows
    design = visit(path_of(site, told, "design"))
    assert len(re.findall(rb"/Type\s*/Page\b", design.pdf(format="A4"))) > 1, "pages are counted"
    design.get_by_role("link", name="Card for the water").click()
    expect(design.locator("h1")).to_have_text("Card for the water")

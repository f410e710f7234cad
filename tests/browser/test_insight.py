"""Builds, what matters and trade-offs in a real browser: choices change the charts, and the address keeps them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from sweep.report.pages import matters, robust, tradeoffs
from sweep.results.store import Results
from tests.browser.conftest import Opener, first, marks


def reload(page: Page) -> None:
    page.reload()
    page.locator("html[data-ready=yes]").wait_for(state="attached")


def drawn(page: Page, chart: str, *fields: str) -> list[list[float]]:
    """Some fields of every point of a chart."""
    found: list[list[float]] = page.evaluate(
        """([id, fields]) => {
          const found = [];
          (function walk(item) {
            if (item.marktype === "symbol" && !/legend/.test(item.role || "")) {
              found.push(...item.items.map(each => each.datum).filter(datum => fields[0] in datum));
            }
            for (const inner of item.items || []) if (!/legend/.test(inner.role || "")) walk(inner);
          })(foilsweep.views[id].view.scenegraph().root);
          return found.map(datum => fields.map(field => datum[field]));
        }""",
        [chart, list(fields)],
    )
    return found


def test_builds_are_drawn_with_their_settings(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "builds.html")
    ranked = int(told.builds["place"].notna().sum())
    expect_points = min(ranked, 20)
    assert marks(page, "builds")["symbol"] in (expect_points, expect_points + 1), "the base craft besides"
    assert marks(page, "along-f_height_gain")["symbol"] == 4 * 4
    link = page.locator("table a", has_text=re.compile(rf"^design {told.builds['design'].iloc[0]}$"))
    if link.count():
        link.first.click()
        expect(page.locator("h1")).to_contain_text(str(told.builds["design"].iloc[0]))


def test_effects_follow_the_chosen_response(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "matters.html")
    table = matters.share_table(told)
    for response in ("score", "outside_window"):
        page.get_by_label("Quantity", exact=True).select_option(response)
        shown = {(factor, round(share, 3)) for factor, share in drawn(page, "shares", "factor", "share")}
        wanted = table[table["response"] == response]
        assert shown == {(row.factor, round(row.share, 3)) for row in wanted.itertuples()}
    expect(page.locator("[data-chosen]")).to_have_text("outside window, %")
    assert page.locator("[data-response]:visible").count() == 1
    means = drawn(page, "along-f_height_gain", "mean")
    levels = matters.level_table(told)
    wanted = levels[(levels["response"] == "outside_window") & (levels["key"] == "f_height_gain")]
    assert sorted(value for (value,) in means) == pytest.approx(sorted(wanted["mean"]))
    reload(page)
    expect(page.get_by_label("Quantity", exact=True)).to_have_value("outside_window")
    assert len(drawn(page, "along-f_height_gain", "mean")) == len(wanted) == 3  # with the least gain none flies


def test_robustness_follows_the_chosen_design(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "matters.html")
    table = robust.robust_table(told)
    for design in (robust.leaders(told)[0], 0):
        page.get_by_label("Design", exact=True).select_option(str(design))
        for kind in (robust.TOLERANCE, robust.CONDITION):
            wanted = int(((table["design"] == design) & (table["kind"] == kind)).sum())
            assert marks(page, kind)["rect"] == wanted > 0
    assert "design=0" in page.url
    page.get_by_label("Quantity", exact=True).select_option("outside_window")
    assert "design=0" in page.url
    reload(page)
    expect(page.get_by_label("Design", exact=True)).to_have_value("0")


def test_the_front_follows_the_chosen_quantities(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "tradeoffs.html")
    columns, table = tradeoffs.quantities(told)
    fronts = tradeoffs.fronts(columns, table)
    page.get_by_label("Vertical axis", exact=True).select_option("mass")
    page.get_by_label("Horizontal axis", exact=True).select_option("outside_window")
    found = fronts["mass outside_window"]
    listed = page.locator("#front tbody tr")
    expect(listed).to_have_count(len(found.designs))
    names = [text.split(",")[0].replace("base craft (0)", "0") for text in page.locator("#front tbody th").all_inner_texts()]
    assert sorted(map(int, names)) == sorted(found.designs)
    on_line = {design for design, order in drawn(page, "tradeoffs", "design", "order") if order is not None}
    assert set(found.designs) <= on_line
    said = tradeoffs.front_sentences(columns, table, fronts)["mass outside_window"].said
    expect(page.locator("#said")).to_have_text(said)
    expect(page.locator("#front thead")).to_contain_text("mass, kg")
    reload(page)
    expect(page.get_by_label("Horizontal axis", exact=True)).to_have_value("outside_window")
    expect(listed).to_have_count(len(found.designs))


def test_a_quantity_against_itself_moves_the_other(site: Path, visit: Opener) -> None:
    page = visit(site / "tradeoffs.html")
    page.get_by_label("Horizontal axis", exact=True).select_option(page.get_by_label("Vertical axis", exact=True).input_value())
    assert (
        page.get_by_label("Vertical axis", exact=True).input_value()
        != page.get_by_label("Horizontal axis", exact=True).input_value()
    )


def test_a_design_on_the_front_leads_to_its_page_or_its_row(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "tradeoffs.html")
    said = json.loads(page.locator("#fronts").text_content() or "")
    pair, design = next((pair, design) for pair, each in said.items() for design in each["front"] if design not in told.leaders)
    one, two = pair.split(" ")
    page.get_by_label("Vertical axis", exact=True).select_option(one)
    page.get_by_label("Horizontal axis", exact=True).select_option(two)
    page.locator("#front tbody a", has_text=re.compile(rf"^{design}\b")).click()
    expect(page).to_have_title(re.compile("^Standings: "))
    expect(page.locator("#filter-said")).to_have_text(f"1 of {len(told.designs)} designs")
    own = visit(site / "tradeoffs.html")
    own.get_by_label("Vertical axis", exact=True).select_option("score")
    leader = first(told)
    own.locator("#front tbody a", has_text=re.compile(rf"^{leader}\b")).click()
    expect(own.locator("h1")).to_contain_text(str(leader))

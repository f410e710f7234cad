"""The pages in a real browser: drawn, linked, sorted, filtered, within the screen, and silent."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from sweep.insight.ranking import ranked
from sweep.report.pages import explore
from sweep.results.store import Results
from tests.browser.conftest import MARKS, Opener, first, marks, path_of, write
from tests.browser.test_axe import faults, run_axe
from tests.site_results import HOSTILE_LABEL, HOSTILE_TITLE, results

PAGES = (
    "index",
    "builds",
    "explore",
    "matters",
    "tradeoffs",
    "compare",
    "rides",
    "design",
    "card",
    "sure",
    "cautions",
    "words",
)
AREA = "f_foil_b_onmouseover_alert_2_area_b"
"""The key of the factor with the hostile name."""
PAGES += ("former", "logs")
MOST_SCREENS = 14
"""Heights of a phone of 800 px that any page may take while its folds are shut (judgement)."""


PLOTS = f"""
  [...document.querySelectorAll(".plot")].map(plot => {{
    const box = plot.querySelector("svg").getBoundingClientRect();
    const drawn = Object.values(({MARKS})(plot.id)).reduce((sum, count) => sum + count, 0);
    return {{ id: plot.id, drawn, left: box.left, right: box.right, label: plot.getAttribute("aria-label") }};
  }})
"""


def within(page: Page, width: int) -> None:
    """Nothing stands out sideways, and every chart has marks, words for those who do not see it, and room."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for plot in page.evaluate(PLOTS):
        assert plot["drawn"] > 0, plot
        assert plot["left"] >= 0, plot
        assert plot["right"] <= width + 1, plot
        assert plot["label"], plot


@pytest.mark.parametrize("name", PAGES)
def test_every_page_draws_within_the_screen(site: Path, told: Results, visit: Opener, name: str) -> None:
    """On a phone in the dark and on a desk in both schemes; and axe finds no serious fault there."""
    page = visit(path_of(site, told, name), width=1280, scheme="light")
    found = [run_axe(page)]
    within(page, 1280)
    assert page.locator("h1").count() == 1
    assert page.title().endswith(HOSTILE_TITLE)
    expect(page.locator("header .campaign")).to_have_text(HOSTILE_TITLE)
    assert page.locator("[onmouseover], b").count() == 0
    page.emulate_media(color_scheme="dark")
    found.append(faults(page, ["color-contrast"]))
    within(page, 1280)
    phone = visit(path_of(site, told, name), width=360, scheme="dark")
    assert phone.evaluate("document.documentElement.scrollHeight") < MOST_SCREENS * 800
    found.append(run_axe(phone))
    within(phone, 360)
    assert found == [[], [], []]


def test_the_score_chart_shows_each_leader_and_its_interval(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html")
    leaders = min(len(ranked(told.standings)), 20) + (0 not in ranked(told.standings)["design"].head(20).tolist())
    assert marks(page, "scores") == {"symbol": leaders, "rule": leaders}


def cells(page: Page, column: int) -> list[str]:
    return page.locator(f"[data-table] tbody tr td:nth-child({column})").all_inner_texts()


def test_the_table_sorts_both_ways_and_grows_on_request(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html")
    order = ranked(told.standings)["design"].tolist()
    assert [int(text) for text in cells(page, 2)] == order[:25]
    heading = page.locator("[data-table] th", has_text=re.compile("^design"))
    heading.get_by_role("button").click()
    assert heading.get_attribute("aria-sort") == "ascending"
    assert [int(text) for text in cells(page, 2)] == list(range(25))
    heading.get_by_role("button").press("Enter")
    assert heading.get_attribute("aria-sort") == "descending"
    assert [int(text) for text in cells(page, 2)] == list(range(len(told.designs) - 1, len(told.designs) - 26, -1))
    page.get_by_role("button", name="Show more").click()
    assert len(cells(page, 1)) == 50
    page.get_by_role("button", name="Show more").click()
    assert len(cells(page, 1)) == len(told.designs)
    expect(page.get_by_role("button", name="Show more")).to_be_hidden()


def test_the_table_filters_and_says_what_makes_no_sense(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html")
    score, standings = told.standings["score"], told.standings
    middle = 2.0
    assert abs(score - middle).min() > 0.01, "the page rounds to four digits: compare at a gap"
    layout = told.designs["rangefinders.layout"]
    wanted = {
        "refused": ((standings["verdict"] == "broken") & (standings["design"] != 0)).sum(),
        f"score<{middle}": (score < middle).sum(),
        f"score >= {middle}": (score >= middle).sum(),
        "layout=over-foils": (layout == "over-foils").sum(),
        f"across-bow {AREA}>50": ((layout == "across-bow") & (told.designs[HOSTILE_LABEL] > 0.005)).sum(),
        "design=7": 1,
        "nothing-like-it": 0,
    }
    for text, count in wanted.items():
        page.get_by_label("Show only").fill(text)
        expect(page.locator("#filter-said")).to_have_text(f"{count} of {len(told.designs)} designs")
        assert len(cells(page, 1)) == min(count, 25)
        expect(page.get_by_label("Show only")).not_to_have_attribute("aria-invalid", "true")
    for text, why in {
        "colour<3": "no column is called “colour”",
        "height<3": "which of",
        "mass<heavy": "“heavy” is not a number",
    }.items():
        page.get_by_label("Show only").fill(text)
        expect(page.locator("#filter-said")).to_contain_text(why)
        expect(page.get_by_label("Show only")).to_have_attribute("aria-invalid", "true")


def test_links_lead_where_they_say(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html")
    for name in ("Explore", "Where it rides", "How sure", "Cautions", "Standings"):
        page.get_by_role("navigation", name="Pages").get_by_role("link", name=name).click()
        expect(page).to_have_title(re.compile(f"^{name}: "))
        expect(page.get_by_role("link", name=name, exact=True)).to_have_attribute("aria-current", "page")
    page.locator("[data-table] tbody").get_by_role("link", name=str(first(told)), exact=True).click()
    expect(page.locator("h1")).to_have_text(f"Design {first(told)}")


def test_every_file_that_is_linked_is_there(site: Path) -> None:
    for page in site.glob("*.html"):
        for target in re.findall(r'(?:href|src)="([^"#]+)"', page.read_text(encoding="utf-8")):
            if target.startswith("data:"):
                continue
            assert (site / target).is_file(), f"{page.name} links {target}"


def test_a_point_of_the_score_chart_opens_its_page(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "index.html")
    page.locator("#scores svg .mark-symbol path").nth(list(ranked(told.standings)["design"]).index(first(told))).click()
    expect(page.locator("h1")).to_have_text(f"Design {first(told)}")


WALK = """
  const { left, top } = foilsweep.views.explore.view.padding(), [across, down] = foilsweep.views.explore.view.origin();
  const holder = document.querySelector("#explore svg, #explore canvas");
  function find(item, x, y, name) {
    const inside = item.marktype ? [x, y] : [x + (item.x || 0), y + (item.y || 0)];
    if (item.name === name) return { mark: item, x: x + across + left, y: y + down + top };
    for (const inner of item.items || []) {
      const found = find(inner, ...inside, name);
      if (found) return found;
    }
    return null;
  }
  const seek = name => find(foilsweep.views.explore.view.scenegraph().root, 0, 0, name);
"""


def chosen_in(page: Page, key: str) -> int:
    """How many designs the coloured bars of a histogram stand for."""
    count: int = page.evaluate(
        f"""key => {{ {WALK}
          const bars = seek(`over_${{key}}_brush_bg`).mark.group.items.find(mark => /layer_1_marks$/.test(mark.name));
          return bars.items.reduce((sum, bar) => sum + bar.datum.__count, 0);
        }}""",
        key,
    )
    return count


def place_of(page: Page, key: str) -> tuple[float, float, float]:
    """Left end, right end and middle height of a histogram, in the window."""
    page.locator("#explore").scroll_into_view_if_needed()
    left, right, height = page.evaluate(
        f"""key => {{ {WALK}
          const {{ mark, x, y }} = seek(`over_${{key}}_brush_bg`), box = holder.getBoundingClientRect();
          return [box.x + x, box.x + x + mark.group.width, box.y + y + mark.group.height / 2];
        }}""",
        key,
    )
    return left, right, height


def brush(page: Page, key: str, share: float) -> None:
    """Drag over the left `share` of a histogram."""
    page.evaluate("document.getElementById('explore').scrollIntoView({ block: 'end' })")
    left, right, height = place_of(page, key)
    page.mouse.move(left + 1, height)
    page.mouse.down()
    for part in (0.3, 0.7, 1.0):
        page.mouse.move(left + share * part * (right - left), height)
    page.mouse.up()


def test_a_brush_over_one_view_chooses_in_all(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "explore.html")
    everyone = len(told.designs)
    assert chosen_in(page, AREA) == chosen_in(page, "score") == everyone
    brush(page, "score", 0.5)
    low, high = told.standings["score"].min(), told.standings["score"].max()
    expect(page.locator("#chosen-said")).not_to_contain_text(f"{everyone} of")
    chosen = chosen_in(page, AREA)
    assert 0 < chosen < everyone
    assert chosen == chosen_in(page, "score") == chosen_in(page, "mass")
    assert chosen == pytest.approx((told.standings["score"] < low + 0.5 * (high - low)).sum(), abs=4)
    expect(page.locator("#chosen-said")).to_have_text(f"{chosen} of {everyone} designs chosen; the first 10:")
    assert marks(page, "explore")["symbol"] == everyone + chosen
    brush(page, AREA, 0.3)
    both = chosen_in(page, "score")
    assert 0 < both < chosen
    page.get_by_label("Horizontal axis", exact=True).select_option("mass")
    expect(page.locator("html[data-ready=yes]")).to_be_attached()
    expect(page.locator("#chosen-said")).to_have_text(re.compile(f"^{both} of {everyone} designs chosen"))
    page.get_by_role("button", name="Clear all choices").click()
    expect(page.locator("#chosen-said")).to_have_text(f"{everyone} of {everyone} designs chosen; the first 10:")


def test_the_scatter_shows_what_is_asked_for(site: Path, visit: Opener) -> None:
    page = visit(site / "explore.html")
    page.get_by_label("Vertical axis", exact=True).select_option("price")
    expect(page.locator("#explore svg .role-axis-title text").filter(has_text="price")).to_have_count(2)
    page.get_by_label("Horizontal axis", exact=True).select_option("f_rangefinder_layout")
    expect(page.locator("#explore svg .role-axis-title text").filter(has_text="rangefinder layout")).to_have_count(2)


def test_a_chosen_point_opens_its_page_or_shows_its_row(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "explore.html")
    points = page.locator("#explore svg .chosen_marks path")
    order = [int(text) for text in page.evaluate("foilsweep.rows('explore').map(row => row.label)")]
    plain = next(design for design in reversed(order) if design not in told.leaders)
    points.nth(order.index(plain)).click(force=True)
    expect(page.locator("#chosen-said")).to_have_text("The design that you picked:")
    shown = page.locator("#chosen li")
    expect(shown).to_have_count(1)
    expect(shown).to_contain_text("vertical acceleration")
    page.locator("#chosen-said").scroll_into_view_if_needed()
    page.reload()
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    page.locator("#chosen").get_by_role("link").first.click()
    expect(page.locator("h1")).to_have_text(re.compile("^Design|^The base craft"))


@pytest.mark.usefixtures("without_design_pages")
def test_a_finger_brushes_a_canvas(told: Results, visit: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(explore, "MOST_AS_SVG", 10)
    monkeypatch.setattr(explore, "MOST_IN_VIEWS", 40)
    page = visit(write(told, tmp_path) / "explore.html", width=360, touch=True)
    assert page.locator("#explore canvas").count() == 1
    everyone = page.evaluate("foilsweep.rows('explore').length")
    assert 0 < everyone < len(told.designs)
    expect(page.get_by_text(re.compile(f"^{everyone} of {len(told.designs)} designs are drawn"))).to_be_visible()
    page.evaluate("document.getElementById('explore').scrollIntoView({ block: 'start' })")
    left, right, height = place_of(page, AREA)
    touch = page.context.new_cdp_session(page)
    for kind, share in (("touchStart", 0.05), ("touchMove", 0.2), ("touchMove", 0.4), ("touchEnd", None)):
        points = [] if share is None else [{"x": left + share * (right - left), "y": height}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    expect(page.locator("#chosen-said")).not_to_contain_text(f"{everyone} of")
    assert 0 < chosen_in(page, "score") < everyone


def test_words_of_the_campaign_stay_words(site: Path, visit: Opener) -> None:
    """Beside the title, which stands on every page."""
    expect(visit(site / "index.html").locator("[data-table] thead")).to_contain_text(HOSTILE_LABEL)
    expect(visit(site / "sure.html").locator("pre").first).to_contain_text("alert(1)")


def test_charts_follow_the_scheme(site: Path, visit: Opener) -> None:
    page = visit(site / "index.html", scheme="light")
    point = page.locator("#scores svg .mark-symbol.role-mark path").first
    light = point.get_attribute("fill")
    page.emulate_media(color_scheme="dark")
    expect(point).not_to_have_attribute("fill", light or "")
    page.emulate_media(color_scheme="light")
    expect(point).to_have_attribute("fill", light or "")


def test_one_replicate_and_no_leaders_still_make_a_site(visit: Opener, tmp_path: Path) -> None:
    told = results(tmp_path, leaders=0, replicates=1, areas=2)
    folder = write(told, tmp_path / "site")
    page = visit(folder / "index.html")
    expect(page.locator(".lead")).to_contain_text("One replicate cannot tell how sure that is.")
    assert "rule" not in marks(page, "scores") or marks(page, "scores")["rule"] == 0
    visit(folder / "explore.html")


def test_nothing_scored_still_makes_a_site(told: Results, visit: Opener, tmp_path: Path) -> None:
    empty = dataclasses.replace(
        told, standings=told.standings.head(0), limits=told.limits.head(0), flights=told.flights.head(0), leaders={}
    )
    folder = write(empty, tmp_path)
    for name in ("index", "builds", "explore", "matters", "tradeoffs", "compare", "rides", "sure"):
        visit(folder / f"{name}.html")
    expect(visit(folder / "index.html").locator(".lead")).to_contain_text("No design has been scored yet.")


@pytest.mark.usefixtures("without_design_pages")
def test_scores_that_are_all_alike_still_make_a_site(told: Results, visit: Opener, tmp_path: Path) -> None:
    same = told.standings.assign(score=1.0, score_low=0.9, score_high=1.1, gain=0.0, gain_low=-0.1, gain_high=0.1)
    folder = write(dataclasses.replace(told, standings=same), tmp_path)
    for name in ("index", "explore", "tradeoffs", "compare"):
        page = visit(folder / f"{name}.html", width=360)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        for plot in page.locator(".plot").all():
            assert sum(marks(page, plot.get_attribute("id") or "").values()) > 0


def chosen_designs(page: Page) -> list[int]:
    """The designs that the scatter has coloured."""
    found: list[int] = page.evaluate(
        f"() => {{ {WALK} return seek('chosen_marks').mark.items.map(item => item.datum.design); }}"
    )
    return sorted(found)


def draw_box(page: Page) -> None:
    """Drag a box over the middle of the scatter."""
    page.evaluate("document.getElementById('explore').scrollIntoView({ block: 'start' })")
    left, top, wide, high = page.evaluate(
        f"""() => {{ {WALK}
          const {{ mark, x, y }} = seek('box_brush_bg'), box = holder.getBoundingClientRect();
          return [box.x + x, box.y + y, mark.group.width, mark.group.height];
        }}"""
    )
    page.mouse.move(left + 0.21 * wide, top + 0.97 * high)
    page.mouse.down()
    for part in (0.4, 0.8, 1.0):
        page.mouse.move(left + (0.21 + 0.6 * part) * wide, top + (0.97 - 0.7 * part) * high)
    page.mouse.up()


def follow(page: Page, address: str) -> None:
    """Open an address in a page that has seen another."""
    page.goto("about:blank")
    page.goto(address)
    page.locator("html[data-ready=yes]").wait_for(state="attached")


@pytest.mark.parametrize("across", ["mass", AREA])
def test_an_address_leads_to_what_the_sender_saw(site: Path, told: Results, visit: Opener, across: str) -> None:
    """The box over the scatter, along numbers or levels, and the brushes over the histograms; on a narrower screen too."""
    page = visit(site / "explore.html")
    everyone = len(told.designs)
    assert "#" not in page.url
    page.get_by_label("Horizontal axis", exact=True).select_option(across)
    page.wait_for_url(re.compile(f"#across={across}&up=score$"))
    draw_box(page)
    page.wait_for_url(re.compile(f"#across={across}&up=score&box-across=.*&box-up="))
    boxed = chosen_designs(page)
    assert 3 < len(boxed) < everyone - 3
    brush(page, "f_rangefinder_layout", 0.5)
    page.wait_for_url(re.compile("&f_rangefinder_layout="))
    brush(page, "ride_height_error", 0.7)
    page.wait_for_url(re.compile("&ride_height_error="))
    chosen, said = chosen_designs(page), page.locator("#chosen-said").inner_text()
    assert 0 < len(chosen) < len(boxed)
    for width in (1280, 360):
        again = visit(site / "cautions.html", width=width)
        follow(again, page.url)
        assert chosen_designs(again) == chosen
        expect(again.locator("#chosen-said")).to_have_text(said)
        expect(again.get_by_label("Horizontal axis", exact=True)).to_have_value(across)
        assert chosen_in(again, "score") == len(chosen)
        again.set_viewport_size({"width": 900, "height": 900})
        again.wait_for_timeout(300)
        expect(again.locator("#chosen-said")).to_have_text(said)
    page.get_by_label("Vertical axis", exact=True).select_option("price")
    page.wait_for_url(re.compile(rf"#across={across}&up=price&f_rangefinder_layout=[^&]+&ride_height_error=[^&]+$"))
    page.get_by_role("button", name="Clear all choices").click()
    expect(page.locator("#chosen-said")).to_contain_text(f"{everyone} of {everyone} designs")
    page.wait_for_url(re.compile("up=price$"))


def test_an_address_that_means_nothing_chooses_nothing(site: Path, told: Results, visit: Opener) -> None:
    page, everyone = visit(site / "cautions.html"), len(told.designs)
    for nothing in (
        "score=x..200&mass=&across=nothing",
        "f_rangefinder_layout=bow..nowhere&box-across=1..2",
        f"score=3..1&f_rangefinder_layout=<script>&up={AREA}",
    ):
        follow(page, f"{(site / 'explore.html').as_uri()}#{nothing}")
        expect(page.locator("#chosen-said")).to_contain_text(f"{everyone} of {everyone} designs")


def test_the_table_s_order_and_filter_are_in_its_address(site: Path, visit: Opener) -> None:
    page = visit(site / "index.html")
    page.get_by_label("Show only").fill("score<2 bow")
    for _ in range(2):
        page.locator("[data-table] th", has_text=re.compile("^mass")).get_by_role("button").click()
    page.get_by_label("all columns").check()
    order = cells(page, 2)
    again = visit(site / "cautions.html")
    follow(again, page.url)
    assert cells(again, 2) == order
    expect(again.get_by_label("Show only")).to_have_value("score<2 bow")
    expect(again.locator("[data-table] th", has_text=re.compile("^mass"))).to_have_attribute("aria-sort", "descending")
    expect(again.get_by_label("all columns")).to_be_checked()
    again.goto(page.url.partition("#")[0] + "#show=refused")
    expect(again.get_by_label("Show only")).to_have_value("refused")

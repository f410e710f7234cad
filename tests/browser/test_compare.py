"""Designs side by side, and a choice that an address keeps."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import expect

from sweep.results.store import Results
from tests.browser.conftest import Opener, first


def test_the_choice_is_in_the_address_and_comes_back(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "compare.html")
    one, plain = first(told), next(design for design in told.designs.index if design not in told.leaders)
    page.get_by_label("First").select_option(str(one))
    page.get_by_label("Second").select_option(str(plain))
    page.get_by_label("Third").select_option("")
    assert page.url.endswith(f"#designs={one},{plain}")
    page.reload()
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    expect(page.locator("#numbers thead th")).to_have_text([f"Design {one}", f"Design {plain}"])
    expect(page.locator("#pairs li")).to_have_count(1)
    expect(page.locator("#conditions thead th")).to_have_text([f"Design {one}"])
    expect(page.locator("#conditions-note")).to_contain_text(f"not {plain}")
    expect(page.locator("[data-drawn]:visible")).to_have_count(1)


def test_what_differs_stands_out(site: Path, told: Results, visit: Opener) -> None:
    page = visit(site / "compare.html")
    order = told.standings.sort_values("place")["design"].head(2).tolist()
    differing = page.locator("#numbers tr.differs th").all_inner_texts()
    for at, label in enumerate(told.campaign.factors):
        values = told.designs.loc[[*order, 0], label]
        heading = page.locator("#numbers tbody th").nth(4 + at).inner_text()
        assert (heading in differing) == (values.nunique() > 1)
    page.locator("#numbers thead").get_by_role("link", name=f"Design {order[0]}").click()
    expect(page.locator("h1")).to_have_text(f"Design {order[0]}")

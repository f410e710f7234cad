"""axe-core, which is run on every page where `test_site` opens it: in both schemes, narrow and wide.

The wheel of axe-playwright-python carries axe-core as it is published, so that the tests need no other registry.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from playwright.sync_api import Page

from tests.browser.conftest import Opener

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
BAD = ("serious", "critical")


def faults(page: Page, rules: list[str] | None = None) -> list[str]:
    """What axe finds that is serious or worse, by these rules or by all, each with the first elements that it is found in.

    preload: it would ask for the style sheet again, which a page's policy forbids.
    """
    only = {"runOnly": rules} if rules else {}
    found = page.evaluate("options => axe.run(document, options)", {"resultTypes": ["violations"], "preload": False, **only})
    return [
        f"{fault['id']}: {fault['help']}: {[node['html'][:160] for node in fault['nodes'][:4]]}"
        for fault in found["violations"]
        if fault["impact"] in BAD
    ]


def run_axe(page: Page) -> list[str]:
    # Evaluated from outside, which a page's policy does not forbid, as it does scripts of other places.
    page.evaluate(AXE)
    return faults(page)


def test_axe_would_find_a_fault(site: Path, visit: Opener) -> None:
    page = visit(site / "cautions.html")
    page.evaluate(
        "document.querySelector('h1').insertAdjacentHTML('afterend', '<img src=\"parts/icon.svg\"><button></button>')"
    )
    assert {fault.partition(":")[0] for fault in run_axe(page)} == {"image-alt", "button-name"}

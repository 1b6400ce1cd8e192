"""Every page against the rules of axe-core for WCAG 2.2 A and AA, light and dark, on a phone and a desktop screen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, Page, Response

from browser.pages import WORDS, furnish
from browser.watching import SCREENS, watched
from kb.bench.front import Bench

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

#: What another scheme of colours can break.
OF_COLOUR = ["color-contrast", "link-in-text-block"]

#: The most that the first page may weigh with all it needs, in bytes.
FIRST_PAGE = 100_000


def breaches(page: Page, only: Sequence[str] = RULES) -> list[str]:
    """What axe finds on the page as it is, a line each; what passes it tells of one place alone, which is quicker."""
    page.evaluate(AXE)
    options = {"runOnly": [*only], "resultTypes": ["violations"]}
    found: dict[str, Any] = page.evaluate(
        "options => axe.run(document, options)", options
    )
    assert len(found["passes"]) > (10 if only == RULES else 0), (
        "axe looked at hardly anything"
    )
    return [
        f"{one['id']}: {node['html'][:160]}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


@pytest.mark.parametrize("screen", sorted(SCREENS))
def test_no_page_breaks_a_rule(
    chromium: Browser, address: str, shop: Bench, screen: str
) -> None:
    """Each page in the light scheme by all rules, then in the dark one by those that hang on colours."""
    context = chromium.new_context(
        color_scheme="light", reduced_motion="reduce", **SCREENS[screen]
    )
    held = watched(context, address)
    page = held.page
    found: Counter[str] = Counter()
    for path in furnish(shop):
        page.emulate_media(color_scheme="light")
        page.goto(address + path)
        page.evaluate(
            "for (const one of document.querySelectorAll('details')) one.open = true"
        )
        found.update(f"{path}: {breach}" for breach in breaches(page))
        page.emulate_media(color_scheme="dark")
        found.update(f"{path}, dark: {breach}" for breach in breaches(page, OF_COLOUR))
    context.close()

    assert list(found) == []
    assert [told for told in held.errors if "404" not in told] == []
    assert held.strays == []


def test_axe_does_find_a_breach(chromium: Browser, address: str) -> None:
    context = chromium.new_context()
    page = watched(context, address).page
    page.evaluate("document.querySelector('#unit').labels[0].remove()")

    assert [breach.partition(":")[0] for breach in breaches(page)] == ["label"]
    context.close()


def test_the_first_page_is_light(chromium: Browser, address: str) -> None:
    context = chromium.new_context()
    held = watched(context, address)
    weights: dict[str, int] = {}

    def weigh(answer: Response) -> None:
        weights[answer.url] = len(answer.body())

    held.page.on("response", weigh)
    held.page.goto(f"{address}/?q={WORDS}", wait_until="networkidle")
    context.close()

    assert len(weights) >= 3
    assert sum(weights.values()) < FIRST_PAGE, weights

"""The review as a person with a phone reads it: what is looked for first is first, the rest one tap away."""

from __future__ import annotations

from itertools import pairwise

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.watching import SCREENS, watched
from kb.bench.front import Bench
from kb.model import Confirmation

PHONE = {
    "viewport": {"width": 360, "height": 740},
    "is_mobile": True,
    "has_touch": True,
}
ORDER = [
    "Failures",
    "Keep in stock",
    "Models compared",
    "What the library lacks",
    "Never confirmed",
    "Jobs by quarter",
]


@pytest.fixture
def busy(shop: Bench) -> Bench:
    """A shop with more failures, parts, models and gaps than are shown at once."""
    for number, entry in enumerate(shop.entries.served()[:24]):
        fix = entry.fixes[0]
        model = f"Tern {number % 8}"
        shop.jobs.confirm(
            Confirmation(
                f"{entry.slug}/{fix.causes[0]}",
                model,
                part=f"part {number}",
                minutes=number,
            ),
            untested=True,
        )
        shop.jobs.nothing_fits(f"hums in the corner number {number}", model)
    return shop


def at_review(
    chromium: Browser, address: str, screen: dict[str, object], script: bool = True
) -> Page:
    context = chromium.new_context(java_script_enabled=script, **screen)  # type: ignore[arg-type]
    page = watched(context, address).page
    page.goto(f"{address}/review")
    return page


def shown(page: Page) -> list[str]:
    return page.locator("main h2").all_inner_texts()


def test_a_phone_shows_the_failures_on_its_first_screen_and_each_list_after_a_few_swipes(
    chromium: Browser, address: str, busy: Bench
) -> None:
    page = at_review(chromium, address, PHONE)

    tops = page.evaluate(
        "[...document.querySelectorAll('main h2')].map(one => one.getBoundingClientRect().top / 740)"
    )
    assert shown(page) == ORDER
    assert tops[0] < 1
    assert max(later - earlier for earlier, later in pairwise(tops)) < 3
    assert page.evaluate("document.documentElement.scrollHeight") < 9 * 740
    page.context.close()


@pytest.mark.parametrize("script", [True, False])
def test_the_rest_of_each_list_is_one_tap_away(
    chromium: Browser, address: str, busy: Bench, script: bool
) -> None:
    page = at_review(chromium, address, PHONE, script)
    for number, told in enumerate(
        ("rarer failures", "used less", "more models", "more", "more")
    ):
        fold = page.locator("details.rest").nth(number)
        rest = fold.locator("table a, li, .plain tbody th").last
        expect(rest).to_be_hidden()

        fold.locator("summary", has_text=told).tap()

        expect(rest).to_be_visible()
    page.context.close()


def test_a_jump_leads_to_its_list_by_the_keyboard(
    chromium: Browser, address: str, busy: Bench
) -> None:
    page = at_review(chromium, address, SCREENS["desktop"])

    page.get_by_role("link", name="Gaps", exact=True).focus()
    page.keyboard.press("Enter")

    expect(
        page.get_by_role("heading", name="What the library lacks")
    ).to_be_in_viewport()
    page.context.close()


def test_paper_holds_what_stood_open_on_the_screen(
    chromium: Browser, address: str, busy: Bench
) -> None:
    page = at_review(chromium, address, SCREENS["desktop"])
    page.locator("summary", has_text="used less").click()

    page.emulate_media(media="print")

    expect(page.locator("details.rest[open] tbody th").last).to_be_visible()
    expect(page.locator("summary", has_text="used less")).to_be_hidden()
    expect(page.locator("details.rest", has_text="more model")).to_be_hidden()
    page.context.close()


def test_a_model_chosen_by_pointer_is_shown_at_once_and_one_chosen_by_keys_by_the_button(
    chromium: Browser, address: str, busy: Bench
) -> None:
    page = at_review(chromium, address, SCREENS["desktop"])
    choice = page.locator("#model")

    choice.focus()
    choice.press("ArrowDown")
    choice.select_option("Tern 2")
    page.wait_for_timeout(200)
    assert page.url.endswith("/review")

    choice.click()
    choice.select_option("Tern 3")
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "What fails most on Tern 3"
    )
    page.context.close()

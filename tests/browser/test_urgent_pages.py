"""What is to be done at once, in a real browser: above everything, in sight, told to those who do not see it."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, expect

from browser.watching import SCREENS, Watched, watched
from kb.bench.front import Bench

SWOLLEN = "swollen battery"


def test_it_comes_while_typing_with_a_heading_of_its_own_and_is_announced(
    at_bench: Watched,
) -> None:
    page = at_bench.page

    page.get_by_role("searchbox").press_sequentially(SWOLLEN)

    urgent = page.get_by_role("region", name="At once")
    expect(urgent.get_by_role("heading", name="At once")).to_be_visible()
    expect(urgent.get_by_role("listitem").first).to_have_text(
        "If it is hot, hisses, smokes or smells sweet: leave it, keep away and call the fire service."
    )
    expect(page.get_by_role("status")).to_have_text(
        re.compile("^At once: If it is hot, .* fits?, likeliest: ")
    )


@pytest.mark.parametrize(
    "words", [SWOLLEN, "spilled tea on it", "trips the breaker", "smells burnt"]
)
def test_on_a_phone_all_of_it_and_the_step_below_are_in_sight_without_scrolling(
    chromium: Browser, address: str, words: str
) -> None:
    context = chromium.new_context(**SCREENS["phone"])
    page = watched(context, address).page

    page.goto(f"{address}/?q={words}")

    urgent = page.locator(".urgent").bounding_box()
    step = page.locator(".step h2").bounding_box()
    assert urgent is not None
    assert step is not None
    assert urgent["y"] + urgent["height"] < step["y"]
    assert step["y"] + 30 < page.evaluate("innerHeight")
    context.close()


def test_the_step_stays_in_its_place_when_it_goes_again_while_typing(
    at_bench: Watched,
) -> None:
    page = at_bench.page
    field = page.get_by_role("searchbox")
    field.press_sequentially(SWOLLEN)
    expect(page.locator(".urgent")).to_be_visible()
    before = page.locator(".step").bounding_box()

    field.fill("no sound from the speakers")

    expect(page.locator("#answer h3").first).to_have_text(
        "No sound from the built-in speakers"
    )
    expect(page.locator(".urgent")).to_have_count(0)
    after = page.locator(".step").bounding_box()
    assert before is not None
    assert after is not None
    assert after["y"] == pytest.approx(before["y"], abs=2)


def test_it_stands_above_a_job_and_on_its_sheet_and_fits_every_screen(
    at_bench: Watched, shop: Bench
) -> None:
    page = at_bench.page
    job = shop.jobs.begin(
        "case tingles when I touch it while charging", "Tern 13", "T-7"
    )

    for path, below in (
        (f"job/{job}", ".jobhead"),
        ("entry/trips-the-breaker", ".safety"),
    ):
        page.goto(page.url.split("/job")[0].split("/entry")[0].rstrip("/") + "/" + path)
        urgent, other = (
            page.locator(".urgent").bounding_box(),
            page.locator(below).bounding_box(),
        )
        assert urgent is not None
        assert other is not None
        assert urgent["y"] + urgent["height"] <= other["y"]
        for width in (360, 390, 768, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate(
                "document.documentElement.scrollWidth <= innerWidth"
            ), (path, width)

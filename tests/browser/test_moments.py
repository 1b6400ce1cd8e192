"""The three moments in a real browser: typing a symptom, adding a confirmed fix, reviewing what fails."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.watching import SCREENS, Watched, watched
from kb.bench.front import Bench
from kb.model import Confirmation, Finding

WORDS = "shows no battery although one is fitted"
TITLE = "The system shows no battery although one is fitted"

#: Widths at which nothing may stick out sideways, in CSS pixels.
WIDTHS = (360, 390, 768, 1280, 2560)


def type_words(page: Page, words: str = WORDS, model: str = "Tern 13") -> None:
    page.get_by_label("Model", exact=True).fill(model)
    page.get_by_role("searchbox").press_sequentially(words)
    expect(page.locator("#answer h3").first).to_have_text(TITLE)
    expect(page).to_have_url(re.compile(r"q=shows.*fitted&model="))


def test_the_answer_comes_while_typing_without_leaving_the_page(
    at_bench: Watched,
) -> None:
    page = at_bench.page
    page.evaluate("window.stayed = true")

    type_words(page)

    assert page.evaluate("window.stayed")
    expect(page.get_by_role("status")).to_have_text(
        re.compile("fault pictures? fits?, likeliest: ")
    )
    expect(page.get_by_role("searchbox")).to_be_focused()
    page.reload()
    expect(page.locator("#answer h3").first).to_have_text(TITLE)


MISTYPED = WORDS.replace("battery", "battrey")


def test_an_answer_that_stays_carries_the_new_words_and_comes_whole_once_nothing_is_typed(
    at_bench: Watched,
) -> None:
    page, told = at_bench.page, list[tuple[int, str]]()
    page.on(
        "response",
        lambda reply: (
            told.append((reply.status, reply.url)) if "/answer?" in reply.url else None
        ),
    )
    box = page.get_by_role("searchbox")
    box.press_sequentially(MISTYPED[:-1])
    expect(page).to_have_url(re.compile(r"q=shows.*fitte&"))
    box.press_sequentially(MISTYPED[-1])
    expect(page).to_have_url(re.compile(r"q=shows.*fitted&"))

    assert [status for status, url in told if "fitted&" in url] == [304]
    carried = page.locator('#answer input[name="q"]').evaluate_all(
        "all => all.map(one => one.value)"
    )
    assert set(carried) == {MISTYPED}
    links = page.locator('#answer a[href*="q="]').evaluate_all(
        "all => all.map(one => new URL(one.href).searchParams.get('q'))"
    )
    assert set(links) == {MISTYPED, MISTYPED.replace("battrey", '"battrey"')}
    with page.expect_response(re.compile("/answer.*fitted&")) as whole:
        pass
    assert whole.value.status == 200


def test_an_answer_that_was_here_before_is_kept_and_comes_back_in_the_words_of_now(
    at_bench: Watched,
) -> None:
    page, told = at_bench.page, list[tuple[int, str]]()
    page.on(
        "response",
        lambda reply: (
            told.append((reply.status, reply.url)) if "/answer?" in reply.url else None
        ),
    )
    box, first = page.get_by_role("searchbox"), page.locator("#answer h3").first
    box.fill(WORDS[:-1])
    expect(first).to_have_text(TITLE)
    box.fill("no sound at all")
    expect(first).not_to_have_text(TITLE)
    box.fill(WORDS)
    expect(page).to_have_url(re.compile(r"q=shows.*fitted&"))

    assert [status for status, url in told if "fitted&" in url] == [304]
    expect(first).to_have_text(TITLE)
    carried = page.locator('#answer input[name="q"]').evaluate_all(
        "all => all.map(one => one.value)"
    )
    assert set(carried) == {WORDS}
    with page.expect_response(re.compile("/answer.*fitted&")) as whole:
        pass
    assert whole.value.status == 200


def test_the_field_comes_before_safety_before_the_next_step_before_the_pictures(
    at_bench: Watched,
) -> None:
    type_words(at_bench.page)

    boxes = [
        at_bench.page.locator(part).bounding_box()
        for part in ("#q", ".safety", ".step", ".pictures")
    ]

    tops = [box["y"] for box in boxes if box]
    assert len(tops) == 4
    assert tops == sorted(tops)


def test_three_taps_after_the_words_save_a_fix_and_one_more_undoes_it(
    at_bench: Watched, shop: Bench
) -> None:
    page = at_bench.page
    type_words(page)

    page.get_by_role("link", name="It was this").first.click()
    page.get_by_role("button", name="Save").click()

    expect(page.locator("#effect")).to_have_text(
        re.compile("is now first on Tern 13: 1 of 1 here")
    )
    assert [(job.model, job.words) for job in shop.history().closed_jobs()] == [
        ("Tern 13", WORDS)
    ]
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("heading", name="Undone")).to_be_visible()
    assert list(shop.history().closed_jobs()) == []


def test_a_job_survives_reload_and_is_seen_on_another_device(
    at_bench: Watched, chromium: Browser, address: str
) -> None:
    page = at_bench.page
    type_words(page)
    if page.get_by_text("Rather test something first").count():
        page.get_by_text("Rather test something first").click()
    page.locator("button[name=outcome]").first.click()
    expect(page.get_by_role("heading", name="So far")).to_be_visible()

    page.reload()
    expect(page.locator(".done .whole button")).to_have_count(1)
    other = chromium.new_context(**SCREENS["phone"])
    elsewhere = watched(other, address).page
    elsewhere.get_by_role("link", name=WORDS).click()
    elsewhere.locator(".done summary").click()
    elsewhere.get_by_role("button", name=re.compile("Take back")).click()
    expect(elsewhere.get_by_role("heading", name="So far")).to_have_count(0)
    other.close()


def test_a_job_with_eight_findings_is_three_screens_of_a_phone(
    chromium: Browser, address: str, shop: Bench
) -> None:
    """What was noted last is in sight, the rest and each in full when it is unfolded; German takes the most room."""
    job = shop.jobs.begin("files damaged", "Tern 13", "P7-012")
    for _ in range(8):
        step = shop.jobs.standing(job).answer.next_test
        assert step is not None
        shop.jobs.found(job, Finding(f"{step.entry}/{step.name}", step.outcomes[-1]))
    context = chromium.new_context(**SCREENS["phone"], locale="de")
    page = watched(context, address).page

    page.goto(f"{address}/job/{job}")

    assert page.evaluate("document.documentElement.scrollHeight / innerHeight") <= 3
    lines = page.locator(".done summary:visible")
    assert (
        lines.evaluate_all(
            "all => all.map(one => Math.round(one.getBoundingClientRect().height / 44))"
        )
        == [1] * 4
    )
    expect(lines.first).to_have_text("5 frühere")
    expect(page.get_by_text("In dieser Reihenfolge")).to_be_visible()
    lines.first.click()
    expect(lines).to_have_count(9)
    lines.nth(3).click()
    back = page.get_by_role("button", name=re.compile("Zurücknehmen"))
    expect(back).to_have_count(1)
    page.set_viewport_size({"width": 1280, "height": 900})
    expect(back).to_have_count(8)
    context.close()


def test_the_minutes_can_be_tapped(at_bench: Watched, shop: Bench) -> None:
    page = at_bench.page
    type_words(page)
    page.get_by_role("link", name="It was this").first.click()

    page.get_by_role("button", name="20", exact=True).click()
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_role("heading", name="Saved")).to_be_visible()
    assert [job.minutes for job in shop.history().closed_jobs()] == [20.0]


def test_the_review_draws_each_rate_with_words_for_those_who_do_not_see_it(
    at_bench: Watched, shop: Bench
) -> None:
    for unit in ("T-01", "T-02", "T-03"):
        shop.jobs.confirm(
            Confirmation(
                "battery-not-detected/contact", model="Tern 13", unit=unit, minutes=10
            )
        )
    page = at_bench.page

    page.get_by_role("link", name="Review").click()
    page.get_by_label("Model", exact=True).select_option("Tern 13")
    page.get_by_role("button", name="Show").click()

    expect(
        page.get_by_role("img", name=re.compile("100.% of machines"))
    ).to_be_visible()
    expect(page.get_by_text("3 jobs on 3 machines.")).to_be_visible()


def test_nothing_sticks_out_and_every_target_is_large_enough(
    at_bench: Watched, shop: Bench
) -> None:
    page = at_bench.page
    job = shop.jobs.begin(WORDS, "Tern 13")
    shop.jobs.confirm(Confirmation("battery-not-detected/contact", model="Tern 13"))
    slip = "/confirm?cause=battery-not-detected/contact&q=x"
    sheet = "/entry/battery-not-detected"
    home = page.url.rstrip("/")
    for path in (
        "/",
        f"/?q={WORDS}&model=Tern+13",
        f"/job/{job}",
        slip,
        sheet,
        "/review",
        "/library",
    ):
        page.goto(home + path)
        assert page.evaluate(SMALL) == [], path
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate(
                "document.documentElement.scrollWidth <= innerWidth"
            ), (path, width)


#: Buttons, fields and links that stand alone (not inside a sentence) below 44 pixels in height.
SMALL = """() => [...document.querySelectorAll(
  'button, input:not([type=hidden]):not([type=radio]), select, summary, nav a, a.button, .lines li > a')]
  .filter(one => one.getClientRects().length && one.getBoundingClientRect().height < 44)
  .map(one => one.outerHTML.slice(0, 120))"""


def test_the_keyboard_alone_is_enough(
    chromium: Browser, address: str, shop: Bench
) -> None:
    context = chromium.new_context(**SCREENS["desktop"])
    held = watched(context, address)
    page = held.page
    expect(page.get_by_role("searchbox")).to_be_focused()
    page.keyboard.type(WORDS)
    page.keyboard.press("Tab")
    page.keyboard.type("Tern 13", delay=60)  # quicker would be a scanner
    page.keyboard.press("Enter")
    expect(page.locator("#answer h3").first).to_have_text(TITLE)

    _tab_to(page, "It was this")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="It was this")).to_be_visible()
    _tab_to(page, "Save")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Saved")).to_be_visible()
    assert [job.words for job in shop.history().closed_jobs()] == [WORDS]
    context.close()
    assert held.errors == []


def test_the_first_press_of_tab_offers_to_skip_to_the_content(
    chromium: Browser, address: str
) -> None:
    context = chromium.new_context(**SCREENS["desktop"])
    page = watched(context, f"{address}/library").page

    page.keyboard.press("Tab")

    expect(page.get_by_role("link", name="Skip to the content")).to_be_focused()
    context.close()


def _tab_to(page: Page, text: str) -> None:
    """Press Tab until the element with that text has the focus, and see that the focus shows."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent").strip() == text:
            assert (
                page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
                != "none"
            )
            return
    raise AssertionError(f"{text!r} is not reached by Tab")


@pytest.mark.parametrize("screen", sorted(SCREENS))
def test_everything_works_with_script_switched_off(
    chromium: Browser, address: str, shop: Bench, screen: str
) -> None:
    context = chromium.new_context(java_script_enabled=False, **SCREENS[screen])
    page = watched(context, address).page
    page.get_by_role("searchbox").fill(WORDS)
    page.get_by_role("button", name="Look up").click()
    expect(page.locator("#answer h3").first).to_have_text(TITLE)

    page.get_by_role("link", name="It was this").first.click()
    expect(page.get_by_label("Model", exact=True)).to_be_focused()
    page.get_by_label("Model", exact=True).fill("Tern 13")
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_role("heading", name="Saved")).to_be_visible()
    assert len(list(shop.history().closed_jobs())) == 1
    context.close()

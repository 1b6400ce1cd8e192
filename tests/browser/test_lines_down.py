"""A line that is slow, goes down or comes back: nothing old can be pressed, nothing that was tapped is lost."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from browser.watching import SCREENS
from kb.bench.front import Bench

OLD, NEW = "shows no battery although one is fitted", "no sound from left speaker"


@pytest.fixture
def page(chromium: Browser, address: str) -> Page:
    context = chromium.new_context(**SCREENS["phone"])
    page = context.new_page()
    page.goto(f"{address}/?q={OLD}&model=Tern+13")
    return page


def test_an_answer_to_other_words_is_marked_within_200_ms_and_cannot_be_pressed(
    page: Page, shop: Bench
) -> None:
    page.route("**/answer?*", lambda route: None)  # nothing ever comes back
    page.locator("#q").evaluate(
        "one => { one.value = 'no sound'; one.dispatchEvent(new Event('input', { bubbles: true })) }"
    )

    page.wait_for_timeout(200)

    assert page.locator("#answer").evaluate(
        "one => one.inert && one.classList.contains('late')"
    )
    page.locator("#answer button[name=outcome], #answer a.button").first.tap(force=True)
    page.wait_for_timeout(100)
    assert shop.jobs.open_jobs() == ()
    assert "/confirm" not in page.url


def test_a_line_that_is_down_is_told_in_sight_and_asked_again_when_it_is_back(
    page: Page,
) -> None:
    page.context.set_offline(True)
    page.get_by_role("searchbox").fill(NEW)

    expect(page.locator("#unanswered")).to_be_in_viewport()
    assert page.locator("#answer").evaluate("one => one.inert")
    page.get_by_role("button", name="Look up").click()
    expect(page.get_by_role("searchbox")).to_have_value(NEW)

    page.context.set_offline(False)
    expect(page.locator("#unanswered")).not_to_be_visible()
    expect(page.locator("#answer")).to_contain_text("sound")
    assert not page.locator("#answer").evaluate("one => one.inert")


def test_words_typed_before_the_script_has_come_are_answered_when_it_comes(
    page: Page, address: str
) -> None:
    waiting: list[Route] = []
    page.route("**/bench.js*", lambda route: waiting.append(route))
    page.goto(address, wait_until="commit")
    page.get_by_role("searchbox").fill(NEW)
    expect(page.locator("#answer")).not_to_contain_text("sound")

    waiting[0].continue_()

    expect(page.locator("#answer")).to_contain_text("sound")


def test_an_outcome_tapped_while_the_line_is_down_stays_marked_and_is_noted_by_the_next_tap(
    page: Page, shop: Bench
) -> None:
    outcome = page.locator(".step button[name=outcome]").first
    said = outcome.get_attribute("value")
    page.context.set_offline(True)

    outcome.tap()

    expect(page.get_by_text("Not sent: nothing came back")).to_be_in_viewport()
    expect(outcome).to_have_class(re.compile("tapped"))
    expect(outcome).not_to_have_class(re.compile("sending"))
    page.context.set_offline(False)
    outcome.tap()
    expect(page.get_by_role("heading", name="So far")).to_be_visible()
    (job,) = shop.jobs.open_jobs()
    assert [found.outcome for found in job.outcomes] == [said]


def test_what_was_tapped_is_marked_until_a_slow_line_has_brought_the_next_page(
    page: Page,
) -> None:
    waiting: list[Route] = []
    page.route("**/job", lambda route: waiting.append(route))
    outcome = page.locator(".step button[name=outcome]").first

    outcome.tap()

    expect(outcome).to_have_class(re.compile("sending"))
    waiting[0].continue_()
    expect(page.get_by_role("heading", name="So far")).to_be_visible()
    page.go_back()
    expect(page.locator(".sending")).to_have_count(0)


def test_a_reply_that_is_lost_on_its_way_back_does_not_note_twice(
    page: Page, shop: Bench
) -> None:
    outcome = page.locator(".step button[name=outcome]").first

    def lose(route: Route) -> None:
        route.fetch(max_redirects=0)
        route.abort()

    page.route("**/job", lose, times=1)
    outcome.tap()
    expect(page.get_by_text("Not sent: nothing came back")).to_be_visible()
    outcome.tap()

    expect(page.get_by_role("heading", name="So far")).to_be_visible()
    assert [len(job.findings) for job in shop.jobs.open_jobs()] == [1]


def test_a_form_that_is_not_accepted_leads_to_the_page_that_says_why(
    page: Page, address: str
) -> None:
    page.goto(
        f"{address}/confirm?cause=battery-not-detected/contact&q={OLD}&model=Tern+13"
    )
    page.locator("input[name=token]").first.evaluate("one => { one.value = 'old' }")

    page.get_by_role("button", name="Save").tap()

    expect(page.get_by_role("heading", name="nothing was saved")).to_be_visible()


def test_after_enter_at_a_desk_a_digit_answers_the_step_and_escape_keeps_the_words(
    chromium: Browser, address: str, shop: Bench
) -> None:
    page = chromium.new_context(**SCREENS["desktop"]).new_page()
    page.goto(address)
    expect(page.get_by_role("searchbox")).to_be_focused()
    page.keyboard.type(OLD)
    page.keyboard.press("Escape")
    expect(page.get_by_role("searchbox")).to_have_value(OLD)
    page.wait_for_timeout(100)  # Enter right after a key would be a scanner's
    page.keyboard.press("Enter")
    expect(page.locator(".step")).to_be_visible()
    expect(page.get_by_role("searchbox")).not_to_be_focused()

    page.keyboard.press("1")

    expect(
        page.get_by_role("heading", name=re.compile("So far|It was this"))
    ).to_be_visible()
    assert page.get_by_role("searchbox").count() == 0

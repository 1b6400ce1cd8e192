"""Widths from a small phone to a large screen, the keyboard alone, and a scanner that types and sends Enter."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, expect

from browser.pages import PLUG, WORDS, furnish
from browser.scanner import scan
from browser.watching import SCREENS, Watched, watched
from kb.bench.front import Bench

WIDTHS = (360, 768, 1280, 2560)
TAG = "1T-0042"

#: What sticks out of the page sideways.
OUTSIDE = """() => document.documentElement.scrollWidth <= innerWidth ? [] :
  [...document.querySelectorAll('main *')].filter(one => one.getBoundingClientRect().right > innerWidth + 1)
    .map(one => one.outerHTML.slice(0, 120)).slice(0, 5)"""

#: Buttons, fields and links that stand alone below 44 pixels in height or width.
#: A box to tick is as large as its label, which ticks it too.
SMALL = """() => [...document.querySelectorAll(
  'button, input:not([type=hidden], [type=radio], [type=checkbox]), label:has([type=checkbox]), select, summary,'
  + 'nav a, a.button, .lines li > a, .take a, .alone, .foot a, table a')]
  .filter(one => one.getClientRects().length && !one.closest('.unseen') && !one.matches('.unseen'))
  .filter(one => { const box = one.getBoundingClientRect(); return box.height < 43.9 || box.width < 43.9; })
  .map(one => one.outerHTML.slice(0, 120))"""


def test_nothing_sticks_out_at_any_width_and_every_target_is_large_enough(
    chromium: Browser, address: str, shop: Bench
) -> None:
    context = chromium.new_context()
    page = watched(context, address).page
    for path in furnish(shop):
        page.goto(address + path)
        page.evaluate(
            "for (const one of document.querySelectorAll('details')) one.open = true"
        )
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate(OUTSIDE) == [], (path, width)
            assert page.evaluate(
                "document.documentElement.scrollWidth <= innerWidth"
            ), (path, width)
            assert page.evaluate(SMALL) == [], (path, width)
    context.close()


@pytest.mark.parametrize("width", [360, 820, 1280])
def test_the_field_for_the_words_is_the_widest_and_shows_a_whole_complaint(
    chromium: Browser, address: str, width: int
) -> None:
    context = chromium.new_context(viewport={"width": width, "height": 1180})
    page = watched(context, address).page
    page.get_by_role("searchbox").fill("wont chrge, led orange")

    wide = {
        name: page.locator(f"#{name}").evaluate("one => one.offsetWidth")
        for name in ("q", "model", "unit")
    }
    assert wide["q"] > wide["model"] >= wide["unit"]
    assert page.locator("#q").evaluate("one => one.scrollWidth <= one.clientWidth")
    context.close()


def test_on_a_desk_the_fault_pictures_keep_to_their_column_while_typing(
    desk: Watched,
) -> None:
    lefts = set()
    for letter in "no charge led orange":
        with desk.page.expect_response(lambda reply: "/answer" in reply.url):
            desk.page.get_by_role("searchbox").press_sequentially(letter)
        desk.page.wait_for_timeout(40)
        lefts |= set(
            desk.page.evaluate(
                "[...document.querySelectorAll('.pictures')].map(one => one.offsetLeft)"
            )
        )

    assert len(lefts) == 1
    desk.context.close()


@pytest.fixture
def desk(chromium: Browser, address: str) -> Watched:
    return watched(chromium.new_context(**SCREENS["desktop"]), address)


def jobs(shop: Bench) -> int:
    return len(list(shop.history().closed_jobs()))


@pytest.mark.parametrize("script", [True, False])
def test_an_entry_is_two_taps_away_in_a_library_of_a_few_screens(
    chromium: Browser, address: str, script: bool
) -> None:
    context = chromium.new_context(
        java_script_enabled=script,
        viewport={"width": 360, "height": 740},
        is_mobile=True,
        has_touch=True,
    )
    page = watched(context, address).page
    page.goto(f"{address}/library")
    assert page.locator("main").bounding_box()["height"] < 2 * 740  # type: ignore[index]

    page.locator(".area > summary", has_text="battery").tap()
    page.get_by_role(
        "link", name="The system shows no battery although one is fitted"
    ).tap()

    expect(page.get_by_role("heading", level=1)).to_contain_text(
        "no battery although one is fitted"
    )
    context.close()


def test_no_date_of_the_first_page_is_broken_at_any_width(
    chromium: Browser, address: str, shop: Bench
) -> None:
    furnish(shop)
    context = chromium.new_context()
    page = watched(context, address).page
    dates = page.locator(".open .nobreak")
    assert dates.count() > 3
    for width in range(320, 420, 10):
        page.set_viewport_size({"width": width, "height": 740})
        assert (
            dates.evaluate_all("all => all.map(one => one.getClientRects().length)")
            == [1] * dates.count()
        )
    context.close()


def test_paper_shows_the_areas_of_the_library_unfolded(
    desk: Watched, address: str
) -> None:
    page = desk.page
    page.goto(f"{address}/library")
    expect(page.locator(".area .lines a").last).not_to_be_visible()

    page.emulate_media(media="print")

    expect(page.locator(".area .lines a").last).to_be_visible()
    assert page.locator(".area .lines a").last.evaluate("one => one.checkVisibility()")
    desk.context.close()


# A scanner


def test_a_tag_scanned_into_its_field_leads_to_its_machine_and_saves_nothing(
    desk: Watched, shop: Bench
) -> None:
    desk.page.get_by_role("searchbox").fill(WORDS)
    desk.page.get_by_label("Tag").focus()

    scan(desk.page, TAG)

    expect(desk.page).to_have_url(re.compile(f"/u/{TAG}$"))
    assert (jobs(shop), shop.jobs.open_jobs()) == (0, ())


def test_a_tag_scanned_while_no_field_has_the_focus_leads_to_its_machine(
    desk: Watched, shop: Bench
) -> None:
    desk.page.goto(f"{desk.page.url}?q={WORDS}")
    desk.page.locator("h1").evaluate("document.activeElement.blur()")
    before = desk.page.url

    scan(desk.page, TAG)

    expect(desk.page).to_have_url(re.compile(f"/u/{TAG}$"))
    assert shop.jobs.open_jobs() == (), (
        f"a digit of the tag pressed an outcome at {before}"
    )


@pytest.mark.parametrize("script", [True, False])
@pytest.mark.parametrize("field", ["#unit", "#donor", "#minutes", "#model"])
def test_a_scan_never_saves_a_half_filled_confirmed_fix(
    chromium: Browser, address: str, shop: Bench, script: bool, field: str
) -> None:
    context = chromium.new_context(java_script_enabled=script)
    page = watched(context, address).page
    page.goto(f"{address}/confirm?cause={PLUG}&model=Tern+13")
    page.get_by_text("Donor, tag, words, note, initials").click()
    page.locator(field).focus()

    page.keyboard.type("42" if field == "#minutes" else TAG)
    page.keyboard.press("Enter")

    page.wait_for_timeout(200)
    assert page.url.startswith(f"{address}/confirm?")
    assert jobs(shop) == 0
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name="Saved")).to_be_visible()
    assert jobs(shop) == 1
    context.close()


# The keyboard


def test_a_slash_leads_into_the_field_from_any_page(desk: Watched) -> None:
    page = desk.page
    page.locator("h1").evaluate("document.activeElement.blur()")
    page.keyboard.press("/")
    expect(page.get_by_role("searchbox")).to_be_focused()
    expect(page.get_by_role("searchbox")).to_have_value("")

    page.goto(f"{page.url}keys")
    page.keyboard.press("/")
    expect(page.get_by_role("searchbox")).to_be_focused()


def test_a_digit_chooses_the_answer_with_that_number(
    desk: Watched, shop: Bench, address: str
) -> None:
    page = desk.page
    page.goto(f"{address}/?q={WORDS}&model=Tern+13")
    page.locator("h1").evaluate("document.activeElement.blur()")
    if not page.locator(".step .outcome:visible").count():
        page.get_by_text("Rather test something first").click()
    second = page.locator(
        ".step .outcomes > .outcome:visible, .step .outcomes > .button:visible"
    ).nth(1)
    told = second.inner_text()

    page.keyboard.press("2")

    expect(page.get_by_role("heading", name="So far")).to_be_visible()
    (job,) = shop.jobs.open_jobs()
    assert [
        *(found.outcome for found in job.outcomes),
        *(tried.fix for tried in job.failed_fixes),
    ]
    assert told
    assert desk.errors == []


def test_keys_that_are_typed_into_a_field_or_switched_off_do_nothing(
    desk: Watched, shop: Bench, address: str
) -> None:
    page = desk.page
    page.goto(f"{address}/?q={WORDS}&model=Tern+13")
    page.get_by_label("Tag").press_sequentially("1")
    page.goto(f"{address}/keys")
    with page.expect_navigation():
        page.get_by_role("button", name="Switch single keys off").click()
    page.goto(f"{address}/?q={WORDS}&model=Tern+13")
    page.locator("h1").evaluate("document.activeElement.blur()")
    page.keyboard.press("1")
    page.wait_for_timeout(300)

    assert shop.jobs.open_jobs() == ()


@pytest.mark.parametrize("box", [0, 40])
def test_tools_are_saved_from_any_box_by_enter_and_by_the_button_before_them(
    desk: Watched, shop: Bench, address: str, box: int
) -> None:
    page = desk.page
    page.goto(f"{address}/tools")
    save = page.get_by_role("button", name="Save").first
    page.locator(".ticks input").nth(box).focus()
    page.keyboard.press("Space")
    assert not shop.shop.settings.lacks
    expect(save).to_be_in_viewport()

    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_have_text("Saved.")
    assert len(shop.shop.settings.lacks) == 1

    page.goto(f"{address}/tools")
    page.get_by_role("heading", level=1).evaluate("document.activeElement.blur()")
    for _ in range(8):
        page.keyboard.press("Tab")
        if save.evaluate("one => one === document.activeElement"):
            break
    expect(save).to_be_focused()
    assert desk.errors == []
    desk.context.close()


def test_the_box_with_the_focus_is_never_under_the_button_that_stays(
    desk: Watched, address: str
) -> None:
    page = desk.page
    page.goto(f"{address}/tools")
    page.locator(".ticks input").last.focus()
    for _ in range(30):
        page.keyboard.press("Shift+Tab")
        under, box = page.evaluate(
            "[document.querySelector('.stays').getBoundingClientRect().bottom,"
            " document.activeElement.getBoundingClientRect().top]"
        )
        assert box >= under
    desk.context.close()


@pytest.mark.parametrize(
    "path", ["/review", "/library", "/keys", "/tools", "/library/checks"]
)
def test_everything_is_reached_by_tab_and_the_focus_shows(
    chromium: Browser, address: str, shop: Bench, path: str
) -> None:
    furnish(shop)
    context = chromium.new_context(**SCREENS["desktop"])
    page = watched(context, address).page
    page.goto(address + path)
    wanted = page.evaluate(
        "[...document.querySelectorAll('a[href], button, input, select, summary, [tabindex=\"0\"]')]"
        ".filter(one => one.checkVisibility() && !one.disabled && one.type !== 'hidden').length"
    )
    seen = set()
    for _ in range(min(wanted, 80) * 2):
        page.keyboard.press("Tab")
        shown = page.evaluate(
            "() => { const one = document.activeElement; const style = getComputedStyle(one); "
            "return [one.outerHTML.slice(0, 200), style.outlineStyle, parseFloat(style.outlineWidth)]; }"
        )
        if shown[0].startswith("<body"):
            break
        assert shown[1] != "none", shown
        assert shown[2] >= 2, shown
        seen.add(shown[0])
    context.close()

    assert len(seen) >= min(wanted, 60) * 0.9

"""The entry's sheet, its editor and its pictures in a real browser, and the first screen of a phone at the bench."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, Route, expect

from browser.watching import SCREENS, Watched, watched
from kb.bench.front import Bench
from kb.model import Confirmation

SLUG = "battery-not-detected"
SHEET = f"/entry/{SLUG}"
TITLE = "The system shows no battery although one is fitted"
JOB = ("no battery seen, dies when unplugged", "Tern 13", "T-0042")
QUERIES = (
    "wont chrge led orange",
    "no battery seen",
    "keys dead in a row",
    "screen stays black fan runs",
    "fan loud",
)
WIDTHS = (360, 390, 768, 1280, 2560)

#: Buttons, fields and links that stand alone below 44 pixels in height.
SMALL = """() => [...document.querySelectorAll(
  'button, .choice, input:not([type=hidden], [type=radio], [type=checkbox]), textarea, summary, nav a, a.button, '
  + '.near li > a')]
  .filter(one => one.getClientRects().length && one.getBoundingClientRect().height < 44)
  .map(one => one.outerHTML.slice(0, 120))"""


def home(at_bench: Watched) -> str:
    return at_bench.page.url.rstrip("/")


def changed(page: Page, old: str, new: str) -> None:
    """Change a piece of the text in the editor."""
    text = page.get_by_label("Text", exact=True)
    assert old in text.input_value()
    text.fill(text.input_value().replace(old, new, 1))


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """A picture as a phone takes it, larger than what is kept."""
    path = tmp_path / "IMG 0001.jpg"
    Image.new("RGB", (2400, 1800), "teal").save(path)
    return path


# The sheet


def test_a_sheet_is_four_screens_of_a_phone_and_a_link_to_a_fix_unfolds_it(
    chromium: Browser, address: str
) -> None:
    """The longest ones of all in three languages; Spanish takes the most room."""
    held = watched(chromium.new_context(**SCREENS["phone"], locale="es"), address)
    page = held.page
    for longest in ("charger-alone", "burning-smell-or-smoke", "battery-swollen"):
        page.goto(f"{address}/entry/{longest}")
        assert page.evaluate("document.documentElement.scrollHeight / innerHeight") <= 4
    expect(page.get_by_role("heading", name="Causas probables")).to_be_visible()

    page.goto(f"{address}/entry/backlight-dead#fix-panel")
    expect(page.locator("#fix-panel")).to_be_visible()
    page.emulate_media(media="print")
    assert page.locator(".does").evaluate_all(
        "all => all.every(one => one.checkVisibility())"
    )
    held.context.close()


# The editor


def test_an_edit_is_checked_while_typing_and_saved(
    at_bench: Watched, shop: Bench
) -> None:
    page = at_bench.page
    page.goto(home(at_bench) + SHEET)
    page.get_by_role("link", name="Edit").click()
    page.get_by_role("button", name="As text").click()
    expect(page.locator("#checked")).to_contain_text("Nothing to mend.")

    changed(page, "(often)", "(offten)")
    expect(page.locator("#checked")).to_contain_text("`offten` is not a weight")
    page.get_by_role("link", name=re.compile("^Line ")).first.click()
    assert "(offten)" in page.evaluate(
        "getSelection().toString() || ''.concat(...[document.activeElement].map("
        "one => one.value.slice(one.selectionStart, one.selectionEnd)))"
    )
    changed(page, "(offten)", "(often)")
    changed(page, "title: The system", "title: Here the system")
    expect(page.locator("#checked")).to_contain_text("Nothing to mend.")
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_role("heading", level=1)).to_have_text(
        "Here the system shows no battery although one is fitted"
    )
    expect(page.get_by_role("status")).to_have_text("Saved.")
    page.get_by_role("link", name="What this shop changed").click()
    expect(page.locator("ins")).to_have_text(
        "+title: Here the system shows no battery although one is fitted"
    )


def test_pressing_check_on_a_tablet_leads_to_what_is_said_of_the_text(
    chromium: Browser, address: str
) -> None:
    context = chromium.new_context(
        viewport={"width": 820, "height": 900}, has_touch=True
    )
    page = watched(context, address).page
    page.goto(f"{address}/new?q=hums")
    expect(page.locator("#told")).not_to_be_in_viewport()

    page.get_by_role("button", name="Check").tap()

    expect(page.locator("#told")).to_be_in_viewport()
    expect(page.get_by_role("heading", name="A new entry")).to_have_count(1)
    context.close()


def test_the_preview_stays_open_while_typing(at_bench: Watched) -> None:
    page = at_bench.page
    page.goto(home(at_bench) + SHEET + "/edit")
    page.get_by_text("How it will look").click()

    changed(page, "title: The system", "title: Here the system")

    expect(page.locator(".preview h2").first).to_have_text(
        "Here the system shows no battery although one is fitted"
    )
    expect(page.locator(".preview h2").first).to_be_visible()


def test_a_check_that_does_not_answer_costs_nothing_that_was_typed(
    at_bench: Watched, shop: Bench
) -> None:
    page = at_bench.page

    def cut(route: Route) -> None:
        route.fulfill(status=204)

    page.route("**/check", cut)
    page.goto(home(at_bench) + SHEET + "/edit")
    changed(page, "title: The system", "title: Here the system")
    page.wait_for_timeout(600)
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_role("heading", level=1)).to_contain_text("Here the system")


@pytest.mark.parametrize("screen", sorted(SCREENS))
def test_editing_works_with_script_switched_off(
    chromium: Browser, address: str, shop: Bench, screen: str
) -> None:
    context = chromium.new_context(java_script_enabled=False, **SCREENS[screen])
    page = watched(context, address).page
    page.goto(address + SHEET)
    expect(page.get_by_role("button", name="Print for the wall")).to_be_hidden()
    page.get_by_role("link", name="Edit").click()
    page.get_by_role("button", name="As text").click()

    changed(page, "(often)", "(offten)")
    page.get_by_role("button", name="Check").click()
    expect(page.locator("#checked")).to_contain_text("`offten` is not a weight")
    changed(page, "(offten)", "(often)")
    changed(page, "title: The system", "title: Here the system")
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_role("heading", level=1)).to_contain_text("Here the system")
    context.close()


def test_the_keyboard_alone_edits_an_entry(
    chromium: Browser, address: str, shop: Bench
) -> None:
    context = chromium.new_context(**SCREENS["desktop"])
    page = watched(context, address).page
    page.goto(address + SHEET)
    _tab_to(page, "Edit")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="As text")).to_be_visible()
    _tab_to(page, "As text")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Text", exact=True)).to_be_visible()

    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "text":
            break
    page.keyboard.press("Control+End")
    page.keyboard.type("<!-- looked at -->")
    _tab_to(page, "Save")
    page.keyboard.press("Enter")

    expect(page.get_by_text("this shop's own text")).to_be_visible()
    assert (
        (shop.folder / "entries" / f"{SLUG}.md")
        .read_text()
        .endswith("<!-- looked at -->\n")
    )
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


def test_a_new_entry_begins_with_the_words_and_is_found_by_them(
    at_bench: Watched,
) -> None:
    page = at_bench.page
    page.get_by_role("searchbox").press_sequentially("zxqv wvutz")
    page.get_by_role("button", name="write it down as a new entry").first.click()

    expect(page.get_by_label("Short name")).to_have_value("zxqv-wvutz")
    page.get_by_label("What may be wrong").first.fill("lamp is loose")
    expect(page.get_by_label("Cures").first.locator("option").first).to_have_text(
        "lamp is loose"
    )
    page.get_by_role("button", name="Another cause").click()
    expect(page.locator("#c3-text")).to_be_focused()
    expect(page.locator("#c1-text")).to_have_value("lamp is loose")
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("zxqv wvutz")
    page.get_by_role("link", name="Bench", exact=True).click()
    page.get_by_role("searchbox").press_sequentially("zxqv wvutz")
    expect(page.locator(".picture h3").first).to_have_text("zxqv wvutz")


# Pictures


def test_a_picture_is_taken_shown_and_removed(at_bench: Watched, photo: Path) -> None:
    page = at_bench.page
    page.goto(home(at_bench) + SHEET)
    page.get_by_text("Add a picture").click()
    assert page.get_by_label("Take one now").get_attribute("capture") == "environment"
    page.get_by_label("What is to be seen on it").fill("the plug")
    page.get_by_label("Take one now").set_input_files(photo)
    page.get_by_role("button", name="Add it").click()

    image = page.get_by_role("img", name="the plug")
    image.scroll_into_view_if_needed()
    expect(image).to_have_js_property("complete", True)
    assert page.evaluate(
        "[...document.images].map(one => [one.naturalWidth, one.naturalHeight])"
    ) == [[1600, 1200]]

    page.get_by_text("Remove", exact=True).click()
    page.get_by_role("button", name="Remove this picture").click()
    expect(page.get_by_role("img", name="the plug")).to_have_count(0)


# The sheet on paper and on every screen


def test_on_paper_the_sheet_is_black_on_white_without_anything_to_press(
    at_bench: Watched, shop: Bench
) -> None:
    page = at_bench.page
    page.goto(home(at_bench) + SHEET)
    page.emulate_media(media="print")

    for gone in (".top", ".tools", ".skip", ".was", ".wordings", ".album", "button"):
        assert page.evaluate(
            f"[...document.querySelectorAll('{gone}')].every(one => !one.getClientRects().length)"
        ), gone
    for kept in ("h1", ".safety", ".ledger", ".tests", ".fixes", ".printed"):
        expect(page.locator(kept).first).to_be_visible()
    assert (
        page.evaluate("getComputedStyle(document.querySelector('h1')).color")
        == "rgb(0, 0, 0)"
    )
    assert (
        page.evaluate(
            "getComputedStyle(document.querySelector('.safety')).backgroundColor"
        )
        == "rgb(255, 255, 255)"
    )


def test_in_a_dark_room_paper_stays_white(chromium: Browser, address: str) -> None:
    context = chromium.new_context(color_scheme="dark", **SCREENS["desktop"])
    page = watched(context, address).page
    page.goto(address + SHEET)
    page.emulate_media(media="print", color_scheme="dark")

    assert (
        page.evaluate("getComputedStyle(document.querySelector('h1')).color")
        == "rgb(0, 0, 0)"
    )
    context.close()


def test_nothing_sticks_out_and_every_target_is_large_enough(
    at_bench: Watched, shop: Bench, photo: Path
) -> None:
    page, start = at_bench.page, home(at_bench)
    shop.entries.album().add(
        SLUG, photo.read_bytes(), "the plug with a long name that goes on and on"
    )
    for path in (
        SHEET,
        f"{SHEET}/edit",
        f"{SHEET}/edit?as=fields",
        f"{SHEET}/changes",
        "/new?q=zxqv",
    ):
        page.goto(start + path)
        page.evaluate(
            "document.querySelectorAll('details').forEach(one => { one.open = true; })"
        )
        assert page.evaluate(SMALL) == [], path
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate(
                "document.documentElement.scrollWidth <= innerWidth"
            ), (path, width)


# The first screen of a phone


@pytest.fixture
def phone(chromium: Browser, address: str) -> Page:
    context = chromium.new_context(reduced_motion="reduce", **SCREENS["phone"])
    return watched(context, address).page


@pytest.mark.parametrize("words", QUERIES)
def test_the_outcomes_and_the_first_title_are_on_the_first_screen(
    phone: Page, address: str, words: str
) -> None:
    phone.goto(f"{address}/?q={words}&model=Tern+13")

    bottom = phone.evaluate("innerHeight")
    buttons = [
        box["y"] + box["height"]
        for one in phone.locator(".outcome:visible").all()
        if (box := one.bounding_box())
    ]
    assert buttons
    assert max(buttons[:3]) <= bottom
    line = phone.locator(".likeliest")
    title = phone.locator(".picture h3").first.inner_text()
    expect(line).to_be_in_viewport(ratio=1)
    expect(line).to_have_text(re.compile(f"{re.escape(title)}|Nothing fits well yet"))


def test_the_safety_strip_is_short_and_unfolds_to_all_notes(
    phone: Page, address: str
) -> None:
    phone.goto(f"{address}/?q={QUERIES[0]}&model=Tern+13")

    strip = phone.locator(".board .safety").bounding_box()
    assert strip
    assert strip["height"] <= 8 * 26
    first = phone.locator(".cautions li").first
    assert first.evaluate("one => one.scrollWidth <= one.clientWidth")
    rest = phone.locator(".safety .how li").first
    expect(rest).to_be_hidden()
    phone.locator(".safety .how > summary").click()
    expect(rest).to_be_visible()


def test_the_head_of_a_job_says_machine_clock_and_notes_in_one_line(
    phone: Page, address: str, shop: Bench
) -> None:
    job = shop.jobs.begin(*JOB)
    shop.jobs.did_not_help(job, "battery-not-detected/light-board")
    phone.set_viewport_size({"width": 360, "height": 740})

    phone.goto(f"{address}/job/{job}")

    head = phone.locator(".jobhead .small")
    assert (
        head.evaluate(
            "one => one.getBoundingClientRect().height / parseFloat(getComputedStyle(one).lineHeight)"
        )
        < 1.2
    )
    expect(head).to_contain_text("Tern 13 · T-0042 · 0 min on the clock · 1 noted")


def test_while_typing_the_next_step_stays_where_it_is(phone: Page, shop: Bench) -> None:
    phone.get_by_role("searchbox").focus()
    tops: set[int] = set()
    for letter in "no charge led orange":
        with phone.expect_response(lambda reply: "/answer" in reply.url):
            phone.keyboard.type(letter)
        phone.wait_for_timeout(40)
        tops |= set(
            phone.evaluate(
                "[...document.querySelectorAll('.step')].map(one => one.offsetTop)"
            )
        )

    assert tops
    assert max(tops) - min(tops) <= 24


#: Where the first picture begins, and the heights of what is done at once (with the gap below it), notes and step.
PLACES = """(() => { const high = (one, next) => one ? (next ? next.offsetTop - one.offsetTop : one.offsetHeight) : 0;
  const urgent = document.querySelector('.urgent');
  return [document.querySelector('.picture').offsetTop, high(urgent, urgent && urgent.nextElementSibling),
    high(document.querySelector('.board .safety')), high(document.querySelector('.step'))]; })()"""


@pytest.mark.parametrize(
    "words", ["keys dead in a row since coffee", "battery not charging, case bulges"]
)
def test_once_a_step_is_shown_the_first_fault_picture_stays_where_it_is_while_typing(
    phone: Page, shop: Bench, words: str
) -> None:
    """A larger step, its notes and what is to be done at once take the room they need, and give none back."""
    phone.get_by_role("searchbox").focus()
    tops, steps, tallest = [], set(), [0.0, 0.0, 0.0]
    for letter in words:
        with phone.expect_response(lambda reply: "/answer" in reply.url):
            phone.keyboard.type(letter)
        phone.wait_for_timeout(40)
        if phone.locator(".step h2").count():
            steps.add(phone.locator(".step h2").inner_text())
            top, *heights = phone.evaluate(PLACES)
            tallest = [max(pair) for pair in zip(heights, tallest, strict=True)]
            tops.append(top - sum(tallest))

    assert len(steps) > 1, "only a step that changes can move what stands below it"
    assert max(abs(later - earlier) for earlier, later in pairwise(tops)) <= 30


def test_a_step_does_not_flicker_while_half_typed_words_fit_and_fit_not(
    phone: Page, shop: Bench
) -> None:
    words = "won't turn on unless charger in and then shuts off"
    phone.get_by_role("searchbox").focus()
    told: list[bool] = []
    shown: list[bool] = []
    for letter in words:
        with phone.expect_response(lambda reply: "/answer" in reply.url) as reply:
            phone.keyboard.type(letter)
        told.append(
            told[-1]
            if reply.value.status == 304
            else 'class="step"' in reply.value.text()
        )
        phone.wait_for_timeout(40)
        shown.append(phone.locator(".step").count() > 0)

    assert told.count(True) > 3
    assert (True, False) in pairwise(told), (
        "only answers that come and go can make it flicker"
    )
    assert (True, False) not in pairwise(shown)
    phone.get_by_role("searchbox").fill("zxqv wvutz")
    expect(phone.locator(".step")).to_have_count(0)


def test_while_typing_the_safety_notes_never_shrink_below_what_they_took(
    phone: Page, shop: Bench
) -> None:
    phone.set_viewport_size({"width": 360, "height": 740})
    field = phone.get_by_role("searchbox")
    heights = []
    for words in ("no picture but fan spins", "wifi drops"):
        field.fill(words)
        expect(phone.locator(".board .safety")).to_be_visible()
        phone.wait_for_timeout(500)
        heights.append(
            phone.evaluate("document.querySelector('.board .safety').offsetHeight")
        )

    assert heights[0] <= heights[1]
    above = phone.locator(".likeliest").bounding_box()
    notes = phone.locator(".board .safety").bounding_box()
    assert above
    assert notes
    assert above["y"] < notes["y"]


def test_three_letters_already_show_fault_pictures(phone: Page, shop: Bench) -> None:
    phone.get_by_role("searchbox").press_sequentially("cha")

    expect(phone.locator(".picture h3").first).to_be_visible()


def test_how_a_step_is_done_is_one_tap_away_on_a_phone_and_open_on_a_desk(
    at_bench: Watched, shop: Bench
) -> None:
    page = at_bench.page
    page.goto(f"{home(at_bench)}/?q={QUERIES[0]}&model=Tern+13")
    why = page.locator(".step .how .why").first
    if page.evaluate("innerWidth") < 700:
        expect(why).to_be_hidden()
        page.locator(".step .how summary").first.click()
    expect(why).to_be_visible()


def test_the_page_says_whose_counts_these_are_when_the_words_name_another_model(
    phone: Page, shop: Bench
) -> None:
    for model in ("Tern 13", "Skua 14"):
        shop.jobs.confirm(Confirmation(f"{SLUG}/contact", model=model))
    phone.get_by_label("Model").fill("Skua 14")
    phone.get_by_role("searchbox").press_sequentially("tern 13 shows no battery")

    expect(
        phone.get_by_text(
            "Counted on Tern 13, which your words name, and not on Skua 14."
        )
    ).to_be_visible()
    phone.get_by_role("link", name="It was this").first.click()
    expect(phone.get_by_label("Model")).to_have_value("Tern 13")

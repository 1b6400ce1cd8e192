"""The check-out in a real browser: taps, single keys, no script, and a sheet that prints on one page."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from PIL import Image
from playwright.sync_api import Browser, expect

from browser.scanner import scan
from browser.watching import SCREENS, Watched, watched
from kb.bench.front import Bench
from kb.history import kinds
from kb.model import Confirmation

TAG = "P7-012"
KEYS = "row-of-keys-dead"


@pytest.fixture
def machine(shop: Bench) -> Bench:
    """A machine that just came in."""
    shop.machines.write(
        kinds.UNIT_IN,
        {"tag": TAG, "model": "Tern 13", "lot": "P7", "serial": "0042 (invented)"},
    )
    return shop


def test_a_line_is_shown_good_with_one_tap_in_sight_and_a_failed_one_leads_to_its_search_and_back(
    at_bench: Watched, machine: Bench
) -> None:
    page = at_bench.page
    page.goto(f"{page.url}u/{TAG}/checkout")
    good = page.get_by_role("button", name="Good")
    expect(good).to_be_in_viewport(ratio=1)
    good.click()
    expect(page.locator("#line h2")).to_have_text("locks absent")

    page.goto(f"{page.url}?line=every-key")
    page.locator(".badly > summary").click()
    page.locator(".badly").get_by_role("button").first.click()

    picture = machine.entries.entry(KEYS)
    assert picture is not None
    expect(page.locator("h1")).to_have_text(picture.title)
    expect(page.locator("#answer h3").first).to_have_text(picture.title)
    page.get_by_role("link", name=f"Back to the check-out of {TAG}").click()
    expect(page.locator(".failing")).to_contain_text("every key")


def test_single_keys_say_good_and_open_what_it_does_when_bad(
    chromium: Browser, address: str, machine: Bench
) -> None:
    context = chromium.new_context(reduced_motion="reduce", **SCREENS["desktop"])
    held = watched(context, address)
    held.page.goto(f"{address}/u/{TAG}/checkout")

    held.page.keyboard.press("g")
    expect(held.page.locator("#line h2")).to_have_text("locks absent")
    held.page.wait_for_load_state()
    held.page.keyboard.press("b")
    expect(held.page.locator(".badly")).to_have_attribute("open", "")
    held.page.keyboard.press("Enter")

    expect(held.page).to_have_url(re.compile("/job/"))
    assert [one.line.name for one in machine.checkout.of(TAG).failed] == [
        "locks-absent"
    ]
    context.close()
    assert held.errors == []


def test_the_list_is_worked_by_scanner_and_keyboard_alone(
    chromium: Browser, address: str, machine: Bench
) -> None:
    """The screen is not touched from the machine's tag to the job of a failed line and back."""
    context = chromium.new_context(reduced_motion="reduce", **SCREENS["desktop"])
    held = watched(context, address)
    page = held.page
    context.add_init_script("performance.now = () => (window.later ? 1000 : 0)")

    def read(code: str) -> None:
        # a page that comes later than this clock would count from it
        page.wait_for_load_state()
        page.evaluate("window.later = true")
        scan(page, code)

    scan(page, TAG)
    page.wait_for_url(f"**/u/{TAG}")
    page.goto(f"{address}/u/{TAG}/checkout")
    scan(page, "LINEGOOD")
    # a page that has just come takes none
    expect(page.locator("#line h2")).to_have_text("pack flat")
    read("linegood")
    expect(page.locator("#line h2")).to_have_text("locks absent")
    read("LINENEXT")
    expect(page.locator("#line h2")).not_to_have_text("locks absent")
    assert set(machine.machines.unit(TAG).lines) == {"pack-flat"}

    page.goto(f"{address}/u/{TAG}/checkout?line=every-key")
    page.locator("#by").focus()
    read("LINEBAD")
    expect(page.locator(".badly")).to_have_attribute("open", "")
    expect(page.locator("#by")).to_have_value("")
    read("LINE3")
    page.wait_for_url("**/job/*")
    second = machine.entries.entry("single-key-dead")
    assert second is not None
    assert machine.machines.unit(TAG).open_jobs[0].words == second.title
    read("LINENEXT")
    page.wait_for_url("**/checkout")

    page.goto(f"{address}/u/{TAG}/checkout?line=card-reader")
    page.keyboard.press("w")
    expect(page.locator("#why")).to_be_visible()
    read("LINENONE")
    expect(page.locator("#line h2")).not_to_have_text("card reader")
    assert machine.machines.unit(TAG).lines["card-reader"].shown == "not-there"
    page.goto(f"{address}/library")
    read("LINEGOOD")
    page.wait_for_url("**/checkout/codes")
    context.close()
    assert held.errors == []


def test_the_enter_of_a_scanner_in_a_field_never_says_that_a_line_is_good(
    at_bench: Watched, machine: Bench
) -> None:
    page = at_bench.page
    machine.machines.write(kinds.UNIT_IN, {"tag": "P7-013", "model": "Tern 13"})
    page.goto(f"{page.url}u/{TAG}/checkout?line=wiped")

    page.locator("#value").press_sequentially("P7-013")
    page.keyboard.press("Enter")
    page.wait_for_timeout(300)

    assert machine.machines.unit(TAG).lines == {}


def test_all_of_it_works_without_script(
    chromium: Browser, address: str, machine: Bench
) -> None:
    context = chromium.new_context(java_script_enabled=False, **SCREENS["phone"])
    page = context.new_page()
    page.goto(f"{address}/u/{TAG}/checkout")
    page.get_by_role("button", name="Good").click()
    page.goto(f"{address}/u/{TAG}/checkout?line=camera")
    page.get_by_text("Not there, or waive it").click()
    page.get_by_label("Why").fill("none wanted")
    page.get_by_role("button", name="Let it go without").click()

    expect(page.get_by_text("2 of 34 lines settled")).to_be_visible()
    assert machine.checkout.of(TAG).open_points == ("camera waived (none wanted)",)
    context.close()


def test_the_sheet_of_a_machine_with_much_to_tell_prints_on_one_page(
    chromium: Browser, address: str, machine: Bench
) -> None:
    desk = machine.checkout
    for number in range(4):
        job = machine.jobs.begin(
            f"complaint number {number} of a customer who likes to write",
            "Tern 13",
            TAG,
        )
        machine.jobs.confirm(
            Confirmation(f"{KEYS}/ribbon-contact", job=job, by="AW", part="keyboard"),
            untested=True,
        )
    for name in ("card-reader", "network-socket", "headphones", "camera"):
        desk.waive(
            TAG,
            name,
            "a reason that takes a whole line of the sheet, since somebody wanted to be exact about it",
        )
    while line := desk.of(TAG).next_line:
        words = "read with care and written down at length, as the list asks; 20 places read back, none held anything"
        desk.good(TAG, line.line.name, words if line.line.reads else "", "JT")
    desk.sign(TAG, "JT")
    for colour in ("navy", "maroon", "olive"):
        drawn = BytesIO()
        Image.new("RGB", (1600, 1200), colour).save(drawn, "JPEG")
        machine.machines.add_picture(
            TAG,
            drawn.getvalue(),
            "the lid from above, with two scratches beside the hinge",
        )
    context = chromium.new_context(**SCREENS["desktop"])
    page = context.new_page()
    page.goto(f"{address}/u/{TAG}/checkout/sheet", wait_until="networkidle")
    expect(page.locator(".prints img")).to_have_count(3)

    printed = page.pdf(prefer_css_page_size=True)

    context.close()
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1

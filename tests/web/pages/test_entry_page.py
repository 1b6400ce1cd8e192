"""The page of an entry: causes by belief, outcomes in words."""

from __future__ import annotations

import re

import pytest
from helpers.editing import SLUG, WORDS
from helpers.pooling import file_of
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.model import Confirmation, Finding

pytestmark = pytest.mark.shop("on_a_known_day")


# The sheet


def test_causes_stand_in_the_order_of_this_shops_belief_with_their_interval(
    bench: Bench, visitor: Visitor
) -> None:
    for _ in range(3):
        bench.jobs.confirm(Confirmation(f"{SLUG}/cable", model="Tern 13"))

    page = visitor.go(f"/entry/{SLUG}?model=Tern+13")

    causes = [to for to, shown in page.links if "It was this" in shown]
    assert f"{SLUG}%2Fcable" in causes[0]
    assert re.search(
        r"3 of 3 on this model; fix 12.min; likely between \d+.% and \d+.%", page.text
    )


def test_what_other_shops_had_is_told_beside_each_share_in_the_language_of_the_page(
    bench: Bench, visitor: Visitor
) -> None:
    bench.learning.learn(file_of(SLUG))
    english = visitor.go(f"/entry/{SLUG}").text
    on_a_model = visitor.go(f"/entry/{SLUG}?model=Tern+13").text
    searched = visitor.go(f"/?q={WORDS}").text
    bench.shop.kept_settings.set_language("de")
    german = visitor.go(f"/entry/{SLUG}").text

    assert "no job here yet; elsewhere, 217 jobs in 31 shops" in english
    assert re.search(r"; elsewhere, 217 jobs in 31 shops, 86.%; fix 1\d.min", english)
    assert "elsewhere, 217 jobs in 31 shops, 86" in searched
    # 18.6 of the light-board on 8 times one in seven
    assert "elsewhere, 217 jobs in 31 shops, 74" in on_a_model
    assert "; anderswo 217 Aufträge in 31 Werkstätten, 86" in german


def test_outcomes_are_told_in_words_and_not_in_short_names(
    bench: Bench, visitor: Visitor
) -> None:
    page = visitor.go(f"/entry/{SLUG}")

    entry = bench.entries.entry(SLUG)
    assert entry
    outcome = entry.tests[0].outcomes[0]
    cause = entry.cause(outcome.points_to[0])
    assert cause
    assert f"{outcome.text} → {cause.text}" in page.text


def test_a_sheet_is_an_overview_whose_first_test_alone_is_unfolded(
    visitor: Visitor,
) -> None:
    html = visitor.go("/entry/backlight-dead").html

    assert re.findall(r'<details class="act"( open)?>', html) == [" open", *[""] * 15]
    # healthy statements, rarer causes, fixes, neighbours
    assert html.count('class="fold') == 4


def test_the_sheet_takes_words_machine_and_job_along(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13", "T-07")
    visitor.go(f"/job/{job}")

    title = next(
        to
        for to, shown in visitor.page.links
        if to.startswith(f"/entry/{SLUG}?") and "The system" in shown
    )
    visitor.go(title)
    visitor.follow("It was this")
    visitor.press("Save")

    (closed,) = bench.history().closed_jobs()
    assert (closed.job, closed.words, closed.model, closed.unit) == (
        job,
        WORDS,
        "Tern 13",
        "T-07",
    )


def test_the_order_of_a_board_swap_stands_below_the_fix_on_the_sheet_and_below_the_step(
    bench: Bench, visitor: Visitor
) -> None:
    slug = "charge-light-but-no-start"
    assert "Free the donor first:" in visitor.go(f"/entry/{slug}").text

    entry = bench.entries.entry(slug)
    assert entry
    job = bench.jobs.begin(entry.title, "Tern 13")
    for test in entry.tests:
        points = [one for one in test.outcomes if "mainboard" in one.points_to]
        clears = [one for one in test.outcomes if one.clears]
        for outcome in (points + clears)[:1]:
            bench.jobs.found(job, Finding(f"{slug}/{test.slug}", outcome.text))
    page = visitor.go(f"/job/{job}").text

    assert (
        page.index("Check the donor first")
        < page.index("else swap")
        < page.index("Free the donor first:")
    )


def test_the_sheet_says_which_weights_count_here_and_unfolds_where_the_others_differ(
    bench: Bench, visitor: Visitor
) -> None:
    deep_empty = "the pack stood for months, its electronics sleep and need an hour of pre-charge before they talk"

    counter = visitor.go("/entry/battery-not-detected").text
    assert (
        "Weighed for machines over the counter From pallets these would be:" in counter
    )
    assert f"{deep_empty}: often here sometimes" in counter

    bench.shop.kept_settings.set_source("pallet")
    pallet = visitor.go("/entry/battery-not-detected").text
    assert (
        "Weighed for machines from pallets Over the counter these would be:" in pallet
    )
    assert f"{deep_empty}: sometimes here often" in pallet
    assert "Weighed for" not in visitor.go("/entry/fan-noisy").text


def test_beside_a_cure_that_leaves_its_part_in_doubt_stands_how_far_and_why(
    visitor: Visitor,
) -> None:
    page = visitor.go("/entry/camera-shows-black").text

    told = (
        r"sensor of the camera module.* This alone leaves it at \d\d%: "
        r"it was at 4% before, and the test is right 99%"
    )
    assert re.search(f"with the old one → {told}", page)

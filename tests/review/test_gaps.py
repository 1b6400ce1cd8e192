"""Words that led nowhere and causes that no entry lists, counted for whoever writes entries."""

from __future__ import annotations

from helpers.working import PLUG

from kb.bench.front import Bench
from kb.model import Confirmation

# Gaps


def test_words_that_led_nowhere_are_counted_together_however_they_were_typed(
    shop: Bench,
) -> None:
    shop.jobs.nothing_fits("Smells of  fish", "Tern 13", token="a")
    shop.jobs.nothing_fits("Smells of  fish", "Tern 13", token="a")
    shop.jobs.nothing_fits("smells of fish", "Skua 14", token="b")
    shop.jobs.retract(shop.jobs.begin("SMELLS of fish", "Tern 13"), "no time")
    shop.jobs.nothing_fits("hums", "Tern 13", token="c")

    first, second = shop.looking_back.overview().gaps

    assert (first.times, first.no_fit, first.put_away, first.models) == (
        3,
        2,
        1,
        ("Skua 14", "Tern 13"),
    )
    assert (second.words, second.times) == ("hums", 1)
    assert [gap.words for gap in shop.looking_back.overview("Skua 14").gaps] == [
        "smells of fish"
    ]


def test_a_search_leaves_no_trace_in_the_gaps(shop: Bench) -> None:
    before = shop.history().tip()

    shop.asking.search("zxqv wvutz")

    assert shop.looking_back.overview().gaps == ()
    assert shop.history().tip() == before


def test_a_cause_that_no_entry_lists_is_a_gap(shop: Bench) -> None:
    shop.history().close_job(
        Confirmation("no-such/thing", "Tern 13", words="odd light")
    )

    (gap,) = shop.looking_back.overview().gaps

    assert (gap.words, gap.unlisted) == ("odd light", 1)


def test_a_confirmed_job_that_was_retracted_is_no_gap(shop: Bench) -> None:
    receipt = shop.jobs.confirm(Confirmation(PLUG, "Tern 13", words="dead"))
    shop.jobs.retract(receipt.job, "wrong machine")

    assert shop.looking_back.overview().gaps == ()

"""Text at the terminal: shares with their counts, and moments as far back as they lie."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from kb.bench.front import Bench
from kb.cli import text
from kb.model import Confirmation

NOW = datetime(2026, 6, 30, 12, tzinfo=UTC)


def test_an_answer_says_the_step_with_its_time_and_every_picture_with_its_share(
    bench: Bench,
) -> None:
    answer = bench.asking.search("battery absent in setup", "Tern 13")
    told = "\n".join(text.answer_lines(answer))

    assert answer.next_step
    assert answer.next_step.title in told
    for entry in answer.entries:
        assert entry.title in told
        assert text.share(entry.probability) in told


def test_a_cause_is_told_with_what_it_was_here_and_elsewhere(bench: Bench) -> None:
    for model in ("Tern 13", "Tern 13", "Skua 14"):
        bench.jobs.confirm(Confirmation("no-battery/pack", model))
    entry = bench.asking.search("no battery", "Tern 13").entries[0]
    cause = next(one for one in entry.causes if one.slug == "pack")

    told = text.counts_in_words(cause, entry)

    assert "2 of 2" in told
    assert "1" in told.replace("2 of 2", "")
    assert text.counts_in_words(replace(cause, fix_minutes=0.0), entry).endswith(
        "its fix is not written down"
    )


@pytest.mark.parametrize(
    ("moment", "told"),
    [
        ("2026-06-30T11:59:40Z", "just now"),
        ("2026-06-29T12:00:00Z", "24 h ago"),
        ("2026-06-20T12:00:00Z", "10 d ago"),
    ],
)
def test_a_moment_is_told_by_how_far_back_it_lies(moment: str, told: str) -> None:
    assert told in text.ago(moment, NOW)


def test_the_order_of_a_step_is_told_in_short_lines_after_its_cautions_and_before_it(
    bench: Bench,
) -> None:
    answer = bench.asking.search("battery absent in setup", "Tern 13")
    assert answer.next_step
    step = replace(
        answer.next_step,
        cautions=("Ask the owner.",),
        procedure=("Free the donor: how.", "Save keys: how."),
    )

    told = "\n".join(text.answer_lines(replace(answer, next_step=step)))

    assert (
        "Before: Ask the owner.\nIn this order:\n   1. Free the donor\n   2. Save keys\nNext:"
        in told
    )

"""Answers: shares that sum to one, and the same answer to the same question."""

from __future__ import annotations

import sys
from pathlib import Path
from types import FrameType

import pytest
from helpers.places import CORPUS

from kb.bench.front import Bench
from kb.diagnosis.answering import Complaint


def test_probabilities_of_entries_and_something_else_sum_to_one(bench: Bench) -> None:
    answer = bench.asking.search("battery", limit=50)

    assert sum(
        entry.probability for entry in answer.entries
    ) + answer.something_else == pytest.approx(1.0)


def test_the_causes_of_an_entry_sum_to_the_entry(bench: Bench) -> None:
    for entry in bench.asking.search("batt missing", limit=50).entries:
        assert sum(cause.probability for cause in entry.causes) == pytest.approx(
            entry.probability
        )


def test_the_same_question_gets_the_same_answer(bench: Bench) -> None:
    one, other = bench.asking.search("no picture"), bench.asking.search("no picture")

    assert one.entries == other.entries


def test_the_title_or_the_name_of_a_sheet_as_words_finds_that_sheet(
    stock_bench: Bench,
) -> None:
    """Some of all sheets, and those whose title or name was read as a neighbour's words before."""
    missed = {
        "card-reader-dead",
        "charger-alone",
        "memory-size-wrong",
        "no-sign-of-life",
        "odour",
        "single-key-dead",
    }
    sheets = stock_bench.entries.served()
    for sheet in (*sheets[::8], *(one for one in sheets if one.slug in missed)):
        for words in (sheet.title, sheet.slug, sheet.slug.replace("-", " ")):
            assert _first(stock_bench, words) == sheet.slug


def test_a_model_beside_the_title_does_not_hide_it(stock_bench: Bench) -> None:
    for words in ("Memory: size wrong!", "Tern 13: memory size wrong"):
        assert (
            stock_bench.asking.rank(words, model="Tern 13").entries[0][0]
            == "memory-size-wrong"
        )
        assert (
            stock_bench.asking.search(words, "Tern 13").entries[0].entry
            == "memory-size-wrong"
        )


def test_a_sheet_is_found_by_a_name_of_which_no_text_holds_a_word(bench: Bench) -> None:
    (bench.folder / "entries").mkdir(parents=True)
    sheet = next(iter(CORPUS.glob("no-battery.md"))).read_text("utf-8")
    (bench.folder / "entries" / "zq7-quirk.md").write_text(
        sheet.replace("title: ", "title: Also "), "utf-8"
    )

    assert _first(bench, "zq7-quirk") == "zq7-quirk"


def _first(bench: Bench, words: str) -> str:
    found = bench.asking.rank(words, limit=1)
    return found.entries[0][0] if found.fits else ""


TWO = "the fan is grinding loudly, and the f key does not type any more"


def test_a_ranking_is_the_order_of_the_answer(stock_bench: Bench) -> None:
    for words in (TWO, "charges, but will not start", "xqzv wwkj"):
        answer, ranking = (
            stock_bench.asking.search(words),
            stock_bench.asking.rank(words),
        )

        assert [slug for slug, _, _ in ranking.entries] == [
            entry.entry for entry in answer.entries
        ]
        assert [share for _, share, _ in ranking.entries] == [
            entry.probability for entry in answer.entries
        ]
        assert (ranking.fits, ranking.two) == (answer.fits, answer.two)


def test_of_two_faults_told_at_once_either_fits_as_if_the_other_were_not_told(
    stock_bench: Bench,
) -> None:
    answer = stock_bench.asking.search(TWO)
    fits = {entry.entry: entry.fit for entry in answer.entries}

    assert len(answer.two) == 2
    assert all(0.85 <= fits[slug] <= 0.95 for slug in answer.two)
    assert sum(entry.probability for entry in answer.entries) <= 1.0


def test_a_text_enters_the_room_of_language_three_times_at_most(bench: Bench) -> None:
    """Once for the model in it, once to be read; whoever else needs it takes the reading."""
    words = "wont chrge, led orange"
    bench.asking.search("lamp does not light", "Tern 13")
    entered = []

    def watch(frame: FrameType, event: str, _: object) -> None:
        caller = frame.f_back
        if event != "call" or caller is None:
            return
        into, out_of = (
            Path(one.f_code.co_filename).parent.name for one in (frame, caller)
        )
        holds_it = any(
            isinstance(value, str) and "led orange" in value
            for value in frame.f_locals.values()
        )
        if into == "language" != out_of and holds_it:
            entered.append(frame.f_code.co_name)

    sys.setprofile(watch)
    try:
        bench.asking.search(words, "Tern 13")
    finally:
        sys.setprofile(None)

    assert "read" in entered
    assert len(entered) <= 3, entered


def test_an_outline_cries_out_only_where_the_danger_is_likelier_than_not(
    stock_bench: Bench,
) -> None:
    """In a list of machines an alarm for every tenth of a chance would not be read; one complaint by itself has it."""
    doubtful, sure = "warm near charger", "clicking noise"
    outlines = stock_bench.asking.outlines(
        [Complaint(text=doubtful), Complaint(text=sure)]
    )

    assert stock_bench.asking.search(doubtful).at_once
    assert [bool(one and one.at_once) for one in outlines] == [False, True]


def test_an_outline_believes_and_advises_as_the_answer_does(stock_bench: Bench) -> None:
    words, model = "no charge light and the battery drains", "Tern 13"
    answer = stock_bench.asking.search(words, model, limit=8)

    (outline,) = stock_bench.asking.outlines(
        [Complaint(text=words, model=model, limit=8)]
    )

    believed = {
        one.cause: one.probability for entry in answer.entries for one in entry.causes
    }
    assert len(believed) > 8
    assert {one.name: one.belief for one in outline.causes} == believed
    assert answer.next_step
    assert outline.next_step
    assert outline.next_step.expected_minutes == answer.next_step.expected_minutes
    assert outline.next_step.name == answer.next_step.name
    assert all(
        one.fix is None or one.name.partition("/")[2] in one.fix.causes
        for one in outline.causes
    )

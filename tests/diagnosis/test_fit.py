"""The fit of typed words over a small library, and its laws."""

from __future__ import annotations

from array import array
from collections.abc import Collection, Iterable, Mapping, Sequence

import pytest
from helpers.trade_words import shipped_lexicon

from kb.bench.front import Bench
from kb.diagnosis import fit
from kb.index.postings import Posting
from kb.language import spelling, terms


def _first(bench: Bench, words: str) -> str:
    return bench.asking.search(words).entries[0].entry


@pytest.mark.parametrize(
    ("words", "entry"),
    [
        ("charges but will not start", "charges-no-start"),
        ("starts but will not charge", "starts-no-charge"),
        ("will not charge but starts", "starts-no-charge"),
        ("batery not fuond", "no-battery"),
        ("qwert row ded", "keys-dead"),
        ("light is on, nothing happens on the button", "charges-no-start"),
    ],
)
def test_the_small_library_tells_its_pictures_apart(bench: Bench, words: str, entry: str) -> None:
    assert _first(bench, words) == entry


def test_every_wording_and_symptom_finds_its_own_entry_first(bench: Bench) -> None:
    for entry in bench.entries.served():
        for wording in (*entry.wordings, *entry.symptoms, entry.title):
            assert _first(bench, wording) == entry.slug, wording


def test_case_accents_and_extra_spaces_change_nothing(bench: Bench) -> None:
    plain = bench.asking.search("accu not found")

    for typed in ("ACCU NOT FOUND", "  accu   not found ", "àccu nöt found"):
        assert bench.asking.search(typed).entries == plain.entries


def test_unknown_words_alone_fit_nothing(bench: Bench) -> None:
    answer = bench.asking.search("xqzv wwkj")

    assert answer.something_else == pytest.approx(1.0)
    assert not answer.fits


def test_a_corrected_word_is_shown_and_quotes_keep_it_literal(bench: Bench) -> None:
    assert ("batery", "battery") in bench.asking.search("batery absent").corrections
    assert bench.asking.search('"batery" absent').corrections == ()


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("bttry absent", ("bttry", "battery")),
        ("bat tery absent", ("bat tery", "battery")),
        ("batteryabsent", ("batteryabsent", "battery absent")),
    ],
)
def test_a_word_without_vowels_parted_or_run_together_is_shown_as_it_was_read(
    bench: Bench, typed: str, shown: tuple[str, str]
) -> None:
    found, meant = bench.asking.search(typed), bench.asking.search("battery absent")

    assert found.corrections == (shown,)
    assert found.entries[0].entry == meant.entries[0].entry


def test_a_number_run_into_a_word_is_read_apart(bench: Bench) -> None:
    assert bench.asking.search("absent 2battery").entries == bench.asking.search("absent 2 battery").entries


def test_an_unfinished_last_word_is_completed_while_typing(bench: Bench) -> None:
    assert bench.asking.search("keyb", unfinished=True).entries[0].entry == "keys-dead"


class Counted:
    """A library of plain texts by entry number, counted in memory."""

    def __init__(self, texts: Mapping[int, Sequence[str]]) -> None:
        lexicon = shipped_lexicon()
        self._held = {
            number: terms.count([(text, terms.WORDING) for text in told], lexicon).terms
            for number, told in texts.items()
        }

    def postings(self, wanted: Iterable[str]) -> Mapping[str, Posting]:
        found = {}
        for term in set(wanted):
            counts = {number: int(held[term]) for number, held in sorted(self._held.items()) if term in held}
            if counts:
                found[term] = Posting(sum(counts.values()), array("I", counts), array("I", counts.values()))
        return found

    def masses(self, view: str) -> Mapping[int, int]:
        return {
            number: int(sum(count for term, count in held.items() if term[0] == view))
            for number, held in self._held.items()
        }

    def knows(self, stem: str) -> bool:
        return any(f"w:{stem}" in held for held in self._held.values())

    def guesses(self, typed: str, unfinished: bool, noise: Collection[str]) -> tuple[spelling.Guess, ...]:
        return ()


def test_an_entry_that_says_it_thrice_beats_thousands_of_short_ones_that_say_it_by_chance() -> None:
    """A word said once weighs more in a short text: it must not weigh so much that a library drowns in scraps."""
    full = {number: [f"hinge {number} creaks {text} loosely" for text in range(37)] for number in range(100)}
    full[0] += ["purr at night", "purr on mains", "purr after sleep"]
    scraps = {number: [f"glue {number} gone", f"frame {number} bent"] for number in range(100, 1100)}
    scraps[500] = ["purr at first", "frame bent"]

    found = fit.fit("purr", shipped_lexicon(), Counted(full | scraps), also=[0, 500])

    assert max(found.scores, key=lambda number: found.scores[number]) == 0


def test_words_that_several_entries_share_fit_though_none_is_clearly_ahead(stock_bench: Bench) -> None:
    """Short as they are, such words are what most people say first."""
    asked = (
        "black screen",
        "wont turn on",
        "no picture",
        "screen broken",
        "slow",
        "gets hot",
        "no light",
        "wont start",
    )
    answers = [stock_bench.asking.search(words) for words in asked]

    assert [answer.query for answer in answers if not answer.fits] == []
    assert answers[0].entries[0].probability < 0.4


def test_words_still_being_typed_that_nothing_fits_bring_no_step(bench: Bench) -> None:
    typing, done = bench.asking.search("it is the", unfinished=True), bench.asking.search("it is the")
    told = bench.asking.search("battery absent in setup", unfinished=True)

    assert typing.entries
    assert not typing.fits
    assert typing.next_step is None
    assert done.next_step is not None
    assert told.fits
    assert told.next_step is not None

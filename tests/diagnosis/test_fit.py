"""The fit of typed words over a small library, and its laws."""

from __future__ import annotations

import math
from array import array
from collections.abc import Collection, Iterable, Mapping, Sequence

import pytest
from helpers.trade_words import shipped_lexicon

from kb.bench.front import Bench
from kb.diagnosis import against, fit
from kb.index.postings import Masses, Posting
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
def test_the_small_library_tells_its_pictures_apart(
    bench: Bench, words: str, entry: str
) -> None:
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
    assert (
        bench.asking.search("absent 2battery").entries
        == bench.asking.search("absent 2 battery").entries
    )


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
            counts = {
                number: int(held[term])
                for number, held in sorted(self._held.items())
                if term in held
            }
            if counts:
                found[term] = Posting(
                    sum(counts.values()),
                    array("I", counts),
                    array("I", counts.values()),
                )
        return found

    def masses(self, view: str) -> Masses:
        return Masses(
            {
                number: int(
                    sum(count for term, count in held.items() if term[0] == view)
                )
                for number, held in self._held.items()
            }
        )

    def knows(self, stem: str) -> bool:
        return any(f"w:{stem}" in held for held in self._held.values())

    def guesses(
        self, typed: str, unfinished: bool, noise: Collection[str]
    ) -> tuple[spelling.Guess, ...]:
        return ()


def test_an_entry_that_says_it_thrice_beats_thousands_of_short_ones_that_say_it_by_chance() -> (
    None
):
    """A word said once weighs more in a short text: it must not weigh so much that a library drowns in scraps."""
    full = {
        number: [f"hinge {number} creaks {text} loosely" for text in range(37)]
        for number in range(100)
    }
    full[0] += ["purr at night", "purr on mains", "purr after sleep"]
    scraps = {
        number: [f"glue {number} gone", f"frame {number} bent"]
        for number in range(100, 1100)
    }
    scraps[500] = ["purr at first", "frame bent"]

    found = fit.fit("purr", shipped_lexicon(), Counted(full | scraps), also=[0, 500])

    assert max(found.scores, key=lambda number: found.scores[number]) == 0


#: Four entries of a wording or two; every word counts ten tenths, so that the masses are tens.
BY_HAND = Counted(
    {1: ["beeps purring"], 2: ["creaks"], 3: ["beeps", "purring loudly"], 4: ["glue"]}
)


def _told(count: int, mass: int, total: int, whole: int, usual: float) -> float:
    """What a word tells of an entry, as the formula stands in the books: with the count smoothed, over the usual."""
    share = total / whole + 1 / 25_000
    smoothed = (count + 0.5 * usual * share) / (mass + 0.5 * usual)
    return math.log(smoothed / share)


def test_a_word_of_the_trade_tells_in_two_views_alike_and_a_plain_one_three_quarters_as_a_thing() -> (
    None
):
    """By hand: masses of 20, 10, 30 and 10 tenths in both views, 70 in all, 17.5 of the usual entry."""
    lexicon = shipped_lexicon()
    trade, plain = (
        fit.fit("beeps", lexicon, BY_HAND),
        fit.fit("purring", lexicon, BY_HAND),
    )

    holds, lacks = _told(10, 20, 20, 70, 17.5), _told(0, 10, 20, 70, 17.5)
    leaning = 4.5**0.25
    assert trade.scores[1] - trade.scores[2] == pytest.approx(
        leaning * 2.0 * (holds - lacks), rel=1e-6
    )
    assert plain.scores[1] - plain.scores[2] == pytest.approx(
        leaning * 1.75 * (holds - lacks), rel=1e-6
    )


def test_a_thing_after_another_tells_half_beside_the_words() -> None:
    """By hand: in pairs entries 1 and 3 have 10 tenths, the others none, so that the usual entry has 5."""
    found = fit.fit("beeps purring", shipped_lexicon(), BY_HAND)

    words = (2.0 + 1.75) * (_told(10, 20, 20, 70, 17.5) - _told(10, 30, 20, 70, 17.5))
    pairs = 0.5 * (_told(10, 10, 10, 20, 5.0) - _told(0, 10, 10, 20, 5.0))
    assert found.scores[1] - found.scores[3] == pytest.approx(
        (4.5 / 2) ** 0.25 * (words + pairs), rel=1e-6
    )


def test_a_thing_that_is_well_tells_four_tenths_as_a_word_and_against_an_entry_in_which_it_fails() -> (
    None
):
    """By hand: entries 1 and 2 have as many words, neither holds "fine"; the battery fails in entry 1."""
    library = Counted(
        {1: ["battery fails"], 2: ["creaks loudly"], 3: ["is fine"], 4: ["glue"]}
    )

    found = fit.fit("battery is fine", shipped_lexicon(), library)

    word = 0.4 * (_told(10, 20, 10, 70, 17.5) - _told(0, 20, 10, 70, 17.5))
    fine = 0.75 * (_told(0, 10, 10, 50, 12.5) - _told(0, 20, 10, 50, 12.5))
    fails = 0.75 * math.log(50 / 60)
    assert found.scores[1] - found.scores[2] == pytest.approx(
        4.5**0.25 * (word + fine + fails), rel=1e-6
    )


@pytest.mark.parametrize("entry", [1, 2, 3])
def test_a_clause_that_speaks_against_an_entry_takes_off_two_and_all_that_it_told_for_it(
    entry: int,
) -> None:
    """By hand: 90 tenths of words, 30 of pairs; entry 1 alone holds the two words (10 of 30) and their pair."""
    lexicon = shipped_lexicon()
    library = Counted(
        {
            1: ["hinge creaks loudly"],
            2: ["beeps", "purrs", "glows"],
            3: ["glue tape"],
            4: ["beeps"],
        }
    )
    stated = against.statement("the hinge creaks", lexicon)
    typed = "hinge creaks, beeps"

    without = fit.fit(typed, lexicon, library)
    found = fit.fit(
        typed,
        lexicon,
        library,
        stated=lambda number: [stated] if number == entry else [],
    )

    pairs = 0.5 * _told(10, 20, 10, 30, 7.5)
    told = 2 * 2.0 * _told(10, 30, 10, 90, 22.5) + pairs if entry == 1 else 0.0
    assert found.against == {entry: ("the hinge creaks",)}
    taken = {
        number: without.scores[number] - found.scores[number] for number in found.scores
    }
    assert taken == pytest.approx(
        {number: 2.0 + told if number == entry else 0.0 for number in taken}
    )


def test_of_two_faults_the_second_stands_three_below_the_first_however_little_it_fits_the_rest() -> (
    None
):
    scraps = {number: [f"glue{number} gone{number}"] for number in range(10, 40)}
    two = {
        1: ["hinge creaks loudly when opened"] * 3,
        2: ["beeps thrice while booting"] * 3,
    }

    found = fit.fit(
        "hinge creaks loudly when opened, beeps thrice while booting",
        shipped_lexicon(),
        Counted(two | scraps),
    )

    assert found.two == (1, 2)
    assert found.scores[2] == pytest.approx(found.scores[1] - 3.0)
    assert max(found.scores.values()) == found.scores[1]


def test_a_thing_of_another_subject_is_a_likeness_up_to_four_words_after_like() -> None:
    """By hand: the same words in another order fit as well, but for the five that a thing of elsewhere costs."""
    words = ["it", "is", "at", "the", "kettle", "like"]
    library = Counted({1: ["fan roars"], 2: ["creaks"], 3: words})
    orders = {
        "near": "fan roars it like is at the kettle",
        "far": "fan roars like it is at the kettle",
        "after": "fan roars it is at the kettle like",
        "first": "fan like kettle roars it is at the",
    }
    best = {
        name: fit.fit(typed, shipped_lexicon(), library).scores[1]
        for name, typed in orders.items()
    }

    assert best["near"] - best["far"] == pytest.approx(5.0)
    assert best["near"] - best["after"] == pytest.approx(5.0)
    assert best["first"] == pytest.approx(best["near"], abs=0.001)


def test_in_a_large_library_the_rarer_words_alone_choose_what_is_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    common = {4: ["beeps"] * 20} | {number: ["beeps"] for number in range(5, 10)}
    library = Counted(
        {
            1: ["creaks and glue", "glue"],
            2: ["creaks and tape", "tape"],
            3: ["creaks beeps"],
        }
        | common
    )
    whole = fit.fit("creaks beeps", shipped_lexicon(), library)

    monkeypatch.setattr(fit, "LOOKED_AT", 3)
    monkeypatch.setattr(fit, "MOST_READ", 8)
    found = fit.fit("creaks beeps", shipped_lexicon(), library)

    assert (whole.others, len(whole.scores)) == (0, 9)
    assert (found.others, sorted(found.scores)) == (6, [1, 2, 3])
    assert found.scores[3] - found.scores[1] == pytest.approx(
        whole.scores[3] - whole.scores[1]
    )


def test_words_that_several_entries_share_fit_though_none_is_clearly_ahead(
    stock_bench: Bench,
) -> None:
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
    typing, done = (
        bench.asking.search("it is the", unfinished=True),
        bench.asking.search("it is the"),
    )
    told = bench.asking.search("battery absent in setup", unfinished=True)

    assert typing.entries
    assert not typing.fits
    assert typing.next_step is None
    assert done.next_step is not None
    assert told.fits
    assert told.next_step is not None


def test_a_thing_that_was_said_to_be_well_counts_in_full_where_it_is_said_to_fail(
    stock_bench: Bench,
) -> None:
    """The second "usb" is no repetition: the first told of another socket, and that it works."""
    [first, *_] = stock_bench.asking.rank("left usb ok right usb dead").entries

    assert first[0] == "usb-port-dead"
    assert first[1] > 0.8

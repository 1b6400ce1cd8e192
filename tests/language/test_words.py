"""Typed text as the search reads it: folded, split into clauses, said in the trade's words."""

from __future__ import annotations

from pathlib import Path

import pytest
from helpers.trade_words import headwords, shipped_lexicon
from hypothesis import given
from hypothesis import strategies as st

from kb.base.trouble import Trouble
from kb.language.words import Lexicon, fold, from_json, split, to_json, tokens


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return shipped_lexicon()


@pytest.mark.parametrize(
    ("typed", "folded"),
    [
        ("ŁOŻYSKO", "lozysko"),
        ("Écran", "ecran"),
        ("Straße", "strasse"),
        ("Ægir", "aegir"),
        ("don’t", "don't"),
    ],
)
def test_accents_and_letters_without_a_base_fold_away(typed: str, folded: str) -> None:
    assert fold(typed) == folded


@given(st.text(max_size=60))
def test_folding_twice_is_folding_once(text: str) -> None:
    assert fold(fold(text)) == fold(text)


def test_a_conjunction_a_comma_and_a_stop_begin_a_new_clause(lexicon: Lexicon) -> None:
    assert len(split("fan spins but no image, led lit. charges", lexicon)) == 4


@pytest.mark.parametrize(
    "typed", ["won't start", "wont start", "will not start", "WON’T START"]
)
def test_contractions_are_written_out_however_they_are_typed(
    lexicon: Lexicon, typed: str
) -> None:
    assert split(fold(typed), lexicon) == [["will", "not", "start"]]


def test_the_two_halves_of_a_contrast_carry_opposite_signs(lexicon: Lexicon) -> None:
    signs = {
        token.stem: token.negative
        for token in tokens("charges but will not start", lexicon)
    }

    assert signs["charg"] is False
    assert signs["start"] is True


def test_several_ways_to_say_a_thing_name_the_same_thing(lexicon: Lexicon) -> None:
    for said in ("charger", "adapter", "power brick", "PSU", "mains adapter"):
        assert "CHARGER" in {token.concept for token in tokens(said, lexicon)}, said


def test_a_phrase_is_preferred_to_the_words_in_it(lexicon: Lexicon) -> None:
    assert [token.concept for token in tokens("external monitor", lexicon)] == [
        "MONITOR",
        "",
    ]


@pytest.fixture(scope="module")
def listed() -> dict[str, list[str]]:
    """Every single word of the stock lexicon, folded, with the concepts under which it is listed."""
    found: dict[str, list[str]] = {}
    for concept, phrases in headwords("same").items():
        for word in {
            fold(phrase) for phrase in (concept, *phrases) if " " not in phrase
        }:
            found.setdefault(word, []).append(concept.upper())
    return found


@pytest.mark.slow
def test_no_word_is_listed_under_two_concepts(listed: dict[str, list[str]]) -> None:
    assert {
        word: concepts for word, concepts in listed.items() if len(concepts) > 1
    } == {}


def test_every_listed_word_is_read_as_its_own_concept_though_its_stem_be_shared(
    lexicon: Lexicon, listed: dict[str, list[str]]
) -> None:
    """What is "crackly" is not cracked, "pixelated" no pixel; words that are written out as others are left aside."""
    read = {
        word: tokens(word, lexicon)[0].concept
        for word in listed
        if word not in lexicon.short
    }

    assert {
        word: concept for word, concept in read.items() if listed[word] != [concept]
    } == {}


def test_a_word_that_tells_of_failing_or_nothing_is_no_thing_by_its_stem_alone(
    lexicon: Lexicon, listed: dict[str, list[str]]
) -> None:
    """A bricked board was read as the charger. Four words share the stem and the meaning both."""
    told = lexicon.negative | lexicon.positive | lexicon.noise | lexicon.breaks
    by_stem = {
        word for word in told - listed.keys() if tokens(word, lexicon)[0].concept
    }

    assert by_stem == {"disappeared", "vanished", "stopped", "stops"}


def test_a_shops_words_are_added_and_the_stock_ones_stay(tmp_path: Path) -> None:
    own = tmp_path / "words.toml"
    own.write_text('[same]\ncharger = ["juicer"]\n')

    lexicon = shipped_lexicon(own)

    assert tokens("juicer", lexicon)[0].concept == "CHARGER"
    assert tokens("adapter", lexicon)[0].concept == "CHARGER"


def test_a_broken_words_file_is_named_with_what_is_wrong(tmp_path: Path) -> None:
    own = tmp_path / "words.toml"
    own.write_text("[same\n")

    with pytest.raises(Trouble, match=r"words\.toml is not readable"):
        shipped_lexicon(own)


def test_the_kept_lexicon_equals_the_read_one(lexicon: Lexicon) -> None:
    assert from_json(to_json(lexicon)) == lexicon


@given(st.text(max_size=600))
def test_no_text_whatever_stops_the_reader(text: str) -> None:
    for token in tokens(text, shipped_lexicon()):
        assert token.typed

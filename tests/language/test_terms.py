"""Terms of texts: packed and unpacked alike, counted in tenths, and signed by their clause."""

from __future__ import annotations

from collections import Counter

import pytest
from helpers.trade_words import shipped_lexicon
from hypothesis import given
from hypothesis import strategies as st

from kb.language import terms
from kb.language.terms import Content
from kb.language.words import Lexicon

COUNTS = st.dictionaries(st.text(max_size=5), st.integers(1, 99), max_size=5).map(
    Counter
)


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return shipped_lexicon()


@given(COUNTS, COUNTS)
def test_what_was_packed_is_unpacked_again(
    counted: Counter[str], words: Counter[str]
) -> None:
    content = Content(counted, words)

    assert Content.unpacked(content.packed()) == content


def test_each_text_counts_by_its_tenths(lexicon: Lexicon) -> None:
    counted = terms.count([("the fan", terms.WORDING), ("fan", terms.CAUSE)], lexicon)

    assert counted.terms["w:fan"] == terms.WORDING + terms.CAUSE
    assert counted.words["fan"] == 2


def test_the_halves_of_a_contrast_give_other_terms_when_they_change_places(
    lexicon: Lexicon,
) -> None:
    one, other = (
        terms.count([(text, 10)], lexicon).terms
        for text in ("charges, will not start", "starts, will not charge")
    )

    assert one["s:CHARGE+"] == other["s:START+"] == 10
    assert one["s:START-"] == other["s:CHARGE-"] == 10
    assert not one["s:CHARGE-"]

"""Wordings that a shop heard itself, told as they were typed."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.diagnosis import knowledge, wordings
from kb.language.words import Lexicon
from kb.model import Confirmation

BOARD = "no-battery/light-board"


def test_after_one_confirmation_an_odd_wording_and_its_variants_find_the_entry(
    bench: Bench,
) -> None:
    assert not bench.asking.search("wibbles like a jellyfish").fits

    bench.jobs.confirm(
        Confirmation("keys-dead/ribbon", "Tern 13", words="wibbles like a jellyfish")
    )

    for words in (
        "wibbles like a jellyfish",
        "it wibbles, jellyfish",
        "wibles like jelyfish",
    ):
        assert bench.asking.search(words).entries[0].entry == "keys-dead", words
    assert (
        "wibbles like a jellyfish"
        in bench.asking.search("wibbles like a jellyfish").entries[0].matched
    )


def test_a_wording_heard_in_capitals_too_is_shown_once_as_the_entry_has_it(
    bench: Bench,
) -> None:
    bench.jobs.confirm(Confirmation(BOARD, "Tern 13", words="BATTERY ABSENT IN SETUP"))

    matched = bench.asking.search("battery absent in setup").entries[0].matched

    assert [one for one in matched if one.casefold() == "battery absent in setup"] == [
        "battery absent in setup"
    ]


def test_of_many_complaints_under_an_entry_no_more_than_the_likest_are_read(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(12):
        bench.jobs.confirm(
            Confirmation(BOARD, "Tern 13", words=f"charge number {number} of many")
        )
    bench.jobs.confirm(
        Confirmation(BOARD, "Tern 13", words="zigzag light while it charges")
    )
    bench.asking.models()
    monkeypatch.setattr(knowledge, "MOST_HEARD", 2)
    read: list[str] = []
    whole = wordings.said

    def said(text: str, lexicon: Lexicon) -> wordings.Said:
        read.append(text)
        return whole(text, lexicon)

    monkeypatch.setattr(wordings, "said", said)

    matched = bench.asking.search("zigzag light while charging").entries[0].matched

    assert "zigzag light while it charges" in matched
    assert sum("charge number" in text for text in read) <= 1

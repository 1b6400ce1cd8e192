"""Wordings that a shop heard itself, told as they were typed."""

from __future__ import annotations

from kb.bench.front import Bench
from kb.model import Confirmation

BOARD = "no-battery/light-board"


def test_after_one_confirmation_an_odd_wording_and_its_variants_find_the_entry(bench: Bench) -> None:
    assert not bench.asking.search("wibbles like a jellyfish").fits

    bench.jobs.confirm(Confirmation("keys-dead/ribbon", "Tern 13", words="wibbles like a jellyfish"))

    for words in ("wibbles like a jellyfish", "it wibbles, jellyfish", "wibles like jelyfish"):
        assert bench.asking.search(words).entries[0].entry == "keys-dead", words
    assert "wibbles like a jellyfish" in bench.asking.search("wibbles like a jellyfish").entries[0].matched


def test_a_wording_heard_in_capitals_too_is_shown_once_as_the_entry_has_it(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation(BOARD, "Tern 13", words="BATTERY ABSENT IN SETUP"))

    matched = bench.asking.search("battery absent in setup").entries[0].matched

    assert [one for one in matched if one.casefold() == "battery absent in setup"] == ["battery absent in setup"]

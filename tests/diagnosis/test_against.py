"""What an entry states to speak against it."""

from __future__ import annotations

from kb.bench.front import Bench


def test_what_an_entry_states_to_speak_against_it_is_told_and_counts(
    stock_bench: Bench,
) -> None:
    stated = stock_bench.entries.entry("wired-network-no-link")
    assert stated is not None
    said = stated.not_this_if[0]
    answer = stock_bench.asking.search(f"{said}, network light stays off", limit=20)

    told = {entry.entry: entry.against for entry in answer.entries}
    assert said in told.get("wired-network-no-link", ())

"""Connections to one sound index, however many begin at once."""

from __future__ import annotations

import threading
from pathlib import Path

from helpers.places import CORPUS

from kb.bench.front import Bench
from kb.index.refresh import Due
from kb.model import Confirmation


def test_two_that_start_at_once_make_one_sound_index(tmp_path: Path) -> None:
    corpus = CORPUS
    found: list[str] = []

    def start() -> None:
        one = Bench(tmp_path / "shop", stock=corpus)
        found.append(one.asking.search("batt missing").entries[0].entry)
        one.close()

    threads = [threading.Thread(target=start) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert found == ["no-battery"] * 6


def test_what_is_due_is_told_before_it_is_read_and_nothing_where_all_is_in_step(
    small: Bench,
) -> None:
    told: list[Due] = []
    small.shop.files.tell_what_is_due(told.append)
    sheets = len(small.shop.shelf.stamps())

    small.asking.search("batt missing")
    assert told == [Due(sheets, 0, first=True)]

    for _ in range(2):
        small.jobs.confirm(Confirmation("no-battery/plug", "Tern 13"))
        small.asking.search("batt missing")
    assert told[1:] == [Due(0, 1, first=False)] * 2

    small.asking.search("batt missing")
    assert len(told) == 3
    assert told[0].seconds > told[1].seconds > 0

"""Connections to one sound index, however many begin at once."""

from __future__ import annotations

import threading
from pathlib import Path

from helpers.places import CORPUS

from kb.bench.front import Bench


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

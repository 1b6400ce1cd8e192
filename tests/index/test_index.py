"""The index grown step by step, held against one that is made anew."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from kb.bench.front import Bench
from kb.index import postings
from kb.model import Confirmation

SAID = ("said", "spoken_term", "spoken_mass", "tally")


def _dump(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with sqlite3.connect(path) as connection:
        numbers = dict(connection.execute("SELECT number, slug FROM sheet"))
        sheets = connection.execute(
            "SELECT slug, entry, content, masses FROM sheet ORDER BY slug"
        ).fetchall()
        words = connection.execute(
            "SELECT word, stem, written, said FROM word ORDER BY word"
        ).fetchall()
        jobs = connection.execute(
            "SELECT job, cause, read_words, retracted FROM job ORDER BY seq"
        ).fetchall()
        totals = connection.execute(
            "SELECT term, total FROM term ORDER BY term"
        ).fetchall()
        said = [
            connection.execute(f"SELECT * FROM {table} ORDER BY 1, 2, 3").fetchall()
            for table in SAID
        ]
    return {
        "slugs": sorted((slug,) for slug in numbers.values()),
        "sheets": sheets,
        "words": words,
        "jobs": jobs,
        "totals": totals,
        "said": [row for table in said for row in table],
    }


def test_a_rebuilt_index_equals_the_one_that_grew_step_by_step(bench: Bench) -> None:
    bench.asking.search("batt")
    for number, words in enumerate(
        ("batt missing", "accu gone for good", "leds lit", "accu gone for good")
    ):
        bench.jobs.confirm(
            Confirmation(
                ("no-battery/pack", "charges-no-start/button")[number % 2],
                "Tern 13",
                words=words,
            )
        )
        bench.asking.search("batt")
    own = bench.folder / "entries"
    own.mkdir(parents=True)
    assert bench.shop.shelf.stock is not None
    shutil.copy(bench.shop.shelf.stock / "keys-dead.md", own / "more-keys.md")
    bench.asking.search("batt")
    (own / "more-keys.md").unlink()
    bench.asking.search("batt")
    grown = _dump(bench.folder / "index.db")
    bench.close()

    (bench.folder / "index.db").unlink()
    bench.asking.search("batt")

    assert _dump(bench.folder / "index.db") == grown


def test_an_index_written_in_many_small_parts_equals_the_one_written_at_once(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.asking.search("batt")
    at_once = _postings(bench.folder / "index.db")
    bench.close()

    (bench.folder / "index.db").unlink()
    monkeypatch.setattr(postings, "MOST_GATHERED", 10)
    bench.asking.search("batt")

    assert _postings(bench.folder / "index.db") == at_once


def _postings(path: Path) -> list[tuple[object, ...]]:
    with sqlite3.connect(path) as connection:
        return connection.execute(
            "SELECT term, total, packed FROM term ORDER BY term"
        ).fetchall()

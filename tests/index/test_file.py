"""The file of the index: a damaged one is made anew."""

from __future__ import annotations

from kb.bench.front import Bench


def test_a_damaged_index_is_made_anew(bench: Bench) -> None:
    expected = bench.asking.search("batt missing").entries
    bench.close()
    (bench.folder / "index.db").write_bytes(b"not a database at all" * 500)

    assert bench.asking.search("batt missing").entries == expected

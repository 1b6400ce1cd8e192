"""The desk of entries: a changed file is seen, a broken one takes nothing down."""

from __future__ import annotations

from kb.bench.front import Bench


def test_a_changed_file_is_seen_by_the_next_search(bench: Bench) -> None:
    own = bench.folder / "entries"
    own.mkdir(parents=True)
    assert bench.shop.shelf.stock is not None
    text = (bench.shop.shelf.stock / "keys-dead.md").read_text()
    (own / "keys-dead.md").write_text(
        text.replace("- qwert row gone", "- marmalade under the board")
    )
    assert bench.asking.search("marmalade").entries[0].entry == "keys-dead"

    (own / "keys-dead.md").unlink()

    assert not bench.asking.search("marmalade").fits


def test_a_broken_entry_takes_none_of_the_others_down(bench: Bench) -> None:
    own = bench.folder / "entries"
    own.mkdir(parents=True)
    (own / "broken.md").write_bytes(b"\xff\xfe")

    assert bench.asking.search("batt missing").entries[0].entry == "no-battery"
    assert any(remark.file == "broken.md" for remark in bench.entries.check())

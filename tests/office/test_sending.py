"""A shop's file in the office's folder: one a shop, whole, in place of what it sent before."""

from __future__ import annotations

import json
from pathlib import Path

import pyarrow.parquet
import pytest

from kb.office.sending import send
from kb.office.shared import COLUMNS, SharedLine, office_id

ID = office_id("ours")
LINES = [
    SharedLine(
        kind="job",
        shop=ID,
        day="2026-11-24",
        model="Tern 13",
        job=1,
        machine=1,
        listed=True,
        minutes=2.5,
    ),
    SharedLine(kind="gap", shop=ID, day="2026-11-24", model="Tern 13", shown="no-fit"),
]


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_what_is_sent_twice_stands_there_once(tmp_path: Path) -> None:
    for lines in (LINES, LINES[:1], LINES):
        sent = send(lines, "ours", (), tmp_path / "new" / "office")

    assert names(tmp_path / "new" / "office") == [f"shared-{ID}.jsonl"]
    assert sent.file.read_text().splitlines() == [line.to_json() for line in LINES]
    assert (sent.lines, sent.jobs) == (2, 1)


def test_parquet_holds_the_same_and_takes_the_place_of_the_other_form(
    tmp_path: Path,
) -> None:
    send(LINES, "ours", (), tmp_path)
    sent = send(LINES, "ours", (), tmp_path, "parquet")

    rows = pyarrow.parquet.read_table(sent.file).to_pylist()
    told = [
        {name: value for name, value in row.items() if value not in (None, "")}
        for row in rows
    ]

    assert names(tmp_path) == [f"shared-{ID}.parquet"]
    assert list(rows[0]) == list(COLUMNS)
    assert told == [json.loads(line.to_json()) for line in LINES]

    send(LINES, "ours", (), tmp_path)
    assert names(tmp_path) == [f"shared-{ID}.jsonl"]


def test_the_file_of_a_shop_that_moved_in_goes_and_those_of_others_stay(
    tmp_path: Path,
) -> None:
    for shop in ("moved", "other"):
        send(LINES, shop, (), tmp_path)

    send(LINES, "ours", ("ours", "moved"), tmp_path)

    assert names(tmp_path) == sorted(
        f"shared-{office_id(shop)}.jsonl" for shop in ("ours", "other")
    )


def test_where_nothing_can_be_written_what_stood_there_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent = send(LINES, "ours", (), tmp_path)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        send(LINES[:1], "ours", (), tmp_path)

    assert names(tmp_path) == [sent.file.name]
    assert len(sent.file.read_text().splitlines()) == 2

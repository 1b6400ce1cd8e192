"""Shops with a number of records, every other one of a machine, and all that matters of them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from helpers.floor_records import write_sample
from kb.history import History
from kb.model import Confirmation

NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)


def add_records(shop: Path, count: int) -> None:
    """Write so many records more: in turn a closed job and one of a machine."""
    with History.open(shop / "history.db", lambda: NOW) as history, history.together():
        for number in range(count):
            if number % 2:
                write_sample(history, number // 2)
            else:
                history.close_job(
                    Confirmation(
                        "no-light/dc-jack", model="Tern 13", unit=f"T-{number}"
                    )
                )


def everything(shop: Path) -> dict[str, object]:
    """All that matters of a shop: its records and the content of its own files."""
    with History.open(shop / "history.db", create=False) as history:
        found: dict[str, object] = {
            "records": list(history.records_since()),
            "shop": history.shop,
        }
    for path in [shop / "words.toml", *(shop / "entries").rglob("*")]:
        found[str(path.relative_to(shop))] = path.read_bytes()
    return found


def edit_a_record(path: Path) -> None:
    raw = path.read_bytes()
    assert b"SN-123456" in raw
    path.write_bytes(raw.replace(b"SN-123456", b"SN-123457"))


def cut_the_tail(path: Path) -> None:
    earlier = path.read_bytes()
    add_records(path.parent, 1)
    path.write_bytes(earlier)


FOREIGN = (
    "CREATE TRIGGER a BEFORE INSERT ON records WHEN NEW.kind = 'close' BEGIN SELECT RAISE(IGNORE); END",
    "CREATE VIEW closed AS SELECT * FROM records",
    "CREATE TABLE more (x)",
)

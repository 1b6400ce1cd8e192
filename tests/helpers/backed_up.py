"""Shops with a number of jobs, and all that matters of them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from kb.history import History
from kb.model import Confirmation

NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)


def add_jobs(shop: Path, count: int) -> None:
    with History.open(shop / "history.db", lambda: NOW) as history, history.together():
        for unit in range(count):
            history.close_job(Confirmation("no-light/dc-jack", model="Tern 13", unit=f"T-{unit}"))


def everything(shop: Path) -> dict[str, object]:
    """All that matters of a shop: its records and the content of its own files."""
    with History.open(shop / "history.db", create=False) as history:
        found: dict[str, object] = {"records": list(history.records_since()), "shop": history.shop}
    for path in [shop / "words.toml", *(shop / "entries").rglob("*")]:
        found[str(path.relative_to(shop))] = path.read_bytes()
    return found


def edit_a_record(path: Path) -> None:
    raw = path.read_bytes()
    assert b"T-11" in raw
    path.write_bytes(raw.replace(b"T-11", b"T-77"))


def cut_the_tail(path: Path) -> None:
    earlier = path.read_bytes()
    add_jobs(path.parent, 1)
    path.write_bytes(earlier)


FOREIGN = (
    "CREATE TRIGGER a BEFORE INSERT ON records WHEN NEW.kind = 'close' BEGIN SELECT RAISE(IGNORE); END",
    "CREATE VIEW closed AS SELECT * FROM records",
    "CREATE TABLE more (x)",
)

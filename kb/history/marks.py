"""Marks beside a history, two small files: `history.id` names it, `history.tip` names its last record."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from kb.base import durable


@dataclass(frozen=True, slots=True)
class Marker:
    """Whose history this is and since when; it outlives the history, so that a vanished one is noticed."""

    shop: str
    created: str


@dataclass(frozen=True, slots=True)
class Tip:
    """How many records a history holds, and the chain value of the last one."""

    count: int
    chain: str


def marker_path(history: Path) -> Path:
    """Where the history's id file stands."""
    return history.with_suffix(".id")


def tip_path(history: Path) -> Path:
    """Where the history's tip file stands."""
    return history.with_suffix(".tip")


def read_marker(history: Path) -> Marker | None:
    """The id file's content, empty texts if it is garbled, None if there is none."""
    found = _read(marker_path(history))
    return (
        None
        if found is None
        else Marker(str(found.get("shop", "")), str(found.get("created", "")))
    )


def write_marker(history: Path, marker: Marker) -> None:
    """Write the id file, flushed; raises OSError."""
    durable.write_whole(
        marker_path(history), _line({"created": marker.created, "shop": marker.shop})
    )


def read_tip(history: Path) -> Tip | None:
    """The tip file's content, None if there is none or it is garbled."""
    found = _read(tip_path(history)) or {}
    count, chain = found.get("count"), found.get("chain")
    return (
        Tip(count, chain) if isinstance(count, int) and isinstance(chain, str) else None
    )


def write_tip(history: Path, tip: Tip) -> None:
    """Write the tip file, whole but not flushed, as it may lag behind; raises OSError."""
    durable.write_whole(
        tip_path(history), _line({"chain": tip.chain, "count": tip.count}), flush=False
    )


def _read(path: Path) -> dict[str, object] | None:
    try:
        found = json.loads(path.read_bytes())
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _line(content: dict[str, object]) -> bytes:
    return json.dumps(content, sort_keys=True).encode() + b"\n"

"""Sharing what the shop learned with an office: its lines, told with its own sheets, into a folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from kb.bench.shop import Shop
from kb.office.sending import Sent, send
from kb.office.shared import Seen, shared_lines


def models_seen(shop: Shop) -> Mapping[str, str]:
    """What machines turned out to be, by their folded tags, brought in step: jobs are told by it."""
    with shop.files.floor() as (index, _):
        return index.floor.models()


def share(shop: Shop, folder: Path, form: str = "jsonl") -> Sent:
    """Write all that this shop shares into its file in the folder, in place of what it sent before."""
    history = shop.history()
    came_in = models_seen(shop)
    with shop.knowing() as knowledge:
        seen = Seen(entries=knowledge.index.entries(), came_in=came_in)
    return send(
        list(shared_lines(history, seen)),
        history.shop,
        history.own_shops(),
        folder,
        form,
    )

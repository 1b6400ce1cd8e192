"""Sharing what the shop learned with an office: its lines, told with its own sheets, into a folder."""

from __future__ import annotations

from pathlib import Path

from kb.bench.shop import Shop
from kb.office.sending import Sent, send
from kb.office.shared import Seen, shared_lines


def share(shop: Shop, folder: Path, form: str = "jsonl") -> Sent:
    """Write all that this shop shares into its file in the folder, in place of what it sent before."""
    history = shop.history()
    with shop.files.floor():
        pass  # what machines turned out to be is brought in step, since jobs are told by it
    with shop.knowing() as knowledge:
        seen = Seen(entries=knowledge.index.entries(), came_in=knowledge.index.floor.models())
    return send(list(shared_lines(history, seen)), history.shop, history.own_shops(), folder, form)

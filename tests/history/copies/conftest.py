"""A shop worth a backup."""

from __future__ import annotations

from pathlib import Path

import pytest
from helpers.backed_up import add_records


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop of ten closed jobs and ten records of machines, two entries of its own and its own words."""
    shop = tmp_path / "shop"
    add_records(shop, 20)
    (shop / "entries").mkdir()
    (shop / "entries" / "no-light.md").write_text(
        "---\ntitle: No light\n---\n", encoding="utf-8"
    )
    (shop / "entries" / "łódź.md").write_text("own entry", encoding="utf-8")
    (shop / "words.toml").write_text('[same]\njack = ["socket"]\n', encoding="utf-8")
    return shop

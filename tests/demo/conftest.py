"""The invented jobs over the shipped entries, made once."""

from __future__ import annotations

import pytest

from kb.demo import jobs as demo
from kb.library import shelf
from kb.model import Entry, Job


@pytest.fixture(scope="module")
def entries() -> list[Entry]:
    return [
        sheet.entry
        for sheet in shelf.Shelf(shelf.stock_folder(), None).sheets()
        if sheet.entry
    ]


@pytest.fixture(scope="module")
def jobs(entries: list[Entry]) -> tuple[Job, ...]:
    return demo.invented_jobs(entries)

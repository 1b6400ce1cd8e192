"""Sheets with every mark that there is."""

from __future__ import annotations

import pytest
from helpers.marked import GATED, MARKED

from kb.library.markdown import parse
from kb.model import Entry


@pytest.fixture
def marked() -> Entry:
    parsed = parse(MARKED, "no-light")
    assert parsed.remarks == ()
    assert parsed.entry is not None
    return parsed.entry


@pytest.fixture
def waiting() -> Entry:
    entry = parse(GATED, "tingles").entry
    assert entry is not None
    return entry

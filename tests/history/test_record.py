"""Records sealed by the one before."""

from __future__ import annotations

import pytest
from helpers.histories import NOON

from kb.history import History
from kb.history.record import canonical, chain_of, first_link


def test_every_record_is_sealed_by_the_one_before(history: History) -> None:
    history.close_job(NOON, "form-1")
    history.close_job(NOON)
    previous = first_link(history.shop, history.created)
    for record in history.records_since():
        assert record.chain == chain_of(previous, record)
        previous = record.chain
    assert history.tip().chain == previous


def test_what_is_no_number_is_never_spelled() -> None:
    with pytest.raises(ValueError, match="JSON"):
        canonical({"minutes": float("nan")})

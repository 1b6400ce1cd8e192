"""States of a machine that a test needs."""

from __future__ import annotations

from kb.library.states import can_be_done
from kb.model import Entry


def test_a_test_is_for_machines_that_still_do_what_it_needs(marked: Entry) -> None:
    _, torch, charger = marked.tests

    assert not can_be_done(torch, {"dead", "no picture"})
    assert can_be_done(torch, {"dead", "starts"})
    assert can_be_done(torch, ())
    assert not can_be_done(charger, {"starts"}), "an installed system has to run"

"""Refused tries, told as one line an address."""

from __future__ import annotations

import pytest
from flask import Flask
from helpers.knocking import knock

from webui.guard import tries


def test_refused_tries_are_one_line_an_address_and_nothing_that_was_typed(
    guarded: Flask, caplog: pytest.LogCaptureFixture
) -> None:
    tries.tell()
    caplog.clear()
    for number in range(30):
        for _ in range(1 + number % 3):
            knock(guarded, "wrong wrong wrong", address=f"192.0.2.{number}")

    tries.tell()

    lines = [
        record.getMessage()
        for record in caplog.records
        if record.name == "webui.guard.tries"
    ]
    assert "3 tries to sign in from 192.0.2.2 were refused within a minute" in lines
    assert lines[-1] == "10 more from 10 other addresses"
    assert len(lines) == tries.MOST_NAMED + 1
    assert not any("wrong wrong" in line for line in lines)
    tries.tell()
    assert len(
        [record for record in caplog.records if record.name == "webui.guard.tries"]
    ) == len(lines)

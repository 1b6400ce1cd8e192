"""Streams: what standard output does not take is told once, and standard error takes everything."""

from __future__ import annotations

import io
import os
import sys

import pytest

from kb.base import streams
from kb.base.streams import OutputLost


def unread(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make standard output and standard error one guarded pipe that nobody reads."""
    reader, writer = os.pipe()
    os.close(reader)
    for name in ("stdout", "stderr"):
        stream = io.TextIOWrapper(
            io.FileIO(os.dup(writer), "wb"), encoding="utf-8", write_through=True
        )
        monkeypatch.setattr(sys, name, stream)
        monkeypatch.setattr(sys, f"__{name}__", stream)
    os.close(writer)
    streams.guard()


def test_a_reader_that_went_away_is_told_once_and_the_rest_goes_nowhere(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unread(monkeypatch)
    print("one line")
    with pytest.raises(OutputLost) as lost:
        sys.stdout.flush()

    assert lost.value.left
    print("another")
    sys.stdout.flush()


def test_standard_error_takes_everything(monkeypatch: pytest.MonkeyPatch) -> None:
    unread(monkeypatch)
    print("one line", file=sys.stderr)
    sys.stderr.flush()


def test_streams_that_something_else_put_there_are_left_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    mine = io.StringIO()
    monkeypatch.setattr(sys, "stdout", mine)

    streams.guard()

    assert sys.stdout is mine

"""Options and output that all commands share."""

from __future__ import annotations

import io
import json

import pytest

from kb.cli.options import tell


def test_a_document_of_json_is_not_broken_at_the_edge_of_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setenv("COLUMNS", "30")
    monkeypatch.setattr("sys.stdout", terminal)
    content = {"words": "no light  when plugged in, and none on the second try"}
    tell(content, [], as_json=True)

    assert json.loads(terminal.getvalue())["words"] == content["words"]

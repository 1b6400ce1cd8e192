"""Options and output that all commands share."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from helpers.places import CORPUS
from helpers.terminal import Terminal

from kb.cli.options import say_what_is_read, tell
from kb.index.refresh import Due

#: The small library in place of the program's own, and every reading told.
SMALL = f"""
from pathlib import Path
from kb.cli import options
from kb.library import shelf
shelf.stock_folder = lambda: Path({str(CORPUS)!r})
options.A_WHILE = 0
"""


def test_a_document_of_json_is_not_broken_at_the_edge_of_a_terminal(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setenv("COLUMNS", "30")
    monkeypatch.setattr("sys.stdout", terminal)
    content = {"words": "no light  when plugged in, and none on the second try"}
    tell(content, [], as_json=True)

    assert json.loads(terminal.getvalue())["words"] == content["words"]


def test_whoever_waits_at_a_terminal_for_sheets_to_be_read_is_told_once(
    tmp_path: Path,
) -> None:
    number = len([path for path in CORPUS.glob("*.md") if path.name != "README.md"])

    with Terminal(
        "search", "battery absent", shop=tmp_path / "shop", setting=SMALL
    ) as first:
        assert first.ended(60)
    with Terminal(
        "search", "battery absent", shop=tmp_path / "shop", setting=SMALL
    ) as second:
        assert second.ended(60)

    assert first.shown.startswith(f"reading {number} sheets for the first time ...\n")
    assert first.shown.count("reading") == 1
    assert "reading" not in second.shown


def test_only_what_takes_a_while_to_read_is_told(
    capsys: pytest.CaptureFixture[str],
) -> None:
    say_what_is_read(Due(2, 30, first=False))
    assert capsys.readouterr().err == ""

    say_what_is_read(Due(1, 10_000, first=False))
    assert capsys.readouterr() == ("", "reading 1 sheet and 10000 records ...\n")

"""Colour where a terminal has it, none where nobody wants it, and nothing told by colour alone."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from helpers.terminal import shown_at_a_terminal

from kb.bench.front import Bench

COMMAND = [sys.executable, "-m", "kb", "search", "battery swollen, lid does not close"]
_STYLE = re.compile("\x1b\\[[0-9;]*m")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop whose sheets are read."""
    folder = tmp_path_factory.mktemp("read") / "shop"
    bench = Bench(folder)
    bench.asking.models()
    bench.close()
    return folder


def environment(shop: Path, around: Mapping[str, str]) -> dict[str, str]:
    plain = {
        name: value
        for name, value in os.environ.items()
        if name not in ("NO_COLOR", "TERM")
    }
    return {
        **plain,
        "TERM": "xterm",
        "COLUMNS": "100",
        "BENCHLORE_SHOP": str(shop),
        **around,
    }


def at_a_terminal(shop: Path, **around: str) -> str:
    """What the command shows at a terminal of its own."""
    return shown_at_a_terminal(COMMAND, environment(shop, around))


def test_what_presses_what_is_next_and_the_bars_stand_out_and_say_the_same_without_colour(
    shop: Path,
) -> None:
    # empty is as if it were not there (no-color.org)
    coloured = at_a_terminal(shop, NO_COLOR="")
    plain = at_a_terminal(shop, NO_COLOR="1")

    assert "\x1b[31m\x1b[1mAt once:\x1b[0m" in coloured
    assert re.search(r"\x1b\[1mNext: ", coloured)
    assert re.search(r"% \x1b\[36m#+\x1b\[0m[. ]", coloured)
    assert "\x1b" not in plain
    assert _STYLE.sub("", coloured) == plain


def test_a_dumb_terminal_and_a_pipe_get_no_colour(shop: Path) -> None:
    piped = subprocess.run(
        COMMAND, env=environment(shop, {}), capture_output=True, text=True, check=True
    ).stdout

    assert "\x1b" not in at_a_terminal(shop, TERM="dumb")
    assert "\x1b" not in piped

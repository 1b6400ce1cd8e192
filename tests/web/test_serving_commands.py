"""The commands that the web pages add: what they refuse, and which names a server answers to."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from click.testing import Result

from webui import serving_commands


def test_both_commands_show_an_example(run: Callable[..., Result]) -> None:
    for command in ("serve", "demo"):
        assert f"Example: benchlore {command}" in run(command, "--help").stdout


def test_the_demo_shop_lies_beside_the_others_and_follows_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", "/elsewhere")

    assert str(serving_commands._demo_folder()) == "/elsewhere/benchlore-demo"

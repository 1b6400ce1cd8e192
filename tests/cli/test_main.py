"""The program as a whole: where its shop is named, what it lists, and one line a query where that is asked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from click.testing import Result

from kb.cli.main import HEADINGS
from webui.commands import main

Run = Callable[..., Result]

PACK = "battery-not-detected/pack"


def test_the_shop_given_before_or_after_the_command_wins_over_the_environment(
    run: Run,
) -> None:
    run("--shop", "before", "confirm", PACK, "--model", "Tern 13")
    run("confirm", PACK, "--model", "Tern 13", "--shop", "after")
    run("--shop", "shown", "demo", "--no-serve")

    assert all(
        Path(shop, "history.db").exists() for shop in ("before", "after", "shown")
    )
    assert "none" not in run("review", "--shop", "after").stderr
    assert run("review", status=1).stdout == ""


def test_every_command_stands_under_one_heading_of_the_help() -> None:
    named = [name for names in HEADINGS.values() for name in names]

    assert sorted(named) == sorted(main.commands)


def test_the_list_of_commands_cuts_no_sentence_off(run: Run) -> None:
    shown = " ".join(run("--help").stdout.split())

    assert "..." not in shown.partition("Commands at the bench:")[2]
    for command in main.loaded().values():
        assert (command.help or "").split("\n\n")[0].rstrip(".") in shown

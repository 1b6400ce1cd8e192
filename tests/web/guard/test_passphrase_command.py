"""The command for passphrases."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from click.testing import Result
from helpers.doors import GOOD, READING

from webui.guard.door import Door, Right

# The command


def test_the_command_asks_twice_and_shows_nothing(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    told = run("passphrase", given=f"{GOOD}\n{GOOD}\n")

    assert GOOD not in told.stdout
    assert "0 sessions ended" in told.stdout
    assert Door(tmp_path / "shop").is_set()
    assert run("passphrase", given=f"{GOOD}\nother words here\n", status=1)


def test_the_command_sets_reading_only_beside_writing(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    assert (
        "for writing first"
        in run("passphrase", "--reading", given="a\na\n", status=2).stderr
    )
    run("passphrase", given=f"{GOOD}\n{GOOD}\n")
    run("passphrase", "--reading", given=f"{READING}\n{READING}\n")
    assert Door(tmp_path / "shop").is_set(Right.READ)

    run("passphrase", "--reading", "--remove")

    assert not Door(tmp_path / "shop").is_set(Right.READ)


def test_the_command_ends_sessions(run: Callable[..., Result], tmp_path: Path) -> None:
    run("passphrase", given=f"{GOOD}\n{GOOD}\n")
    Door(tmp_path / "shop").enter(GOOD, "192.0.2.7")

    assert "1 session ended" in run("passphrase", "--end-sessions").stdout
    assert "alone" in run("passphrase", "--end-sessions", "--reading", status=2).stderr

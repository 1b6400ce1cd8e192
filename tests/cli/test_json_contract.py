"""The keys of the JSON are written down, frozen, and there for what went wrong as well."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from click.testing import Result
from helpers.keys import CHAPTER, written

from kb.cli.json_contract import VERSION
from webui.commands import main

Run = Callable[..., Result]

#: Commands for people, and the one that writes JSON Lines by itself.
WITHOUT = {"demo", "export", "guide", "help", "passphrase", "serve"}


def test_the_keys_are_those_of_the_chapter() -> None:
    assert CHAPTER.read_text(encoding="utf-8") == written(), "run: python tests/helpers/keys.py"


def test_every_command_that_tells_something_has_json_and_its_keys_in_the_chapter() -> None:
    with_json = {name for name, command in main.loaded().items() if any("--json" in one.opts for one in command.params)}
    chapters = {line[3:] for line in CHAPTER.read_text(encoding="utf-8").splitlines() if line.startswith("## ")}

    assert with_json == main.commands.keys() - WITHOUT
    assert chapters == with_json


@pytest.mark.parametrize(
    ("wrong", "status", "told"),
    [
        ("search --json", 2, "say what is wrong, for example"),
        ("search x --limit many --json", 2, "--limit: give a whole number"),
        ("confirm battery-not-detected/none --model x --json", 2, "does not list the cause `none`"),
        ("retract zzzz --why x --json", 1, "no job has an id beginning with zzzz"),
        ("serch --json", 2, "did you mean `search`?"),
    ],
)
def test_what_went_wrong_is_json_where_json_was_asked(run: Run, wrong: str, status: int, told: str) -> None:
    result = run(*wrong.split(), status=status)
    document = json.loads(result.stdout)

    assert told in document["error"]
    assert document["error"] in result.stderr.replace("Error: ", "")
    assert document["status"] == status
    assert document["version"] == VERSION

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

#: The command for people, and the one that writes JSON Lines by itself.
WITHOUT = {"export", "serve"}


def test_the_keys_are_those_of_the_chapter() -> None:
    assert CHAPTER.read_text(encoding="utf-8") == written(), (
        "run: python tests/helpers/keys.py"
    )


def test_every_command_that_tells_something_has_json_and_its_keys_in_the_chapter() -> (
    None
):
    with_json = {
        name
        for name, command in main.loaded().items()
        if any("--json" in one.opts for one in command.params)
    }
    chapters = {
        line[3:]
        for line in CHAPTER.read_text(encoding="utf-8").splitlines()
        if line.startswith("## ")
    }

    assert with_json == main.commands.keys() - WITHOUT
    assert chapters == with_json


@pytest.mark.parametrize(
    ("wrong", "status", "told"),
    [
        ("search --json", 2, "say what is wrong, for example"),
        ("search x --limit many --json", 2, "--limit: give a whole number"),
        (
            "confirm battery-not-detected/none --model x --json",
            2,
            "does not list the cause `none`",
        ),
        ("retract zzzz --why x --json", 1, "no job has an id beginning with zzzz"),
        ("guide --json", 2, "say what is wrong, for example"),
        ("demo --json", 2, "give --no-serve with --json"),
        ("help serch --json", 2, "did you mean `search`?"),
        ("passphrase --remove --json", 2, "--reading --remove together"),
        ("serch --json", 2, "did you mean `search`?"),
    ],
)
def test_what_went_wrong_is_json_where_json_was_asked(
    run: Run, wrong: str, status: int, told: str
) -> None:
    result = run(*wrong.split(), status=status)
    document = json.loads(result.stdout)

    assert told in document["error"]
    assert document["error"] in result.stderr.replace("Error: ", "")
    assert document["status"] == status
    assert document["version"] == VERSION


def test_the_guide_in_json_opens_the_job_or_goes_on_with_it_and_asks_nothing(
    run: Run,
) -> None:
    opened = json.loads(
        run("guide", "no battery seen", "--model", "Tern 13", "--json").stdout
    )
    step = opened["answer"]["next_step"]
    again = json.loads(run("guide", "--job", opened["job"], "--json").stdout)

    assert (opened["words"], opened["findings"], bool(step["title"])) == (
        "no battery seen",
        [],
        True,
    )
    assert (again["job"], again["answer"]["next_step"]) == (opened["job"], step)


def test_help_in_json_names_the_commands_or_the_options_of_one(run: Run) -> None:
    program, command = (
        json.loads(run("help", *of, "--json").stdout) for of in ((), ("search",))
    )

    assert {one["command"] for one in program["commands"]} == main.commands.keys()
    assert all(one["heading"] and one["sentence"] for one in program["commands"])
    assert (program["command"], command["command"], command["commands"]) == (
        None,
        "search",
        [],
    )
    assert ["--model", "-m"] in [one["names"] for one in command["options"]]

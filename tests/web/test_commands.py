"""The program's own commands with those of the pages: each is there under the sentence that is listed for it."""

from __future__ import annotations

from webui.commands import COMMANDS, main


def test_the_commands_of_the_pages_are_there_with_the_sentence_that_is_listed() -> None:
    loaded = main.loaded()

    for line in COMMANDS.splitlines():
        name, _, sentence = (part.strip() for part in line.split("|"))
        assert (
            (loaded[name].help or "")
            .split("\n\n")[0]
            .replace("\n", " ")
            .startswith(sentence.rstrip("."))
        ), name

"""The manual page, made from the help of the commands; run it to write `kb/cli/benchlore.1` anew."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path

import click

from kb.cli.group import Commands

ROOT = Path(__file__).resolve().parents[2]
#: The made page, which the wheel carries as share/man/man1/benchlore.1.
PAGE = ROOT / "kb" / "cli" / "benchlore.1"

#: The day on which the form of the page was last changed.
DAY = "2026-11-30"
#: What every command knows, or nearly every one, told once.
OF_ALL = {
    "--help": "Show the help of the command; also -h.",
    "--json": "Print one JSON document; commands that are for people alone have none.",
    "--shop": "The shop's folder, as before the command; made when it is missing.",
}
ENVIRONMENT = (
    ("BENCHLORE_SHOP", "The shop's folder, where --shop names no other."),
    (
        "BENCHLORE_ZONE",
        "The time zone whose midnight a day begins at, such as Europe/Oslo.",
    ),
    ("NO_COLOR", "Anything in it, and nothing is coloured."),
)
FILES = (
    (
        "~/.local/share/benchlore",
        "The shop's folder, where nothing names another; on Windows and macOS where programs keep their user's data, "
        "unless this one is there.",
    ),
    ("history.db", "In it: every job and every machine. This is the precious file."),
    ("index.db", "In it: what is derived, made anew when it is missing."),
    (
        "entries, words.toml, shop.toml",
        "In it: the shop's own sheets, its words and its settings.",
    ),
)
STATUS = (
    ("0", "Done."),
    ("1", "Nothing was found, or there is a problem in the data."),
    ("2", "The command was not used as its help says."),
    ("3", "Done, but the output could not be written."),
    ("70", "A fault of the program."),
    ("130", "The guide was left by Ctrl-C; its job stays open."),
)


def escaped(text: str) -> str:
    r"""The text as roff takes it for words: no sign steers, no line begins with a request or is very long.

    >>> escaped(".x \\ a-b")
    '\\&.x \\e a\\-b'
    """
    told = (
        text.replace("\\", "\\e")
        .replace("-", "\\-")
        .replace("~", "\\(ti")
        .replace("^", "\\(ha")
    )
    lines = textwrap.wrap(told, 78, break_long_words=False, break_on_hyphens=False)
    return "\n".join(
        f"\\&{line}" if line.startswith((".", "'")) else line for line in lines
    )


def written() -> str:
    """The page as the program is now."""
    from webui.commands import main

    context = click.Context(
        main, info_name="benchlore", help_option_names=["-h", "--help"]
    )
    return "\n".join(_lines(context, main)) + "\n"


def _lines(context: click.Context, main: Commands) -> Iterator[str]:
    yield '.\\" Made by python tests/helpers/manpage.py'
    yield f'.TH BENCHLORE 1 {DAY} Benchlore "User commands"'
    yield from (
        ".SH NAME",
        "benchlore \\- a workshop's memory: faults by their symptoms, with the next test",
    )
    yield from (".SH SYNOPSIS", ".B benchlore", "[\\-\\-shop DIR] COMMAND [ARGUMENTS]")
    yield from (".SH DESCRIPTION", escaped(main.help or ""))
    yield from _options(main, context)
    yield from (".PP", "Every command knows these:")
    for option, meaning in OF_ALL.items():
        yield from (".TP", f".B {escaped(option)}", escaped(meaning))
    yield ".SH COMMANDS"
    for _, command in sorted(main.loaded().items()):
        yield from _of_command(command, context)
    for heading, pairs in (
        ("ENVIRONMENT", ENVIRONMENT),
        ("FILES", FILES),
        ("EXIT STATUS", STATUS),
    ):
        yield f".SH {heading}"
        for name, meaning in pairs:
            yield from (".TP", f".B {escaped(name)}", escaped(meaning))


def _of_command(command: click.Command, parent: click.Context) -> Iterator[str]:
    """The part for one command: how it is called, what it does, its options, its example."""
    context = click.Context(command, info_name=command.name, parent=parent)
    text, _, example = (command.help or "").partition("Example: ")
    pieces = " ".join(
        ["benchlore", str(command.name), *command.collect_usage_pieces(context)]
    )
    yield f".SS {escaped(pieces)}"
    for number, paragraph in enumerate(text.strip().split("\n\n")):
        yield from ([".PP"] if number else [])
        yield escaped(" ".join(paragraph.split()))
    yield from _options(command, context, frozenset(OF_ALL))
    if example:
        yield from (".PP", escaped(f"Example: {' '.join(example.split())}"))


def _options(
    command: click.Command,
    context: click.Context,
    left_out: frozenset[str] = frozenset(),
) -> Iterator[str]:
    for parameter in command.get_params(context):
        record = parameter.get_help_record(context)
        if record and record[1] and not left_out & set(parameter.opts):
            yield from (
                ".TP",
                f".B {escaped(record[0])}",
                escaped(" ".join(record[1].split())),
            )


if __name__ == "__main__":
    PAGE.write_text(written(), encoding="utf-8")

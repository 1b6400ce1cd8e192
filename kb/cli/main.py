"""The commands of the core: where each is, so that the one that is called is loaded and no other."""

from __future__ import annotations

import os

import click

from kb import __version__
from kb.cli.group import Commands

#: Each command on a line: its name, where it is, and the sentence that its help begins with.
COMMANDS = os.path.join(os.path.dirname(__file__), "commands.txt")

#: Under which heading help names which commands; every command, those of the pages too, stands in one of them.
HEADINGS = {
    "at the bench": ("search", "guide", "confirm", "undo", "retract"),
    "that look things up": ("show", "list", "jobs", "review", "help"),
    "for machines, parts and money": (
        "intake",
        "lot",
        "unit",
        "labels",
        "pile",
        "checkout",
        "parts",
        "cost",
    ),
    "for own sheets, words and settings": (
        "new",
        "check",
        "settings",
        "tools",
        "same",
        "new-library",
    ),
    "for old jobs and copies": ("import", "export", "backup", "restore", "verify"),
    "for many shops": ("office", "learn"),
    "for the pages": ("demo", "serve", "passphrase"),
}


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "-V", "--version", prog_name="benchlore")
@click.option("--shop", metavar="DIR", help="The shop's folder, for any command.")
@click.pass_context
def main(ctx: click.Context, shop: str | None) -> None:  # noqa: ARG001 - the commands read it from the context
    """Benchlore, the workshop's memory: type a symptom, get the likely causes and the next test."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":  # no-color.org
        ctx.color = False


with open(COMMANDS, encoding="utf-8") as lines:
    main.add_later(lines.read())
main.headings = HEADINGS

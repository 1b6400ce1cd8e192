"""Options that all commands share: the shop they work on, JSON instead of text; and how a command says something."""

from __future__ import annotations

import os
import re
import shlex
import sys
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, NoReturn

import click
from click.core import ParameterSource

from kb.base import folders
from kb.cli import json_contract
from kb.cli.text import counted

if TYPE_CHECKING:
    from pathlib import Path

    from kb.bench.front import Bench
    from kb.index.refresh import Due

_STEERING = re.compile(
    r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
)

#: Under what a command notes what it has done.
DONE = "benchlore.done"
#: Seconds of reading that a person is told of beforehand.
A_WHILE = 0.5
#: Under what it notes the folder of a shop that is not there yet.
NEW_SHOP = "benchlore.new-shop"
#: How the folder of a shop that nobody named is called.
SHOP = "benchlore"
#: The commands that also work where the library that the shop's settings name is not there.
WITHOUT_LIBRARY = frozenset(("backup", "restore", "settings", "verify"))


def done(what: str) -> None:
    """Note what the command has done and what stands, whatever becomes of its output; it is said if that is lost."""
    click.get_current_context().meta[DONE] = what


def say(text: str, err: bool = False) -> None:
    """Show a text, whoever wrote it: signs that would steer the terminal or turn a line are shown as numbers.

    On a terminal lines are broken between words, and what goes on stands under its beginning.
    """
    shown, stream = plain(text), sys.stderr if err else sys.stdout
    click.echo(_at_a_terminal(shown) if stream.isatty() else shown, err=err)


def _at_a_terminal(text: str) -> str:
    """The text as broad as the terminal, with what is to stand out in colour."""
    import shutil  # a pipe needs neither

    from kb.cli.colour import coloured

    columns = shutil.get_terminal_size().columns
    return "\n".join(coloured(line, fitted(line, columns)) for line in text.split("\n"))


def tell(content: Any, lines: Iterable[str], as_json: bool) -> None:
    """Print what was found: as one JSON document where that was asked for, else as these lines."""
    if as_json:
        click.echo(json_contract.to_json(content))
    else:
        say("\n".join(lines))


def end_with(what_was_hoped_for: object) -> NoReturn:
    """End a command: with status 0 if there is what was hoped for, with 1 if there is nothing or it is false."""
    raise SystemExit(0 if what_was_hoped_for else 1)


def typed_list(file: Path) -> tuple[str, str]:
    """The text of a list that was named on the line, and what to call it; `-` is standard input."""
    from kb.machines.typed_lists import decoded

    if str(file) == "-":
        return decoded(sys.stdin.buffer.read()), "standard input"
    return decoded(file.read_bytes()), file.name


def fitted(text: str, columns: int) -> str:
    r"""The text with no line wider than so many columns, if its words allow.

    >>> fitted("  24%  a worn pack\nnext", 12)
    '  24%  a\n    worn\n    pack\nnext'
    """
    import textwrap

    return "\n".join(
        textwrap.fill(
            line,
            columns,
            subsequent_indent=" " * (len(line) - len(line.lstrip()) + 2),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in text.split("\n")
    )


def plain(text: str) -> str:
    r"""The text with control signs, half characters and signs of direction spelt out; line ends stay.

    >>> plain("dark \x1b[2J\u202elight\nnext")
    'dark <1b>[2J<202e>light\nnext'
    """
    return _STEERING.sub(lambda sign: f"<{ord(sign[0]):02x}>", text)


def warn_of_what_is_left_out(bench: Bench) -> None:
    """Say on standard error which of the shop's own entries and words cannot be read; answers do without them."""
    for told in bench.health.left_out():
        say(f"Warning: {told}", err=True)


def shop_told(bench: Bench) -> str:
    """The option that names the bench's shop in a command to be typed, empty where the command finds it by itself."""
    found_anyway = os.environ.get("BENCHLORE_SHOP") or folders.usual(SHOP)
    return (
        ""
        if str(bench.folder) == str(found_anyway)
        else f" --shop {shlex.quote(str(bench.folder))}"
    )


def shop_folder(given: str | None) -> Path:
    """The folder that was named on the line or in the environment, or the usual one."""
    from pathlib import Path

    named = given or os.environ.get("BENCHLORE_SHOP")
    return Path(named) if named else folders.usual(SHOP)


def shop_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds --shop, which gives the command its bench."""
    return click.option(
        "--shop",
        "bench",
        envvar="BENCHLORE_SHOP",
        default=None,
        metavar="DIR",
        callback=_bench,
        help="The shop's folder; also BENCHLORE_SHOP. Made when it is missing.",
    )(command)


def _bench(
    ctx: click.Context, _: click.Parameter, value: str | None
) -> Bench | str | None:
    # a shell completes: what needs the shop opens it by itself
    if ctx.resilient_parsing:
        return value
    root = ctx.find_root()
    before = root.params.get("shop") if root is not ctx else None
    from_environment = ctx.get_parameter_source("bench") is ParameterSource.ENVIRONMENT
    given = (before or value) if from_environment else (value or before)
    folder = shop_folder(given)
    if folder.exists() and not folder.is_dir():
        raise click.BadParameter(f"{folder} is a file; give a folder")
    if given and not from_environment and not folder.exists():
        root.meta[NEW_SHOP] = folder
    bench = _opened(folder, str(ctx.command.name))
    if sys.stderr.isatty():
        bench.shop.files.tell_what_is_due(say_what_is_read)
    ctx.call_on_close(bench.close)
    root.obj = bench
    return bench


def _opened(folder: Path, command: str) -> Bench:
    """The bench of a shop, without its library for a command that can mend that it is not there."""
    from kb.bench.front import Bench  # the help of a command need not wait for it
    from kb.bench.settings import SettingsTrouble

    try:
        return Bench(folder)
    except SettingsTrouble:
        if command not in WITHOUT_LIBRARY:
            raise
    from kb.library.shelf import stock_folder

    return Bench(folder, stock_folder())


def say_what_is_read(due: Due) -> None:
    """Say to a person who waits for it what is being read, if that takes a while."""
    if due.seconds <= A_WHILE:
        return
    counts = ((due.sheets, "sheet"), (due.records, "record"))
    read = " and ".join(counted(number, what) for number, what in counts if number)
    first = " for the first time" if due.first else ""
    say(f"reading {read}{first} ...", err=True)


def clock_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds --clock-is-right, for commands whose records carry the day."""
    return click.option(
        "--clock-is-right",
        is_flag=True,
        help="Save though the clock looks wrong; it is right.",
    )(command)


def clock_agreed(bench: Bench, said: bool) -> bool:
    """Whether a person says that a clock that looks wrong is right, by the option or when asked at a terminal.

    False if nothing is wrong with it; raises ClickException if nobody says so.
    """
    doubt = bench.shop.clock_doubt()
    if said or not doubt:
        return said
    if sys.stdin.isatty():
        say(doubt[:1].upper() + doubt[1:] + ".", err=True)
        if click.confirm("Is the clock right, and shall it be saved with that date?"):
            return True
    raise click.ClickException(
        f"{doubt}; nothing was saved. If it is right, say so: --clock-is-right"
    )


def a_day(_: click.Context, __: click.Parameter, value: str) -> str:
    """The day that an option gives, as YYYY-MM-DD, or empty; raises BadParameter."""
    from datetime import date

    if not value:
        return ""
    try:
        return date.fromisoformat(value).isoformat()
    except ValueError as error:
        raise click.BadParameter("write the day as YYYY-MM-DD") from error


class Whole(click.IntRange):
    """A whole number in a range, which the help writes as people do."""

    def _describe_range(self) -> str:
        return _range_told(self.min, self.max)


class Figure(click.FloatRange):
    """A number in a range, with a decimal point or a decimal comma."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The number that is meant; fails for what is none, or out of range."""
        written: Any = value.replace(",", ".") if isinstance(value, str) else value
        return float(super().convert(written, param, ctx))

    def _describe_range(self) -> str:
        return _range_told(self.min, self.max)


class Cents(Whole):
    """A sum in cents; what is written with a decimal mark is read as a sum, such as 150.00."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> int:
        """The cents that are meant; fails for what is no sum."""
        if isinstance(value, str) and ("." in value or "," in value):
            # the help of a command need not wait for it
            from kb.machines.cost.money import cents_of

            value = cents_of(value)
        return int(super().convert(value, param, ctx))


def _range_told(least: float | None, most: float | None) -> str:
    return f"{least} to {most}" if most is not None else f"{least} or more"


json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON document."
)

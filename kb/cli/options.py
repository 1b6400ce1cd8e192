"""Options that all commands share: the shop they work on, JSON instead of text, troubles said in one sentence."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import IO, Any

import click
from click.core import ParameterSource

from kb.base.streams import OutputLost, guard
from kb.base.trouble import NotThere, Trouble, where
from kb.bench.front import Bench
from kb.cli import json_contract, usage

#: The exit status of a fault of the program itself (EX_SOFTWARE of sysexits.h, 4.3BSD; from memory).
FAULT = 70

#: Half characters that no byte of a command line is read as (those of `surrogateescape` are left alone).
_HALVES = re.compile("[\ud800-\udc7f\udd00-\udfff]")
_STEERING = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


#: Under what a command notes what it has done.
_DONE = "benchlore.done"
#: Under what it is noted that JSON was asked for.
_AS_JSON = "benchlore.json"
#: Under what it notes the folder of a shop that is not there yet.
_NEW_SHOP = "benchlore.new-shop"


class OutputTrouble(click.ClickException):
    """A command's output could not be written; what it has done stands, and its exit status is one of its own."""

    exit_code = 3

    def __init__(self, lost: OutputLost, done: str = "") -> None:
        if done:
            super().__init__(f"{done}: that stands; only its output could not be written ({lost})")
        else:
            super().__init__("" if lost.left else f"the output could not be written ({lost})")

    def show(self, file: IO[Any] | None = None) -> None:  # noqa: ARG002 - it has one place to go
        """Say it on standard error; nothing to a reader who went away."""
        if self.message:
            say(self.message, err=True)


class Commands(click.Group):
    """A group whose expected troubles end in one sentence on standard error and exit status 1.

    Output that cannot be written ends likewise, with exit status 3.
    """

    def main(self, *args: Any, **more: Any) -> Any:
        """Run the program over streams that tell when they are lost."""
        guard()
        try:
            return super().main(*args, **more)
        except OutputLost as lost:  # what click itself writes, such as the help
            trouble = OutputTrouble(lost)
            trouble.show()
            sys.exit(trouble.exit_code)

    def make_context(self, info_name: str | None, args: list[str], *more: Any, **named: Any) -> click.Context:
        """Read the options before the command; a wrong one is told in a sentence."""
        as_json = "--json" in args
        try:
            made = super().make_context(info_name, [_HALVES.sub("\ufffd", arg) for arg in args], *more, **named)
            made.meta[_AS_JSON] = as_json
            return made
        except click.UsageError as error:
            raise usage.plainly(error) from error

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        """Find the command of that name; raises UsageError with the nearest one."""
        if args and not args[0].startswith("-") and self.get_command(ctx, args[0]) is None:
            raise usage.no_command(args[0], self.list_commands(ctx), ctx.command_path)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands, each with its whole sentence."""
        helps = [(name, self.commands[name].get_short_help_str(1000)) for name in self.list_commands(ctx)]
        with formatter.section("Commands"):
            formatter.write_dl(helps)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a trouble is told as JSON too where JSON was asked."""
        try:
            return self._invoked(ctx)
        except OutputTrouble:
            raise
        except click.ClickException as error:
            if ctx.meta.get(_AS_JSON):
                click.echo(json_contract.to_json(json_contract.of_error(error.format_message(), error.exit_code)))
            raise

    def _invoked(self, ctx: click.Context) -> Any:
        """Run the command; what a person can mend is said without a traceback."""
        try:
            try:
                given = super().invoke(ctx)
            except SystemExit:
                _warn(ctx)
                raise
            _warn(ctx)
            return given
        except OutputLost as lost:
            raise OutputTrouble(lost, ctx.meta.get(_DONE, "")) from lost
        except click.UsageError as error:
            raise usage.plainly(error) from error
        except click.FileError as error:
            told = f"{error.ui_filename} cannot be opened ({error.message}); give a file in a folder that is there"
            raise click.ClickException(told) from error
        except NotThere as error:
            raise click.UsageError(str(error)) from error
        except Trouble as error:
            raise click.ClickException(str(error)) from error
        except OSError as error:
            raise click.ClickException(_of_the_disk(error)) from error
        except (click.exceptions.Exit, click.ClickException, click.Abort):
            raise
        except Exception as error:
            raise ProgramFault(error) from error


class ProgramFault(click.ClickException):
    """A fault of the program itself, told with its place and never as the user's."""

    exit_code = FAULT

    def __init__(self, error: Exception) -> None:
        super().__init__(
            f"this is a fault of the program, not of what you typed; what was saved before stays saved. "
            f"Please send this line to whoever keeps the program: {where(error)}"
        )


def _of_the_disk(error: OSError) -> str:
    """What the disk or the network did not do, with the file and what to do."""
    if error.strerror is None:
        return str(error)
    place = f"{error.filename}: " if error.filename else ""
    return f"{place}{error.strerror}; mend the disk, its space or its permissions and try again"


def done(what: str) -> None:
    """Note what the command has done and what stands, whatever becomes of its output; it is said if that is lost."""
    click.get_current_context().meta[_DONE] = what


def say(text: str, err: bool = False) -> None:
    """Show a text, whoever wrote it: signs that would steer the terminal or turn a line are shown as numbers.

    On a terminal lines are broken between words, and what goes on stands under its beginning.
    """
    shown, stream = plain(text), sys.stderr if err else sys.stdout
    click.echo(fitted(shown, shutil.get_terminal_size().columns) if stream.isatty() else shown, err=err)


def tell(content: Any, lines: Iterable[str], as_json: bool) -> None:
    """Print what was found: as one JSON document where that was asked for, else as these lines."""
    if as_json:
        click.echo(json_contract.to_json(content))
    else:
        say("\n".join(lines))


def fitted(text: str, columns: int) -> str:
    r"""The text with no line wider than so many columns, if its words allow.

    >>> fitted("  24%  a worn pack\nnext", 12)
    '  24%  a\n    worn\n    pack\nnext'
    """
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


def _warn(ctx: click.Context) -> None:
    """Say on standard error that a command which worked made a new shop, or did without history or settings."""
    made = ctx.meta.get(_NEW_SHOP)
    if made is not None and made.exists() and ctx.invoked_subcommand != "restore":
        say(f"new shop made at {made}; if another one is meant, check --shop", err=True)
    if isinstance(ctx.obj, Bench):
        for told in filter(None, (ctx.obj.health.trouble(), ctx.obj.shop.settings.problem)):
            say(f"Warning: {told}", err=True)


def shop_told(bench: Bench) -> str:
    """The option that names the bench's shop in a command to be typed, empty where the command finds it by itself."""
    found_anyway = os.environ.get("BENCHLORE_SHOP") or _default_shop()
    return "" if bench.folder == Path(found_anyway) else f" --shop {shlex.quote(str(bench.folder))}"


def shop_folder(given: str | None) -> Path:
    """The folder that was named on the line or in the environment, or the usual one."""
    named = given or os.environ.get("BENCHLORE_SHOP")
    return Path(named) if named else _default_shop()


def _default_shop() -> Path:
    home = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(home) / "benchlore"


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


def _bench(ctx: click.Context, _: click.Parameter, value: str | None) -> Bench:
    before = ctx.find_root().params.get("shop") if ctx.find_root() is not ctx else None
    from_environment = ctx.get_parameter_source("bench") is ParameterSource.ENVIRONMENT
    given = (before or value) if from_environment else (value or before)
    folder = shop_folder(given)
    if folder.exists() and not folder.is_dir():
        raise click.BadParameter(f"{folder} is a file; give a folder")
    if given and not from_environment and not folder.exists():
        ctx.find_root().meta[_NEW_SHOP] = folder
    bench = Bench(folder)
    ctx.call_on_close(bench.close)
    ctx.find_root().obj = bench
    return bench


def clock_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds --clock-is-right, for commands whose records carry the day."""
    return click.option("--clock-is-right", is_flag=True, help="Save though the clock looks wrong; it is right.")(
        command
    )


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
    raise click.ClickException(f"{doubt}; nothing was saved. If it is right, say so: --clock-is-right")


def a_day(_: click.Context, __: click.Parameter, value: str) -> str:
    """The day that an option gives, as YYYY-MM-DD, or empty; raises BadParameter."""
    from datetime import date

    if not value:
        return ""
    try:
        return date.fromisoformat(value).isoformat()
    except ValueError as error:
        raise click.BadParameter("write the day as YYYY-MM-DD") from error


json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")

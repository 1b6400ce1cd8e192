"""The group of all commands: each is loaded when it is called; troubles are said in one sentence."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from importlib import import_module
from types import MappingProxyType
from typing import IO, TYPE_CHECKING, Any

import click

from kb.base.streams import OutputLost, guard
from kb.base.trouble import NotThere, Trouble, where
from kb.cli import json_contract, usage
from kb.cli.options import DONE, NEW_SHOP, say

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

#: The exit status of a fault of the program itself (EX_SOFTWARE of sysexits.h, 4.3BSD; from memory).
FAULT = 70

#: Under what it is noted that JSON was asked for.
AS_JSON = "benchlore.json"

#: Half characters that no byte of a command line is read as (those of `surrogateescape` are left alone).
_HALVES = re.compile("[\ud800-\udc7f\udd00-\udfff]")


class OutputTrouble(click.ClickException):
    """A command's output could not be written; what it has done stands, and its exit status is one of its own."""

    exit_code = 3

    def __init__(self, lost: OutputLost, done: str = "") -> None:
        if done:
            super().__init__(
                f"{done}: that stands; only its output could not be written ({lost})"
            )
        else:
            super().__init__(
                "" if lost.left else f"the output could not be written ({lost})"
            )

    def show(self, file: IO[Any] | None = None) -> None:  # noqa: ARG002 - it has one place to go
        """Say it on standard error; nothing to a reader who went away."""
        if self.message:
            say(self.message, err=True)


class Later(click.Command):
    """A command known by its name and sentence alone, so that help and completion need not load all of them."""

    def __init__(self, name: str, place: str, sentence: str) -> None:
        super().__init__(name, help=sentence)
        self._place = place

    def load(self) -> click.Command:
        """The command itself, from its place, written `module:function`."""
        module, _, function = self._place.partition(":")
        found: click.Command = getattr(import_module(module), function)
        return found


class Commands(click.Group):
    """A group whose expected troubles end in one sentence on standard error and exit status 1.

    Output that cannot be written ends likewise, with exit status 3.
    """

    #: Under which heading help names which commands.
    headings: Mapping[str, Sequence[str]] = MappingProxyType({})

    def add_later(self, lines: str) -> None:
        """Add commands, one a line: its name, where it is as `module:function`, the sentence its help begins with."""
        for line in lines.splitlines():
            self.add_command(Later(*line.split(" | ", 2)))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, loaded."""
        found = super().get_command(ctx, cmd_name)
        if isinstance(found, Later):
            found = self.commands[cmd_name] = found.load()
        return found

    def loaded(self) -> Mapping[str, click.Command]:
        """All commands by their names, each loaded."""
        ctx = click.Context(self)
        found = {name: self.get_command(ctx, name) for name in self.commands}
        return {name: command for name, command in found.items() if command}

    def shell_complete(
        self, ctx: click.Context, incomplete: str
    ) -> list[CompletionItem]:
        """The commands and options that begin so; none is loaded for it."""
        from click.shell_completion import CompletionItem

        begun = [
            self.commands[name]
            for name in self.list_commands(ctx)
            if name.startswith(incomplete)
        ]
        named = [
            CompletionItem(command.name, help=command.get_short_help_str())
            for command in begun
        ]
        return named + click.Command.shell_complete(self, ctx, incomplete)

    def main(self, *args: Any, **more: Any) -> Any:
        """Run the program over streams that tell when they are lost."""
        guard()
        try:
            return super().main(*args, **more)
        except OutputLost as lost:  # what click itself writes, such as the help
            trouble = OutputTrouble(lost)
            trouble.show()
            sys.exit(trouble.exit_code)

    def make_context(
        self, info_name: str | None, args: list[str], *more: Any, **named: Any
    ) -> click.Context:
        """Read the options before the command; a wrong one is told in a sentence."""
        as_json = "--json" in args
        try:
            made = super().make_context(
                info_name, [_HALVES.sub("\ufffd", arg) for arg in args], *more, **named
            )
            made.meta[AS_JSON] = as_json
            return made
        except click.UsageError as error:
            raise usage.plainly(error) from error

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        """Find the command of that name; raises UsageError with the nearest one."""
        if (
            args
            and not args[0].startswith("-")
            and self.get_command(ctx, args[0]) is None
        ):
            raise usage.no_command(args[0], self.list_commands(ctx), ctx.command_path)
        return super().resolve_command(ctx, args)

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """List the commands by what they are for, each with its whole sentence."""
        width = max(len(name) for name in self.list_commands(ctx))
        for heading, names in self.headings.items():
            helps = [
                (name.ljust(width), self.commands[name].get_short_help_str(1000))
                for name in names
            ]
            with formatter.section(f"Commands {heading}"):
                formatter.write_dl(helps)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a trouble is told as JSON too where JSON was asked."""
        try:
            return self._invoked(ctx)
        except OutputTrouble:
            raise
        except click.ClickException as error:
            if ctx.meta.get(AS_JSON):
                click.echo(
                    json_contract.to_json(
                        json_contract.of_error(error.format_message(), error.exit_code)
                    )
                )
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
            raise OutputTrouble(lost, ctx.meta.get(DONE, "")) from lost
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


def _warn(ctx: click.Context) -> None:
    """Say on standard error that a command which worked made a new shop, or did without history or settings."""
    made = ctx.meta.get(NEW_SHOP)
    if made is not None and made.exists() and ctx.invoked_subcommand != "restore":
        say(f"new shop made at {made}; if another one is meant, check --shop", err=True)
    if ctx.obj is not None:
        for told in filter(
            None, (ctx.obj.health.trouble(), ctx.obj.shop.settings.problem)
        ):
            say(f"Warning: {told}", err=True)

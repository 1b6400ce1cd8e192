"""What all commands share: the shop they work on, JSON instead of text, troubles said in one sentence."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from kb.bench import Bench
from kb.door import DoorTrouble
from kb.history.trouble import HistoryTrouble, Refusal

_STEERING = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


class Commands(click.Group):
    """A group whose expected troubles end in one sentence on standard error and exit status 1."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what a person can mend is said without a traceback."""
        try:
            try:
                given = super().invoke(ctx)
            except SystemExit:
                _warn(ctx)
                raise
            _warn(ctx)
            return given
        except (HistoryTrouble, Refusal, DoorTrouble) as error:
            raise click.ClickException(str(error)) from error
        except LookupError as error:
            raise click.UsageError(str(error.args[0] if error.args else error)) from error
        except (ValueError, FileNotFoundError, PermissionError) as error:
            raise click.ClickException(str(error)) from error


def say(text: str, err: bool = False) -> None:
    """Show a text, whoever wrote it: signs that would steer the terminal or turn a line are shown as numbers."""
    click.echo(plain(text), err=err)


def plain(text: str) -> str:
    r"""The text with control signs, half characters and signs of direction spelt out; line ends stay.

    >>> plain("dark \x1b[2J\u202elight\nnext")
    'dark <1b>[2J<202e>light\nnext'
    """
    return _STEERING.sub(lambda sign: f"<{ord(sign[0]):02x}>", text)


def _warn(ctx: click.Context) -> None:
    """Say on standard error that a command which worked did so without a usable history, or without settings."""
    if isinstance(ctx.obj, Bench):
        for told in filter(None, (ctx.obj.trouble(), ctx.obj.settings().problem)):
            say(f"Warning: {told}", err=True)


def _default_shop() -> Path:
    home = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(home) / "benchlore"


def shop_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds --shop, which gives the command its bench."""
    return click.option(
        "--shop", "bench", envvar="BENCHLORE_SHOP", default=None, metavar="DIR", callback=_bench,
        help="The shop's folder; also BENCHLORE_SHOP. Made when it is missing.",
    )(command)  # fmt: skip


def _bench(ctx: click.Context, _: click.Parameter, value: str | None) -> Bench:
    given = value or (ctx.find_root().params.get("shop") if ctx.find_root() is not ctx else None)
    folder = Path(given) if given else _default_shop()
    if folder.exists() and not folder.is_dir():
        raise click.BadParameter(f"{folder} is a file; give a folder")
    bench = Bench(folder)
    ctx.call_on_close(bench.close)
    ctx.find_root().obj = bench
    return bench


json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")

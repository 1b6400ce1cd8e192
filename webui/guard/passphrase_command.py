"""The command that sets the shop's passphrases and ends sessions."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from kb.cli.options import done, say, shop_option

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from webui.guard.door import Door, Right


@click.command()
@click.option("--reading", is_flag=True, help="The passphrase of screens that may only read.")
@click.option("--remove", is_flag=True, help="With --reading: take that passphrase away.")
@click.option("--end-sessions", is_flag=True, help="Sign everybody out; the passphrases stay.")
@shop_option
def passphrase(bench: Bench, reading: bool, remove: bool, end_sessions: bool) -> None:
    """Set the passphrase that visitors from the shop's network show; changing it signs everybody out.

    Who records a job is kept by initials, not by accounts.

    Example: benchlore passphrase --reading
    """
    from webui.guard.door import Door, Right

    door = Door(bench.folder, bench.shop.clock)
    if (remove and not reading) or (end_sessions and (reading or remove)):
        raise click.UsageError("give --reading --remove together, and --end-sessions alone")
    if end_sessions:
        _say_done(_ended(door.end_sessions()))
    elif remove:
        _say_done(f"reading needs the shop's passphrase again; {_ended(door.remove_reading())}")
    else:
        _set(door, Right.READ if reading else Right.WRITE)


def _say_done(what: str) -> None:
    done(what)
    say(what)


def _set(door: Door, right: Right) -> None:
    """Ask twice and keep it; raises UsageError for a reading passphrase without one for writing."""
    reads = right.name == "READ"
    if reads and not door.is_set():
        raise click.UsageError("set the passphrase for writing first: benchlore passphrase")
    what = "Passphrase for reading" if reads else "Passphrase"
    try:
        given = click.prompt(what, hide_input=sys.stdin.isatty(), confirmation_prompt="Once more", err=True)
    except click.Abort as abort:
        raise click.ClickException("no passphrase was typed, none was changed; type it twice, alike") from abort
    ended = door.set_passphrase(right, str(given))
    done(f"the passphrase is kept in {door.path}")
    say(f"kept in {door.path}, readable by its owner alone; {_ended(ended)}")


def _ended(sessions: int) -> str:
    return f"{sessions} session{'' if sessions == 1 else 's'} ended"

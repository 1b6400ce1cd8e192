"""The command that sets the shop's passphrases and ends sessions."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from kb.cli.options import done, json_option, shop_option, tell

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from webui.guard.door import Door


@click.command()
@click.option(
    "--reading", is_flag=True, help="The passphrase of screens that may only read."
)
@click.option(
    "--remove", is_flag=True, help="With --reading: take that passphrase away."
)
@click.option(
    "--end-sessions", is_flag=True, help="Sign everybody out; the passphrases stay."
)
@json_option
@shop_option
def passphrase(
    bench: Bench, *, reading: bool, remove: bool, end_sessions: bool, as_json: bool
) -> None:
    """Set the passphrase that visitors from the shop's network show; changing it signs everybody out.

    Who records a job is kept by initials, not by accounts.

    Example: benchlore passphrase --reading
    """
    from webui.guard.door import Door

    door = Door(bench.folder, bench.shop.clock)
    goes_alone = end_sessions and (reading or remove)
    if goes_alone or (remove and not reading):
        raise click.UsageError(
            "give --reading --remove together, and --end-sessions alone"
        )
    if end_sessions:
        ended = door.end_sessions()
        told = _ended(ended)
    elif remove:
        ended = door.remove_reading()
        told = f"reading needs the shop's passphrase again; {_ended(ended)}"
    else:
        ended = _set(door, reading)
        told = f"kept in {door.path}, readable by its owner alone; {_ended(ended)}"
    done(told)
    tell({"file": str(door.path), "sessions_ended": ended}, [told], as_json)


def _set(door: Door, reading: bool) -> int:
    """Ask twice and keep it; gives how many sessions ended.

    Raises UsageError for a reading passphrase without one for writing.
    """
    from webui.guard.door import Right

    if reading and not door.is_set():
        raise click.UsageError(
            "set the passphrase for writing first: benchlore passphrase"
        )
    what = "Passphrase for reading" if reading else "Passphrase"
    try:
        given = click.prompt(
            what,
            hide_input=sys.stdin.isatty(),
            confirmation_prompt="Once more",
            err=True,
        )
    except click.Abort as abort:
        raise click.ClickException(
            "no passphrase was typed, none was changed; type it twice, alike"
        ) from abort
    return door.set_passphrase(Right.READ if reading else Right.WRITE, str(given))


def _ended(sessions: int) -> str:
    return f"{sessions} session{'' if sessions == 1 else 's'} ended"

"""The command for the settings of a shop: where machines come from, how fast old jobs fade, what an hour costs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.bench.settings import SOURCES, days_of
from kb.cli import json_contract, text
from kb.cli.options import done, end_with, json_option, shop_option, tell
from kb.machines.cost.money import cents_of

if TYPE_CHECKING:
    from kb.bench.front import Bench


@click.command()
@click.option(
    "--zone", metavar="ZONE", help="Whose midnight begins a day: Europe/Oslo, or off."
)
@click.option(
    "--half-life",
    metavar="TIME",
    help="How old a job is when it counts half: 2y, 18m, 6w, 90d or off.",
)
@click.option(
    "--hour",
    default="",
    metavar="SUM",
    help="What an hour of work costs, such as 36.00.",
)
@click.option(
    "--currency",
    default="",
    metavar="CODE",
    help="The currency of all sums, such as EUR.",
)
@click.option(
    "--machines-from",
    type=click.Choice(SOURCES),
    help="Where the shop's machines come from.",
)
@click.option(
    "--elsewhere",
    type=click.Choice(("on", "off")),
    help="Whether other shops are believed.",
)
@click.option(
    "--library",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="The library of the shop's trade, from the next start on.",
)
@json_option
@shop_option
def settings(
    bench: Bench,
    *,
    zone: str | None,
    half_life: str | None,
    machines_from: str | None,
    hour: str,
    currency: str,
    library: Path | None,
    elsewhere: str | None,
    as_json: bool,
) -> None:
    """Show what the shop sets for itself and what it means, or set it.

    Old jobs may fade from the beliefs; counts that are shown stay whole jobs. On machines from a pallet some causes
    are likelier and others less likely than on those brought over the counter.

    Example: benchlore settings --machines-from pallet
    """
    file = bench.shop.kept_settings
    setters: dict[str, tuple[Callable[[Any], None], str | Path | None]] = {
        "zone": (file.set_zone, _unless_off(zone)),
        "machines_from": (file.set_source, machines_from),
        "elsewhere": (lambda switch: file.set_elsewhere(switch == "on"), elsewhere),
        "library": (file.set_library, library),
        "half_life_days": (lambda age: file.set_half_life(days_of(age)), half_life),
    }
    for key, (write, given) in setters.items():
        if given is not None:
            write(given)
            done(f"{key} is set in {file.path}")
    if hour or currency:
        code = currency.strip().upper()
        hourly = cents_of(hour, code or bench.shop.settings.currency) if hour else None
        file.set_money(hourly, code)
        done(f"money is set in {file.path}")
    kept, shown = bench.shop.settings, str(bench.shop.settings.zone or "")
    content = json_contract.of_settings(kept, shown, file.path)
    tell(content, text.settings_lines(kept, shown), as_json)
    end_with(not kept.problem)


def _unless_off(zone: str | None) -> str | None:
    """The zone as the file holds it, empty for `off`; None where none is given."""
    return "" if zone and zone.strip().casefold() == "off" else zone

"""The command for the settings of a shop: where machines come from, how fast old jobs fade, what an hour costs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

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
    if zone is not None:
        bench.shop.kept_settings.set_zone(
            "" if zone.strip().casefold() == "off" else zone
        )
        done(f"zone is set in {bench.shop.kept_settings.path}")
    if machines_from is not None:
        bench.shop.kept_settings.set_source(machines_from)
        done(f"machines_from is set in {bench.shop.kept_settings.path}")
    if elsewhere is not None:
        bench.shop.kept_settings.set_elsewhere(elsewhere == "on")
        done(f"elsewhere is set in {bench.shop.kept_settings.path}")
    if library is not None:
        bench.shop.kept_settings.set_library(library)
        done(f"library is set in {bench.shop.kept_settings.path}")
    if half_life is not None:
        bench.shop.kept_settings.set_half_life(days_of(half_life))
        done(f"half_life_days is set in {bench.shop.kept_settings.path}")
    if hour or currency:
        code = currency.strip().upper()
        hourly = cents_of(hour, code or bench.shop.settings.currency) if hour else None
        bench.shop.kept_settings.set_money(hourly, code)
        done(f"money is set in {bench.shop.kept_settings.path}")
    kept, shown = bench.shop.settings, str(bench.shop.settings.zone or "")
    tell(
        json_contract.of_settings(kept, shown, bench.shop.kept_settings.path),
        text.settings_lines(kept, shown),
        as_json,
    )
    end_with(not kept.problem)

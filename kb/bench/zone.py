"""The shop's time zone: whose midnight a day begins at. Times are kept in UTC and only shown in it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

#: The setting in the environment; it wins over `zone` in the shop's `shop.toml`.
VARIABLE = "BENCHLORE_ZONE"


@dataclass(frozen=True, slots=True)
class ShopZone:
    """The zone, None for that of the computer, and in words what is wrong with the one asked for."""

    zone: tzinfo | None = None
    problem: str = ""


def shop_zone(shop: Path, environment: Mapping[str, str]) -> ShopZone:
    """The zone of a shop by its IANA name, such as Europe/Oslo; the computer's where no known one is named."""
    name, where = environment.get(VARIABLE, "").strip(), VARIABLE
    if not name:
        where = str(shop / "shop.toml")
        try:
            name = _named(shop / "shop.toml")
        except (OSError, ValueError, RecursionError) as error:
            return ShopZone(problem=f"{where} cannot be read ({error}); times are in this computer's zone")
    if not name:
        return ShopZone()
    try:
        return ShopZone(ZoneInfo(name))
    except (OSError, ValueError, LookupError):
        return ShopZone(
            problem=f"`{name[:60]}` in {where} names no time zone; write one such as Europe/Oslo "
            "(times are in this computer's zone)"
        )


def _named(path: Path) -> str:
    """The zone that the file names, empty if there is no file or no `zone` in it."""
    if not path.exists():
        return ""
    return str(tomllib.loads(path.read_text("utf-8")).get("zone", "")).strip()

"""Where a program keeps what is its user's: the folder that each system has for that."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from kb.base.trouble import Refusal

if TYPE_CHECKING:
    from pathlib import Path


def usual(name: str) -> Path:
    """The folder of that name among what programs keep for their user, by the custom of this system.

    On Windows and macOS that was once the folder of Linux; where it is, it stays in use. Looking there first also
    spares loading the kept library, which names the same one on Linux. Refusal where the system knows no home.
    """
    from pathlib import Path

    try:
        home = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
        there = Path(home) / name
        if there.exists():
            return there
        from platformdirs import user_data_path

        return user_data_path(name, appauthor=False)
    except RuntimeError as error:
        raise Refusal(
            "this computer knows no home folder of yours; name the folder of the shop with --shop DIR or BENCHLORE_SHOP"
        ) from error

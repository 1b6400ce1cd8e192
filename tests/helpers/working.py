"""Days of a shop, and work on machines told in few words."""

from __future__ import annotations

from kb.bench.front import Bench
from kb.bench.settings import SettingsFile
from kb.index.jobs import Works

PLUG, PACK, BOARD = "no-battery/plug", "no-battery/pack", "no-battery/light-board"


def in_zone(bench: Bench, zone: str) -> None:
    """The shop's days begin at the midnight of that time zone."""
    bench.folder.mkdir(parents=True, exist_ok=True)
    SettingsFile(bench.folder).path.write_text(f'zone = "{zone}"\n', encoding="utf-8")


def works(*told: tuple[str, float | None, str]) -> Works:
    """Jobs on machines by tag, each with its minutes and the part it took; an empty tag is a machine of its own."""
    return Works(
        models=["Tern 13"] * len(told),
        machines=[tag or f"j{number}" for number, (tag, _, _) in enumerate(told)],
        causes=[PLUG] * len(told),
        minutes=[minutes for _, minutes, _ in told],
        parts=[part for _, _, part in told],
        donors=[""] * len(told),
        closed_at=[f"2026-01-{number + 1:02}T09:00:00Z" for number in range(len(told))],
    )

"""An invented shop for the demo: its hidden habits, its complaints and its closed jobs."""

from __future__ import annotations

from pathlib import Path

#: The file in a shop's folder that says that nothing in it happened.
MARK = "INVENTED.txt"


def mark_invented(folder: Path) -> None:
    """Say in the folder of a shop that all its jobs and machines are invented."""
    (folder / MARK).write_text(
        "Every job and machine in this shop is invented, by `benchlore demo`.\n"
    )


def is_invented(folder: Path) -> bool:
    """Whether the jobs and machines of a shop are invented."""
    return (folder / MARK).exists()

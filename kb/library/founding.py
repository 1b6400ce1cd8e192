"""The founding of a library: a folder with one sheet and every house file, commented, that passes `check` as it is."""

from __future__ import annotations

from pathlib import Path

from kb.base import durable
from kb.base.trouble import Refusal

#: The files that a new library begins with.
SKELETON = Path(__file__).with_name("skeleton")


def found_library(folder: Path) -> tuple[Path, ...]:
    """Make a library in a folder and give its files; Refusal for one that holds anything already, or cannot be made."""
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise Refusal(
                f"{folder} holds something already; name a folder that is new or empty"
            )
        return tuple(
            _copied(file, folder / file.relative_to(SKELETON))
            for file in sorted(SKELETON.rglob("*.*"))
        )
    except OSError as error:
        raise Refusal(
            f"{folder} could not be made ({error.strerror or error}); name another folder"
        ) from error


def _copied(file: Path, target: Path) -> Path:
    durable.make_folder(target.parent)
    durable.write_whole(target, file.read_bytes())
    return target

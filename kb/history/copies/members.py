"""The members of a backup: which files of a shop belong into one beside the history, and what is left out and why."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from kb.base import tomltext

#: No entry or word list is larger, in bytes; the history may be.
MEMBER_LIMIT = 256 << 20

#: What the settings name the library of another trade by, and the folder in which a backup holds it.
LIBRARY = "library"
ENTRIES = "entries"
_SETTINGS, _TRADE = "shop.toml", Path("house", "trade.toml")

#: So many files that were left out are named.
MOST_NAMED = 10

#: Signs that turn the reading direction or break a line (UAX #9, UAX #14): a name that holds one is not what it seems.
_TURNING = "\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069"
_NAME = re.compile(
    r"history\.db|elsewhere\.json|[A-Za-z0-9_-]+\.toml|"
    r"(library|entries(/\.kept)?)(/(?!\.)[^/\\:\x00-\x1f\x7f\ud800-\udfff"
    + _TURNING
    + r"]{1,200}){1,5}"
)
_NOT_PLAIN = "it is no plain file"
_TOO_LARGE = f"it is larger than {MEMBER_LIMIT >> 20} MiB"
#: Opens neither a link nor a pipe that would keep its reader waiting.
_PLAINLY = (
    os.O_RDONLY
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_BINARY", 0)
)
_BLOCK = 1 << 20


class Unpackable(Exception):
    """A file of the shop's own that cannot be read into a backup; the message says why."""


@dataclass(slots=True)
class OwnFiles:
    """The shop's own files by name, with slashes: those to pack, and those that cannot be, with the reason."""

    packed: list[tuple[str, Path]] = field(default_factory=list)
    left_out: list[tuple[str, str]] = field(default_factory=list)


def is_member(name: str) -> bool:
    """Whether a file of this name, with slashes, belongs into a backup; no name leads out of the folder.

    >>> is_member("entries/no-light.md"), is_member("entries/../history.db"), is_member("/words.toml")
    (True, False, False)
    >>> is_member("elsewhere.json"), is_member("other.json")
    (True, False)
    >>> is_member("entries/.kept/no-light-2026-03-01.md"), is_member("entries/.git/config")
    (True, False)
    >>> is_member("entries/\u202egpj.md"), is_member("library/house/trade.toml"), is_member("library/.kept/lamp.md")
    (False, True, False)
    """
    return _NAME.fullmatch(name) is not None


def own_files(shop_dir: Path) -> OwnFiles:
    """The entries, lists, settings and what was learned of a shop, by name; what is hidden is passed over silently.

    A library that its settings name is among them, wherever it lies.
    """
    found = OwnFiles()
    entries, library = (
        _below(shop_dir / ENTRIES, ENTRIES, found),
        _library(shop_dir, found),
    )
    for name, path in (
        sorted(_lists(shop_dir, found)) + sorted(entries) + sorted(library)
    ):
        if why := _unfit(name, path):
            found.left_out.append((name, why))
        else:
            found.packed.append((name, path))
    return found


def content(path: Path) -> Iterator[bytes]:
    """What a plain file holds, piece by piece; raises Unpackable, also if it has become too large meanwhile."""
    left = MEMBER_LIMIT
    try:
        with os.fdopen(os.open(path, _PLAINLY), "rb") as source:
            if not stat.S_ISREG(os.fstat(source.fileno()).st_mode):
                raise Unpackable(_NOT_PLAIN)
            while block := source.read(_BLOCK):
                left -= len(block)
                if left < 0:
                    raise Unpackable(_TOO_LARGE)
                yield block
    except OSError as error:
        raise Unpackable(_why(error)) from error


def in_words(left_out: Sequence[tuple[str, str]]) -> str:
    r"""What was left out, each with its reason, on one line whatever their names hold; the first `MOST_NAMED` of many.

    >>> in_words([("entries/a\nb.md", "it is no plain file")])
    'entries/a b.md (it is no plain file)'
    """
    named = [f"{' '.join(name.split())} ({why})" for name, why in left_out[:MOST_NAMED]]
    more = len(left_out) - len(named)
    return "; ".join(named) + (f"; and {more} more" if more else "")


def _lists(shop_dir: Path, found: OwnFiles) -> Iterator[tuple[str, Path]]:
    """The lists and settings in the shop's folder itself, where files of other kinds stand too."""
    try:
        names = os.listdir(shop_dir)
    except FileNotFoundError:
        return
    except OSError as error:
        found.left_out.append(("*.toml", _why(error)))
        return
    yield from (
        (name, shop_dir / name)
        for name in names
        if name.endswith((".toml", ".json")) and is_member(name)
    )


def _library(shop_dir: Path, found: OwnFiles) -> Iterator[tuple[str, Path]]:
    """Everything in the library that the shop's settings name; one that is not there is noted as left out."""
    named = tomltext.value_in(shop_dir / _SETTINGS, LIBRARY)
    if not named:
        return
    folder = shop_dir / os.path.expanduser(str(named))
    if (folder / _TRADE).is_file():
        yield from _below(folder, LIBRARY, found)
    else:
        found.left_out.append((LIBRARY, f"{folder} holds no library"))


def _below(top: Path, called: str, found: OwnFiles) -> Iterator[tuple[str, Path]]:
    """Everything in a folder that is not hidden, under the name that backups have for the folder.

    A folder that cannot be read is noted as left out.
    """

    def name(path: Path) -> str:
        return Path(called, path.relative_to(top)).as_posix()

    def is_kept(path: Path) -> bool:
        return path == top / ".kept" and called == ENTRIES

    def unread(error: OSError) -> None:
        if not isinstance(error, FileNotFoundError):
            found.left_out.append((name(Path(error.filename)), _why(error)))

    for folder, below, names in os.walk(top, onerror=unread):
        place = Path(folder)
        linked = [one for one in below if (place / one).is_symlink()]
        below[:] = [
            one for one in below if not one.startswith(".") or is_kept(place / one)
        ]
        for one in (*names, *linked):
            if not one.startswith("."):
                yield name(place / one), place / one


def _unfit(name: str, path: Path) -> str:
    """Why a file cannot be packed, empty if it can."""
    if not is_member(name):
        return "its name is too long, lies too deep or holds signs that other systems do not take"
    try:
        kind = os.lstat(path)
    except OSError as error:
        return _why(error)
    if stat.S_ISLNK(kind.st_mode):
        return "it is a link, and links are not followed"
    if not stat.S_ISREG(kind.st_mode):
        return _NOT_PLAIN
    return _TOO_LARGE if kind.st_size > MEMBER_LIMIT else ""


def _why(error: OSError) -> str:
    return f"it cannot be read: {error.strerror or error}"

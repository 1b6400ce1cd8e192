"""Whether the pictures of jobs and machines are kept (pictures kept): each there as it was taken in, and no other."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from kb.bench.shop import Shop
from kb.history import History, kinds
from kb.history.moving import picture_named
from kb.library import editing
from kb.library.album import Album, original_of

#: The most files that are named one by one where something is wrong with them.
MOST_NAMED = 10
#: The name of a picture that no sheet names, with the first 16 signs of the SHA-256 of what is in it.
_SEALED = re.compile(r"(?:machine|job)-(?P<digest>[0-9a-f]{16})-1\.jpg")
_TO_DO = "take it out of a backup"


@dataclass(frozen=True, slots=True)
class PicturesKept:
    """How many pictures stand on jobs and machines, what is wrong with them, and the files that nothing names."""

    count: int
    problems: tuple[str, ...]
    foreign: tuple[str, ...]


def fetch(shop: Shop, file: str) -> bytes | None:
    """What is in a picture of the album, None if there is none of that name."""
    path = Album(shop.shelf).path(file)
    return path.read_bytes() if path else None


def kept(shop: Shop) -> PicturesKept:
    """Whether each picture that stands on a job or machine is there as it was taken in, and what else is there."""
    album, none = Album(shop.shelf), dict[str, bool]()
    named = shop.if_usable(_named, none)
    standing = [file for file, stands in named.items() if stands]
    told = (_wrong(album, file) for file in standing)
    problems = _first(filter(None, told))
    return PicturesKept(len(standing), problems, tuple(_foreign(shop, album, named)))


def _named(history: History) -> dict[str, bool]:
    """The pictures that records of machines and jobs name, by their files, and whether one of those records stands."""
    gone = set()
    for kind in (kinds.STRUCK, kinds.PICTURE_BACK):
        gone |= {
            json.loads(record.body).get("record")
            for record in history.records_since(0, kind.name)
        }
    named: dict[str, bool] = {}
    for kind in (kinds.UNIT_NOTE, kinds.PICTURE):
        for record in history.records_since(0, kind.name):
            if file := picture_named(record):
                named[file] = named.get(file, False) or record.id not in gone
    return named


def _wrong(album: Album, file: str) -> str:
    """What is wrong with the file of a picture, empty if nothing is."""
    path, sealed = album.path(file), _SEALED.fullmatch(file)
    try:
        drawn = path.read_bytes() if path else None
    except OSError as error:
        return f"the picture entries/pictures/{file} cannot be read ({error.strerror}); {_TO_DO}"
    if drawn is None:
        return f"the picture entries/pictures/{file} is missing; {_TO_DO}"
    if sealed and hashlib.sha256(drawn).hexdigest()[:16] != sealed["digest"]:
        return f"the picture entries/pictures/{file} is not the one that was taken in; {_TO_DO}"
    return ""


def _first(problems: Iterator[str]) -> tuple[str, ...]:
    """The problems, of more than `MOST_NAMED` the first and how many there are besides."""
    told = list(problems)
    more = len(told) - MOST_NAMED
    return (*told[:MOST_NAMED], *([f"and {more} pictures more"] if more > 0 else []))


def _foreign(shop: Shop, album: Album, named: Collection[str]) -> Iterator[str]:
    """The files in the folder of pictures, but for hidden ones, that neither a record nor a sheet of the shop names."""
    if not album.folder.is_dir():
        return
    found = {
        path.name for path in album.folder.iterdir() if not path.name.startswith(".")
    } - {*named}
    if found:
        for path, own in shop.shelf.files().values():
            if own:
                text = path.read_text("utf-8", "replace")
                named_here = {one.file for one in editing.pictures_in(text)}
                found -= named_here | {original_of(file) for file in named_here}
    yield from sorted(found)

"""Names for a shell that completes, read from the files of a shop as they stand: nothing is brought in step for them.

What an index does not hold yet is read from the records of the history after its mark. Nothing is written, and nothing
is loaded but SQLite, for tools the reader of their file: a key is pressed, and a person waits. All raise OSError or
sqlite3.Error where the files do not give them.
"""

from __future__ import annotations

import json
import os
import sqlite3
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from kb.library.stock import (
    HOUSE,
    OWN_TRADE,
    TRADE,
    may_be_entry,
    stamp_of,
    stock_folder,
)

#: The models that were worked on, most frequent first, each as it is written most often.
MODELS = (
    "SELECT model, sum(jobs) AS every, max(jobs) FROM (SELECT model, sum(jobs) AS jobs FROM tally "
    "GROUP BY model) GROUP BY model COLLATE NOCASE ORDER BY every DESC, model"
)
#: Seconds for which another process that writes is waited for.
WAIT = 1.0
#: Under what the index notes how far it has counted jobs, and machines.
OF_JOBS, OF_MACHINES = "mark", "floor mark"


def models(shop: Path) -> list[str]:
    """The models that were worked on, most frequent first, then those of jobs that nobody has counted yet."""
    counted = [model for model, *_ in _rows(shop / "index.db", MODELS)]
    further = "SELECT json_extract(body, '$.model') FROM records WHERE seq > ? AND kind = 'close'"
    return _once([*counted, *_texts(shop, further, OF_JOBS)])


def tags(shop: Path) -> dict[str, str]:
    """The tags of machines in their order, each with its model as far as that is told."""
    told = _rows(
        shop / "index.db",
        "SELECT json_extract(told, '$.tag'), model FROM unit ORDER BY key",
    )
    found = {str(tag): str(model) for tag, model in told}
    further = "SELECT json_extract(body, '$.tag') FROM records WHERE seq > ? AND kind = 'unit-in'"
    held = {tag.casefold() for tag in found}
    return found | {
        tag: ""
        for tag in _texts(shop, further, OF_MACHINES)
        if tag.casefold() not in held
    }


def lots(shop: Path) -> list[str]:
    """The lots that were bought or came in, by name."""
    came = [
        str(lot) for (lot,) in _rows(shop / "index.db", "SELECT DISTINCT lot FROM unit")
    ]
    bought = "SELECT json_extract(body, '$.lot') FROM records WHERE kind = 'lot' OR (seq > ? AND kind = 'unit-in')"
    return sorted(_once([*came, *_texts(shop, bought, OF_MACHINES)]))


def sheets(shop: Path, stock: Path) -> dict[str, str]:
    """The sheets that stand in those folders by their names, each with its title as it was last read."""
    here = {name for folder in (stock, shop / "entries") for name in _named(folder)}
    titles = dict(_rows(shop / "index.db", "SELECT slug, title FROM sheet"))
    return {name: str(titles.get(name, "")) for name in sorted(here)}


def causes(shop: Path, stock: Path, sheet: str) -> dict[str, str] | None:
    """The causes of a sheet, each with what it says; None where its file is another than the one that was read."""
    own, file = str(shop / "entries" / f"{sheet}.md"), str(stock / f"{sheet}.md")
    standing = "".join(
        stamp_of(path, os.lstat(path)) for path in (file, own) if os.path.lexists(path)
    )
    for stamp, packed in _rows(
        shop / "index.db", "SELECT stamp, entry FROM sheet WHERE slug = ?", sheet
    ):
        if stamp.startswith(standing) and (own in stamp) == (own in standing):
            told = json.loads(zlib.decompress(packed).decode("utf-8", "surrogatepass"))
            return {str(one["slug"]): str(one["text"]) for one in told["causes"]}
    return None


def tools(shop: Path, stock: Path) -> list[str]:
    """The tools of the trade and the shop, then their parts, which may be lacking like one; each by name.

    The shop's own file of the trade wins over that of its library; a file that cannot be read names nothing.
    """
    own = shop / "entries" / HOUSE
    house = stock / HOUSE if (stock / HOUSE).is_dir() else stock_folder() / HOUSE
    trade = own / TRADE if (own / TRADE).is_file() else house / TRADE
    files = [_lists(trade), _lists(own / OWN_TRADE)]
    named: list[str] = []
    for kind in ("tools", "parts"):
        named += sorted({one for file in files for one in file(kind)})
    return named


def _lists(file: Path) -> Callable[[str], list[str]]:
    """What gives the list of that key in a file of names; none where there is no list, or no file."""
    import tomllib  # only this needs it

    try:
        told = tomllib.loads(file.read_text("utf-8-sig", errors="replace"))
    except (OSError, tomllib.TOMLDecodeError):
        told = {}

    def under(key: str) -> list[str]:
        held = told.get(key)
        names = held if isinstance(held, list) else []
        return names if all(isinstance(name, str) for name in names) else []

    return under


def _named(folder: Path) -> Iterator[str]:
    """The names of the sheets in a folder; none if it is not there."""
    if folder.is_dir():
        yield from (name[:-3] for name in os.listdir(folder) if may_be_entry(name))


def _texts(shop: Path, sql: str, noted: str) -> list[str]:
    """What the records after a mark of the index tell, in their order; it is given the number of the last one held.

    The mark of another history than the one that is there counts for nothing.
    """
    marks = _rows(shop / "index.db", "SELECT value FROM about WHERE key = ?", noted)
    seq, _, chain = str(marks[0][0] if marks else "0").partition(" ")
    history = shop / "history.db"
    same = _rows(
        history, "SELECT 1 FROM records WHERE seq = ? AND chain = ?", int(seq), chain
    )
    told = _rows(history, sql, int(seq) if same else 0)
    return [str(text) for (text,) in told if text]


def _rows(file: Path, sql: str, *given: object) -> list[tuple[Any, ...]]:
    """The rows that a database file gives, which is only read; none without the file."""
    if not file.exists():
        return []
    with closing(sqlite3.connect(file, timeout=WAIT)) as connection:
        connection.execute("PRAGMA query_only = ON")
        return connection.execute(sql, given).fetchall()


def _once(names: Iterable[str]) -> list[str]:
    """Each name once, whatever its case, as it is written first; what is empty is left out."""
    kept: dict[str, str] = {}
    for name in filter(None, names):
        kept.setdefault(name.casefold(), name)
    return list(kept.values())

"""The table of sheets in the index: entries as last read, and what their texts hold."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from kb.base.worded import again, kept
from kb.index import packing, postings
from kb.language.terms import NOTHING, Content
from kb.language.words import stem
from kb.library.unwritten import is_draft
from kb.model import Entry, Remark, Unread

SCHEMA = """
CREATE TABLE sheet (
    number INTEGER PRIMARY KEY, slug TEXT NOT NULL UNIQUE, stamp TEXT NOT NULL, own INTEGER NOT NULL,
    title TEXT NOT NULL, area TEXT NOT NULL, entry BLOB NOT NULL, remarks TEXT NOT NULL,
    content BLOB NOT NULL, said TEXT NOT NULL, masses TEXT NOT NULL, unread INTEGER NOT NULL,
    odds TEXT NOT NULL
) STRICT;
CREATE INDEX sheet_by_stamp ON sheet (slug, stamp);
CREATE INDEX sheet_unread ON sheet (slug) WHERE unread;
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenSheet:
    """An entry as the index takes it in: its file's stamp, and what its own texts hold."""

    slug: str
    stamp: str
    own: bool
    entry: Entry | None
    remarks: tuple[Remark, ...]
    content: Content
    unread: bool = False


@dataclass(frozen=True, slots=True)
class _Held:
    """How a sheet is counted: what its own texts hold."""

    number: int
    content: Content


class SheetTable:
    """The entries of an open index, with what their texts hold."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def stamps(self) -> dict[str, str]:
        """Slug to the stamp of the file as last taken in."""
        return dict(self._connection.execute("SELECT slug, stamp FROM sheet"))

    def put(self, sheets: Iterable[TakenSheet]) -> None:
        """Take in new or changed sheets."""
        with self._recounting() as recounted:
            for sheet in sheets:
                held = self._held(sheet.slug) or _Held(self._next_number(), NOTHING)
                self._keep_sheet(held.number, sheet)
                recounted(held, _Held(held.number, sheet.content))

    def drop(self, slugs: Sequence[str]) -> None:
        """Forget the entries whose files are gone."""
        if not slugs:
            return
        with self._recounting() as recounted:
            for slug in slugs:
                held = self._held(slug)
                if held:
                    recounted(held, _Held(held.number, NOTHING))
        self._connection.executemany(
            "DELETE FROM sheet WHERE slug = ?", [(slug,) for slug in slugs]
        )

    @contextmanager
    def _recounting(self) -> Iterator[Callable[[_Held, _Held], None]]:
        """A block that tells how entries were counted before and after; all of it is written at its end."""
        changes, written = postings.Changes(self._connection), Counter[str]()

        def recounted(before: _Held, after: _Held) -> None:
            changes.move(before.number, before.content.terms, after.content.terms)
            written.subtract(before.content.words)
            written.update(after.content.words)
            self._keep_masses(after)

        yield recounted
        changes.write()
        postings.change_words(self._connection, stem, written, {})

    def _keep_sheet(self, number: int, sheet: TakenSheet) -> None:
        entry = sheet.entry
        remarks = [
            [one.file, one.line, kept(one.problem), kept(one.instead)]
            for one in sheet.remarks
        ]
        self._connection.execute(
            "INSERT INTO sheet VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, '{}', ?, ?) ON CONFLICT (number) DO UPDATE SET "
            "stamp = excluded.stamp, own = excluded.own, title = excluded.title, area = excluded.area, "
            "entry = excluded.entry, remarks = excluded.remarks, content = excluded.content, said = excluded.said, "
            "unread = excluded.unread, odds = excluded.odds",
            (
                number,
                sheet.slug,
                sheet.stamp,
                int(sheet.own),
                entry.title if entry else "",
                entry.area if entry else "",
                packing.packed(entry) if entry else b"",
                json.dumps(remarks),
                sheet.content.packed(),
                json.dumps(entry.dangers if entry else []),
                int(sheet.unread),
                json.dumps(entry.odds() if entry else {}),
            ),
        )

    def _keep_masses(self, held: _Held) -> None:
        masses: Counter[str] = Counter()
        for term, count in held.content.terms.items():
            masses[term[0]] += count
        self._connection.execute(
            "UPDATE sheet SET masses = ? WHERE number = ?",
            (json.dumps(masses), held.number),
        )

    def _held(self, slug: str) -> _Held | None:
        """How a sheet is counted, None if there is no such sheet."""
        row = self._connection.execute(
            "SELECT number, content FROM sheet WHERE slug = ?", (slug,)
        ).fetchone()
        return _Held(row[0], Content.unpacked(row[1])) if row else None

    def _next_number(self) -> int:
        return int(
            self._connection.execute(
                "SELECT coalesce(max(number), -1) + 1 FROM sheet"
            ).fetchone()[0]
        )

    def slugs(self) -> dict[int, str]:
        """Entry number to slug, of the entries that can be served."""
        return dict(
            self._connection.execute(
                "SELECT number, slug FROM sheet WHERE entry <> x'' ORDER BY slug"
            )
        )

    def entry(self, slug: str) -> Entry | None:
        """The entry of that slug, or None."""
        row = self._connection.execute(
            "SELECT entry FROM sheet WHERE slug = ? AND entry <> x''", (slug,)
        ).fetchone()
        return packing.unpacked(row[0]) if row else None

    def files(self) -> list[tuple[str, bool]]:
        """Every slug with whether its text is the shop's own, those that cannot be served among them."""
        return [
            (slug, bool(own))
            for slug, own in self._connection.execute(
                "SELECT slug, own FROM sheet ORDER BY slug"
            )
        ]

    def masses(self) -> dict[str, dict[int, int]]:
        """By view and entry the summed counts of its own texts."""
        by_view: dict[str, dict[int, int]] = {}
        rows = self._connection.execute(
            "SELECT number, masses FROM sheet WHERE entry <> x'' ORDER BY slug"
        )
        for number, masses in rows:
            for name, mass in json.loads(masses).items():
                by_view.setdefault(name, {})[number] = mass
        return by_view

    def odds(self, slugs: Iterable[str] | None = None) -> dict[str, dict[str, float]]:
        """By slug the odds of an entry's causes, of the entries that can be served; of all, or of these alone."""
        only, given = (
            ("", ())
            if slugs is None
            else (" AND slug IN (SELECT value FROM json_each(?))", (list(slugs),))
        )
        rows = self._connection.execute(
            f"SELECT slug, odds FROM sheet WHERE odds <> '{{}}'{only}",
            [*map(json.dumps, given)],
        )
        return {slug: json.loads(odds) for slug, odds in rows}

    def dangers(self) -> dict[str, list[str]]:
        """The words that name the danger of an entry, of the entries that say any."""
        rows = self._connection.execute(
            "SELECT slug, said FROM sheet WHERE said <> '[]' ORDER BY slug"
        )
        return {slug: json.loads(said) for slug, said in rows}

    def titles(self) -> dict[str, str]:
        """The title of each sheet that can be read, by its slug."""
        return dict(
            self._connection.execute(
                "SELECT slug, title FROM sheet WHERE title <> '' ORDER BY slug"
            )
        )

    def remarks(self) -> list[Remark]:
        """What reading the files gave to remark on, by file and line."""
        rows = self._connection.execute("SELECT remarks FROM sheet ORDER BY slug")
        return [_remark(one) for (remarks,) in rows for one in json.loads(remarks)]

    def unread(self) -> tuple[Unread, ...]:
        """The shop's own files of which nothing can be served; a sheet just begun is none of them."""
        found = []
        rows = self._connection.execute(
            "SELECT remarks, entry <> x'' FROM sheet WHERE unread ORDER BY slug"
        )
        for remarks, stands_in in rows:
            first = _remark(json.loads(remarks)[0])
            if is_draft(first) and not stands_in:
                continue
            found.append(Unread(first.file, first.line, first.problem, bool(stands_in)))
        return tuple(found)


def _remark(given: list[Any]) -> Remark:
    """A remark as it was kept."""
    file, line, problem, instead = given
    return Remark(file, line, again(problem), again(instead))

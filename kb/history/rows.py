"""Rows of the precious file read as records: of a job, of a kind, by number, by token; nothing is written here."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import Any

from kb.history import schema
from kb.history.record import TAKEN_IN, Record
from kb.history.trouble import in_plain_words

#: Rows read at a time, so that a slow reader never keeps a writer waiting.
BATCH = 1000

#: Among so many records the latest of this shop are looked for.
LATE = 20_000

_ROW = ", ".join(schema.COLUMNS)


class Rows:
    """What stands in an open history file."""

    def __init__(self, connection: sqlite3.Connection, path: Path, shop: str) -> None:
        self._connection = connection
        self.path = path
        self.shop = shop

    def by_token(self, token: str) -> Record | None:
        """The record written with this form token, if any."""
        return next(self._records("token = ?", (token,)), None) if token else None

    def has_record(self, identity: str) -> bool:
        """Whether there is a record of that id."""
        return bool(
            self._all("SELECT 1 FROM records WHERE id = ? LIMIT 1", (identity,))
        )

    def of_job(self, job: str) -> tuple[Record, ...]:
        """Every record of a job, in order."""
        return tuple(self._records("job = ?", (job,)))

    def records(self, seqs: Sequence[int]) -> tuple[Record, ...]:
        """The records of those sequence numbers, in order."""
        return tuple(
            self._records(
                "seq IN (SELECT value FROM json_each(?))", (json.dumps(list(seqs)),)
            )
        )

    def since(self, seq: int, kind: str = "") -> Iterator[Record]:
        """The records after `seq`, in order, of one kind or of all; no lock is held between batches."""
        while True:
            batch = tuple(
                self._records("seq > ? AND kind = ?", (seq, kind), BATCH)
                if kind
                else self._records("seq > ?", (seq,), BATCH)
            )
            yield from batch
            if len(batch) < BATCH:
                return
            seq = batch[-1].seq

    def last_of(self, kind: str) -> str:
        """The id of the last record of a kind, empty if there is none."""
        found = self._all(
            "SELECT id FROM records WHERE kind = ? ORDER BY seq DESC LIMIT 1", (kind,)
        )
        return str(found[0][0]) if found else ""

    def jobs_with(
        self, kind: str, but_none_of: tuple[str, ...] = ()
    ) -> tuple[str, ...]:
        """The jobs that have a record of this kind and none of the others, in order of their records."""
        rows = self._all(
            f"SELECT job FROM records WHERE kind = ? {_without(but_none_of)} GROUP BY job ORDER BY min(seq)",
            (kind, *but_none_of),
        )
        return tuple(job for (job,) in rows)

    def latest(
        self, kind: str, but_none_of: tuple[str, ...], limit: int
    ) -> tuple[Record, ...]:
        """The last records of a kind that came up in this shop, latest first, whose jobs have none of the others.

        Those that stand before the last `LATE` records are old news: a history that came in from others may be long.
        """
        rows = self._all(
            f"SELECT {_ROW} FROM records WHERE kind = ? {_without(but_none_of)} AND shop = ? "
            "AND seq > (SELECT max(seq) FROM records) - ? ORDER BY seq DESC LIMIT ?",
            (kind, *but_none_of, self.shop, LATE, limit),
        )
        return tuple(Record(*row) for row in rows)

    def jobs_like(
        self, prefix: str, kinds: tuple[str, ...], limit: int
    ) -> tuple[str, ...]:
        """The first jobs whose id begins with these characters and that have a record of one of the kinds, by name."""
        rows = self._all(
            f"SELECT DISTINCT job FROM records WHERE job >= ? AND substr(job, 1, ?) = ? "
            f"AND kind IN ({', '.join('?' * len(kinds))}) ORDER BY job LIMIT ?",
            (prefix, len(prefix), prefix, *kinds, limit),
        )
        return tuple(job for (job,) in rows)

    def shops_before(
        self, naming: str, of_the_floor: Collection[str]
    ) -> tuple[str, ...]:
        """The shops whose jobs came in with records of these kinds, or before them, while nothing said whose these are.

        That is said by records of the kind `naming`, which programs of old did not write.
        """
        last = self._all(
            "SELECT max(seq) FROM records WHERE token >= ? AND token < ? AND kind IN (SELECT value FROM json_each(?)) "
            "AND NOT EXISTS (SELECT 1 FROM records AS named WHERE named.kind = ? AND named.seq < records.seq)",
            (
                TAKEN_IN,
                f"{TAKEN_IN}\U0010ffff",
                json.dumps(sorted(of_the_floor)),
                naming,
            ),
        )[0][0]
        if last is None:
            return ()
        rows = self._all(
            "SELECT DISTINCT shop FROM records WHERE kind = 'close' AND seq < coalesce((SELECT min(seq) FROM records "
            "AS list WHERE kind = 'imported' AND seq > ?1 AND json_extract(body, '$.first') <= ?1), ?1) ORDER BY shop",
            (last,),
        )
        return tuple(shop for (shop,) in rows)

    def _records(
        self, where: str, values: tuple[object, ...], limit: int = -1
    ) -> Iterator[Record]:
        rows = self._all(
            f"SELECT {_ROW} FROM records WHERE {where} ORDER BY seq LIMIT {limit}",
            values,
        )
        return (Record(*row) for row in rows)

    def _all(self, sql: str, values: tuple[object, ...]) -> list[tuple[Any, ...]]:
        with in_plain_words(self.path):
            return self._connection.execute(sql, values).fetchall()


def _without(kinds: tuple[str, ...]) -> str:
    """The condition that a record's job has no record of these kinds.

    The plus keeps SQLite from looking through all records of such a kind for every job; a job has but a few.
    """
    return " ".join(
        "AND NOT EXISTS (SELECT 1 FROM records AS other WHERE +other.kind = ? AND other.job = records.job)"
        for _ in kinds
    )

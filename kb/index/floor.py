"""The floor in the index: which records name which machine, and every unit as they tell of it, kept in step by tag."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass

from kb.history import kinds
from kb.history.jobs import body_of
from kb.history.record import Record
from kb.history.same import folded
from kb.history.units import Unit, is_of_another, is_unknown, tags_named

SCHEMA = """
CREATE TABLE floor (
    tag TEXT NOT NULL, seq INTEGER NOT NULL, id TEXT NOT NULL, job TEXT NOT NULL, PRIMARY KEY (tag, seq)
) STRICT, WITHOUT ROWID;
CREATE INDEX floor_by_id ON floor (id);
CREATE INDEX floor_by_job ON floor (job) WHERE job <> '';
CREATE TABLE loose (seq INTEGER PRIMARY KEY, id TEXT NOT NULL, kind TEXT NOT NULL) STRICT;
CREATE TABLE unit (
    key TEXT PRIMARY KEY, lot TEXT NOT NULL, model TEXT NOT NULL, came_in INTEGER NOT NULL, gives INTEGER NOT NULL,
    wants INTEGER NOT NULL, told TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX unit_came_in ON unit (key, model) WHERE came_in;
CREATE INDEX unit_giving ON unit (key) WHERE gives;
CREATE INDEX unit_wanting ON unit (key) WHERE wants;
CREATE INDEX unit_by_lot ON unit (lot COLLATE NOCASE);
CREATE TABLE shown (
    model TEXT NOT NULL, line TEXT NOT NULL, tag TEXT NOT NULL, bad INTEGER NOT NULL, PRIMARY KEY (model, line, tag)
) STRICT, WITHOUT ROWID;
CREATE INDEX shown_by_tag ON shown (tag);
"""

#: The kinds by which purchases, fits and parts that left donors are told.
OF_PARTS = frozenset(
    {kinds.PART_BOUGHT.name, kinds.PART_IN.name, kinds.PART_OUT.name, kinds.FIT.name}
)
#: The kinds that tell of more than one machine: those, lots, and what is struck.
LOOSE = OF_PARTS | {kinds.LOT.name, kinds.STRUCK.name}


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitLine:
    """One machine in a list: its facts without its records. `key` is its tag without case and blanks.

    `repaired` says that something was closed or tried on it; `good_lines` and `failed_lines` are the lines of the
    check-out that showed so last; `gone` is the word with which it left.
    `to_fit` are parts that came for it and are not fitted yet.
    """

    key: str
    tag: str
    model: str
    lot: str
    place: str
    words: str
    came_at: str
    last_at: str
    with_: str
    serial: str
    open_jobs: tuple[str, ...]
    closed_jobs: int
    wanted: tuple[str, ...]
    to_fit: tuple[str, ...]
    repaired: bool
    good_lines: tuple[str, ...]
    failed_lines: tuple[str, ...]
    is_signed: bool
    is_donor: bool
    gone: str


def line_of(unit: Unit) -> UnitLine:
    """What a list needs of a machine."""
    closed = [job for job in unit.jobs if job.confirmed]
    good, failed = [], []
    for name, line in unit.lines.items():
        if line.shown == "good":
            good.append(name)
        elif line.shown == "bad" and not unit.is_mended(line):
            failed.append(name)
    return UnitLine(
        key=unit.key,
        tag=unit.tag,
        model=unit.model,
        lot=unit.lot,
        place=unit.place,
        words=unit.words,
        came_at=unit.came_at,
        last_at=unit.last_at,
        with_=unit.with_,
        serial=unit.serial,
        open_jobs=tuple(job.job for job in unit.open_jobs),
        closed_jobs=len(closed),
        wanted=tuple(one.part for one in unit.wanted),
        to_fit=unit.to_fit,
        repaired=bool(unit.work),
        good_lines=tuple(good),
        failed_lines=tuple(failed),
        is_signed=unit.is_signed,
        is_donor=unit.is_donor,
        gone=unit.gone,
    )


class FloorTable:
    """Where each machine stands in the records, and the machines themselves."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def forget(self) -> None:
        """Forget every machine, so that all are taken in again."""
        for table in ("floor", "loose", "unit", "shown"):
            self._connection.execute(f"DELETE FROM {table}")

    def take(self, record: Record, own_shops: Collection[str]) -> tuple[str, ...]:
        """Note which machines a record concerns, and give their tag keys; jobs of other shops concern none by tag."""
        tags = self._concerned(record, own_shops)
        rows = [(tag, record.seq, record.id, record.job) for tag in tags]
        self._connection.executemany(
            "INSERT OR IGNORE INTO floor VALUES (?, ?, ?, ?)", rows
        )
        if record.kind in LOOSE:
            self._connection.execute(
                "INSERT OR IGNORE INTO loose VALUES (?, ?, ?)",
                (record.seq, record.id, record.kind),
            )
        return tags

    def _concerned(self, record: Record, own_shops: Collection[str]) -> tuple[str, ...]:
        """The machines that a record names, or whose job or record it is about."""
        found = dict.fromkeys(
            () if is_of_another(record, own_shops) else tags_named(record)
        )
        if record.job:
            rows = self._connection.execute(
                "SELECT DISTINCT tag FROM floor WHERE job = ? AND job <> ''",
                (record.job,),
            )
            found |= dict.fromkeys(tag for (tag,) in rows)
        if record.kind == kinds.STRUCK.name:
            about = str(body_of(record).get("record", ""))
            rows = self._connection.execute(
                "SELECT tag FROM floor WHERE id = ?", (about,)
            )
            found |= dict.fromkeys(tag for (tag,) in rows)
        return tuple(found)

    def records_of(self, key: str) -> list[int]:
        """The numbers of the records that concern a machine, in order."""
        rows = self._connection.execute(
            "SELECT seq FROM floor WHERE tag = ? ORDER BY seq", (key,)
        )
        return [seq for (seq,) in rows]

    def loose_records(self, of: Collection[str]) -> list[int]:
        """The numbers of the records of these kinds, and of all that is struck, in order."""
        wanted = json.dumps([*of, kinds.STRUCK.name])
        rows = self._connection.execute(
            "SELECT seq FROM loose WHERE kind IN (SELECT value FROM json_each(?)) ORDER BY seq",
            (wanted,),
        )
        return [seq for (seq,) in rows]

    def has_parts(self) -> bool:
        """Whether a donor stands here, or a part was ever bought or taken out of a donor."""
        asked = (
            "SELECT EXISTS (SELECT 1 FROM unit INDEXED BY unit_giving WHERE gives) "
            "OR EXISTS (SELECT 1 FROM loose WHERE kind IN (?, ?))"
        )
        names = kinds.PART_BOUGHT.name, kinds.PART_OUT.name
        return bool(self._connection.execute(asked, names).fetchone()[0])

    def put(self, unit: Unit) -> None:
        """Keep a machine as its records tell of it now; one that none names any more goes."""
        if not unit.is_there:
            self._connection.execute("DELETE FROM unit WHERE key = ?", (unit.key,))
            return
        told = json.dumps(asdict(line_of(unit)), ensure_ascii=False)
        gives = unit.is_donor and not unit.gone
        waits = not unit.is_donor and not unit.gone
        wants = waits and bool(unit.wanted)
        self._connection.execute(
            "INSERT OR REPLACE INTO unit VALUES (?, ?, ?, ?, ?, ?, ?)",
            (unit.key, unit.lot, unit.model, bool(unit.came_at), gives, wants, told),
        )
        self._connection.execute("DELETE FROM shown WHERE tag = ?", (unit.key,))
        self._connection.executemany(
            "INSERT INTO shown VALUES (?, ?, ?, ?)", _looked_at(unit)
        )

    def shown(self, model: str) -> Iterator[tuple[str, bool, int, int]]:
        """For every line, on that model and on all others: the line, whether it is that model, bad on, looked at on."""
        rows = self._connection.execute(
            "SELECT line, model = ? AS here, sum(bad), count(*) FROM shown GROUP BY line, here ORDER BY line, here",
            (model.strip().casefold(),),
        )
        return ((line, bool(here), bad, seen) for line, here, bad, seen in rows)

    def line(self, key: str) -> UnitLine | None:
        """The machine of that tag key, or None."""
        row = self._connection.execute(
            "SELECT told FROM unit WHERE key = ?", (key,)
        ).fetchone()
        return _unit_line(row[0]) if row else None

    def lines(self, lot: str = "") -> Iterator[UnitLine]:
        """The machines of a lot, or all, by tag key."""
        rows = self._connection.execute(
            "SELECT told FROM unit WHERE ? = '' OR lot = ? COLLATE NOCASE ORDER BY key",
            (lot, lot),
        )
        return (_unit_line(told) for (told,) in rows)

    def donors(self) -> Iterator[UnitLine]:
        """The machines that were given up for their parts and are here, by tag key."""
        rows = self._connection.execute(
            "SELECT told FROM unit INDEXED BY unit_giving WHERE gives ORDER BY key"
        )
        return (_unit_line(told) for (told,) in rows)

    def wanting(self) -> Iterator[UnitLine]:
        """The machines that wait for a part, by tag key."""
        rows = self._connection.execute(
            "SELECT told FROM unit INDEXED BY unit_wanting WHERE wants ORDER BY key"
        )
        return (_unit_line(told) for (told,) in rows)

    def named(self, names: Collection[str]) -> list[str]:
        """The tag keys of the machines whose model has one of these names (folded)."""
        rows = self._connection.execute("SELECT key, model FROM unit ORDER BY key")
        return [key for key, model in rows if folded(model) in names]

    def models_of(self, keys: Iterable[str]) -> Mapping[str, str]:
        """The model of each of these machines of which it is told, by tag key."""
        rows = self._connection.execute(
            "SELECT key, model FROM unit WHERE model <> '' AND key IN (SELECT value FROM json_each(?))",
            (json.dumps(sorted(set(keys))),),
        )
        return dict(rows.fetchall())

    def model_names(self) -> list[str]:
        """Every model of which a machine is told of, as it is written, in no order; empty where it is not known."""
        return [
            name
            for (name,) in self._connection.execute("SELECT DISTINCT model FROM unit")
        ]

    def models(self) -> Mapping[str, str]:
        """The model of each machine that came in and of which it is known, by tag key."""
        rows = self._connection.execute(
            "SELECT key, model FROM unit WHERE came_in AND model <> ''"
        )
        return {key: model for key, model in rows if not is_unknown(model)}

    def keys(self, among: Iterable[str]) -> frozenset[str]:
        """Those of these tag keys that name a machine."""
        wanted = json.dumps(list(among))
        rows = self._connection.execute(
            "SELECT key FROM unit WHERE key IN (SELECT value FROM json_each(?))",
            (wanted,),
        )
        return frozenset(key for (key,) in rows)


def _looked_at(unit: Unit) -> list[tuple[str, str, str, int]]:
    """The lines that a machine was looked at on, with whether it was ever bad: a machine counts once for each."""
    model = unit.model.strip().casefold()
    good = {name for name, line in unit.lines.items() if line.shown == "good"}
    return [
        (model, name, unit.key, int(name in unit.once_bad))
        for name in sorted(good | unit.once_bad)
    ]


def _unit_line(told: str) -> UnitLine:
    facts = json.loads(told)
    lists = {
        name: tuple(facts[name])
        for name in ("open_jobs", "wanted", "to_fit", "good_lines", "failed_lines")
    }
    return UnitLine(**(facts | lists))

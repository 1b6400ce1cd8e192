"""What was found in other shops (elsewhere): the file of their pooled counts, and how an index holds it."""

from __future__ import annotations

import json
import math
import re
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from kb.base.pooling import PRIORS, USUAL
from kb.base.trouble import Trouble
from kb.history.same import folded
from kb.index.remembered import Kept, Remembered

#: The file in the shop's folder, and the first word of it: what kind of file this is.
FILE, FORMAT = "elsewhere.json", "benchlore-counts-1"
#: No such file is larger, in bytes.
LARGEST = 64 << 20
#: How alike the jobs of one shop are taken to be: less than so many and one of them are told by one shop, of a sheet's
#: causes and of one model; and of how often a sheet occurs (`kb.base.pooling.of_one_shop`).
CAUSES_ALIKE, OFTEN_ALIKE = USUAL, 32.0
#: Under what the index notes which file it holds, what stands in its head, and what is wrong with one it cannot hold.
STAMP, HEAD, TROUBLE = "elsewhere", "elsewhere head", "elsewhere trouble"

SCHEMA = """
CREATE TABLE elsewhere (
    model TEXT NOT NULL, entry TEXT NOT NULL, told TEXT NOT NULL, PRIMARY KEY (model, entry)
) STRICT, WITHOUT ROWID;
"""

_DAY = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])")
#: Half characters, which JSON can spell and no database takes.
_HALVES = re.compile("[\ud800-\udfff]")
#: What rounding may add to a sum of weights.
_ROUNDED = 0.01


class CountsTrouble(Trouble):
    """A file that holds no pooled counts; nothing was changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelElsewhere:
    """What other shops had of a sheet on one model, as it weighs: how often, and by cause."""

    often: float
    causes: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetElsewhere:
    """What other shops had of a sheet: jobs in so many shops, and as it weighs how often, by cause, by model (folded).

    `strength` says how many jobs of a shop's own weigh as much as these causes.
    """

    shops: int
    jobs: int
    often: float
    strength: float
    causes: Mapping[str, float]
    models: Mapping[str, ModelElsewhere] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledCounts:
    """The counts of many shops, made on a day (ISO): so many jobs in so many shops, by sheet.

    `sent` says how many of them each shop had sent, by the id under which the office knows it; `left_out` are the jobs
    of the shop that keeps these counts, which were taken off.
    """

    made: str
    shops: int
    jobs: int
    sheets: Mapping[str, SheetElsewhere]
    sent: Mapping[str, int] = field(default_factory=dict)
    left_out: int = 0

    def to_json(self) -> str:
        """As the text of a file; the same counts are the same to the byte."""
        told = {
            "format": FORMAT,
            "made": self.made,
            "shops": self.shops,
            "jobs": self.jobs,
            "left_out": self.left_out,
            "sent": dict(self.sent),
            "entries": {slug: asdict(sheet) for slug, sheet in self.sheets.items()},
        }
        return json.dumps(told, indent=1, sort_keys=True) + "\n"


def read(raw: bytes) -> PooledCounts:
    """The counts that a file holds; raises CountsTrouble, which says what is wrong with it and where."""
    if len(raw) > LARGEST:
        raise _unfit("it", f"more than {LARGEST >> 20} MiB")
    try:
        told = json.loads(raw)
    except UnicodeDecodeError:
        raise _unfit("it", "this is no text") from None
    except json.JSONDecodeError as error:
        raise _unfit(f"line {error.lineno}", f"this is no JSON ({error.msg})") from None
    except (ValueError, RecursionError):
        raise _unfit("it", "this is no JSON that can be read") from None
    head = _table(told, "it")
    if head.get("format") != FORMAT:
        raise _unfit("format", f"this is not `{FORMAT}`")
    if not isinstance(made := head.get("made"), str) or not _DAY.fullmatch(made):
        raise _unfit("made", "this is no day such as 2026-11-30")
    entries = _table(head.get("entries"), "entries")
    return PooledCounts(
        made=made,
        shops=_whole(head.get("shops"), "shops", least=0),
        jobs=_whole(head.get("jobs"), "jobs", least=0),
        sheets={
            slug: _sheet(given, f"entries, {slug[:60]}")
            for slug, given in entries.items()
        },
        sent={
            shop: _whole(jobs, f"sent, {shop[:60]}")
            for shop, jobs in _table(head.get("sent", {}), "sent").items()
        },
        left_out=_whole(head.get("left_out", 0), "left_out", least=0),
    )


def _sheet(given: Any, where: str) -> SheetElsewhere:
    told = _table(given, where)
    shops = _whole(told.get("shops"), f"{where}, shops")
    return SheetElsewhere(
        shops=shops,
        jobs=_whole(told.get("jobs"), f"{where}, jobs"),
        often=_number(
            told.get("often"), f"{where}, often", most=shops * (OFTEN_ALIKE + 1.0)
        ),
        strength=_number(
            told.get("strength"), f"{where}, strength", least=PRIORS[0], most=PRIORS[-1]
        ),
        causes=_causes(told.get("causes"), f"{where}, causes", shops),
        models={
            folded(model): _model(one, f"{where}, models, {model[:60]}", shops)
            for model, one in _table(told.get("models"), f"{where}, models").items()
        },
    )


def _model(given: Any, where: str, shops: int) -> ModelElsewhere:
    told = _table(given, where)
    most = shops * (CAUSES_ALIKE + 1.0)
    return ModelElsewhere(
        often=_number(told.get("often"), f"{where}, often", most=most),
        causes=_causes(told.get("causes"), f"{where}, causes", shops),
    )


def _causes(given: Any, where: str, shops: int) -> dict[str, float]:
    """The weights of causes, no more in all than so many shops may have."""
    most = shops * (CAUSES_ALIKE + 1.0)
    found = {
        cause: _number(one, f"{where}, {cause[:60]}", most=most)
        for cause, one in _table(given, where).items()
    }
    if sum(found.values()) > most + _ROUNDED:
        raise _unfit(where, f"this is more than {shops} shops may tell")
    return found


def _table(given: Any, where: str) -> Mapping[str, Any]:
    if not isinstance(given, dict) or any(_HALVES.search(name) for name in given):
        raise _unfit(where, "this is no table of names")
    return given


def _whole(given: Any, where: str, least: int = 1) -> int:
    if (
        isinstance(given, bool)
        or not isinstance(given, int)
        or not least <= given < 1 << 53
    ):
        raise _unfit(where, f"this is no whole number from {least} on")
    return given


def _number(given: Any, where: str, *, most: float, least: float = 0.0) -> float:
    is_number = (
        isinstance(given, int | float)
        and not isinstance(given, bool)
        and abs(given) < 1 << 53
    )
    if (
        not is_number
        or not math.isfinite(given)
        or not least - _ROUNDED <= given <= most + _ROUNDED
    ):
        raise _unfit(where, f"this is no number from {least:g} to {most:g}")
    return float(given)


def _unfit(where: str, what: str) -> CountsTrouble:
    plainly = "".join(
        sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in where
    )
    told = f"this is no file of pooled counts: {plainly}: {what}"
    return CountsTrouble(f"{told}; take one that `benchlore office --counts` wrote")


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """What other shops had of one sheet, on all models and on the one at hand, as a diagnosis asks for it."""

    sheet: SheetElsewhere
    here: ModelElsewhere


NOWHERE = ModelElsewhere(often=0.0, causes={})


class ElsewhereTable:
    """The counts of other shops in an open index; `about` gives what is noted in it under a key."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        about: Callable[[str], str],
        remembered: Remembered,
    ) -> None:
        self._connection = connection
        self._about = about
        self._remembered = remembered

    def put(self, counts: PooledCounts | None) -> None:
        """Hold these counts and no others; to be called while changing."""
        self._connection.execute("DELETE FROM elsewhere")
        if counts:
            self._connection.executemany(
                "INSERT INTO elsewhere VALUES (?, ?, ?)", _rows(counts)
            )

    def on(self, model: str) -> Mapping[str, Elsewhere]:
        """What other shops had, by entry, with what they had on a model; remembered."""
        key = folded(model)
        return self._remembered.get(
            Kept.ELSEWHERE, lambda: self._read(key), key, self._about(STAMP)
        )

    def _read(self, model: str) -> dict[str, Elsewhere]:
        rows = self._connection.execute(
            "SELECT model, entry, told FROM elsewhere WHERE model IN ('', ?)", (model,)
        )
        of_all, of_model = {}, {}
        for name, entry, told in rows:
            if name:
                of_model[entry] = ModelElsewhere(**json.loads(told))
            else:
                of_all[entry] = SheetElsewhere(**json.loads(told))
        return {
            entry: Elsewhere(sheet, of_model.get(entry, NOWHERE))
            for entry, sheet in of_all.items()
        }


def _rows(counts: PooledCounts) -> list[tuple[str, str, str]]:
    """The rows of the table: the sheets under no model, and what was had of them under each."""
    found = []
    for entry, sheet in counts.sheets.items():
        told = asdict(sheet)
        models = told.pop("models")
        found.append(("", entry, json.dumps(told)))
        found += [
            (model, entry, json.dumps(one)) for model, one in models.items() if model
        ]
    return found

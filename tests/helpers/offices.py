"""Shops that share with an office: a shop with some of everything, two invented ones beside it, and all answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from kb.bench.front import Bench
from kb.bench.sharing import share
from kb.demo.jobs import invented_jobs
from kb.history import kinds
from kb.office.answers import answer, asked
from kb.office.engines import opened
from kb.office.sending import file_name
from kb.office.shared import SharedLine

#: Two anonymous ids.
ONE, TWO = "1" * 12, "2" * 12
Answers = dict[str, list[dict[str, Any]]]


def job(
    shop: str,
    number: int,
    cause: str = "no-battery/plug",
    model: str = "Tern 13",
    **told: Any,
) -> SharedLine:
    """The line of a job that took 10 minutes, on a machine of its own."""
    entry, _, name = cause.partition("/")
    usual = {
        "job": number,
        "machine": number,
        "listed": True,
        "minutes": 10.0,
        "day": "2026-01-02",
    }
    return SharedLine(
        kind="job", shop=shop, model=model, entry=entry, cause=name, **{**usual, **told}
    )


def put(folder: Path, lines: Iterable[SharedLine]) -> Path:
    """The folder, with the files of those lines' shops."""
    folder.mkdir(exist_ok=True)
    for line in lines:
        with (folder / file_name(line.shop, "jsonl")).open("a") as out:
            out.write(f"{line.to_json()}\n")
    return folder


def answered(folder: Path, engine: str = "duckdb", *names: str) -> Answers:
    """The answers to those questions, or to all."""
    with opened(engine, folder) as collected:
        assert collected.unfit == ()
        return {
            one.name: answer(one, collected)
            for one in asked(None)
            if not names or one.name in names
        }


def busy_shop(bench: Bench, jobs: int = 250) -> None:
    """Fill a shop with invented jobs: machines that come back, donors, a strange cause, some that led nowhere."""
    history = bench.history()
    invented = invented_jobs(bench.entries.served(), count=jobs)
    with history.together():
        for number, one in enumerate(invented):
            strange = replace(one, cause="odd/thing") if number % 40 == 0 else one
            history.adopt(
                replace(
                    strange,
                    shop=history.shop,
                    minutes=None if number % 30 == 0 else one.minutes,
                )
            )
        for number in range(3):
            history.retract(
                history.open_job("Tern 13", f"W-{number}", "hums"), "went back"
            )
            history.note(
                kinds.NO_FIT, "", {"words": "smells of fish", "model": "Skua 14"}
            )
        tried = {
            "part": "fan",
            "from_model": "Skua 14",
            "to_model": "Tern 13",
            "shown": "failed",
        }
        history.note(kinds.FIT, "", tried)
        history.retract(invented[-1].job, "it was the cable")


def three_shops(bench: Bench, folder: Path) -> Path:
    """A folder with what a busy shop shares, as Parquet, and two others with other habits and spellings."""
    share(bench.shop, folder, "parquet")
    start = datetime(2026, 1, 1, tzinfo=UTC)
    for shop, model, each in ((ONE, "TERN 13", 60), (TWO, "Godwit 13", 41)):
        days = [
            (start + timedelta(days=number)).date().isoformat()
            for number in range(each)
        ]
        for number, day in enumerate(days, 1):
            told: dict[str, Any] = {
                "model": model,
                "day": day,
                "machine": number // 2,
                "minutes": number % 7 * 1.1,
            }
            put(folder, [job(shop, number, part="fan" if number % 3 else "", **told)])
        gone = SharedLine(
            kind="gap",
            shop=shop,
            day="2026-03-01",
            model=model,
            machine=900,
            shown="put-away",
        )
        put(
            folder,
            [
                gone,
                replace(gone, machine=1),
                replace(gone, machine=None, shown="no-fit"),
            ],
        )
    return folder


def alike(one: Answers, other: Answers) -> None:
    """Assert that two engines answer the same, figures to nine digits."""
    assert one.keys() == other.keys()
    for name, rows in one.items():
        assert rows, name
        assert len(rows) == len(other[name]), name
        for row, its in zip(rows, other[name], strict=True):
            assert row.keys() == its.keys()
            for column, value in row.items():
                close = (
                    pytest.approx(its[column], rel=1e-9)
                    if isinstance(value, float)
                    else its[column]
                )
                assert value == close, (name, column, row)

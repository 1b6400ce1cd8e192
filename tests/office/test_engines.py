"""Engines answer alike, and what is wrong with a folder or an engine is told in a sentence."""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.offices import (
    ONE,
    TWO,
    Answers,
    alike,
    answered,
    busy_shop,
    job,
    put,
    three_shops,
)
from helpers.places import CORPUS
from helpers.shops import quick_folder

from kb.base.trouble import Refusal
from kb.bench.front import Bench
from kb.office.checked import Unfit
from kb.office.engines import SCHEMA, on_duckdb, opened, shared_files
from kb.office.sending import send
from kb.office.shared import office_id

SERVER = os.environ.get("BENCHLORE_POSTGRES", "")
needs_server = pytest.mark.skipif(
    not SERVER,
    reason="BENCHLORE_POSTGRES names no PostgreSQL server (the gate starts one)",
)
needs_spark = pytest.mark.skipif(
    importlib.util.find_spec("pyspark") is None,
    reason="pyspark is not here (poe spark has it)",
)


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    with quick_folder() as place:
        bench = Bench(place / "shop", stock=CORPUS)
        busy_shop(bench, 120)
        yield three_shops(bench, place / "office")
        bench.close()


@pytest.fixture(scope="module")
def here(folder: Path) -> Answers:
    return answered(folder)


@needs_server
def test_postgresql_answers_as_duckdb_does_and_again_after_it_was_filled_anew(
    folder: Path, here: Answers
) -> None:
    alike(answered(folder, SERVER), here)
    alike(answered(folder, SERVER), here)


@needs_server
def test_a_schema_that_somebody_else_made_is_left_alone(folder: Path) -> None:
    import psycopg

    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
        server.execute(f"CREATE SCHEMA {SCHEMA}")
        try:
            with pytest.raises(Refusal, match="has not made"), opened(SERVER, folder):
                pass
        finally:
            server.execute(f"DROP SCHEMA {SCHEMA}")


@needs_spark
def test_spark_answers_as_duckdb_does(folder: Path, here: Answers) -> None:
    alike(answered(folder, "spark"), here)


def test_an_engine_that_is_not_known_not_here_or_does_not_answer_is_told(
    tmp_path: Path,
) -> None:
    with pytest.raises(Refusal, match="no engine is called abacus"):
        opened("abacus", tmp_path)
    silent = "postgresql://nobody@127.0.0.1:1/none"
    with (
        pytest.raises(Refusal, match="PostgreSQL does not take the lines"),
        opened(silent, tmp_path),
    ):
        pass


def test_jsonl_and_parquet_of_one_shop_answer_alike(tmp_path: Path) -> None:
    lines = [
        job("?", number, machine=number // 2, minutes=number * 1.5)
        for number in range(1, 9)
    ]
    found = []
    for form in ("jsonl", "parquet"):
        send(
            [replace(one, shop=office_id("a")) for one in lines],
            "a",
            (),
            tmp_path / form,
            form,
        )
        found.append(answered(tmp_path / form))

    assert found[0] == found[1]


def test_a_shop_with_two_files_counts_with_neither_and_that_is_told(
    tmp_path: Path,
) -> None:
    put(tmp_path, [job(ONE, 1), job(TWO, 1)])
    (tmp_path / f"shared-{ONE}.parquet").write_bytes(b"?")

    with on_duckdb(shared_files(tmp_path)) as collected:
        assert {row["shop"] for row in collected.rows(collected.lines)} == {TWO}
        assert [one.file for one in collected.unfit] == [
            f"shared-{ONE}.jsonl",
            f"shared-{ONE}.parquet",
        ]


def test_files_that_are_none_of_ours_are_told(tmp_path: Path) -> None:
    put(tmp_path, [job(ONE, 1)])
    (tmp_path / f"shared-{ONE} (1).jsonl").write_text("")
    (tmp_path / f"shared-{TWO}.parquet").write_bytes(b"no such form")
    (tmp_path / "notes.txt").write_text("ours alone")

    files = shared_files(tmp_path)

    assert [path.name for path in files.jsonl] == [f"shared-{ONE}.jsonl"]
    name, form = files.unfit
    assert name == Unfit(
        f"shared-{ONE} (1).jsonl", 0, "it is no file that export --shared has written"
    )
    assert form.file == f"shared-{TWO}.parquet"
    assert form.why.startswith("it cannot be read (")

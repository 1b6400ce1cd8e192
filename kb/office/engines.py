"""Engines that answer the office's questions: DuckDB in this process, a PostgreSQL server, or Apache Spark.

Each gives the lines of a folder as one Ibis table. DuckDB reads them here, checks them and holds them in memory;
PostgreSQL is handed those that fit; Spark reads and checks them itself, on as many machines as it has.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any

import ibis
from ibis import Table

from kb.base.trouble import Refusal
from kb.office.checked import FILE, WRONG, Unfit, fitting, judged, unfit
from kb.office.sending import INSTALL
from kb.office.shared import COLUMNS

#: The schema of a PostgreSQL database that is made and replaced, and what is noted on it.
SCHEMA, OURS = (
    "benchlore_office",
    "made by benchlore office, which replaces it each time",
)
DUCKDB, SPARK = "duckdb", "spark"
Row = dict[str, Any]
_LINES = "lines"
#: How columns are called there; texts are compared by their bytes, as elsewhere.
_POSTGRESQL = {
    "string": 'text COLLATE "C"',
    "int64": "bigint",
    "float64": "double precision",
    "boolean": "boolean",
}


@dataclass(frozen=True, slots=True)
class Collected:
    """The lines of all shops that fit, as a table of an engine, how it gives the rows of one, and lines that do not."""

    lines: Table
    rows: Callable[[Table], list[Row]]
    unfit: tuple[Unfit, ...]


@dataclass(frozen=True, slots=True)
class SharedFiles:
    """The files of shops in a folder by their form, and what else lies there under such a name."""

    jsonl: tuple[Path, ...]
    parquet: tuple[Path, ...]
    unfit: tuple[Unfit, ...]

    def __bool__(self) -> bool:
        """Whether there is any."""
        return bool(self.jsonl or self.parquet)


def opened(engine: str, folder: Path) -> AbstractContextManager[Collected]:
    """The lines of a folder in the engine of that name, or at that address (postgresql://...).

    Raises Refusal for an engine that is not known, is not here or does not answer.
    """
    files = shared_files(folder)
    if engine == DUCKDB:
        return on_duckdb(files)
    if engine == SPARK:
        return on_spark(files)
    if engine.startswith(("postgresql://", "postgres://")):
        return on_postgresql(files, engine)
    raise Refusal(
        f"no engine is called {engine[:40]}; say duckdb, spark or postgresql://USER@HOST/DATABASE"
    )


def shared_files(folder: Path) -> SharedFiles:
    """What export --shared has written into a folder; of a shop with two files neither counts, as one is old."""
    found: dict[str, list[Path]] = {}
    left: list[Unfit] = []
    for path in sorted(folder.glob("shared-*")):
        name = re.search(f"^{FILE}", path.name)
        if name and path.is_file():
            found.setdefault(name[1], []).append(path)
        else:
            left.append(
                Unfit(path.name, 0, "it is no file that export --shared has written")
            )
    good: dict[str, list[Path]] = {".jsonl": [], ".parquet": []}
    for paths in found.values():
        fault = (
            "the shop has another one here; take the older one away"
            if len(paths) > 1
            else _unreadable(paths[0])
        )
        if fault:
            left += [Unfit(path.name, 0, fault) for path in paths]
        else:
            good[paths[0].suffix] += paths
    return SharedFiles(tuple(good[".jsonl"]), tuple(good[".parquet"]), tuple(left))


def _unreadable(path: Path) -> str:
    """What keeps a file from being read, empty for nothing."""
    from pyarrow import ArrowException, parquet

    try:
        if path.suffix == ".jsonl":
            path.open("rb").close()
            return ""
        lacking = COLUMNS.keys() - set(parquet.read_schema(path).names)
    except (OSError, ArrowException) as error:
        return f"it cannot be read ({str(error).splitlines()[0][:100]})"
    return f"it has no column {', '.join(sorted(lacking))}" if lacking else ""


@contextmanager
def on_duckdb(files: SharedFiles) -> Iterator[Collected]:
    """The lines in memory of this process."""
    connection = ibis.duckdb.connect()
    try:
        connection.raw_sql("ATTACH ':memory:' AS office (COMPRESS)")
        connection.raw_sql("USE office")
        lines = connection.create_table(
            _LINES, judged(_read_by_duckdb(connection, files))
        )
        connection.raw_sql("CHECKPOINT office")
        rows = partial(_fetched, connection)
        yield Collected(fitting(lines), rows, _told(rows(unfit(lines)), files))
    finally:
        connection.disconnect()


def _fetched(connection: Any, asked: Table) -> list[Row]:
    """The rows of a table, read as Python has them: less is loaded for it than for a data frame."""
    answer = connection.raw_sql(connection.compile(asked))
    names = [column[0] for column in answer.description]
    return [
        dict(zip(names, map(_plain, row), strict=True)) for row in answer.fetchall()
    ]


def _plain(value: Any) -> Any:
    """A value as the other engines give it: PostgreSQL has decimals for sums of whole numbers."""
    return int(value) if isinstance(value, Decimal) else value


def _read_by_duckdb(connection: Any, files: SharedFiles) -> Table:
    """Every line of the files, each column as text."""
    texts = "{" + ", ".join(f"'{name}': 'VARCHAR'" for name in COLUMNS) + "}"
    parts = [
        f"SELECT {', '.join(f'NULL::VARCHAR AS {name}' for name in COLUMNS)}, '' AS file WHERE false"
    ]
    names = ", ".join(COLUMNS)
    if files.jsonl:
        how = f"format = 'newline_delimited', ignore_errors = true, filename = true, columns = {texts}"
        parts.append(
            f"SELECT {names}, filename AS file FROM read_json({_quoted(files.jsonl)}, {how})"
        )
    if files.parquet:
        spelt = ", ".join(f"{name}::VARCHAR AS {name}" for name in COLUMNS)
        parts.append(
            f"SELECT {spelt}, filename FROM read_parquet({_quoted(files.parquet)}, filename = true)"
        )
    connection.raw_sql(f"CREATE TEMP VIEW raw AS {' UNION ALL '.join(parts)}")
    return connection.table("raw")


def _quoted(paths: Sequence[Path]) -> str:
    return (
        "["
        + ", ".join("'" + str(path).replace("'", "''") + "'" for path in paths)
        + "]"
    )


@contextmanager
def on_postgresql(files: SharedFiles, address: str) -> Iterator[Collected]:
    """The lines in a schema of their own on a server, which is made anew; DuckDB reads and checks them first."""
    try:
        import psycopg
    except ImportError:
        raise Refusal(
            f"PostgreSQL needs libraries that are not here; {INSTALL}"
        ) from None
    with on_duckdb(files) as here:
        try:
            with psycopg.connect(address, connect_timeout=10) as server:
                _fill(server, here.lines)
            connection = ibis.postgres.from_connection(
                psycopg.connect(address, connect_timeout=10)
            )
        except psycopg.Error as error:
            raise Refusal(
                f"PostgreSQL does not take the lines: {str(error).splitlines()[0]}"
            ) from error
    try:
        yield Collected(
            connection.table(_LINES, database=SCHEMA),
            partial(_fetched, connection),
            here.unfit,
        )
    finally:
        connection.disconnect()


def _fill(server: Any, lines: Table) -> None:
    """Put the lines into the schema, all or none; a schema of that name that is not ours is left alone."""
    known = server.execute(
        "SELECT obj_description(oid, 'pg_namespace') FROM pg_namespace WHERE nspname = %s",
        (SCHEMA,),
    ).fetchone()
    if known and known[0] != OURS:
        raise Refusal(
            f"the database has a schema {SCHEMA} that this program has not made; name another database"
        )
    columns = ", ".join(
        f"{name} {_POSTGRESQL[str(sort)]}" for name, sort in lines.schema().items()
    )
    server.execute(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
    server.execute(f"CREATE SCHEMA {SCHEMA}")
    server.execute(f"COMMENT ON SCHEMA {SCHEMA} IS '{OURS}'")
    server.execute(f"CREATE TABLE {SCHEMA}.{_LINES} ({columns})")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "lines.csv"
        here = lines.get_backend()
        here.raw_sql(f"COPY ({here.compile(lines)}) TO '{file}' (HEADER false)")
        with (
            server.cursor().copy(
                f"COPY {SCHEMA}.{_LINES} FROM STDIN (FORMAT csv)"
            ) as copy,
            file.open("rb") as pieces,
        ):
            while piece := pieces.read(1 << 20):
                copy.write(piece)
    server.execute(f"ANALYZE {SCHEMA}.{_LINES}")


@contextmanager
def on_spark(files: SharedFiles) -> Iterator[Collected]:
    """The lines as Spark reads them; it goes on with a session that runs already, and makes a local one otherwise."""
    try:
        from pyspark.sql import SparkSession
    except ImportError:
        raise Refusal(
            f"Spark needs libraries that are not here; {INSTALL.replace('office', 'spark')}"
        ) from None
    session = SparkSession.builder.appName("benchlore office").getOrCreate()
    try:
        connection = ibis.pyspark.connect(session)

        def collect(asked: Table) -> list[Row]:
            return [
                row.asDict() for row in session.sql(connection.compile(asked)).collect()
            ]

        _read_by_spark(session, files).createOrReplaceTempView("raw")
        lines = connection.create_view(
            _LINES, judged(connection.table("raw")), overwrite=True
        )
        session.catalog.cacheTable(_LINES)
        yield Collected(fitting(lines), collect, _told(collect(unfit(lines)), files))
    finally:
        session.stop()


def _read_by_spark(session: Any, files: SharedFiles) -> Any:
    """Every line of the files, each column as text."""
    from pyspark.sql import functions

    texts = ", ".join(f"{name} STRING" for name in COLUMNS)
    file = functions.input_file_name().alias("file")
    found = session.createDataFrame([], f"{texts}, file STRING")
    if files.jsonl:
        read = session.read.schema(texts).json(
            [path.absolute().as_uri() for path in files.jsonl]
        )
        found = found.union(read.select(*COLUMNS, file))
    if files.parquet:
        read = session.read.parquet(
            *[path.absolute().as_uri() for path in files.parquet]
        )
        found = found.union(
            read.select(*(functions.col(name).cast("string") for name in COLUMNS), file)
        )
    return found


def _told(rows: list[Row], files: SharedFiles) -> tuple[Unfit, ...]:
    """The lines that do not fit, by file, after the files that could not be read."""
    told = [
        Unfit(Path(row["file"]).name, row["lines"], WRONG[row["fault"]]) for row in rows
    ]
    return (*files.unfit, *sorted(told, key=lambda one: (one.file, one.why)))

"""The command for an office of many shops: its questions, asked of what they share in a folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.base.clock import utc_now
from kb.base.trouble import Refusal
from kb.cli.keeping import write_whole_file
from kb.cli.options import done, end_with, json_option, say, tell
from kb.cli.text import LINES_SHOWN, counted
from kb.index.elsewhere import CountsTrouble, PooledCounts, read
from kb.office.sending import INSTALL

if TYPE_CHECKING:
    from kb.office.engines import Collected

Row = Mapping[str, Any]


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.option(
    "--question",
    type=click.Choice(
        ["shops", "causes", "failures", "models", "parts", "fits", "tests", "gaps"]
    ),
    help="One of them, with all its lines; all of them without it.",
)
@click.option(
    "--engine",
    default="duckdb",
    show_default=True,
    metavar="ENGINE",
    help="What answers: duckdb, spark, or a server at postgresql://USER@HOST/DATABASE.",
)
@click.option(
    "--counts",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write what all had into that file too, from which each shop learns.",
)
@json_option
def office(
    folder: Path,
    *,
    question: str | None,
    engine: str,
    counts: Path | None,
    as_json: bool,
) -> None:
    """Ask what many shops share in a folder: what fails most, models compared, parts, tests, gaps.

    Shops write into it with `benchlore export --shared FOLDER`, and learn from what --counts writes. Intervals are
    those of one shop's review: they tell what the number of machines leaves open, not by how much shops differ.

    Example: benchlore office /mnt/shared
    """
    _refuse_without_libraries()
    from kb.office.answers import answer, asked, pool
    from kb.office.engines import opened

    with opened(engine, folder) as collected:
        found = {one.name: answer(one, collected) for one in asked(question)}
        pooled = pool(collected, utc_now().date()) if counts else None
    for left in collected.unfit:
        say(str(left), err=True)
    if not any(found.values()):
        say(
            f"no shop has shared a job in {folder}; each writes its file with: benchlore export --shared",
            err=True,
        )
        raise SystemExit(1)
    if counts and pooled:
        _write(counts, pooled)
    tell(
        _document(collected, found),
        _lines(found, LINES_SHOWN if question is None else None),
        as_json,
    )
    end_with(not collected.unfit)


def _refuse_without_libraries() -> None:
    """Raise Refusal, saying how to install them, where the libraries of the office's questions are missing."""
    try:
        import_module("kb.office.engines")
    except ModuleNotFoundError as error:
        if error.name != "ibis":
            raise
        raise Refusal(
            f"the office's questions need libraries that are not here; {INSTALL}"
        ) from None


def _write(file: Path, pooled: PooledCounts) -> None:
    """Write pooled counts in place of older ones, and of nothing else that is there."""
    if file.exists():
        try:
            read(file.read_bytes())
        except CountsTrouble:
            raise Refusal(
                f"{file} is there and holds no pooled counts; give another name"
            ) from None
    write_whole_file(file, iter([pooled.to_json().encode()]), replace=True)
    told = f"{file}: {counted(pooled.jobs, 'job')} of {counted(pooled.shops, 'shop')}, for benchlore learn"
    done(told)
    say(told, err=True)


def _document(
    collected: Collected, found: Mapping[str, Sequence[Row]]
) -> dict[str, Any]:
    unfit = [
        {"file": one.file, "lines": one.lines, "why": one.why}
        for one in collected.unfit
    ]
    return {"answers": dict(found), "unfit": unfit}


def _lines(found: Mapping[str, Sequence[Row]], most: int | None) -> Iterator[str]:
    """Each answer under its heading, the first lines of it or all."""
    for number, (name, rows) in enumerate(found.items()):
        heading, told = _TOLD[name]
        if number:
            yield ""
        yield f"{heading} [{name}]:"
        yield from (told(row) for row in rows[:most])
        if not rows:
            yield "      none"
        elif most is not None and len(rows) > most:
            yield f"      and {len(rows) - most} more; --question {name} shows all"


def _shop(row: Row) -> str:
    jobs, machines, models = (
        counted(row[f"{what}s"], what) for what in ("job", "machine", "model")
    )
    return f"{row['jobs']:7d}  {row['shop']}: {jobs} on {machines} of {models}, {row['first']} to {row['last']}"


def _cause(row: Row) -> str:
    model = f" on {row['model']}" if "model" in row else ""
    minutes = (
        "" if row["median_minutes"] is None else f", {row['median_minutes']:.0f} min"
    )
    shops = counted(row["shops"], "shop")
    return f"{row['jobs']:7d}  {row['cause']}{model}: {_share(row, 'rate')} of machines, {shops}{minutes}"


def _model(row: Row) -> str:
    minutes = (
        ""
        if row["minutes_each"] is None
        else f", minutes {_figure(row, 'minutes_each')}"
    )
    jobs, parts = _figure(row, "jobs_each"), _figure(row, "parts_each")
    machines, shops = counted(row["machines"], "machine"), counted(row["shops"], "shop")
    return (
        f"{row['machines']:7d}  {row['model']}: {machines} in {shops}, {jobs} jobs and {parts} parts a machine"
        f"{minutes}; cause found on {row['good']:.0%}"
    )


def _part(row: Row) -> str:
    shops = counted(row["shops"], "shop")
    return f"{row['jobs']:7d}  {row['part']} in {row['model']}: {_share(row, 'rate')} of machines, {shops}"


def _fit(row: Row) -> str:
    tried = f"worked {row['worked']}, failed {row['failed']}, claimed {row['claimed']}"
    across = f"{row['part']} of {row['from_model']} in {row['model']}"
    return f"{row['worked']:7d}  {across}: {tried}; {counted(row['shops'], 'shop')}"


def _test(row: Row) -> str:
    used = row["right"] + row["wrong"]
    return f"{row['wrong']:7d}  {row['test']}: right {row['right']} of {used}, {_share(row, 'rate')}"


def _gap(row: Row) -> str:
    what = {"no-fit": "nothing fitted", "put-away": "put away without a cause"}.get(
        row["way"], row["cause"]
    )
    model, shops = row["model"] or "no model told", counted(row["shops"], "shop")
    return f"{row['times']:7d}  {what} ({model}): {shops}, last {row['last']}"


def _share(row: Row, name: str) -> str:
    return f"{row[name]:.1%} ({row[f'{name}_low']:.1%} to {row[f'{name}_high']:.1%})"


def _figure(row: Row, name: str) -> str:
    limits = (
        ""
        if row[f"{name}_low"] is None
        else f" ({row[f'{name}_low']:.1f} to {row[f'{name}_high']:.1f})"
    )
    return f"{row[name]:.1f}{limits}"


#: How each answer is headed and each of its rows told.
_TOLD: Mapping[str, tuple[str, Callable[[Row], str]]] = {
    "shops": ("Jobs that shops have sent", _shop),
    "causes": ("Most frequent failures", _cause),
    "failures": ("Most frequent failures per model", _cause),
    "models": ("Models compared, most machines first", _model),
    "parts": ("Parts fitted", _part),
    "fits": ("Parts of one model in another", _fit),
    "tests": ("Tests by how often they misled", _test),
    "gaps": ("What the libraries lack", _gap),
}

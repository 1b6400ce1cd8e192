"""The command for searching: words in, ranked fault pictures and the next step out."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from kb.cli import completing, hand, json_contract, slips
from kb.cli import text as printing
from kb.cli.options import (
    Whole,
    end_with,
    json_option,
    say,
    shop_option,
    warn_of_what_is_left_out,
)

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.diagnosis.answer import Answer


@click.command()
@click.argument("words", nargs=-1)
@completing.model_option("The model on the bench.")
@click.option(
    "--limit",
    "-n",
    default=5,
    type=Whole(1, 50),
    metavar="N",
    show_default=True,
    help="Entries to show.",
)
@click.option(
    "--stdin",
    "from_stdin",
    is_flag=True,
    help="Read one query a line, print one JSON line each.",
)
@click.option(
    "--rank-only",
    is_flag=True,
    help="With --stdin: the order of the entries alone, in a third of the time.",
)
@json_option
@shop_option
def search(
    bench: Bench,
    words: tuple[str, ...],
    *,
    model: str,
    limit: int,
    from_stdin: bool,
    rank_only: bool,
    as_json: bool,
) -> None:
    """Rank the fault pictures that fit a symptom.

    Example: benchlore search "wont chrge, led orange" --model "Tern 13"
    """
    if from_stdin:
        if words:
            raise click.UsageError(
                "give either words or --stdin, which reads one query a line"
            )
        _search_each_line(bench, model, limit=limit, rank_only=rank_only)
        return
    if rank_only:
        raise click.UsageError(
            "--rank-only goes with --stdin, which reads one query a line"
        )
    text = _complaint(words)
    slips.note_new_model(bench, model)
    meant = slips.forgotten_quotes(bench, words, model)
    if meant:
        say(slips.quotes_told(model, meant), err=True)
    answer = bench.asking.search(text, model, limit=limit)
    if as_json:
        content = json_contract.of_answer(answer, bench.health.left_out())
        click.echo(json_contract.to_json(content))
    else:
        say("\n".join(_lines(bench, answer)))
    warn_of_what_is_left_out(bench)
    end_with(answer.fits)


def _complaint(words: Sequence[str]) -> str:
    """What is wrong, as it was typed; raises UsageError where nothing was."""
    text = " ".join(words).strip()
    if not text:
        raise click.UsageError(
            'say what is wrong, for example: benchlore search "no light when plugged in"'
        )
    return text


def _lines(bench: Bench, answer: Answer) -> Iterator[str]:
    """The answer, and below the next step where the part it needs is at hand."""
    yield from printing.answer_lines(answer)
    if answer.next_step and answer.fits:
        for line in hand.step_lines(bench, answer.next_step, answer.model):
            yield f"      {line}"


def _search_each_line(bench: Bench, model: str, *, limit: int, rank_only: bool) -> None:
    """Answer each line of standard input with a line of JSON."""
    for line in sys.stdin.buffer:
        text = line.decode("utf-8", "replace").rstrip("\r\n")
        click.echo(
            json_contract.to_json(
                _told(bench, text, model, limit=limit, rank_only=rank_only)
            )
        )
    warn_of_what_is_left_out(bench)


def _told(
    bench: Bench, text: str, model: str, *, limit: int, rank_only: bool
) -> dict[str, Any]:
    """What one line of standard input is answered with."""
    if rank_only:
        return json_contract.of_ranking(bench.asking.rank(text, model, limit=limit))
    return json_contract.of_answer(
        bench.asking.search(text, model, limit=limit), bench.health.left_out()
    )

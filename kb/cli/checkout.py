"""The command for check-outs: what comes next on a machine and why, and what is shown, waived and signed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import click

from kb.cli import completing, json_contract, slips
from kb.cli.options import done, json_option, say, shop_option, shop_told
from kb.cli.phrases import if_any

if TYPE_CHECKING:
    from kb.bench.checkout import CheckOut, Failed
    from kb.bench.front import Bench
    from kb.history.units import LineShown
    from kb.library.checklist import CheckLine
    from kb.machines.checkout.standing import LineStanding
    from kb.machines.checkout.way import LineToDo


@click.command()
@click.argument("tag", metavar="TAG", shell_complete=completing.tags)
@click.option(
    "--good",
    multiple=True,
    metavar="LINE",
    help="This line showed good, or this work is done; repeatable.",
)
@click.option(
    "--bad",
    default="",
    metavar="LINE",
    help="This line failed: opens the job in which it is looked for.",
)
@click.option(
    "--note",
    default="",
    metavar="TEXT",
    help="With --bad: what it does or does not do, in any words.",
)
@click.option(
    "--not-there",
    "absent",
    default="",
    metavar="LINE",
    help="The machine has nothing this line could show.",
)
@click.option(
    "--waive",
    default="",
    metavar="LINE",
    help="Let it go without this line; needs --why.",
)
@click.option(
    "--why", default="", metavar="TEXT", help="With --waive or --not-there: the reason."
)
@click.option(
    "--value",
    default="",
    metavar="TEXT",
    help="With one --good: what was read, such as the battery's wear.",
)
@click.option(
    "--back", default="", metavar="LINE", help="Take back what this line showed last."
)
@click.option("--by", default="", metavar="INITIALS", help="Who looked.")
@click.option(
    "--sign",
    default="",
    metavar="INITIALS",
    help="Sign it; not for whoever repaired the machine.",
)
@json_option
@shop_option
def checkout(bench: Bench, tag: str, as_json: bool, **given: Any) -> None:
    """Print what is left to check on a machine, in the order that takes least, or write down what was seen.

    Example: benchlore checkout P7-012 --good every-key --good pad
    """
    _refuse_what_does_not_belong(given)
    slips.refuse_an_unknown_tag(bench, tag)
    opened = _written(bench, tag, given)
    stands = bench.checkout.of(tag)
    if as_json:
        click.echo(json_contract.to_json(of_check_out(stands, opened)))
        return
    if opened:
        say(
            f"{opened.line} failed: job {opened.job} is open with the words “{opened.words}”"
        )
        say(f"look for it with: benchlore guide --job {opened.job}{shop_told(bench)}\n")
    say("\n".join(check_out_lines(stands)))


#: The options that write something down, and those that go with some of them alone.
_WRITES = ("good", "bad", "absent", "waive", "back", "sign")
_GOES_WITH = {"note": ("bad",), "why": ("waive", "absent"), "value": ("good",)}
#: The latter as they are typed.
_OPTIONS_OF = {"note": "--bad", "why": "--waive or --not-there", "value": "--good"}


def _refuse_what_does_not_belong(given: Mapping[str, Any]) -> None:
    """Raise UsageError for options that do not go together."""
    written = [name for name in _WRITES if given[name]]
    if len(written) > 1:
        raise click.UsageError(
            "give one of --good, --bad, --not-there, --waive, --back and --sign at a time"
        )
    for name, with_one_of in _GOES_WITH.items():
        if given[name] and not any(given[other] for other in with_one_of):
            raise click.UsageError(f"--{name} goes with {_OPTIONS_OF[name]}; give both")
    if given["waive"] and not given["why"].strip():
        raise click.UsageError("--waive needs a reason; give it with --why")
    if given["value"] and len(given["good"]) > 1:
        raise click.UsageError(
            "--value is what was read with one line; give one --good with it"
        )


def _written(bench: Bench, tag: str, given: Mapping[str, Any]) -> Failed | None:
    """Write down what was given; gives the job that a failed line opened, None otherwise."""
    desk, by = bench.checkout, given["by"]
    for name in given["good"]:
        # a wrong name, and a record that is missing, are told before anything is written
        _refuse_without_record(desk.line(name), given)
    for name in given["good"]:
        desk.good(tag, name, given["value"], by)
        done(f"{name} of {tag} is good")
    if name := given["absent"]:
        desk.not_there(tag, name, given["why"], by)
        done(f"{name} of {tag} is not there")
    if name := given["waive"]:
        desk.waive(tag, name, given["why"], by)
        done(f"{name} of {tag} is waived")
    if name := given["back"]:
        desk.take_back(tag, name)
        done(f"{name} of {tag} is taken back")
    if given["sign"]:
        desk.sign(tag, given["sign"])
        done(f"{tag} is signed")
    if not given["bad"]:
        return None
    opened = desk.bad(tag, given["bad"], given["note"], by)
    done(f"{opened.line} of {tag} failed: job {opened.job} is open")
    return opened


def _refuse_without_record(line: CheckLine, given: Mapping[str, Any]) -> None:
    """Raise UsageError for a line that is good with its record alone, such as how the machine was wiped."""
    if line.first and line.reads and not given["value"].strip():
        told = "say how, with what result, and how that was verified"
        raise click.UsageError(
            f"{line.name} is good with its record alone: give it by itself, as --good {line.name} --value TEXT, "
            f"and {told}; nothing was written"
        )


def check_out_lines(stands: CheckOut) -> Iterator[str]:
    """How a check-out stands, and what is left in the order to do it, with the reasons."""
    unit = stands.unit
    settled = f"{stands.settled} of {len(stands.standing)} lines settled"
    yield f"{unit.tag}{if_any(' · {}', unit.model)}: {settled}"
    yield from _signed_lines(stands)
    for one in stands.failed:
        why = one.shown.why if one.shown else ""
        yield f"  failed  {one.line.name}{if_any(': {}', why)}"
    if stands.way.todo:
        gain = (
            f", {stands.saved:.0f} less than in the list's own order"
            if stands.saved >= 0.5
            else ""
        )
        yield f"About {stands.way.expected_minutes:.0f} min left{gain}."
    for number, todo in enumerate(stands.way.todo, 1):
        yield from _todo_lines(number, todo)
    for held, waits in stands.way.held:
        yield f"    waits  {held.line.name} (for {' and '.join(waits)})"
    for point in stands.open_points:
        yield f"  on the sheet: {point}"
    for remark in stands.checklist.remarks:
        yield f"  to mend: {remark}"


def _signed_lines(stands: CheckOut) -> Iterator[str]:
    if stands.signature:
        yield f"Signed by {stands.signature.by}, {stands.signature.at[:10]}."
    elif stands.is_ready:
        yield "Ready to be signed, by somebody who repaired nothing on it: --sign INITIALS"


def _todo_lines(number: int, todo: LineToDo) -> Iterator[str]:
    line = todo.line
    wait = if_any(", then {:g} min of waiting", line.wait)
    needs = if_any(", needs {}", ", ".join(line.needs))
    yield f"{number:3d}  {line.name} ({line.minutes:g} min{wait}{needs}): {line.text}"
    yield f"     {todo.why}"


def of_check_out(stands: CheckOut, opened: Failed | None = None) -> dict[str, Any]:
    """The JSON of a check-out; `opened` is the job that a failed line has just opened."""
    signature, next_line = stands.signature, stands.next_line
    signed = None
    if signature:
        signed = {"by": signature.by, "at": signature.at, "list": signature.list}
    told = {
        "unit": stands.unit.tag,
        "model": stands.unit.model,
        "ready": stands.is_ready,
        "kept_here_by": list(stands.kept_here_by),
        "signed": signed,
        "next": next_line.line.name if next_line else None,
        "expected_minutes": round(stands.way.expected_minutes, 2),
        "list_minutes": round(stands.way.listed_minutes, 2),
        "order": [_of_todo(todo) for todo in stands.way.todo],
        "waits": [
            {"line": held.line.name, "for": list(waits)}
            for held, waits in stands.way.held
        ],
        "lines": [_of_line(one) for one in stands.standing],
        "open_points": list(stands.open_points),
        "job": opened.job if opened else None,
        "warnings": [str(remark) for remark in stands.checklist.remarks],
    }
    return json_contract.nulls(told)


def _of_todo(todo: LineToDo) -> dict[str, Any]:
    here, others = todo.counted.here, todo.counted.elsewhere
    return {
        "line": todo.line.name,
        "text": todo.line.text,
        "minutes": todo.line.minutes,
        "wait_minutes": todo.line.wait,
        "fails": round(todo.counted.fails, 6),
        "bad_here": here.bad,
        "seen_here": here.seen,
        "bad_elsewhere": others.bad,
        "seen_elsewhere": others.seen,
        "late_minutes": round(todo.late_minutes, 2),
        "why": todo.why,
    }


def _of_line(one: LineStanding) -> dict[str, Any]:
    return {"line": one.line.name, "state": one.state.value, **_of_shown(one.shown)}


def _of_shown(shown: LineShown | None) -> dict[str, Any]:
    """What a line showed; every key with null while nobody has looked."""
    if shown is None:
        return dict.fromkeys(("at", "by", "why", "value", "job"))
    told = {
        "at": shown.at,
        "by": shown.by,
        "why": shown.why,
        "value": shown.value,
        "job": shown.job,
    }
    return json_contract.nulls(told)

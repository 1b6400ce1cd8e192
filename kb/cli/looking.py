"""The commands for looking: one sheet, the list of sheets, jobs; and those for a new sheet, the last save, and help."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from kb.base.trouble import NotThere, Refusal
from kb.cli import completing, json_contract, usage
from kb.cli.options import (
    Whole,
    a_day,
    done,
    end_with,
    json_option,
    say,
    shop_option,
    tell,
)
from kb.cli.text import counted, in_other_shops, share

if TYPE_CHECKING:
    from kb.bench.entries import SheetOnFile
    from kb.bench.front import Bench
    from kb.review.catalogue import Listed


@click.command()
@click.argument("entry", metavar="ENTRY", shell_complete=completing.sheets)
@completing.model_option("Counts and beliefs on this model.")
@json_option
@shop_option
def show(bench: Bench, entry: str, *, model: str, as_json: bool) -> None:
    """Show a sheet: its causes with how often each was confirmed here, and its text.

    Example: benchlore show battery-not-detected
    """
    slug = entry.strip().casefold().partition("/")[0].removesuffix(".md")
    found = bench.entries.sheet(slug, model)
    if found is None:
        raise NotThere(
            usage.no_such(
                "entry", slug, [one.slug for one in bench.entries.catalogue().listed]
            )
        )
    tell(json_contract.of_sheet(found), sheet_lines(found), as_json)


@click.command("list")
@click.argument("words", nargs=-1)
@click.option(
    "--area",
    default="",
    metavar="AREA",
    help="Only sheets of that area, such as power.",
)
@json_option
@shop_option
def list_(bench: Bench, words: tuple[str, ...], *, area: str, as_json: bool) -> None:
    """List the sheets, by area, with how often each was confirmed here; with words those that say them.

    Example: benchlore list charger --area power
    """
    wanted, within = " ".join(words), area.strip().casefold()
    sheets = bench.entries.catalogue().listed
    areas = sorted({one.area for one in sheets if one.area})
    if within and within not in map(str.casefold, areas):
        raise NotThere(usage.no_such("area", area, areas))
    listed = [
        one
        for one in sheets
        if one.says(wanted) and within in ("", one.area.casefold())
    ]
    tell([json_contract.of_listed(one) for one in listed], list_lines(listed), as_json)
    end_with(listed)


@click.command()
@click.option("--open", "only_open", is_flag=True, help="Only jobs on the bench.")
@click.option("--unit", default="", metavar="TAG", help="Only jobs on that machine.")
@completing.model_option("Only jobs on that model.")
@click.option(
    "--since",
    default="",
    metavar="DATE",
    callback=a_day,
    help="Only jobs closed from that day on, as YYYY-MM-DD.",
)
@click.option(
    "--limit",
    "-n",
    default=20,
    type=Whole(1, 10_000),
    metavar="N",
    show_default=True,
    help="Jobs to show.",
)
@json_option
@shop_option
def jobs(
    bench: Bench,
    *,
    only_open: bool,
    unit: str,
    model: str,
    since: str,
    limit: int,
    as_json: bool,
) -> None:
    """List jobs, those on the bench first, then the closed ones, latest first.

    Example: benchlore jobs --open
    """
    from kb.bench.jobs import JobsWanted

    wanted = JobsWanted(unit=unit, model=model, since=since)
    on_bench = bench.jobs.open_like(wanted)
    closed = () if only_open else bench.jobs.closed_like(wanted)
    shown = [
        *map(json_contract.of_open, on_bench),
        *map(json_contract.of_closed, closed),
    ][:limit]
    tell(shown, job_lines(shown, len(on_bench) + len(closed)), as_json)
    end_with(shown)


@click.command()
@click.argument("title", nargs=-1, required=True)
@click.option("--area", default="", metavar="AREA", help="Its area, such as power.")
@click.option("--no-editor", is_flag=True, help="Only write the empty sheet.")
@json_option
@shop_option
def new(
    bench: Bench, title: tuple[str, ...], *, area: str, no_editor: bool, as_json: bool
) -> None:
    """Write an empty sheet with that title among the shop's own, and open it in the editor.

    Example: benchlore new "hinge creaks when opened"
    """
    from kb.library import editing, markdown

    words = " ".join(title)
    slug = markdown.to_slug(words, 40)
    if not slug:
        raise click.UsageError(
            "give a title with letters in it, such as: benchlore new hinge creaks when opened"
        )
    if bench.entries.on_file(slug) is not None:
        raise Refusal(
            f"there is a sheet {slug} already; benchlore show {slug} shows it"
        )
    path = bench.entries.save(
        slug,
        editing.first_sheet(bench.shop.customs.empty_sheet(), words, area, [], ""),
        "",
    )
    done(f"the sheet is in {path}")
    tell(
        {"entry": slug, "file": str(path)},
        [
            f"{path}\nit counts once it says more than an empty sheet; benchlore check {path} says what is missing"
        ],
        as_json,
    )
    if sys.stdin.isatty() and sys.stdout.isatty() and not no_editor:
        click.edit(filename=str(path))


@click.command()
@click.option("--yes", is_flag=True, help="Without asking.")
@click.option("--by", default="", metavar="INITIALS", help="Who says so.")
@json_option
@shop_option
def undo(bench: Bench, *, yes: bool, by: str, as_json: bool) -> None:
    """Retract the confirmation that was saved last in this shop, after showing it.

    Example: benchlore undo --yes
    """
    last = next(iter(bench.jobs.last_saved(1)), None)
    if last is None:
        say("no confirmation is there to be taken back", err=True)
        raise SystemExit(1)
    told = f"job {last.job}: {last.cause} on {last.model}, closed {last.closed_at[:10]}"
    if not yes:
        if not sys.stdin.isatty():
            raise click.UsageError(f"this would retract {told}; say --yes")
        click.confirm(f"retract {told}?", abort=True)
    bench.jobs.retract(last.job, "taken back right after it was saved", by)
    done(f"{told} is retracted")
    tell({"job": last.job, "retracted": True}, [f"retracted {told}"], as_json)


def _commands(ctx: click.Context, _: click.Parameter, begun: str) -> list[str]:
    program = ctx.find_root()
    names = (
        program.command.list_commands(program)
        if isinstance(program.command, click.Group)
        else []
    )
    return [name for name in names if name.startswith(begun)]


@click.command("help", context_settings={"ignore_unknown_options": True})
@click.argument("command", required=False, default="", shell_complete=_commands)
@json_option
@click.pass_context
def help_(ctx: click.Context, command: str, as_json: bool) -> None:
    """Show the help of a command, or of the program.

    Example: benchlore help search
    """
    program = ctx.find_root()
    group = program.command
    if not command or not isinstance(group, click.Group):
        asked = program
    elif (found := group.get_command(program, command)) is not None:
        asked = click.Context(found, info_name=command, parent=program)
    else:
        raise usage.no_command(
            command, group.list_commands(program), program.command_path
        )
    click.echo(
        json_contract.to_json(json_contract.of_help(asked))
        if as_json
        else asked.get_help()
    )


def sheet_lines(found: SheetOnFile) -> Iterator[str]:
    """The causes of a sheet with their counts, and its text."""
    yield f"{found.entry.title} [{found.entry.slug}]{' (own text)' if found.own else ''}"
    if found.belief.other_shops:
        yield f"  {in_other_shops(found.belief)}"
    for cause in found.belief.causes:
        counts = f"{cause.confirmed_here} here, {cause.confirmed_elsewhere} elsewhere"
        counts += (
            f"; {share(cause.in_other_shops).strip()} in other shops"
            if found.belief.other_shops
            else ""
        )
        yield f"  {cause.within:4.0%}  {cause.name} ({cause.cause.partition('/')[2]}; {counts})"
    yield ""
    yield found.text.rstrip("\n")


def list_lines(listed: list[Listed]) -> Iterator[str]:
    """The sheets, area by area."""
    area = None
    for one in listed:
        if one.area != area:
            area = one.area
            yield f"{area or 'to mend'}:"
        own = ", own" if one.own else ""
        yield f"  {one.slug}  {one.title} ({counted(one.jobs, 'job')}{own})"
    if not listed:
        yield "no sheet says that"


def job_lines(shown: list[dict[str, Any]], found: int) -> Iterator[str]:
    """A line for each job."""
    for one in shown:
        what = "on the bench" if one["open"] else one["cause"]
        told = " · ".join(
            str(one[name]) for name in ("unit", "model", "words") if one[name]
        )
        yield f"{one['job']}  {one['at'][:10]}  {what}  {told}"
    if found > len(shown):
        yield f"and {found - len(shown)} more; --limit {found} shows all"
    if not shown:
        yield "no such job"

"""The command for models that are the same: two names counted as one, and as two again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from kb.cli import completing
from kb.cli.options import done, end_with, json_option, shop_option, tell
from kb.cli.text import counted

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.models import Moving


@click.command()
@click.argument("name", default="", metavar="[NAME]", shell_complete=completing.models)
@click.argument("kept", default="", metavar="[KEPT]", shell_complete=completing.models)
@click.argument("further", nargs=-1, metavar="")
@click.option(
    "--dry-run",
    is_flag=True,
    help="Only say what would be counted under the other name.",
)
@click.option(
    "--two",
    is_flag=True,
    help="They are two models after all: take back what was said of NAME.",
)
@click.option("--why", default="", metavar="TEXT", help="Why, with --two.")
@json_option
@shop_option
def same(
    bench: Bench,
    name: str,
    kept: str,
    *,
    further: tuple[str, ...],
    dry_run: bool,
    two: bool,
    why: str,
    as_json: bool,
) -> None:
    """Say that NAME means the same model as KEPT, under which all of it is counted from then on.

    No record is changed, and it can be taken back. Without names it lists what was said so far, and the models whose
    names differ in nothing but spaces and hyphens.

    Example: benchlore same "Tern13" "Tern 13"
    """
    if further:
        meant = " ".join((kept, *further))
        raise click.UsageError(
            f"these are more than two names; if {meant} is meant, "
            f'put it in quotes, as in benchlore same "{name}" "{meant}"'
        )
    if two:
        if not name.strip() or kept.strip():
            raise click.UsageError(
                'name the one model that is meant, as in benchlore same "Tern13" --two'
            )
        _apart(bench, name, why, dry_run, as_json)
    elif not name.strip():
        _list(bench, as_json)
    elif not kept.strip():
        raise click.UsageError(
            f'give the name that is kept too, as in benchlore same "{name}" "Tern 13"'
        )
    else:
        _merge(bench, name, kept, dry_run, as_json)


def _merge(bench: Bench, name: str, kept: str, dry: bool, as_json: bool) -> None:
    """Count a name under the one that is kept, or with `dry` only say what would move."""
    moving = bench.models.moving(name, kept) if dry else bench.models.merge(name, kept)
    merge = moving.merge
    if not dry:
        done(f"{merge.name} is counted as {merge.kept}")
    content = {
        "name": merge.name,
        "kept": merge.kept,
        "jobs": moving.jobs,
        "open_jobs": moving.open_jobs,
        "machines": moving.machines,
        "saved": not dry,
    }
    tell(content, _moving_lines(moving, dry), as_json)


def _moving_lines(moving: Moving, dry: bool) -> Iterator[str]:
    merge = moving.merge
    jobs, open_jobs = (
        counted(moving.jobs, "closed job"),
        counted(moving.open_jobs, "open job"),
    )
    moved = f"{jobs}, {open_jobs} and {counted(moving.machines, 'machine')}"
    if dry:
        yield f"{merge.name} would be counted as {merge.kept}: {moved}; nothing was saved"
        return
    yield f"{merge.name} is counted as {merge.kept} from now on: {moved}"
    yield f'if they are two models after all: benchlore same "{merge.name}" --two'


def _apart(bench: Bench, name: str, why: str, dry: bool, as_json: bool) -> None:
    """Take back what was said of a name, or with `dry` only say so."""
    if dry:
        raise click.UsageError("--dry-run goes with two names, not with --two")
    merge = bench.models.part(name, why)
    done(f"{merge.name} counts by itself again")
    told = f"{merge.name} and {merge.kept} are two models again"
    tell(
        {
            "name": merge.name,
            "kept": merge.name,
            "apart_from": merge.kept,
            "saved": True,
        },
        [told],
        as_json,
    )


def _list(bench: Bench, as_json: bool) -> None:
    """What was said so far, and what differs in spelling alone; status 1 if there is neither."""
    merges, groups = bench.models.merges(), bench.models.alike()
    content = {
        "same": [{"name": merge.name, "kept": merge.kept} for merge in merges],
        "alike": [list(group) for group in groups],
    }
    lines = [f"{merge.name} is counted as {merge.kept}" for merge in merges]
    for group in groups:
        kept, *others = group
        lines += [
            f'written two ways: {kept} and {one}; benchlore same "{one}" "{kept}"'
            for one in others
        ]
    tell(
        content,
        lines or ["no name is counted as another one, and none is written two ways"],
        as_json,
    )
    end_with(lines)

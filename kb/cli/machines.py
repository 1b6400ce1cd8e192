"""The commands for machines on the floor: lists taken in, one machine, one lot, labels."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli import completing, json_contract, slips
from kb.cli.json_contract import nulls
from kb.cli.options import (
    done,
    end_with,
    json_option,
    say,
    shop_option,
    shop_told,
    tell,
    typed_list,
)
from kb.cli.phrases import if_any, if_known
from kb.cli.text import caution_lines, counted

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.leftovers import PartLeft
    from kb.bench.machines import Machine
    from kb.bench.onward import Onward
    from kb.history.jobs import OpenJob
    from kb.history.units import Moved, Remarked, Unit
    from kb.machines.arrival import Arriving, Pallet
    from kb.machines.lots import Drop, Lot
    from kb.machines.units import FloorState, FloorUnit
    from kb.model import Job, Remark

#: How a machine leaves, as `kb.model.WayOut` names it: a shell that completes need not wait for that to be loaded.
WAYS_OUT = ("sold", "given", "waste", "returned")
#: So many tags are told one by one.
FEW_TAGS = 4


@click.command()
@click.argument(
    "file",
    type=click.Path(path_type=Path, dir_okay=False, exists=True, allow_dash=True),
)
@click.option("--lot", required=True, metavar="LOT", help="The lot they came in.")
@click.option("--dry-run", is_flag=True, help="Only say what would happen.")
@click.option(
    "--new-models",
    is_flag=True,
    help="Models that no machine here ever was are meant as written.",
)
@json_option
@shop_option
def intake(
    bench: Bench,
    file: Path,
    *,
    lot: str,
    dry_run: bool,
    new_models: bool,
    as_json: bool,
) -> None:
    """Take in a pallet from CSV with headings (tag, model, complaint, place, look, serial); only the model is needed.

    Every problem is named by line, and the good lines come in. The same list again changes nothing; - reads
    standard input.

    Example: benchlore intake pallet.csv --lot P7 --dry-run
    """
    text, name = typed_list(file)
    take = bench.arrivals.read_pallet if dry_run else bench.arrivals.take_in
    pallet = take(text, lot, name, new_models)
    if not dry_run:
        done(f"machines taken in: {len(pallet.arriving)}")
    for remark in pallet.remarks:
        say(str(remark), err=True)
    tell(_of_pallet(pallet, dry_run), _pallet_lines(pallet, dry_run), as_json)
    end_with(not pallet.remarks)


@click.command()
@click.argument("tag", metavar="TAG", shell_complete=completing.tags)
@click.option(
    "--place", default="", metavar="PLACE", help="It stands there from now on."
)
@click.option(
    "--to", "hand_to", default="", metavar="INITIALS", help="They have it from now on."
)
@click.option(
    "--give-up", default="", metavar="WHY", help="It is given up for its parts."
)
@click.option("--gone", type=click.Choice(WAYS_OUT), help="It leaves the shop.")
@click.option(
    "--for",
    "price",
    default="",
    metavar="SUM",
    help="With --gone: what was got for it, such as 185.00.",
)
@click.option(
    "--back",
    is_flag=True,
    help="It had left, by mistake or in earnest, and is here again.",
)
@json_option
@shop_option
def unit(bench: Bench, tag: str, *, as_json: bool, **told: Any) -> None:
    """Show one machine: where it stands, what was done, what it waits for and what comes next.

    With one of the options that is written down first.

    Example: benchlore unit P7-012 --gone sold --for 185.00
    """
    from kb.bench.onward import onward

    slips.refuse_an_unknown_tag(bench, tag)
    if any(told.values()):
        deed = _written_down(bench, tag, told)
        done(deed)
        say(deed, err=True)
    found = bench.machines.machine(tag)
    left, coming = _left(bench, found), onward(bench, found)
    if as_json:
        further = {
            "parts_left": [_of_left(one) for one in left],
            "onward": coming and _of_onward(bench, coming),
        }
        click.echo(json_contract.to_json(of_machine(found) | further))
        return
    lines = [*_machine_lines(bench, found), *map(_left_line, left)]
    if coming:
        lines += _onward_lines(bench, coming)
    say("\n".join(lines))


def _written_down(bench: Bench, tag: str, told: Mapping[str, Any]) -> str:
    """Write down the one thing that was told of a machine, and say what it was."""
    match [name for name, said in told.items() if said and name != "price"]:
        case ["gone"]:
            return _let_go(bench, tag, told["gone"], told["price"])
        case [_] if told["price"]:
            raise click.UsageError(
                "--for is what was got for a machine that leaves: give it with --gone"
            )
        case ["place"]:
            bench.machines.move(tag, told["place"])
            return f"{tag} stands at {told['place']}"
        case ["hand_to"]:
            bench.machines.hand_over(tag, told["hand_to"])
            return f"{told['hand_to']} has {tag}"
        case ["give_up"]:
            bench.machines.give_up(tag, told["give_up"])
            return f"{tag} is given up for its parts"
        case ["back"]:
            from kb.bench.returns import come_back

            come_back(bench, tag)
            return f"{tag} is here again"
    raise click.UsageError(
        "give one of --place, --to, --give-up, --gone (with --for) and --back"
    )


def _let_go(bench: Bench, tag: str, how: str, price: str) -> str:
    """Write down that a machine leaves, and say what may leave with it."""
    from kb.machines.cost.money import cents_of

    is_signed = bench.machines.machine(tag).stands.line.is_signed
    bench.machines.let_go(
        tag, how, cents_of(price or "0", bench.shop.settings.currency)
    )
    warning = (
        ""
        if is_signed
        else "; its check-out is not signed: somebody's data may still be in it"
    )
    return f"{tag} has left the shop ({how}){warning}"


@click.command()
@click.argument("name", metavar="LOT", shell_complete=completing.lots)
@click.option(
    "--state",
    default="",
    metavar="STATE",
    help="Only machines in that state, such as waiting.",
)
@completing.model_option("Only machines of that model.")
@click.option(
    "--paid",
    default="",
    metavar="SUM",
    help="Write down what was paid for all of it, such as 864.00.",
)
@click.option(
    "--freight",
    default="",
    metavar="SUM",
    help="Write down what bringing it here cost.",
)
@click.option(
    "--bought",
    default="",
    metavar="DAY",
    help="Write down when it was bought, such as 2026-11-30.",
)
@click.option("--seller", default="", metavar="NAME", help="Write down who sold it.")
@json_option
@shop_option
def lot(
    bench: Bench, name: str, *, state: str, model: str, as_json: bool, **purchase: str
) -> None:
    """Show a lot: how many of its machines stand in which state, and each with what comes next.

    With what was paid for it, that is written down first; a later sum corrects an earlier one.

    Example: benchlore lot P7 --paid 864.00 --freight 60.00
    """
    from kb.machines.lots import Wanting

    slips.refuse_an_unknown_lot(bench, name)
    if any(purchase.values()):
        _write_purchase(bench, name, purchase)
    found = bench.machines.lot(name)
    wanting = Wanting(state=state, model=bench.shop.same_models().kept(model))
    units = [one for one in found.units if wanting.takes(one)]
    tell(
        of_lot(found) | {"units": [of_line(one) for one in units]},
        [
            *_lot_lines(found, bench.shop.settings.currency),
            *(_unit_line(one) for one in units),
        ],
        as_json,
    )
    end_with(units)


def _write_purchase(bench: Bench, lot: str, told: Mapping[str, str]) -> None:
    """Write down what was said of the purchase of a lot."""
    from kb.bench.cost import PaidForLot

    bought = PaidForLot(
        paid=told["paid"],
        freight=told["freight"],
        bought_on=told["bought"],
        seller=told["seller"],
    )
    bench.cost.bought(lot, bought)
    done(f"written down: the purchase of lot {lot}")


@click.command()
@click.argument("tags", nargs=-1, metavar="[TAG]...", shell_complete=completing.tags)
@click.option(
    "--lot", default="", metavar="LOT", help="All machines of that lot that are here."
)
@click.option(
    "--address",
    default="",
    metavar="URL",
    help="Codes that lead a phone to the machine's page there.",
)
@click.option(
    "--out",
    "-o",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    metavar="FILE",
    help="The file.",
)
@click.option(
    "--replace", is_flag=True, help="Put it in place of a file that is there."
)
@json_option
@shop_option
def labels(
    bench: Bench,
    tags: tuple[str, ...],
    *,
    lot: str,
    address: str,
    out: Path,
    replace: bool,
    as_json: bool,
) -> None:
    """Write labels with codes into one HTML file, to be printed at full size (A4, 48 by 20 mm each).

    Example: benchlore labels --lot P7 --out labels.html
    """
    from kb.cli.keeping import write_whole_file
    from kb.machines.labels import LabelSheet, to_html

    slips.refuse_an_unknown_lot(bench, lot)
    made = bench.arrivals.labels(lot, tags, address)
    if not made:
        raise click.UsageError("name tags, or a lot whose machines are here with --lot")
    write_whole_file(out, iter([to_html(made, LabelSheet()).encode()]), replace)
    told = f"labels written to {out}: {len(made)}"
    done(told)
    tell({"file": str(out), "labels": [label.tag for label in made]}, [told], as_json)


def of_line(one: FloorUnit) -> dict[str, Any]:
    """The JSON of a machine in a list."""
    line = one.line
    told = {
        "tag": line.tag,
        "model": line.model,
        "lot": line.lot,
        "place": line.place,
        "state": one.state.value,
        "next": one.step.value,
        "todo": one.todo,
        "with": line.with_,
        "words": line.words,
        "open_jobs": list(line.open_jobs),
        "wanted": list(line.wanted),
    }
    return nulls(told)


def of_machine(found: Machine) -> dict[str, Any]:
    """The JSON of one machine."""
    unit = found.unit
    signed = unit.signature if unit.is_signed else None
    further = {
        "serial": unit.serial,
        "look": unit.look,
        "came_at": unit.came_at,
        "last_at": unit.last_at,
        "jobs": [_of_job(job) for job in unit.jobs],
        "notes": [
            {"text": note.text, "by": note.by or None, "at": note.at}
            for note in unit.notes
        ],
        "lines": {name: shown.shown for name, shown in unit.lines.items()},
        "parts_taken": [
            {"part": one.part, "for": one.tag or None, "at": one.at}
            for one in unit.given
        ],
        "signed_by": signed.by if signed else None,
        "given_up": unit.donor,
        "gone": unit.gone,
        "gone_at": unit.gone_at,
        "gone_cents": unit.gone_cents if unit.gone else None,
    }
    return of_line(found.stands) | nulls(further)


def of_lot(found: Lot) -> dict[str, Any]:
    """The JSON of a lot without its machines."""
    told = found.told
    return {
        "lot": found.name,
        "bought_on": told.bought_on or None,
        "seller": told.seller or None,
        "cents": told.cents,
        "freight_cents": told.freight_cents,
        "claimed": told.claimed or None,
        "came_in": found.came_in,
        "states": {state.value: number for state, number in found.states.items()},
        "way": [_of_drop(drop) for drop in found.way],
    }


def _of_drop(drop: Drop) -> dict[str, Any]:
    left = {state.value: number for state, number in drop.left.items()}
    return {"step": drop.step, "reached": drop.reached, "left": left}


def _left(bench: Bench, found: Machine) -> tuple[PartLeft, ...]:
    """What a donor can still give; nothing is reckoned for any other machine."""
    from kb.machines.units import FloorState

    if found.stands.state is not FloorState.DONOR:
        return ()
    from kb.bench.leftovers import parts_left

    return parts_left(bench.parts, found)


def _of_left(one: PartLeft) -> dict[str, Any]:
    return {
        "part": one.part,
        "count": one.count,
        "good": round(one.good, 4),
        "wanted_by": list(one.waiting),
    }


def _left_line(one: PartLeft) -> str:
    from kb.machines.telling import in_ten

    count = f"{one.count} " if one.count > 1 else ""
    waiting = if_any(", wanted by {}", ", ".join(one.waiting))
    return f"  left: {count}{one.part}, good {in_ten(one.good)}{waiting}"


def _of_onward(bench: Bench, coming: Onward) -> dict[str, Any]:
    told = {
        "what": coming.what,
        "before": list(coming.before),
        "minutes": coming.minutes,
        "job": coming.job,
        "line": coming.line,
        "command": _typed(bench, coming),
    }
    return nulls(told)


def _onward_lines(bench: Bench, coming: Onward) -> Iterator[str]:
    """What is said before it, what comes next where that is not told already, and the command that goes on with it."""
    yield from caution_lines(coming.before, "before")
    told = (
        f"{coming.what.rstrip('.')} ({coming.minutes:g} min): "
        if coming.minutes is not None
        else ""
    )
    yield f"go on: {told}{_typed(bench, coming)}"


def _typed(bench: Bench, coming: Onward) -> str:
    return f"benchlore {shlex.join(coming.command)}{shop_told(bench)}"


def _of_job(job: OpenJob) -> dict[str, Any]:
    told = {
        "job": job.job,
        "words": job.words,
        "opened_at": job.opened_at,
        **_of_closing(job.closed),
        "retracted": job.retracted,
    }
    return nulls(told)


def _of_closing(closed: Job | None) -> dict[str, Any]:
    """How a job was closed; every key with null while it is open."""
    if closed is None:
        return dict.fromkeys(("cause", "closed_at", "minutes", "part", "donor"))
    return {
        "cause": closed.cause,
        "closed_at": closed.closed_at,
        "minutes": closed.minutes,
        "part": closed.part,
        "donor": closed.donor,
    }


def _of_pallet(pallet: Pallet, dry_run: bool) -> dict[str, Any]:
    return {
        "lot": pallet.lot,
        "dry_run": dry_run,
        "taken_in": [_of_arriving(one) for one in pallet.arriving],
        "known": len(pallet.known),
        "further": [_of_arriving(one) for one in pallet.further],
        "new_models": dict(pallet.new_models),
        "problems": [_of_problem(one) for one in pallet.remarks],
    }


def _of_problem(one: Remark) -> dict[str, Any]:
    return {
        "file": one.file,
        "line": one.line,
        "problem": one.problem,
        "instead": one.instead,
    }


def _of_arriving(one: Arriving) -> dict[str, Any]:
    told = nulls({"words": one.words, "place": one.place})
    return {"line": one.line, "tag": one.tag, "model": one.model, **told}


def _pallet_lines(pallet: Pallet, dry_run: bool) -> list[str]:
    deed = "would come in" if dry_run else "taken in"
    lines = [f"{counted(len(pallet.arriving), 'machine')} {deed} as lot {pallet.lot}"]
    if pallet.arriving:
        lines.append(f"tags {_tags_told([one.tag for one in pallet.arriving])}")
    for model, count in pallet.new_models.items():
        lines.append(f"new model: {model} ({count})")
    if pallet.further:
        more = "more would be told of" if dry_run else "more is told of"
        lines.append(
            f"{more} machines that were in already: {_tags_told([one.tag for one in pallet.further])}"
        )
    if pallet.known:
        lines.append(f"taken in before: {len(pallet.known)}")
    if pallet.remarks:
        lines.append(
            f"problems: {len(pallet.remarks)}, named above; mend those lines and give the list again"
        )
    if dry_run:
        lines.append("nothing was written; leave out --dry-run to take them in")
    return lines


def _tags_told(tags: Sequence[str]) -> str:
    """Tags as people say them: a few by name, of more the first and the last."""
    return ", ".join(tags) if len(tags) <= FEW_TAGS else f"{tags[0]} to {tags[-1]}"


def _machine_lines(bench: Bench, found: Machine) -> list[str]:
    """What is known of a machine: where it stands, what is told of it, its jobs, the parts it gave, its notes."""
    unit, stands = found.unit, found.stands
    facts = [unit.model or "model not read yet"]
    facts += _told(("lot", unit.lot), ("place", unit.place))
    lines = [f"{unit.tag}  {stands.state}", ", ".join(facts), f"next: {stands.todo}"]
    waits_for = ", ".join(one.part for one in unit.wanted)
    lines += _told(
        ("complaint:", unit.words), ("with:", unit.with_), ("waits for:", waits_for)
    )
    causes = bench.entries.cause_texts(
        [job.closed.cause for job in unit.jobs if job.closed]
    )
    lines += _way_lines(unit, bench.shop.settings.currency)
    for job in unit.jobs:
        lines.append(f"  {_job_line(job, causes)}")
        lines += [f"    {done}" for done in _done_on(bench, job)]
    lines += [f"  {_gave_line(one)}" for one in unit.given]
    lines += [f"  {_note_line(note)}" for note in unit.notes]
    return lines


def _way_lines(unit: Unit, currency: str) -> Iterator[str]:
    """Why a machine was given up for its parts, and how, when and for how much it left."""
    from kb.machines.cost.money import spoken

    if unit.is_donor:
        yield f"given up for its parts: {unit.donor}"
    if unit.gone:
        got = spoken(unit.gone_cents, currency) if unit.gone_cents else ""
        yield f"left on {unit.gone_at[:10]}: {unit.gone}{if_any(' for {}', got)}"


def _told(*named: tuple[str, str]) -> list[str]:
    """Each fact behind its name, without those of which nothing is told."""
    return [f"{name} {fact}" for name, fact in named if fact]


def _note_line(note: Remarked) -> str:
    return f"note {note.at[:10]}{if_any(' {}', note.by)}: {note.text}"


def _gave_line(moved: Moved) -> str:
    to = if_any(" to {}", moved.tag)
    return f"gave its {moved.part}{to} on {moved.at[:10]}"


def _job_line(job: OpenJob, causes: dict[str, str]) -> str:
    """A job of a machine: its cause if it was found, else its words and that it is open or was put away."""
    words = job.words or "no words"
    if job.retracted:
        return f"job {job.job}: {words}; put away: {job.retracted}"
    if job.closed is None:
        return f"job {job.job}, open: {words}"
    minutes = if_known(", {:g} min", job.closed.minutes)
    return f"{job.closed.closed_at[:10]} {causes[job.closed.cause]}{minutes} (job {job.job})"


def _done_on(bench: Bench, job: OpenJob) -> Iterator[str]:
    """What was found and tried on an open job so far, for whoever goes on with it."""
    # what a machine without an open job need not load
    from kb.model import named_fix, named_test

    if job.closed or job.retracted:
        return
    for found in job.outcomes:
        test = named_test(found.test, bench.entries.entry)
        yield f"{found.outcome} · {test.title if test else found.test}"
    for tried in job.failed_fixes:
        fix = named_fix(tried.fix, bench.entries.entry)
        yield f"no change · {fix.text if fix else tried.fix}"


def _lot_lines(found: Lot, currency: str) -> list[str]:
    """What was told of a lot, its machines by state, and how far they have come."""
    from kb.machines.cost.money import spoken

    told = found.told
    claimed = if_any(" of {} claimed", told.claimed)
    lines = [f"lot {found.name}: {counted(found.came_in, 'machine')} came in{claimed}"]
    bought = _told(("bought", told.bought_on))
    if told.seller:
        bought.append(told.seller)
    if bought:
        lines.append(", ".join(bought))
    if told.cents or told.freight_cents:
        lines.append(
            f"paid {spoken(told.cents, currency)}, freight {spoken(told.freight_cents, currency)}"
        )
    lines.append(
        _states_told(
            {state: number for state, number in found.states.items() if number}
        )
    )
    lines += [_drop_line(drop) for drop in found.way]
    return lines


def _drop_line(drop: Drop) -> str:
    left = f"   left here: {_states_told(drop.left)}" if drop.left else ""
    return f"  {drop.step:<10} {drop.reached:>4}{left}"


def _states_told(states: Mapping[FloorState, int]) -> str:
    return ", ".join(f"{number} {state}" for state, number in states.items())


def _unit_line(one: FloorUnit) -> str:
    line = one.line
    who = f"  {line.with_}" if line.with_ else ""
    return f"{line.tag:<10} {line.place or '-':<5} {one.state:<18} {line.model or '-':<14} {one.todo}{who}"

"""The commands for parts and the pile: who has one that fits, what to order, and which machine comes next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.base.trouble import Refusal
from kb.cli import buying, completing, slips
from kb.cli.json_contract import nulls
from kb.cli.options import (
    Cents,
    Figure,
    Whole,
    done,
    end_with,
    json_option,
    shop_option,
)
from kb.cli.phrases import if_any, if_known
from kb.cli.rows import Shape, csv_option

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.parts import PartOffer, PartSources, WantedPart
    from kb.bench.pile import PileView
    from kb.machines.parts_told import PricePaid
    from kb.machines.pile.assembly import Addition, Built
    from kb.machines.pile.outlook import Outlook
    from kb.machines.pile.plan import Order
    from kb.machines.pile.waiting import PileStep
    from kb.machines.units import FloorUnit


#: The things that `parts` does beside showing who has one; one at a time.
DEEDS = ("part", "wanted", "coming", "bought", "came")


@click.command()
@click.argument("part", required=False, default="", metavar="[PART]")
@completing.model_option("The model that needs it.")
@click.option(
    "--for",
    "asking",
    default="",
    metavar="TAG",
    help="The machine that needs it; its model counts.",
)
@click.option(
    "--wanted", is_flag=True, help="What machines wait for, and what to order."
)
@click.option(
    "--take",
    default="",
    metavar="TAG",
    help="Write down that it was taken out of this donor.",
)
@click.option(
    "--from-drawer",
    is_flag=True,
    help="With --for: the likeliest one in the drawer was taken for it.",
)
@click.option(
    "--good",
    type=click.Choice(["yes", "no", "unknown"]),
    default="unknown",
    help="With --take: was it good?",
)
@click.option(
    "--turned-out",
    type=click.Choice(["did not fit", "was dead", "not the cause"]),
    help="With --for: why the donor's part did not help.",
)
@click.option(
    "--why",
    default="",
    metavar="REASON",
    help="With --turned-out: what did not fit, such as ribbon.",
)
@click.option("--coming", is_flag=True, help="What was bought and has not come yet.")
@click.option(
    "--bought",
    type=click.Path(path_type=Path, dir_okay=False, exists=True, allow_dash=True),
    metavar="FILE",
    help="Take in purchases from CSV: part, model, count, total or each, for, bought, came, purchase.",
)
@click.option(
    "--dry-run", is_flag=True, help="With --bought: only say what would happen."
)
@click.option(
    "--as-written",
    is_flag=True,
    help="With --bought: names near known ones are meant as written.",
)
@click.option(
    "--came",
    default="",
    metavar="PURCHASE",
    help="Pieces of that purchase came; says for which machines.",
)
@click.option(
    "--count", type=Whole(1), metavar="N", help="With --came: how many; all without it."
)
@csv_option
@json_option
@shop_option
def parts(bench: Bench, as_json: bool, as_csv: bool, **given: Any) -> None:
    """Show which donors may give a part that fits, what machines wait for, and take in what was bought.

    Example: benchlore parts "panel" --model "Skua 14"
    """
    asked = [name for name in DEEDS if given[name]]
    if len(asked) != 1:
        told = 'name a part, as in `benchlore parts "panel" --model "Skua 14"`, or say one of '
        raise click.UsageError(
            told + "--wanted, --coming, --bought FILE and --came PURCHASE"
        )
    shape = Shape(as_json=as_json, as_csv=as_csv)
    match asked[0]:
        case "wanted":
            _show_wanted(bench, shape)
        case "coming":
            buying.show_coming(bench, shape)
        case "bought":
            buying.take_in(
                bench, given["bought"], shape, given["dry_run"], given["as_written"]
            )
        case "came":
            buying.came(bench, given["came"], given["count"] or 0, shape)
        case _ if given["turned_out"]:
            _turned_out(bench, given, shape)
        case _ if given["take"]:
            _take(bench, given, shape)
        case _ if given["from_drawer"]:
            _take_piece(bench, given, shape)
        case _:
            _show_sources(bench, given["part"], given["model"], given["asking"], shape)


def _show_wanted(bench: Bench, shape: Shape) -> None:
    found = bench.parts.wanted()
    shape.tell(
        [of_wanted(one) for one in found],
        wanted_lines(found, bench.shop.settings.currency),
    )
    end_with(found)


def _take(bench: Bench, given: Mapping[str, Any], shape: Shape) -> None:
    part, donor = bench.parts.named(given["part"]), given["take"]
    slips.note_unknown_part(part, bench.shop.customs)
    record = bench.parts.take(donor, part, given["asking"], good=given["good"])
    done(f"{part} is taken from {donor}")
    shape.tell({"record": record.id}, [f"{part} is taken from {donor}"])


def _take_piece(bench: Bench, given: Mapping[str, Any], shape: Shape) -> None:
    part, tag = given["part"], given["asking"]
    if not tag:
        raise click.UsageError("say for which machine it was taken with --for")
    offers = bench.parts.who_has(part, bench.machines.unit(tag).model, tag).offers
    piece = next((one.piece for one in offers if one.piece), None)
    if piece is None:
        raise Refusal(
            f"no {part} that may fit {tag} is in the drawer; `benchlore parts --wanted` says who has one"
        )
    record = bench.parts.take_piece(piece.record, tag)
    told = f"{part} from {piece.origin} is taken out of the drawer for {tag}"
    done(told)
    shape.tell({"record": record.id}, [told])


def _turned_out(bench: Bench, given: Mapping[str, Any], shape: Shape) -> None:
    part, tag, shown = given["part"], given["asking"], given["turned_out"]
    if not tag:
        raise click.UsageError("say for which machine it was taken with --for")
    record = bench.parts.turned_out(part, tag, shown, given["why"])
    told = f"{part} for {tag}: {shown}"
    done(told)
    shape.tell({"record": record.id}, [told])


def _show_sources(bench: Bench, part: str, model: str, tag: str, shape: Shape) -> None:
    needs = model or (bench.machines.unit(tag).model if tag else "")
    if not needs:
        raise click.UsageError(
            "say which model needs it with --model, or which machine with --for"
        )
    sources = bench.parts.who_has(part, needs, tag)
    slips.note_unknown_part(part, bench.shop.customs)
    of = of_sources(sources)
    shape.tell(
        of, source_lines(sources, bench.shop.settings.currency), rows=of["donors"]
    )
    end_with(sources.offers)


@click.command()
@click.option("--lot", default="", metavar="LOT", help="Only the machines of that lot.")
@click.option(
    "--hours",
    default=8.0,
    type=Figure(0, 2000),
    metavar="N",
    show_default=True,
    help="Bench hours left.",
)
@click.option(
    "--money",
    "cents",
    default=0,
    type=Cents(0),
    metavar="CENTS",
    help="Money left, in cents, or as 150.00.",
)
@click.option(
    "--build",
    default="",
    metavar="MODEL",
    help="Write down that one of these was built from several.",
)
@csv_option
@json_option
@shop_option
def pile(
    bench: Bench,
    *,
    lot: str,
    hours: float,
    cents: int,
    build: str,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Say which machine comes next, with the reason, and how many of them will work in the hours and money left.

    Example: benchlore pile --lot P7 --hours 16 --money 15000
    """
    shape = Shape(as_json=as_json, as_csv=as_csv)
    if build:
        tag = bench.pile.build(build)
        done(f"{tag} is built")
        shape.tell(
            {"unit": tag},
            [f"{tag} is built; stick that tag on it, and go through its check-out"],
        )
        return
    slips.refuse_an_unknown_lot(bench, lot)
    view = bench.pile.view(lot, hours, cents)
    of = of_pile(view)
    shape.tell(of, pile_lines(view, bench.shop.settings.currency), rows=of["machines"])
    end_with(view.outlooks)


def of_sources(found: PartSources) -> dict[str, Any]:
    """The JSON of who has a part."""
    return {
        "part": found.part,
        "model": found.model,
        "donors": [_of_offer(one) for one in found.offers],
        "did_not_fit": [_of_offer(one) for one in found.did_not_fit],
        "chance": round(found.tries.chance, 4),
        "minutes": round(found.tries.expected_minutes, 1),
        **_of_price(found.price),
        "days": found.days,
        "also_wanted_by": list(found.waiting),
    }


def _of_offer(one: PartOffer) -> dict[str, Any]:
    known = one.fitting
    told = {
        "tag": one.source.tag,
        "model": known.giver,
        "place": one.place,
        "in_drawer": one.piece.count if one.piece else 0,
        "verdict": known.verdict,
        "fits": round(one.source.fits, 4),
        "good": round(one.source.good, 4),
        "minutes": one.source.minutes,
        "chain": list(known.chain),
        "reason": known.reason,
    }
    return nulls(told)


def _of_price(price: PricePaid | None) -> dict[str, Any]:
    """The price of a piece, and the model that it was paid for if that is another one than is asked for."""
    if price is None:
        return {"price": None, "paid_for": None}
    return {"price": price.cents, "paid_for": price.paid_for or None}


def of_wanted(one: WantedPart) -> dict[str, Any]:
    """The JSON of a part that machines wait for."""
    return {
        "part": one.part,
        "model": one.model,
        "machines": list(one.tags),
        "donors": list(one.donors),
        "on_the_way": one.on_the_way,
        "to_order": one.to_order,
        **_of_price(one.price),
    }


def of_pile(view: PileView) -> dict[str, Any]:
    """The JSON of a pile: what comes next, each machine, the plan, the forecast and what can be built."""
    working, minutes = view.forecast.working, view.forecast.minutes
    machines = [_of_outlook(one) for one in view.outlooks]
    coming = [one for one in view.outlooks if one.turn == "next"]
    return {
        "next": _of_outlook(coming[0]) if coming else None,
        "machines": machines,
        "not_looked_at": list(view.unseen),
        "urgent": [
            {"tag": tag, "at_once": list(deeds)} for tag, deeds in view.urgent.items()
        ],
        "plan": {
            "taken": list(view.plan.taken),
            "expected": round(view.plan.expected, 3),
            "orders": [_of_order(one, view) for one in view.plan.orders],
        },
        "forecast": {
            "working": {
                "expected": round(working.expected, 2),
                "low": working.low,
                "high": working.high,
            },
            "minutes": {
                "expected": round(minutes.expected),
                "low": minutes.low,
                "high": minutes.high,
            },
        },
        "can_be_built": [_of_built(one) for one in view.assembly.machines],
        "one_bought_part_adds": [
            _of_addition(one, view) for one in view.assembly.additions
        ],
    }


def _of_order(one: Order, view: PileView) -> dict[str, Any]:
    part, model = view.pools[one.part]
    return {"part": part, "model": model, "pieces": round(one.pieces, 2)}


def _of_built(one: Built) -> dict[str, Any]:
    pieces = [
        {"part": piece.piece.part, "tag": piece.piece.tag} for piece in one.pieces
    ]
    return {"model": one.model, "chance": round(one.chance, 4), "pieces": pieces}


def _of_addition(one: Addition, view: PileView) -> dict[str, Any]:
    return {
        "part": one.part,
        "model": one.model,
        "cents": one.cents,
        "paid_for": view.price_of(one).paid_for or None,
        "from": list(one.machine.tags),
    }


def _of_outlook(one: Outlook) -> dict[str, Any]:
    return {
        "tag": one.tag,
        "turn": one.turn,
        "chance": round(one.chance, 4),
        "minutes": round(one.minutes, 1),
        "against_next": round(one.against_next, 4),
        "frees": list(one.frees),
        **_of_step(one.step),
    }


def _of_step(step: PileStep | None) -> dict[str, Any]:
    if step is None:
        return {"step": None, "part": None, "donor": None}
    return {"step": step.kind, "part": step.part or None, "donor": step.donor or None}


def source_lines(found: PartSources, currency: str) -> Iterator[str]:
    """The donors to try in their order, and what a new one costs."""
    from kb.machines.telling import fit_told, in_ten, paid_told

    if found.offers:
        yield f"{found.part} for {found.model}: {in_ten(found.tries.chance)} that one of these serves"
    else:
        yield f"No donor here has a {found.part} for {found.model}."
    for number, one in enumerate(found.offers, 1):
        place = if_any(" at {}", one.place)
        good = in_ten(one.source.good)
        known = fit_told(one.fitting, one.source.fits)
        yield f"{number:3d}. {one.source.tag} ({one.fitting.giver}){place}: {known}; good {good}"
        deed = "fit" if one.piece else "take out and fit"
        yield f"     {one.source.minutes:g} min to {deed}"
    for one in found.did_not_fit:
        yield f"  -  {one.source.tag} ({one.fitting.giver}): {fit_told(one.fitting, one.source.fits)}"
    if found.waiting:
        yield f"     also wanted by {', '.join(found.waiting)}"
    if found.price is not None:
        days = if_known(", about {} days", found.days)
        yield f"     or buy: {paid_told(found.price, currency)}{days}"


def wanted_lines(found: tuple[WantedPart, ...], currency: str) -> Iterator[str]:
    """What machines wait for, a line each."""
    from kb.machines.telling import paid_told

    if not found:
        yield "No machine waits for a part."
    for one in found:
        yield f"{one.part} for {one.model or 'an unknown model'}: {', '.join(one.tags)}"
        if one.donors:
            yield f"    donors: {', '.join(one.donors)}"
        if one.on_the_way:
            yield f"    on the way: {one.on_the_way}"
        if one.to_order:
            price = (
                f" at {paid_told(one.price, currency)}" if one.price is not None else ""
            )
            yield f"    order {one.to_order}{price}"


def _which(unit: FloorUnit | None) -> str:
    """The model and the place of a machine, as far as they are known."""
    told = ", ".join(filter(None, (unit.line.model, unit.line.place))) if unit else ""
    return f" ({told})" if told else ""


def pile_lines(view: PileView, currency: str) -> Iterator[str]:
    """The next machine with the reason, the others, the forecast, and what can be built."""
    from kb.machines.cost.money import spoken
    from kb.machines.telling import in_ten, outlook_told, paid_told

    for tag, deeds in view.urgent.items():
        yield f"At once, {tag} ({view.heard[tag]}): {' '.join(deeds)}"
    if not view.outlooks:
        yield "No machine with a complaint waits."
    else:
        yield "How likely each will work in the end, and the bench minutes that takes:"
    for number, one in enumerate(view.outlooks):
        begins = "Next: " if number == 0 and one.turn == "next" else ""
        yield f"{begins:6}{outlook_told(one, view.pools)}{_which(view.units.get(one.tag))}"
    if view.unseen:
        yield f"Not looked at yet: {', '.join(view.unseen)}"
    working = view.forecast.working
    if view.outlooks:
        yield f"Of these about {working.expected:.0f} will work ({working.low:g} to {working.high:g}, 8 times in 10),"
        yield f"in {view.pile.minutes / 60:g} hours with {spoken(view.pile.cents, currency)} for parts."
    for built in view.assembly.machines:
        yield f"Can be built tonight: {built.model} out of {', '.join(built.tags)}, {in_ten(built.chance)}"
    for added in view.assembly.additions[:5]:
        cost = paid_told(view.price_of(added), currency)
        tags = ", ".join(tag for tag in added.machine.tags if tag != "bought")
        yield f"A {added.part} at {cost} makes one more {added.model} out of {tags}."

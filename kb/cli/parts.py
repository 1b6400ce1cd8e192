"""The commands for parts and the pile: who has one that fits, what to order, and which machine comes next."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from kb.cli.options import done, json_option, shop_option, tell
from kb.machines.cost.money import spoken

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.parts import PartOffer, PartSources, WantedPart
    from kb.bench.pile import PileView
    from kb.machines.pile.outlook import Outlook


@click.command()
@click.argument("part", required=False, default="", metavar="[PART]")
@click.option("--model", default="", metavar="M", help="The model that needs it.")
@click.option("--for", "asking", default="", metavar="TAG", help="The machine that needs it; its model counts.")
@click.option("--wanted", is_flag=True, help="What machines wait for, and what to order.")
@click.option("--take", default="", metavar="TAG", help="Write down that it was taken out of this donor.")
@click.option(
    "--good", type=click.Choice(["yes", "no", "unknown"]), default="unknown", help="With --take: was it good?"
)
@json_option
@shop_option
def parts(
    bench: Bench, part: str, *, model: str, asking: str, wanted: bool, take: str, good: str, as_json: bool
) -> None:
    """Show which donors may give a part that fits, most promising first, or what machines wait for.

    Example: benchlore parts "panel" --model "Skua 14"
    """
    if wanted == bool(part):
        raise click.UsageError('name a part, as in `benchlore parts "panel" --model "Skua 14"`, or say --wanted')
    currency = bench.shop.settings.currency
    if wanted:
        found = bench.parts.wanted()
        tell([of_wanted(one) for one in found], wanted_lines(found, currency), as_json)
        raise SystemExit(0 if found else 1)
    if take:
        record = bench.parts.take(take, part, asking, good=good)
        done(f"{part} is taken from {take}")
        tell({"record": record.id}, [f"{part} is taken from {take}"], as_json)
        return
    needs = model or (bench.machines.unit(asking).model if asking else "")
    if not needs:
        raise click.UsageError("say which model needs it with --model, or which machine with --for")
    sources = bench.parts.who_has(part, needs, asking)
    tell(of_sources(sources), source_lines(sources, currency), as_json)
    raise SystemExit(0 if sources.offers else 1)


@click.command()
@click.option("--lot", default="", metavar="LOT", help="Only the machines of that lot.")
@click.option("--hours", default=8.0, type=click.FloatRange(0, 2000), show_default=True, help="Bench hours left.")
@click.option("--money", "cents", default=0, type=click.IntRange(0), metavar="CENTS", help="Money left, in cents.")
@json_option
@shop_option
def pile(bench: Bench, *, lot: str, hours: float, cents: int, as_json: bool) -> None:
    """Say which machine comes next, with the reason, and how many of them will work in the hours and money left.

    Example: benchlore pile --lot P7 --hours 16 --money 15000
    """
    view = bench.pile.view(lot, hours, cents)
    tell(of_pile(view), pile_lines(view, bench.shop.settings.currency), as_json)
    raise SystemExit(0 if view.outlooks else 1)


def of_sources(found: PartSources) -> dict[str, Any]:
    """The JSON of who has a part."""
    return {
        "part": found.part,
        "model": found.model,
        "donors": [_of_offer(one) for one in found.offers],
        "did_not_fit": [_of_offer(one) for one in found.did_not_fit],
        "chance": round(found.tries.chance, 4),
        "minutes": round(found.tries.expected_minutes, 1),
        "price": found.price,
        "days": found.days,
        "also_wanted_by": list(found.waiting),
    }


def _of_offer(one: PartOffer) -> dict[str, Any]:
    known = one.fitting
    return {
        "tag": one.source.tag,
        "model": known.giver,
        "place": one.unit.line.place or None,
        "verdict": known.verdict,
        "fits": round(one.source.fits, 4),
        "good": round(one.source.good, 4),
        "minutes": one.source.minutes,
        "chain": list(known.chain),
        "reason": known.reason or None,
    }


def of_wanted(one: WantedPart) -> dict[str, Any]:
    """The JSON of a part that machines wait for."""
    return {
        "part": one.part,
        "model": one.model,
        "machines": list(one.tags),
        "donors": list(one.donors),
        "on_the_way": one.on_the_way,
        "to_order": one.to_order,
        "price": one.price,
    }


def of_pile(view: PileView) -> dict[str, Any]:
    """The JSON of a pile: what comes next, each machine, the plan, the forecast and what can be built."""
    working, minutes = view.forecast.working, view.forecast.minutes
    return {
        "next": next((_of_outlook(one) for one in view.outlooks if one.turn == "next"), None),
        "machines": [_of_outlook(one) for one in view.outlooks],
        "not_looked_at": list(view.unseen),
        "plan": {
            "taken": list(view.plan.taken),
            "expected": round(view.plan.expected, 3),
            "orders": [
                {"part": view.pools[one.part][0], "model": view.pools[one.part][1], "pieces": round(one.pieces, 2)}
                for one in view.plan.orders
            ],
        },
        "forecast": {
            "working": {"expected": round(working.expected, 2), "low": working.low, "high": working.high},
            "minutes": {"expected": round(minutes.expected), "low": minutes.low, "high": minutes.high},
        },
        "can_be_built": [
            {
                "model": one.model,
                "chance": round(one.chance, 4),
                "pieces": [{"part": piece.piece.part, "tag": piece.piece.tag} for piece in one.pieces],
            }
            for one in view.assembly.machines
        ],
        "one_bought_part_adds": [
            {"part": one.part, "model": one.model, "cents": one.cents, "from": list(one.machine.tags)}
            for one in view.assembly.additions
        ],
    }


def _of_outlook(one: Outlook) -> dict[str, Any]:
    return {
        "tag": one.tag,
        "turn": one.turn,
        "chance": round(one.chance, 4),
        "minutes": round(one.minutes, 1),
        "against_next": round(one.against_next, 4),
        "frees": list(one.frees),
        "step": one.step.kind if one.step else None,
        "part": one.step.part or None if one.step else None,
        "donor": one.step.donor or None if one.step else None,
    }


def source_lines(found: PartSources, currency: str) -> Iterator[str]:
    """The donors to try in their order, and what a new one costs."""
    from kb.machines.telling import fit_told, in_ten

    if found.offers:
        yield f"{found.part} for {found.model}: {in_ten(found.tries.chance)} that one of these serves"
    else:
        yield f"No donor here has a {found.part} for {found.model}."
    for number, one in enumerate(found.offers, 1):
        place = f" at {one.unit.line.place}" if one.unit.line.place else ""
        good = in_ten(one.source.good)
        known = fit_told(one.fitting, one.source.fits)
        yield f"{number:3d}. {one.source.tag} ({one.fitting.giver}){place}: {known}; good {good}"
        yield f"     {one.source.minutes:g} min to take out and fit"
    for one in found.did_not_fit:
        yield f"  -  {one.source.tag} ({one.fitting.giver}): {fit_told(one.fitting, one.source.fits)}"
    if found.waiting:
        yield f"     also wanted by {', '.join(found.waiting)}"
    if found.price is not None:
        days = f", about {found.days} days" if found.days is not None else ""
        yield f"     or buy: {spoken(found.price, currency)}{days}"


def wanted_lines(found: tuple[WantedPart, ...], currency: str) -> Iterator[str]:
    """What machines wait for, a line each."""
    if not found:
        yield "No machine waits for a part."
    for one in found:
        yield f"{one.part} for {one.model or 'an unknown model'}: {', '.join(one.tags)}"
        if one.donors:
            yield f"    donors: {', '.join(one.donors)}"
        if one.on_the_way:
            yield f"    on the way: {one.on_the_way}"
        if one.to_order:
            price = f" at {spoken(one.price, currency)}" if one.price is not None else ""
            yield f"    order {one.to_order}{price}"


def pile_lines(view: PileView, currency: str) -> Iterator[str]:
    """The next machine with the reason, the others, the forecast, and what can be built."""
    from kb.machines.telling import in_ten, outlook_told

    if not view.outlooks:
        yield "No machine with a complaint waits."
    for number, one in enumerate(view.outlooks):
        yield f"{'Next: ' if not number and one.turn == 'next' else '      '}{outlook_told(one, view.pools)}"
    if view.unseen:
        yield f"Not looked at yet: {', '.join(view.unseen)}"
    working = view.forecast.working
    if view.outlooks:
        yield f"Of these about {working.expected:.0f} will work ({working.low:g} to {working.high:g}, 8 times in 10)."
    for built in view.assembly.machines:
        yield f"Can be built tonight: {built.model} out of {', '.join(built.tags)}, {in_ten(built.chance)}"
    for added in view.assembly.additions[:5]:
        cost = spoken(added.cents, currency)
        tags = ", ".join(tag for tag in added.machine.tags if tag != "bought")
        yield f"A {added.part} at {cost} makes one more {added.model} out of {tags}."

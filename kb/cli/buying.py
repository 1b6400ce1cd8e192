"""What `benchlore parts` does about buying: purchases taken in by list, what is on the way, and what came."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kb.cli import json_contract
from kb.cli.options import done, end_with, say, typed_list
from kb.cli.phrases import if_any
from kb.cli.rows import Shape
from kb.machines.cost.money import spoken

if TYPE_CHECKING:
    from kb.bench.buying import PiecesMatched
    from kb.bench.front import Bench
    from kb.machines.parts_told import Purchase
    from kb.machines.purchases import Buying, PurchaseList

#: Purchases of a list that are shown one by one.
SHOWN = 20


def take_in(
    bench: Bench, file: Path, shape: Shape, dry_run: bool, as_written: bool
) -> None:
    """Take in the purchases of a CSV file (- for standard input), or only say what would happen."""
    take = bench.buying.read if dry_run else bench.buying.take_in
    listed = take(*typed_list(file), as_written)
    if not dry_run:
        done(f"purchases written down: {len(listed.buying)}")
    for remark in listed.remarks:
        say(str(remark), err=True)
    of = _of_list(listed, dry_run)
    shape.tell(
        of,
        _list_lines(listed, dry_run, bench.shop.settings.currency),
        rows=of["purchases"],
    )
    end_with(not listed.remarks)


def show_coming(bench: Bench, shape: Shape) -> None:
    """Show what was bought and has not come yet."""
    coming = bench.parts.told().on_the_way
    lines = [_coming_line(one) for one in coming] or ["Nothing is on the way."]
    shape.tell([of_purchase(one) for one in coming], lines)
    end_with(coming)


def came(bench: Bench, purchase: str, count: int, shape: Shape) -> None:
    """Write down that pieces came, and say for which machines."""
    matched = bench.buying.came(purchase, count)
    lines = list(matched_lines(matched))
    done(lines[0])
    of = {
        "purchase": matched.purchase.purchase,
        "part": matched.purchase.part,
        "machines": [unit.line.tag for unit in matched.units],
        "drawer": matched.rest,
    }
    shape.tell(of, lines)


def matched_lines(matched: PiecesMatched) -> Iterator[str]:
    """For which machines the pieces are that came, and where these stand."""
    bought = matched.purchase
    for unit in matched.units:
        place = if_any(" at {}", unit.line.place)
        yield f"{bought.part} for {unit.line.tag}{place}: it waited for that and can be gone on with"
    if matched.rest:
        other = "other " if matched.units else ""
        yield f"{matched.rest} {bought.part} into the drawer: no {other}machine waits for it"


def of_purchase(one: Purchase) -> dict[str, Any]:
    """The JSON of a purchase."""
    told = {
        "purchase": one.purchase,
        "part": one.part,
        "model": one.model,
        "count": one.count,
        "came": one.came,
        "cents": one.cents,
        "for": one.tag,
        "bought_on": one.at[:10],
    }
    return json_contract.nulls(told)


def _of_list(listed: PurchaseList, dry_run: bool) -> dict[str, Any]:
    return {
        "dry_run": dry_run,
        "purchases": [_of_buying(one) for one in listed.buying],
        "known": len(listed.known),
        "problems": [json_contract.of_remark(remark) for remark in listed.remarks],
        "cents": listed.cents,
    }


def _of_buying(one: Buying) -> dict[str, Any]:
    told = {
        "line": one.line,
        "purchase": one.purchase,
        "part": one.part,
        "model": one.model,
        "count": one.count,
        "cents": one.cents,
        "for": one.tag,
        "bought_on": one.bought_on,
        "came_on": one.came_on,
    }
    return json_contract.nulls(told)


def _list_lines(listed: PurchaseList, dry_run: bool, currency: str) -> Iterator[str]:
    for one in listed.buying[:SHOWN]:
        model = if_any(" for {}", one.model)
        yield f"line {one.line}: {one.purchase}  {one.count} {one.part}{model}  {spoken(one.cents, currency)}"
    if len(listed.buying) > SHOWN:
        yield f"and {len(listed.buying) - SHOWN} more"
    would = (
        "purchases that would be written down" if dry_run else "purchases written down"
    )
    told = f"{would}: {len(listed.buying)}, {spoken(listed.cents, currency)} in all"
    yield f"{told}; known already: {len(listed.known)}; lines with problems: {len(listed.remarks)}"
    if dry_run:
        yield "nothing was saved: this was a dry run"


def _coming_line(one: Purchase) -> str:
    meant = if_any(" for {}", one.model) + if_any(", for {}", one.tag)
    return f"{one.purchase}  {one.count - one.came} {one.part}{meant}, bought on {one.at[:10]}"

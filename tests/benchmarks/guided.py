"""Machines of an invented shop under words that the search never read, as donors and as a pile: who they are.

The shop has three years of history. A machine's fault comes from the hidden habits of `kb.demo.habits`, its words from
the fifth of its entry's wordings that is kept from the search, with typing errors. Of the parts that its repair may
ask for one is bad; what liquid and fire reach is bad half the time, and anything else one time in twenty.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random

from machine import Ticket, tickets
from shop import held_out, make_shop

from kb.bench.front import Bench
from kb.demo import jobs as demo
from kb.demo.habits import Faults
from kb.demo.scenario import shipped_scenario
from kb.library.spread import Spread
from kb.model import Entry

#: The share of parts that are bad though nobody suspects them, and of those that liquid and fire reach.
UNNOTICED, SPOILT = 0.05, 0.5


@dataclass(frozen=True, slots=True)
class GuidedShop:
    """The shop's bench, its entries by slug, the spread of liquid and fire, and the machines that come in."""

    bench: Bench
    entries: Mapping[str, Entry]
    spread: Spread
    tickets: tuple[Ticket, ...]


def guided_shop(
    folder: Path, machines: int, seed: int, jobs: int = demo.JOBS
) -> GuidedShop:
    """A shop with that many jobs of history, and machines that it has not seen."""
    stock, entries, heard = held_out(folder, seed)
    make_shop(folder, stock, entries, jobs)
    bench = Bench(folder / f"shop-{jobs}", stock)
    drawn = tuple(tickets(Faults(entries, demo.SEED), heard, machines, seed))
    return GuidedShop(
        bench,
        {entry.slug: entry for entry in entries},
        bench.shop.customs.spread(),
        drawn,
    )


def bad_parts(
    ticket: Ticket, parts: Sequence[str], spread: Spread, seed: int
) -> frozenset[str]:
    """Which of these parts are bad in a machine."""
    rng = Random(f"bad {seed} {ticket.number}")
    fix = ticket.fault.entry.fix_for(ticket.fault.cause)
    culprit = rng.choice(fix.parts) if fix and fix.parts else ""
    near = spread.of(ticket.fault.name)
    return frozenset(
        part
        for part in parts
        if part == culprit or rng.random() < (SPOILT if part in near else UNNOTICED)
    )


def pool_of(part: str, model: str) -> str:
    """The pool of a part: those of models that share it in truth."""
    families = shipped_scenario().families.get(part, ())
    family = next((family for family in families if model in family), (model,))
    return f"{part}, {family[0]}"


def pools_of(model: str) -> partial[str]:
    """The pool of a part of that model."""
    return partial(pool_of, model=model)

"""A small pallet that was paid for, with its costs reckoned by hand."""

from __future__ import annotations

from kb.bench.front import Bench
from kb.history import kinds
from kb.model import Confirmation

CAUSE = "starts-no-charge/charger"


def pallet(bench: Bench) -> None:
    """Lot P1: three machines at 90.00, an hour at 36.00; P1-1 gets the panel of P1-3, P1-2 is still open."""
    bench.shop.kept_settings.set_money(3600, "EUR")
    write = bench.machines.write
    write(kinds.LOT, {"lot": "P1", "cents": 8000, "freight_cents": 1000})
    for tag in ("P1-1", "P1-2", "P1-3"):
        write(
            kinds.UNIT_IN,
            {"tag": tag, "lot": "P1", "model": "Tern 13", "words": "dead"},
        )
    write(kinds.DONOR, {"tag": "P1-3", "why": "board gone"})
    bench.jobs.confirm(
        Confirmation(
            CAUSE, model="Tern 13", unit="p1-1", minutes=20, part="panel", donor="P1-3"
        )
    )
    write(
        kinds.PART_BOUGHT,
        {"purchase": "B1", "part": "battery", "count": 1, "cents": 2500, "for": "P1-1"},
    )
    write(kinds.SIGNED, {"tag": "P1-1", "by": "Ada"})

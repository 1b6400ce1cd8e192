"""Parts of donors: how likely each is said to be good, and how many are, on machines that the shop has not seen.

    PYTHONPATH=.:tests python tests/benchmarks/donors.py [--machines 600]

What a donor's belief says is held against the truth for every part of a complete machine and every part that a
repair of any of its causes may ask for. No check-out was done on them.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path

from guided import GuidedShop, bad_parts, guided_shop

from kb.diagnosis.answering import Complaint
from kb.machines import complaints
from kb.machines.donors import PartOfDonor, good

#: The bar: in every tenth with so many parts what is said and what is seen lie no further apart.
MANY, APART = 90, 0.05


def said_and_seen(shop: GuidedShop, number: int, seed: int) -> list[tuple[float, bool]]:
    """For each part of a machine how likely it is said to be good, and whether it is."""
    ticket = shop.tickets[number]
    model = ticket.fault.model
    (answer,) = shop.bench.asking.outlines(
        [Complaint(text=ticket.words, model=model, limit=8)]
    )
    causes = complaints.believed(answer)
    whole = shop.bench.shop.customs.complete_machine()
    asked = {part for one in causes if one.fix for part in one.fix.parts}
    parts = sorted({part.name for part in whole.parts(model)} | asked)
    bad = bad_parts(ticket, parts, shop.spread, seed)
    suspicions = complaints.suspicions(causes, shop.spread)
    return [
        (good(PartOfDonor(part=part, suspicions=suspicions)), part not in bad)
        for part in parts
    ]


def tenths(
    pairs: Iterable[tuple[float, bool]],
) -> Mapping[int, list[tuple[float, bool]]]:
    """The pairs by the tenth of what was said."""
    found: defaultdict[int, list[tuple[float, bool]]] = defaultdict(list)
    for said, is_good in pairs:
        found[min(int(said * 10), 9)].append((said, is_good))
    return dict(sorted(found.items()))


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--machines", type=int, default=600)
    options.add_argument("--seed", type=int, default=7)
    given = options.parse_args()
    began = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        shop = guided_shop(Path(folder), given.machines, given.seed)
        pairs = [
            pair
            for number in range(given.machines)
            for pair in said_and_seen(shop, number, given.seed)
        ]
        shop.bench.close()
    print("said good  parts   said   seen  apart")
    for tenth, of in tenths(pairs).items():
        said, seen = (sum(pair[n] for pair in of) / len(of) for n in (0, 1))
        mark = (
            "  (few)"
            if len(of) < MANY
            else "  over the bar"
            if abs(said - seen) > APART
            else ""
        )
        print(
            f"{tenth / 10:.1f} to {tenth / 10 + 0.1:.1f} {len(of):6d}  {said:.3f}  {seen:.3f}  {seen - said:+.3f}{mark}"
        )
    print(f"{time.process_time() - began:.0f} s of processor time")


if __name__ == "__main__":
    main()

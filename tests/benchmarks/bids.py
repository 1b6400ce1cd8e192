"""How often the limits of a bid hold: simulated pallets, the share whose truth lay within the middle eight tenths.

    PYTHONPATH=.:tests python tests/benchmarks/bids.py [--pallets N] [--draws N] [--world NAME ...]

80 of 100 are meant. `8 in 10` is how often the pallet brought at least the price that should hold in 8 of 10, `hasty`
how often mean ± standard error held it, `wide` the limits' mean distance in hundreds, and the last the time of a bid.
"""

from __future__ import annotations

import argparse
import statistics
import time

from helpers.pallets import WORLDS, World, hasty, pallet

from kb.machines.cost.bids import bid

SEEN = (8, 30, 100)


def line(world: World, seen: int, pallets: int, draws: int) -> str:
    """One row of figures for so many machines seen."""
    held = safe = hastily = 0
    wide: list[float] = []
    spent = 0.0
    for seed in range(pallets):
        one = pallet(world, seen, seed)
        began = time.thread_time()
        found = bid(one.offer, one.seen, seed, draws)
        spent += time.thread_time() - began
        held += found.low <= one.brought <= found.high
        safe += found.holds <= one.brought
        low, high = hasty(one)
        hastily += low <= one.brought <= high
        wide.append((found.high - found.low) / 100)
    shares = " ".join(
        f"{100 * count / pallets:7.1f}" for count in (held, safe, hastily)
    )
    return f"{seen:4} {shares} {statistics.fmean(wide):7.0f} {1000 * spent / pallets:6.0f} ms"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pallets", type=int, default=1_000)
    parser.add_argument("--draws", type=int, default=300)
    parser.add_argument(
        "--world", nargs="*", choices=list(WORLDS), default=list(WORLDS)
    )
    asked = parser.parse_args()
    print(f"{'world':28} seen    held 8 in 10   hasty    wide   a bid")
    for name in asked.world:
        for seen in SEEN:
            print(
                f"{name:28} {line(WORLDS[name], seen, asked.pallets, asked.draws)}",
                flush=True,
            )


if __name__ == "__main__":
    main()

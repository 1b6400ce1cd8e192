"""What the families foretell: log loss of the next try by several rules, and how often what they say comes true.

    PYTHONPATH=.:tests python tests/benchmarks/fits.py [--kinds N] [--seed S]

The shops are those of `tests/helpers/trying.py`: kinds of part with hidden families over 12 models, 16 tries each.
"""

from __future__ import annotations

import argparse
import math
import time

from helpers.trying import (
    WORLDS,
    Rule,
    by_families,
    by_families_if_linked,
    chain_product,
    foretell,
    joined_is_fits,
    tried_pairs_only,
)

RULES: dict[str, tuple[Rule, str]] = {
    "families, alpha learned here too": (by_families, "both"),
    "the same, unlinked as unknown": (by_families_if_linked, "both"),
    "as a shop tells it": (by_families_if_linked, "shop"),
    "families, alpha learned": (by_families, "all"),
    "families, alpha fixed at 3": (by_families, "none"),
    "joined by worked = fits": (joined_is_fits, "none"),
    "chain product": (chain_product, "none"),
    "tried pairs only": (tried_pairs_only, "none"),
}


def main() -> None:
    """Print the tables."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--kinds", type=int, default=150)
    options.add_argument("--seed", type=int, default=7)
    given = options.parse_args()
    for name, world in WORLDS.items():
        print(
            f"{name}: {given.kinds} kinds x 16 tries, log loss; linked are pairs untried so far that evidence links"
        )
        for title, (rule, learning) in RULES.items():
            started = time.process_time()
            seen = foretell(world, rule, given.kinds, given.seed, learning)
            spent = 1000 * (time.process_time() - started) / len(seen.losses)
            means = [
                math.fsum(losses) / len(losses) for losses in (seen.losses, seen.linked)
            ]
            print(
                f"  {title:34} all {means[0]:.3f}  linked {means[1]:.3f}  {spent:5.2f} ms an answer",
                flush=True,
            )
            if learning == "both" and rule in (by_families, by_families_if_linked):
                bins = "  ".join(
                    f"{said:.2f}: {came:.2f} ({count:.0f})"
                    for count, said, came in seen.calibration()
                )
                print(f"    said: seen (cases)  {bins}")


if __name__ == "__main__":
    main()

"""What the pile's arithmetic reaches, as tables: plans, small piles against the exact game, piles played, forecasts.

    PYTHONPATH=.:tests python tests/benchmarks/pile.py [--piles N] [--only plan small played forecast]

The piles are those of `tests/helpers/piles.py`, whose beliefs mean what they say and whose looks show the true
cause after one number of minutes. `--piles` is the number of piles of 12 machines; of larger ones there are fewer.
"""

from __future__ import annotations

import argparse
import math
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from helpers.pile_bounds import all_known, fluid_bound, static_bound
from helpers.pile_rivals import SIMPLE
from helpers.piles import (
    REGIMES,
    Hidden,
    Policy,
    drawn,
    expected_of,
    four_machines,
    play,
)

from kb.machines.pile import Pile, next_step, planned
from kb.machines.pile.endgame import solved
from kb.machines.pile.forecast import foretold
from kb.machines.pile.policy import by_prices

WAYS: dict[str, Policy] = {**SIMPLE, "ours, prices alone": by_prices, "ours": next_step}


def numbers_of(piles: int) -> dict[int, int]:
    """How many piles of each size."""
    return {12: piles, 32: max(piles // 2, 2), 100: max(piles // 8, 2)}


def plan(piles: int) -> None:
    """Static plans against a bound that none can reach."""
    print(
        "static plan: share of the bound (a linear programme in which good pieces always meet the needs)"
    )
    for regime in REGIMES:
        for machines, count in numbers_of(piles).items():
            for part in (1.0, 0.6):
                some = [drawn(machines, regime, seed).pile for seed in range(count)]
                _plan_row(
                    f"{regime}, {machines} machines, {part:.0%} of the hours",
                    some,
                    part,
                )


def _plan_row(title: str, piles: Sequence[Pile], part: float) -> None:
    shares, spent = [], []
    for pile in (replace(pile, minutes=part * pile.minutes) for pile in piles):
        started = time.process_time()
        expected = planned(pile).expected
        spent.append(time.process_time() - started)
        shares.append(expected / static_bound(pile))
    mean, worst = statistics.fmean(shares), min(shares)
    print(
        f"  {title:48} mean {mean:.4f}  worst {worst:.4f}  {max(spent):.2f} s at most",
        flush=True,
    )


def small(piles: int) -> None:
    """Piles of four machines against the exact adaptive optimum."""
    print(
        f"four machines, three causes each: share of the exact adaptive optimum, {piles} piles"
    )
    drawn_piles = [four_machines(seed) for seed in range(piles)]
    started, best, points = time.process_time(), [], 0
    for pile in drawn_piles:
        found = solved(pile)
        best.append(found.expected)
        points = max(points, found.points)
    spent = (time.process_time() - started) / piles
    print(f"  the optimum: {1000 * spent:.0f} ms a pile, {points} points at most")
    for name in (
        "ours",
        "ours, prices alone",
        "easiest first",
        "likeliest first",
        "first come",
    ):
        shares = sorted(
            expected_of(WAYS[name], pile) / top
            for pile, top in zip(drawn_piles, best, strict=True)
        )
        mean, low = statistics.fmean(shares), shares[piles // 20]
        print(
            f"  {name:24} mean {mean:.4f}  5 % quantile {low:.3f}  worst {shares[0]:.3f}",
            flush=True,
        )


def played(piles: int) -> None:
    """Piles played on hidden causes."""
    print(
        "working machines, played on hidden causes: mean; ours less it ± standard error; seconds a pile"
    )
    for regime in REGIMES:
        for machines, count in numbers_of(piles).items():
            some = [drawn(machines, regime, 10_000 + seed) for seed in range(count)]
            hours, cents = some[0].pile.minutes / 60, some[0].pile.cents
            print(
                f"  {regime}: {machines} machines, {hours:.1f} h, {cents} cents, {count} piles"
            )
            _played_rows(some)


def _played_rows(some: Sequence[Hidden]) -> None:
    results, spent = {}, {}
    for name, way in WAYS.items():
        started = time.process_time()
        results[name] = [float(len(play(hidden, way).working)) for hidden in some]
        spent[name] = (time.process_time() - started) / len(some)
    ours = results["ours"]
    for name, counts in results.items():
        differences = [a - b for a, b in zip(ours, counts, strict=True)]
        error = statistics.stdev(differences) / math.sqrt(len(differences))
        less = (
            f"{statistics.fmean(differences):6.2f} ± {error:.2f}"
            if name != "ours"
            else ""
        )
        print(
            f"    {name:30}{statistics.fmean(counts):8.2f}  {less:14}  {spent[name]:.2f} s",
            flush=True,
        )
    known = [all_known(hidden) for hidden in some]
    fluid = [fluid_bound(hidden.pile) for hidden in some]
    for title, bounds in (
        ("all known beforehand", known),
        ("parts and minutes as a fluid", fluid),
    ):
        share = math.fsum(ours) / math.fsum(bounds)
        print(
            f"    {title:30}{statistics.fmean(bounds):8.2f}  ours reach {share:.3f} of it",
            flush=True,
        )


def forecast(piles: int) -> None:
    """Forecasts against what then happens."""
    print(
        "forecast from 30 plays: how often the range of working machines held, how wide it is, mean error"
    )
    for regime in REGIMES:
        for machines, count in ((12, 4 * piles), (32, piles // 2)):
            held, width, error = 0, 0.0, 0.0
            for hidden in (
                drawn(machines, regime, 20_000 + seed) for seed in range(count)
            ):
                said, came = (
                    foretold(hidden.pile).working,
                    len(play(hidden, next_step).working),
                )
                held += said.low <= came <= said.high
                width += (said.high - said.low + 1) / count
                error += (came - said.expected) / count
            doubt = math.sqrt(held * (count - held) / count**3)
            told = f"held {held / count:.3f} ± {doubt:.3f}  {width:.1f} wide  error {error:+.2f}"
            print(f"  {regime}, {machines} machines, {count} lots: {told}", flush=True)


TABLES: dict[str, Callable[[int], None]] = {
    "plan": plan,
    "small": small,
    "played": played,
    "forecast": forecast,
}


def main() -> None:
    """Print the tables."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--piles", type=int, default=60)
    options.add_argument("--only", nargs="*", choices=TABLES, default=list(TABLES))
    given = options.parse_args()
    for name in given.only:
        TABLES[name](given.piles)


if __name__ == "__main__":
    main()

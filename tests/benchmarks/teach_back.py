"""Teach-back: complaints that put a wrong sheet first, confirmed as they were and asked again on the same model.

python tests/benchmarks/teach_back.py             all complaints of five sets, and one crossed wording for every sheet
python tests/benchmarks/teach_back.py --sets dev  of one set
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # the tests' own measures

from helpers.shops import quick_folder
from helpers.teaching import TIMES, Lesson, crossed, mistaken, shares, taught

from kb.bench.front import Bench


def main() -> None:
    """Print a table for each kind of lesson, and what was not learned."""
    given = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    given.add_argument("--sets", nargs="*", default=["dev", "own", "fresh", "blind"])
    given.add_argument(
        "--every", type=int, default=1, help="only every so many lessons"
    )
    chosen = given.parse_args()
    with quick_folder() as folder:
        bench = Bench(folder / "shop")
        mistakes = mistaken(bench, chosen.sets)
        crossings = crossed(bench, bench.entries.served())
        bench.close()
        told(
            "complaints that put a wrong sheet first",
            folder / "shop",
            mistakes[:: chosen.every],
        )
        told(
            "a wording of each sheet that was the next one's fault",
            folder / "shop",
            crossings[:: chosen.every],
        )


def told(what: str, shop: Path, lessons: Sequence[Lesson]) -> None:
    """Print the shares for one kind of lesson."""
    learned = list(taught(shop, lessons))
    print(f"\n{what}: {len(learned)}")
    for after in range(1, TIMES + 1):
        sheet, cause = shares(learned, after)
        print(
            f"after {after}: sheet first {sheet:5.1f} %, the taught cause likeliest in it {cause:5.1f} %",
            flush=True,
        )
    for one in learned:
        if not (one.sheet[1] and one.cause[2]):
            print(
                f"  not learned: {one.lesson.words} -> {one.lesson.cause}: {one.sheet} {one.cause}"
            )


if __name__ == "__main__":
    main()

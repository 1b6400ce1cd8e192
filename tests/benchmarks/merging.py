"""What it costs that names of models can be merged: a search before, with and after a merge, and the merge itself.

python tests/benchmarks/merging.py        processor milliseconds in a shop of invented jobs
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from kb.bench.front import Bench
from kb.demo.jobs import SEED
from webui.serving_commands import fill_with_invented_jobs

ASKED = (
    "wont chrge, led orange",
    "no light when plugged in",
    "row of keys dead",
    "fan loud and hot",
    "no battery",
)
TIMES = 20
MERGED, KEPT = "Skua 14", "Tern 13"


def spent(what: Callable[[], object]) -> float:
    """Processor milliseconds for it."""
    began = time.process_time()
    what()
    return (time.process_time() - began) * 1000


def search(bench: Bench, model: str) -> float:
    """Processor milliseconds for a warm search, the least of some rounds."""

    def all_asked() -> None:
        for words in ASKED:
            bench.asking.search(words, model)

    all_asked()
    return min(spent(all_asked) for _ in range(TIMES)) / len(ASKED)


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder) / "shop")
        fill_with_invented_jobs(bench, SEED)
        bench.machines.units()
        print(f"a search without merges  {search(bench, KEPT):8.2f}")
        print(
            f"saying that two are one  {spent(lambda: bench.models.merge(MERGED, KEPT)):8.2f}"
        )
        print(f"the first question then  {spent(bench.asking.models):8.2f}")
        print(f"the first list of them   {spent(bench.machines.units):8.2f}")
        print(f"a search with the merge  {search(bench, MERGED):8.2f}")
        print(
            f"taking it back           {spent(lambda: bench.models.part(MERGED)):8.2f}"
        )
        print(f"the first question then  {spent(bench.asking.models):8.2f}")
        bench.close()


if __name__ == "__main__":
    main()

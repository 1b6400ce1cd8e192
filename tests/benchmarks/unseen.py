"""Prints the figures of the unseen sets (tests/data/unseen), without ever showing a line of them.

PYTHONPATH=.:tests python tests/benchmarks/unseen.py
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from helpers.unseen import table

from kb.bench.front import Bench


def main() -> None:
    """Print the table."""
    bench = Bench(Path(tempfile.mkdtemp()) / "shop")
    for line in table(bench):
        print(line, flush=True)
    bench.close()


if __name__ == "__main__":
    main()

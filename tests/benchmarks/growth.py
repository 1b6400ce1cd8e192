"""Growth: what search, confirmation, pages, index and copies cost in a shop of 1,000, 10,000 and 100,000 jobs or more.

Run from the project's folder: `PYTHONPATH=. python tests/benchmarks/growth.py [JOBS ...]`. The jobs are those of
the demo with many seeds; pages are asked for and jobs confirmed in this process, in turn. Medians of processor time in
milliseconds, and the most memory held in MiB; with `--folder` the shops are kept and used again, and `--rounds` says
how often each is asked.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from operator import attrgetter
from pathlib import Path
from random import Random
from urllib.parse import quote_plus

from kb.bench.front import Bench
from kb.demo import jobs
from kb.demo.complaints import complaint
from kb.history import fields, schema
from kb.history.copies.backup import backup
from kb.history.ids import derived_id
from kb.history.marks import Tip
from kb.history.record import Record, canonical, chain_of
from kb.history.verification import verify
from kb.model import Confirmation
from webui.app import create_app

SIZES = (1_000, 10_000, 100_000)
#: Of a very large shop two rounds tell as much.
ROUNDS = 7
#: What a page or a save may cost at 100,000 jobs, in milliseconds of processor time.
GOALS: Mapping[str, float] = {
    "confirm": 100,
    "confirm, told broken": 100,
    "home": 50,
    "review": 500,
}
#: Jobs of one seed: as many as the demo has.
OF_ONE_SEED = 2_500


def invented(bench: Bench, count: int) -> list[tuple[str, str, str, str]]:
    """So many invented jobs as time, id, shop and body, oldest first; every seed has machines of its own."""
    entries, shop = bench.entries.served(), bench.history().shop
    made: list[tuple[str, str, str, str]] = []
    for seed in range(1, 1 + -(-count // OF_ONE_SEED)):
        for job in jobs.invented_jobs(entries, seed, min(OF_ONE_SEED, count)):
            own = replace(job, unit=f"{seed}-{job.unit}", donor="")
            made.append((own.closed_at, own.job, shop, canonical(fields.to_json(own))))
    return sorted(made[:count])


def fill(bench: Bench, count: int) -> None:
    """Write so many invented jobs into an empty history as the front door would, all in one statement."""
    history = bench.history()
    made = invented(bench, count)
    with closing(schema.connect(history.path)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("BEGIN")
        connection.executemany(
            schema.INSERT,
            map(attrgetter(*schema.COLUMNS), chained(made, history.tip())),
        )
        connection.execute("COMMIT")


def chained(told: Iterable[tuple[str, str, str, str]], last: Tip) -> Iterator[Record]:
    """The records of those jobs, each sealed by the one before."""
    seq, link = last.count, last.chain
    for at, job, shop, body in told:
        seq += 1
        record = Record(
            seq, derived_id(f"record {seq}"), job, shop, at, "close", body, None, ""
        )
        link = chain_of(link, record)
        yield replace(record, chain=link)


def cost(act: Callable[[], object]) -> float:
    """Milliseconds of processor time."""
    began = time.process_time()
    act()
    return (time.process_time() - began) * 1000


class Shop:
    """A shop as a browser uses it; every request is measured by its kind."""

    def __init__(self, bench: Bench, unit: str) -> None:
        self.bench = bench
        self.unit = unit
        self.pages = create_app(bench).test_client()
        self.dice = Random(7)
        self.entries = bench.entries.served()
        self.took: dict[str, list[float]] = {}

    def measured(self, kind: str, act: Callable[[], object]) -> None:
        """Note what an act cost."""
        self.took.setdefault(kind, []).append(cost(act))

    def once(self) -> None:
        """Every kind of request once, as a day at the bench has them."""
        words = complaint(self.dice.choice(self.entries), self.dice)
        self.measured("search", lambda: self.search(words))
        self.measured("search, again", lambda: self.search(words))
        self.measured("confirm", lambda: self.confirm(words))
        self.measured("search after it", lambda: self.search(words))
        self.measured("home", lambda: self.go("/"))
        self.measured("confirm, told broken", lambda: self.confirm("broken"))
        self.measured("home after it", lambda: self.go("/"))
        self.measured("review", lambda: self.go("/review"))
        self.measured("review of a model", lambda: self.go("/review?model=Tern+13"))
        self.measured("machine", lambda: self.go(f"/u/{self.unit}"))

    def go(self, address: str) -> None:
        """A page, which must be there."""
        answer = self.pages.get(address, base_url="http://localhost")
        assert answer.status_code == 200, f"{address}: {answer.status}"

    def search(self, words: str) -> None:
        """The answer to a complaint."""
        self.go(f"/answer?done=1&model=Tern+13&q={quote_plus(words)}")

    def confirm(self, words: str) -> None:
        """A confirmed cause saved, and what it changed told."""
        entry = self.dice.choice(self.entries)
        cause = f"{entry.slug}/{entry.causes[0].slug}"
        self.bench.jobs.confirm(
            Confirmation(cause, "Tern 13", words=words, minutes=12), untested=True
        )


def main() -> int:
    """Print a row for every size; gives the exit status: 1 if a goal is missed."""
    given = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    given.add_argument("jobs", type=int, nargs="*", default=list(SIZES))
    given.add_argument("--folder", type=Path, help="where shops are kept")
    given.add_argument("--rounds", type=int, default=ROUNDS)
    chosen = given.parse_args()
    missed = False
    for size in chosen.jobs:
        with tempfile.TemporaryDirectory() as folder:
            took = measured(
                (chosen.folder or Path(folder)) / str(size), size, chosen.rounds
            )
        told = ", ".join(f"{kind} {value:.0f}" for kind, value in took.items())
        print(f"{size} jobs: {told}", flush=True)
        missed |= any(took[kind] > goal for kind, goal in GOALS.items())
    return int(missed)


def measured(folder: Path, size: int, rounds: int) -> dict[str, float]:
    """The median cost of every kind of request in a shop of that size; the rest taken once."""
    bench = Bench(folder)
    if not bench.history().tip().count:
        fill(bench, size)
    index = cost(bench.asking.models)
    shop = Shop(bench, next(bench.history().closed_jobs()).unit)
    shop.once()
    first = {f"first {kind}": shop.took[kind][0] for kind in ("search",)}
    shop.took.clear()
    for _ in range(rounds):
        shop.once()
    once = {
        "index": index,
        "verify": cost(bench.health.state),
        "chain": cost(lambda: verify(bench.history().path)),
    }
    once["backup"] = cost(
        lambda: backup(folder, folder / f"{size}.zip", datetime.now(UTC))
    )
    (folder / f"{size}.zip").unlink()
    once["MiB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    bench.close()
    return (
        first
        | {kind: statistics.median(times) for kind, times in shop.took.items()}
        | once
    )


if __name__ == "__main__":
    sys.exit(main())

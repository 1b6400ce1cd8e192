"""What questions to many shops cost: a drawer of invented shops, each question on each engine, seconds and memory.

    python tests/benchmarks/many_shops.py make DRAWER 50      # 50 shops x 20 jobs a day x 3 years, as Parquet
    python tests/benchmarks/many_shops.py ask DRAWER duckdb   # or spark, or postgresql://...

Every shop has habits of its own (the demo's generator with a seed of its own); its jobs go into its file straight from
the generator, since no question needs a history. Seconds are wall time, then processor time of all processes. Memory
is the most that this process, its children (Java) and the processes of a PostgreSQL server held together, shared pages
counted once (Pss of smaps_rollup, five times a second).
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

from kb.base.clock import utc_now
from kb.demo import jobs as demo
from kb.demo.habits import Faults
from kb.library.shelf import Shelf, stock_folder
from kb.model import Entry, Finding
from kb.office.answers import answer, asked, pool
from kb.office.engines import opened
from kb.office.sending import send
from kb.office.shared import SharedLine, judged, office_id

JOBS_A_DAY, DAYS = 20, 3 * 365
FIRST = date(2023, 11, 1)


def drawer(folder: Path, shops: int) -> None:
    """Write the files of so many shops."""
    entries = [
        sheet.entry for sheet in Shelf(stock_folder(), None).sheets() if sheet.entry
    ]
    for number in range(shops):
        shop = f"invented {number}"
        send(list(shop_lines(entries, shop, number)), shop, (), folder, "parquet")
        print(number + 1, end=" ", flush=True, file=sys.stderr)


def shop_lines(entries: Sequence[Entry], shop: str, seed: int) -> Iterator[SharedLine]:
    """The lines of three years of one shop, whose odds of entries and causes stray from those of the others."""
    rng = Random(f"office {seed}")
    faults = Faults(entries, seed)
    machines: dict[str, list[int]] = {}
    known_as, bought = office_id(shop), 0
    for number in range(1, JOBS_A_DAY * DAYS + 1):
        fault = faults.draw(rng)
        tests = demo._tests_done(fault.entry.tests, rng)
        fix = fault.entry.fix_for(fault.cause)
        mine = machines.setdefault(fault.model, [])
        if not mine or rng.random() >= demo.RETURNS:
            bought += 1
            mine.append(bought)
        told: dict[str, Any] = {
            "shop": known_as,
            "day": (FIRST + timedelta(number // JOBS_A_DAY)).isoformat(),
        }
        told |= {
            "model": fault.model,
            "job": number,
            "entry": fault.entry.slug,
            "cause": fault.cause,
        }
        yield SharedLine(
            kind="job",
            machine=mine[-1] if mine[-1] == bought else rng.choice(mine),
            listed=True,
            minutes=demo._minutes(fix, tests, rng),
            part=rng.choice(fix.parts) if fix and fix.parts else "",
            **told,
        )
        for test in tests:
            found = demo._finding(fault, test, rng)
            yield SharedLine(
                kind="test",
                test=found.test,
                outcome=found.outcome,
                shown=_shown(fault.entry, fault.cause, found),
                **told,
            )


JUDGED: dict[tuple[str, str, str, str], str] = {}


def _shown(entry: Entry, cause: str, found: Finding) -> str:
    """What a shop's own telling says of it, worked out once for each outcome."""
    known = (entry.slug, cause, found.test, found.outcome)
    if known not in JUDGED:
        JUDGED[known] = judged(entry, cause, found)
    return JUDGED[known]


class Memory:
    """The most memory held since it was asked last, in MiB."""

    def __init__(self) -> None:
        self._most = 0.0
        threading.Thread(target=self._watch, daemon=True).start()

    def _watch(self) -> None:
        while True:
            self._most = max(self._most, sum(map(_held, _processes())))
            time.sleep(0.2)

    def most(self) -> float:
        """How much it was; begins anew."""
        most, self._most = self._most, 0.0
        return most


def _processes() -> Iterator[Path]:
    """This process, its children, and those of a PostgreSQL server."""
    parents: dict[int, int] = {}
    names: dict[int, str] = {}
    for place in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            name, _, rest = (
                (place / "stat").read_text().partition("(")[2].rpartition(")")
            )
            names[int(place.name)], parents[int(place.name)] = (
                name,
                int(rest.split()[1]),
            )
    own = {int(Path("/proc/self").resolve().name)}
    for _ in range(5):
        own |= {process for process, parent in parents.items() if parent in own}
    for process, name in names.items():
        if process in own or name == "postgres":
            yield Path(f"/proc/{process}")


def _held(process: Path) -> float:
    with suppress(OSError):
        for line in (process / "smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) / 1024
    return 0.0


def _worked(process: Path) -> float:
    """Seconds of processor time of a process so far."""
    with suppress(OSError):
        fields = (process / "stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return 0.0


def ask(folder: Path, engine: str) -> None:
    """Print what reading the drawer and each question took."""
    memory = Memory()

    @contextmanager
    def measured(name: str) -> Iterator[None]:
        began, worked = time.monotonic(), sum(map(_worked, _processes()))
        yield
        took, worked = (
            time.monotonic() - began,
            sum(map(_worked, _processes())) - worked,
        )
        time.sleep(0.25)
        print(
            f"{name:9} {took:7.2f} s {worked:7.2f} s {memory.most():7.0f} MiB",
            flush=True,
        )

    with ExitStack() as ended:
        with measured("reading"):
            collected = ended.enter_context(opened(engine, folder))
        for question in asked(None):
            with measured(question.name):
                rows = len(answer(question, collected))
            print(f"          {rows} rows")
        with measured("counts"):
            pool(collected, utc_now().date())


if __name__ == "__main__":
    if sys.argv[1] == "make":
        drawer(Path(sys.argv[2]), int(sys.argv[3]))
    else:
        ask(Path(sys.argv[2]), sys.argv[3])

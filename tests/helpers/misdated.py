"""Shops with a clock that is set by hand, and jobs with a date."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

from helpers.clocks import Clock
from helpers.places import CORPUS
from helpers.shops import quick_folder
from kb.base.clock import stamp
from kb.bench.front import Bench
from kb.model import Job

CAUSE = "no-battery/pack"
NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)


@contextmanager
def fortnightly(clock: Clock) -> Iterator[Bench]:
    """A shop that fitted a battery every fortnight for three years, and something else in the week between."""
    with quick_folder() as folder:
        made = Bench(folder / "shop", stock=CORPUS, clock=clock)
        with made.history().together():
            for week in range(156):
                part = "battery" if week % 2 else "charge-indicator board"
                closed_at = stamp(NOW - timedelta(days=1, weeks=155 - week))
                made.history().adopt(
                    Job(
                        f"w{week}",
                        "Tern 13",
                        CAUSE,
                        closed_at,
                        unit=f"T-{week}",
                        part=part,
                    )
                )
        yield made
        made.close()


def battery(bench: Bench) -> float:
    """How many batteries the weeks ahead are expected to ask for."""
    return next(
        one.expected
        for one in bench.looking_back.overview().stock
        if one.part == "battery"
    )

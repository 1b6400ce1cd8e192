"""Closed jobs as work on machines, one machine one line."""

from __future__ import annotations

from helpers.working import PLUG

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.model import Confirmation


def test_a_machine_whose_model_was_read_later_stays_one_machine_under_that_model(bench: Bench) -> None:
    bench.arrivals.arrive(Arrived(tag="P7-001", lot="P7", model="unknown"))
    bench.jobs.confirm(Confirmation(PLUG, "unknown", unit="P7-001"))
    bench.machines.correct("P7-001", {"model": "Tern 13"})
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="p7 - 001"))

    seen = bench.looking_back.overview("Tern 13").review

    assert (seen.jobs, seen.machines) == (2, 1)
    assert bench.looking_back.overview("unknown").review.jobs == 0

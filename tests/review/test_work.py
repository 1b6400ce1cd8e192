"""Closed jobs as work on machines, one machine one line."""

from __future__ import annotations

from pathlib import Path

from helpers.working import PLUG

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.history import History
from kb.model import Confirmation
from kb.review.period import Period
from kb.review.work import days_of, put_away, working_days, works


def test_a_machine_whose_model_was_read_later_stays_one_machine_under_that_model(
    bench: Bench,
) -> None:
    bench.arrivals.arrive(Arrived(tag="P7-001", lot="P7", model="unknown"))
    bench.jobs.confirm(Confirmation(PLUG, "unknown", unit="P7-001"))
    bench.machines.correct("P7-001", {"model": "Tern 13"})
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="p7 - 001"))

    seen = bench.looking_back.overview("Tern 13").review

    assert (seen.jobs, seen.machines) == (2, 1)
    assert bench.looking_back.overview("unknown").review.jobs == 0


def test_only_jobs_without_a_cause_count_under_the_model_that_came_in(
    tmp_path: Path,
) -> None:
    with History.open(tmp_path / "history.db") as history:
        left = history.open_job("", "T-1", "dead")
        history.retract(left, "owner took it home")
        closed = history.close_job(Confirmation("no-battery/pack", "Tern 13"))
        history.retract(closed.job, "it was the plug")

        (found,) = put_away(history, {"t-1": "Skua 14"})
        assert (found.job, found.model, found.words, found.why) == (
            left,
            "Skua 14",
            "dead",
            "owner took it home",
        )
        assert put_away(history, period=Period("", "2000-01-01", None)) == ()


def test_the_days_that_jobs_tell_are_those_that_the_index_tells(bench: Bench) -> None:
    for closed_at in (
        "2026-03-01T23:30:00Z",
        "2026-03-02T08:00:00Z",
        "2026-03-02T09:00:00Z",
        "2026-04-01T08:00:00Z",
    ):
        bench.jobs.confirm(Confirmation(PLUG, "Tern 13", closed_at=closed_at))

    with bench.shop.knowing() as knowledge:
        told = days_of(works(knowledge.index.jobs))
        assert told == working_days(knowledge.index.jobs)
    assert [day.jobs for day in told] == [1, 2, 1]

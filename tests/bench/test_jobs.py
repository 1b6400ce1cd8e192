"""The desk of jobs: refused, saved once, taken back."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.places import CORPUS

from kb.base.trouble import NotThere
from kb.bench.front import Bench
from kb.bench.jobs import JobsWanted
from kb.model import Confirmation

BOARD = "no-battery/light-board"


def test_a_retraction_gives_the_numbers_of_a_history_that_never_held_the_job(
    bench: Bench, tmp_path: Path
) -> None:
    untouched = Bench(tmp_path / "other", stock=bench.shop.shelf.stock)
    for one in (bench, untouched):
        one.jobs.confirm(
            Confirmation("no-battery/pack", "Tern 13", words="flat as a kipper")
        )
    job = bench.jobs.confirm(
        Confirmation(BOARD, "Tern 13", words="glimmer gone astray")
    ).job
    assert (
        bench.asking.search("glimmer astray", "Tern 13").entries[0].entry
        == "no-battery"
    )

    bench.jobs.retract(job, "it was the plug")

    for words in ("batt missing", "glimmer astray", "flat as a kipper"):
        assert (
            bench.asking.search(words, "Tern 13").entries
            == untouched.asking.search(words, "Tern 13").entries
        )
    untouched.close()


def test_an_unknown_entry_or_cause_is_refused_with_the_ones_there_are(
    bench: Bench,
) -> None:
    with pytest.raises(NotThere, match="no-battery"):
        bench.jobs.confirm(Confirmation("no-batery/plug", "Tern 13"))
    with pytest.raises(NotThere, match="no-battery/light-board"):
        bench.jobs.confirm(Confirmation("no-battery/lihgt-board", "Tern 13"))


def test_the_same_form_sent_twice_saves_one_job(bench: Bench) -> None:
    one = bench.jobs.confirm(Confirmation(BOARD, "Tern 13"), token="a-form")
    other = bench.jobs.confirm(Confirmation(BOARD, "Tern 13"), token="a-form")

    assert one.job == other.job
    assert bench.looking_back.overview("Tern 13").review.jobs == 1


def test_of_jobs_closed_in_one_second_the_last_saved_is_listed_first(
    tmp_path: Path,
) -> None:
    bench = Bench(
        tmp_path / "shop",
        stock=CORPUS,
        clock=lambda: datetime(2026, 11, 27, 12, tzinfo=UTC),
    )
    for unit in ("T-1", "T-2", "T-3"):
        bench.jobs.confirm(Confirmation(BOARD, "Tern 13", unit=unit))

    listed = [job.unit for job in bench.jobs.closed_like(JobsWanted())]

    assert listed == ["T-3", "T-2", "T-1"]
    bench.close()

"""Sums that are kept from one review to the next: the figures of a review that counts everything anew, to the digit."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

import pytest
from helpers.working import BOARD, PACK, PLUG, in_zone

from kb.bench.front import Bench
from kb.history import kinds
from kb.history.copies.backup import backup
from kb.history.copies.restore import restore
from kb.index.jobs import JobTable
from kb.model import Confirmation
from kb.review.overview import Overview

BEGIN = datetime(2026, 1, 1, 9, tzinfo=UTC)
CAUSES = (PACK, PLUG, BOARD)


def confirm(bench: Bench, dice: Random, day: int) -> str:
    """Close a job of that day; gives its id."""
    told = Confirmation(
        dice.choice(CAUSES),
        dice.choice(("Tern 13", "tern 13", "Skua 14", "unknown")),
        unit=dice.choice(("", "T-1", "t-1", "S-2", "U-3")),
        minutes=dice.choice((None, 0.1, 0.2, 12.5, 30)),
        part=dice.choice(("", "battery", "fan")),
        donor=dice.choice(("", "", "D-9")),
        closed_at=f"{BEGIN + timedelta(days=day, minutes=dice.randrange(600)):%Y-%m-%dT%H:%M:%SZ}",
    )
    return bench.jobs.confirm(told, untested=True).job


def anew(bench: Bench, model: str = "") -> Overview:
    """The overview of a desk that has kept nothing."""
    return type(bench.looking_back)(bench.shop).overview(model)


@pytest.mark.parametrize("seed", range(2))
def test_kept_sums_give_the_figures_of_a_review_that_counts_everything_anew(
    bench: Bench, seed: int
) -> None:
    in_zone(bench, "Europe/Oslo")
    dice, made = Random(seed), list[str]()
    for day in range(0, 240, 24):
        match day % 96:
            case 24:  # with an older date
                confirm(bench, dice, day - 50)
            case 48:
                bench.jobs.retract(made.pop(dice.randrange(len(made))), "mistaken")
            case 72:
                tag, model = dice.choice((("U-3", "Skua 14"), ("U-3", "Tern 13")))
                bench.machines.write(kinds.UNIT_IN, {"tag": tag, "model": model})
        assert bench.looking_back.overview() == anew(bench)
        made.append(confirm(bench, dice, day))
        assert bench.looking_back.overview() == anew(bench)
        assert bench.looking_back.overview("Tern 13") == anew(bench, "Tern 13")


def test_a_review_after_one_more_job_reads_that_job_alone(
    shop: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shop.looking_back.overview().review
    read: list[int] = []
    closed = JobTable.closed

    def counted(table: JobTable, *given: str, **asked: int) -> object:
        found = closed(table, *given, **asked)  # type: ignore[arg-type]
        read.append(len(found))
        return found

    monkeypatch.setattr(JobTable, "closed", counted)
    shop.jobs.confirm(
        Confirmation(PLUG, "Skua 14", unit="S-1", closed_at="2026-04-11T09:00:00Z")
    )

    assert shop.looking_back.overview().review.jobs == before.jobs + 1
    assert read == [1]


def test_a_job_that_takes_the_place_of_one_taken_back_is_no_reason_to_keep_the_sums(
    shop: Bench,
) -> None:
    shop.looking_back.overview()
    last = next(iter(shop.history().closed_jobs()))
    shop.jobs.retract(last.job, "mistaken")
    shop.jobs.confirm(
        Confirmation(
            last.cause, last.model, minutes=7, closed_at="2026-05-01T09:00:00Z"
        )
    )

    assert shop.looking_back.overview() == anew(shop)
    assert shop.looking_back.overview().review.jobs == 5


def test_a_machine_that_turns_out_to_be_of_another_model_is_no_reason_to_keep_the_sums(
    bench: Bench,
) -> None:
    bench.jobs.confirm(Confirmation(PACK, "unknown", unit="U-3", minutes=5))
    bench.looking_back.overview()

    bench.machines.write(kinds.UNIT_IN, {"tag": "U-3", "model": "Skua 14"})

    assert [line.model for line in bench.looking_back.overview().models] == ["Skua 14"]


def test_another_history_that_was_put_back_is_counted_anew_though_it_has_as_many_jobs_of_each_cause(
    bench: Bench, tmp_path: Path
) -> None:
    bench.jobs.confirm(
        Confirmation(PACK, "Tern 13", minutes=5, closed_at="2026-01-01T09:00:00Z")
    )
    backup(bench.folder, tmp_path / "first.zip", BEGIN)
    last = bench.jobs.confirm(
        Confirmation(PLUG, "Tern 13", minutes=7, closed_at="2026-01-02T09:00:00Z")
    )
    assert bench.looking_back.overview().review.total_minutes == 12
    assert last.job

    restore(tmp_path / "first.zip", bench.folder, BEGIN, replace=True)
    bench.jobs.confirm(
        Confirmation(PLUG, "Tern 13", minutes=30, closed_at="2026-01-03T09:00:00Z")
    )

    assert bench.looking_back.overview() == anew(bench)
    assert bench.looking_back.overview().review.total_minutes == 35

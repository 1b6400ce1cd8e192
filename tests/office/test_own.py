"""What a shop itself told of pooled counts is taken off them, as if it had sent nothing."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from helpers.histories import import_jobs
from helpers.pooling import counts_of
from hypothesis import given
from hypothesis import strategies as st

from kb.base import pooling
from kb.bench.front import Bench
from kb.history import History
from kb.history.exchange import export_jobs
from kb.index.elsewhere import PooledCounts, read
from kb.model import Confirmation
from kb.office.own import others_only
from kb.office.pooled import SharedCount, pooled
from kb.office.shared import office_id

TODAY = date(2026, 11, 30)
OTHERS = [
    SharedCount("others 1", "Tern 13", "no-battery", "plug", 3),
    SharedCount("others 2", "Tern 13", "no-battery", "pack", 5),
    SharedCount("others 2", "Skua 14", "keys-dead", "ribbon", 2),
]


def sent_by(
    history: History, models_and_causes: Sequence[tuple[str, str]]
) -> list[SharedCount]:
    """The rows of an office that had these jobs of the shop."""
    shop = office_id(history.shop)
    return [
        SharedCount(shop, model, cause.partition("/")[0], cause, 1)
        for model, cause in models_and_causes
    ]


def figures(counts: PooledCounts) -> dict[str, float]:
    """All that is told of the sheets but how alike shops are, which the shop's own jobs had a part in."""
    found: dict[str, float] = {}
    for slug, sheet in counts.sheets.items():
        found |= {
            f"{slug}: shops": sheet.shops,
            f"{slug}: jobs": sheet.jobs,
            f"{slug}: often": sheet.often,
        }
        found |= {f"{slug}: {cause}": weight for cause, weight in sheet.causes.items()}
        for model, had in sheet.models.items():
            found |= {
                f"{slug} on {model}: {cause}": weight
                for cause, weight in had.causes.items()
            }
    return found


def test_counts_without_a_shop_are_those_that_it_had_no_part_in(small: Bench) -> None:
    jobs = [("Tern 13", "no-battery/plug")] * 4 + [
        ("Skua 14", "no-battery/pack"),
        ("Tern 13", "keys-dead/ribbon"),
    ]
    for model, cause in jobs:
        small.jobs.confirm(Confirmation(cause, model), untested=True)
    history = small.shop.history()

    found = others_only(pooled([*OTHERS, *sent_by(history, jobs)], TODAY), history, {})

    assert figures(found) == pytest.approx(figures(pooled(OTHERS, TODAY)), abs=1e-3)
    assert (found.shops, found.jobs, found.left_out) == (2, 10, 6)
    assert found.sent == {"others 1": 3, "others 2": 7}
    assert read(found.to_json().encode()) == found


def test_only_the_jobs_that_were_sent_are_taken_off(small: Bench) -> None:
    history = small.shop.history()
    small.jobs.confirm(Confirmation("no-battery/plug", "Tern 13"), untested=True)
    counts = pooled(
        [*OTHERS, *sent_by(history, [("Tern 13", "no-battery/plug")])], TODAY
    )
    before = others_only(counts, history, {})
    small.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"), untested=True)

    assert others_only(counts, history, {}) == before
    assert before.left_out == 1


def test_jobs_that_others_told_this_shop_are_not_taken_for_its_own(
    small: Bench, tmp_path: Path
) -> None:
    history = small.shop.history()
    with History.open(tmp_path / "other.db") as other:
        other.close_job(Confirmation("no-battery/plug", "Tern 13"))
        import_jobs(history, export_jobs(other))
    small.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"), untested=True)
    counts = pooled(
        [*OTHERS, *sent_by(history, [("Tern 13", "no-battery/pack")])], TODAY
    )

    assert figures(others_only(counts, history, {})) == pytest.approx(
        figures(pooled(OTHERS, TODAY)), abs=1e-3
    )


def test_counts_in_which_a_shop_has_no_part_stay_as_they_are(small: Bench) -> None:
    small.jobs.confirm(Confirmation("no-battery/plug", "Tern 13"), untested=True)
    counts = counts_of("no-battery")

    assert others_only(counts, small.shop.history(), {}) is counts


def test_counts_of_a_shop_alone_leave_nothing(small: Bench) -> None:
    small.jobs.confirm(Confirmation("no-battery/plug", "Tern 13"), untested=True)
    history = small.shop.history()
    counts = pooled(sent_by(history, [("Tern 13", "no-battery/plug")]), TODAY)

    found = others_only(counts, history, {})

    assert (found.sheets, found.shops, found.jobs, found.left_out) == ({}, 0, 0, 1)


def test_jobs_that_were_put_right_since_leave_no_more_than_others_may_tell(
    small: Bench,
) -> None:
    small.jobs.confirm(Confirmation("keys-dead/ribbon", "Tern 13"), untested=True)
    history = small.shop.history()
    told_then = [
        SharedCount(office_id(history.shop), "Tern 13", "keys-dead", "liquid", 1)
    ]
    hostile = pooled(
        [*told_then, SharedCount("others", "Tern 13", "keys-dead", "dirt", 10**6)],
        TODAY,
    )

    found = others_only(hostile, history, {})

    assert found.sheets["keys-dead"].causes == pytest.approx(
        {"dirt": 8.1, "liquid": 0.9}, abs=1e-3
    )
    assert read(found.to_json().encode()) == found


@given(st.floats(0.5, 200), st.floats(0.1, 500))
def test_how_alike_shops_are_comes_back_from_what_their_jobs_are_worth(
    alike: float, told: float
) -> None:
    worth = pooling.worth(alike, told)

    if pooling.PRIORS[0] < worth < pooling.PRIORS[-1]:
        assert pooling.alike(worth, told) == pytest.approx(alike, rel=1e-6)
    assert pooling.worth(pooling.alike(worth, told), told) == pytest.approx(
        worth, rel=1e-6
    )

"""How far a history reaches: a few wrong dates move no figure."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from helpers.clocks import Clock
from helpers.misdated import CAUSE, NOW, battery
from helpers.places import CORPUS
from helpers.shops import quick_folder
from helpers.visiting import Visitor
from hypothesis import given
from hypothesis import strategies as st

from kb.base.clock import stamp
from kb.bench.front import Bench
from kb.model import Confirmation, Job
from kb.review.reach import Reach, WorkingDays, reach
from kb.review.tables import TABLES
from webui.app import create_app

#: "None" of other programs, the first day of several systems, what flat clock cells fall back to, a slip of the hand.
WRONG = (
    "9999-12-31T00:00:00Z",
    "9999-12-31T23:59:59Z",
    "1970-01-01T00:00:00Z",
    "2099-06-01T00:00:00Z",
    "0001-01-01T00:00:00Z",
    "2015-01-01T00:00:00Z",
    "2027-06-01T00:00:00Z",
)

pytestmark = pytest.mark.shop("over_three_years")


def is_bounded(bench: Bench, expected: float) -> bool:
    """Whether every page and table that looks back is there and small, and the forecast is about what it was."""
    visitor = Visitor(create_app(bench))
    addresses = (
        "/review",
        "/review?model=Tern+13",
        "/review?since=2026-01-01",
        "/review/quarters.svg",
        "/review/failures.svg",
        *(f"/review/{table}.csv" for table in TABLES),
    )
    for address in addresses:
        page = visitor.go(address)
        assert page.status == 200, address
        assert len(page.html.encode()) < 200_000, address
    assert battery(bench) == pytest.approx(expected, rel=0.1)
    return True


# In every figure


@pytest.mark.parametrize("closed_at", WRONG)
def test_one_wrong_date_among_the_jobs_moves_no_figure_by_a_tenth(
    bench: Bench, closed_at: str
) -> None:
    expected = battery(bench)
    assert expected == pytest.approx(91 / 14, rel=0.05)

    bench.history().adopt(Job("x", "Tern 13", CAUSE, closed_at, part="battery"))

    assert is_bounded(bench, expected)
    text = Visitor(create_app(bench)).go("/review").text
    assert (
        "1 job of this shop is dated far from all others and left out of the days and quarters."
        in text
    )
    assert "Counted from 2023-12-04 to 2026-11-23: 1086 days." in text


@pytest.mark.parametrize(
    "wrong",
    [
        datetime(1970, 1, 1, 9, tzinfo=UTC),
        datetime(2099, 6, 1, tzinfo=UTC),
        datetime(9999, 12, 31, tzinfo=UTC),
        datetime(1, 1, 1, tzinfo=UTC),
    ],
)
def test_a_job_saved_under_a_wrong_clock_moves_no_figure_by_a_tenth(
    bench: Bench, clock: Clock, wrong: datetime
) -> None:
    expected = battery(bench)
    clock.now = wrong
    bench.jobs.confirm(
        Confirmation(CAUSE, "Tern 13", part="battery"), clock_is_right=True
    )
    assert is_bounded(bench, expected), "while the clock is wrong"

    clock.now = NOW

    assert is_bounded(bench, expected)
    assert bench.shop.clock_doubt() == ""


@pytest.mark.parametrize("closed_at", WRONG)
def test_a_shop_with_nothing_but_a_wrong_date_is_looked_back_on_all_the_same(
    clock: Clock, closed_at: str
) -> None:
    with quick_folder() as folder:
        lone = Bench(folder / "shop", stock=CORPUS, clock=clock)
        lone.history().adopt(Job("x", "Tern 13", CAUSE, closed_at, part="battery"))

        for address in (
            "/review",
            "/review/quarters.svg",
            "/review/stock.csv",
            "/review/quarters.csv",
        ):
            page = Visitor(create_app(lone)).go(address)
            assert (page.status, len(page.html) < 200_000) == (200, True)
        lone.close()


def test_a_shop_with_many_wrong_dates_and_no_other_is_looked_back_on_within_what_can_be(
    clock: Clock,
) -> None:
    with quick_folder() as folder:
        lost = Bench(folder / "shop", stock=CORPUS, clock=clock)
        for number, closed_at in enumerate(WRONG):
            lost.history().adopt(Job(f"x{number}", "Tern 13", CAUSE, closed_at))

        page = Visitor(create_app(lost)).go("/review")

        assert (page.status, len(page.html) < 200_000) == (200, True)
        assert lost.looking_back.overview().span.first == "2015-01-01"
        lost.close()


def test_the_jobs_of_a_week_with_a_flat_cell_are_left_out_too(bench: Bench) -> None:
    expected = battery(bench)
    with bench.history().together():
        for number in range(8):
            bench.history().adopt(
                Job(f"f{number}", "Tern 13", CAUSE, f"2015-01-0{number + 1}T00:00:00Z")
            )

    assert battery(bench) == pytest.approx(expected, rel=0.1)


def days(*given: tuple[str, int]) -> list[WorkingDays]:
    return [
        WorkingDays(f"{day}T08:00:00Z", f"{day}T17:00:00Z", jobs) for day, jobs in given
    ]


def test_a_pause_of_years_parts_a_history_and_both_sides_count() -> None:
    found = reach(
        days(("2017-05-01", 300), ("2019-02-01", 200), ("2026-11-02", 250)), NOW
    )

    assert found == Reach("2017-05-01T08:00:00Z", "2026-11-02T17:00:00Z", 0)


def test_the_first_jobs_after_a_long_pause_count_though_they_are_few() -> None:
    found = reach(
        days(("2019-02-01", 400), ("2019-11-01", 400), ("2026-11-23", 2)), NOW
    )

    assert (found.last, found.strays) == ("2026-11-23T17:00:00Z", 0)


def test_where_the_clock_is_doubted_nothing_is_known_of_the_future() -> None:
    found = reach(days(("2026-10-01", 40), ("2027-02-01", 2)), None)

    assert (found.last, found.strays) == ("2027-02-01T17:00:00Z", 0)
    assert reach(days(("2026-10-01", 40), ("2027-02-01", 2)), NOW).strays == 2


@given(
    st.lists(
        st.tuples(st.integers(0, 1000), st.integers(1, 9)), min_size=60, max_size=80
    ),
    st.lists(st.dates().map(lambda day: day.isoformat()), max_size=3),
)
def test_law_a_few_dates_of_any_day_leave_a_history_about_as_long_as_it_is(
    work: list[tuple[int, int]], strays: list[str]
) -> None:
    """Without the strays it is as long as its work; with them no longer than a year more on each side."""
    own = {stamp(NOW - timedelta(days=ago))[:10]: jobs for ago, jobs in work}
    first, last = min(own), max(own)
    mixed = sorted([*own.items(), *((day, 1) for day in strays if day not in own)])

    found = reach(days(*mixed), NOW)

    span = datetime.fromisoformat(found.last) - datetime.fromisoformat(found.first)
    alone = datetime.fromisoformat(f"{last}T17:00:00Z") - datetime.fromisoformat(
        f"{first}T08:00:00Z"
    )
    # Work with long pauses of its own may have parts that are as small as the strays.
    assert span <= alone + timedelta(days=366 * (len(strays) + 1))

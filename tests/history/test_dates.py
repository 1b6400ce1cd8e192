"""Dates that cannot be right: asked about before they are saved, bounded in every figure, counted by verify."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from helpers.clocks import Clock
from helpers.misdated import CAUSE, NOW
from helpers.places import CORPUS
from helpers.terminal import Terminal
from helpers.visiting import Visitor
from hypothesis import given
from hypothesis import strategies as st
from reliability.running import SMALL

from kb.base.clock import stamp
from kb.bench.front import Bench
from kb.history import History, kinds
from kb.history.dates import misdated, out_of_order
from kb.history.trouble import ClockDoubt
from kb.model import Confirmation, Job
from webui.app import create_app

Run = Callable[..., Result]

pytestmark = pytest.mark.shop("over_three_years")


# Counted


def test_verify_counts_what_lies_before_2000_in_the_future_and_out_of_order(
    bench: Bench, clock: Clock
) -> None:
    history = bench.history()
    for job, closed_at in (
        ("a", "1970-01-01T00:00:00Z"),
        ("b", "9999-12-31T00:00:00Z"),
        ("c", "2024-05-01T00:00:00Z"),
    ):
        history.adopt(Job(job, "Tern 13", CAUSE, closed_at))
    for at in (
        datetime(1970, 1, 1, tzinfo=UTC),
        datetime(2015, 1, 1, tzinfo=UTC),
        datetime(2031, 1, 1, tzinfo=UTC),
    ):
        clock.now = at
        history.note(kinds.NO_FIT, "", {"words": "rattles"})
    clock.now = NOW + timedelta(hours=1)
    history.note(kinds.NO_FIT, "", {"words": "rattles"})

    found = bench.health.misdated()

    assert found.before == (157, 160)
    assert found.future == (158, 162)
    assert found.out_of_order == (161,)
    clock.now = datetime(2032, 1, 1, tzinfo=UTC)
    history.note(kinds.NO_FIT, "", {"words": "rattles"})
    assert bench.health.misdated().out_of_order == (161, 162), (
        "a year that has come since is out of order still"
    )


def test_a_retracted_job_s_day_is_counted_no_longer(bench: Bench) -> None:
    bench.history().adopt(Job("a", "Tern 13", CAUSE, "1970-01-01T00:00:00Z"))
    assert bench.health.misdated().count == 1

    bench.jobs.retract("a", "nobody knows the day")

    assert bench.health.misdated().count == 0


def test_a_job_closed_after_it_was_written_down_is_out_of_order(
    bench: Bench, clock: Clock
) -> None:
    bench.history().adopt(Job("a", "Tern 13", CAUSE, "2026-12-24T00:00:00Z"))
    clock.now = NOW + timedelta(days=300)

    assert bench.health.misdated().out_of_order == (157,)


def test_an_hour_back_at_midnight_is_not_far_out_of_order(tmp_path: Path) -> None:
    minutes = iter([0, 0, 30, -30, 10, 40])
    midnight = datetime(2026, 10, 25, tzinfo=UTC)
    with History.open(
        tmp_path / "history.db", lambda: midnight + timedelta(minutes=next(minutes))
    ) as history:
        for _ in range(4):
            history.note(kinds.NO_FIT, "", {"words": "rattles"})

        assert misdated(history, NOW).count == 0


def test_under_a_clock_of_1970_not_everything_is_in_the_future(
    bench: Bench, clock: Clock
) -> None:
    bench.history().adopt(Job("a", "Tern 13", CAUSE, "9999-12-31T00:00:00Z"))
    clock.now = datetime(1970, 1, 1, tzinfo=UTC)

    assert bench.health.misdated().future == (157,)


TIMES = st.lists(
    st.datetimes(datetime(2025, 1, 1), datetime(2026, 12, 31)).map(
        lambda time: stamp(time.replace(tzinfo=UTC))
    )
)


@given(TIMES)
def test_law_what_is_not_out_of_order_stands_in_order_but_for_a_day(
    times: list[str],
) -> None:
    wrong = set(out_of_order(times))

    kept = [
        datetime.fromisoformat(time)
        for place, time in enumerate(times)
        if place not in wrong
    ]
    latest = datetime(2000, 1, 1, tzinfo=UTC)
    for time in kept:
        assert time >= latest - timedelta(days=2)
        latest = max(latest, time)
    assert set(out_of_order(sorted(times))) == set()


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """The small library, and a clock set by hand, for commands."""
    clock = Clock()
    monkeypatch.setattr("kb.library.shelf.stock_folder", lambda: CORPUS)
    monkeypatch.setattr(Bench.__init__, "__defaults__", (None, clock))
    return clock


def test_verify_tells_of_wrong_dates_long_after_the_clock_was_put_right(
    run: Run, small: Clock
) -> None:
    run("confirm", CAUSE, "--model", "Tern 13")
    small.now = datetime(2015, 1, 1, tzinfo=UTC)
    run("confirm", CAUSE, "--model", "Tern 13", "--clock-is-right")
    small.now = NOW + timedelta(minutes=1)
    run("confirm", CAUSE, "--model", "Tern 13")

    shown = run("verify")

    assert (
        "dates         1 cannot be right: 1 out of order\n              record 2\n"
        in shown.stdout
    )
    assert shown.stdout.endswith("all is there; look at the dates\n")
    assert json.loads(run("verify", "--json").stdout)["misdated"]["out_of_order"] == [2]
    assert "Dated far from all others, and left out of days: 1" in run("review").stdout


# Asked


@pytest.mark.parametrize("year", [1970, 2015, 2099])
def test_a_fix_is_not_confirmed_under_a_clock_that_looks_wrong_unless_it_is_said_to_be_right(
    run: Run, small: Clock, year: int
) -> None:
    small.now = datetime(year, 1, 1, tzinfo=UTC)

    refused = run("confirm", CAUSE, "--model", "Tern 13", status=1).stderr

    assert re.search(
        f"the clock says {year}-01-01T00:00:00Z, .*nothing was saved.*--clock-is-right",
        refused,
    )
    assert run("export", "-").stdout == ""
    run("confirm", CAUSE, "--model", "Tern 13", "--clock-is-right")
    assert f'"closed_at": "{year}-01-01T00:00:00Z"' in run("export", "-").stdout


def test_the_guide_opens_no_job_under_a_clock_that_looks_wrong(
    run: Run, small: Clock
) -> None:
    small.now = datetime(1970, 1, 1, tzinfo=UTC)

    assert (
        "nothing was saved"
        in run("guide", "no battery is listed", given="q\n", status=1).stderr
    )
    assert "say what is wrong" in run("guide", "--clock-is-right", status=2).stderr, (
        "no job is open"
    )

    run(
        "guide",
        "no battery is listed",
        "--model",
        "Tern 13",
        "--clock-is-right",
        given="c\n1\n12\n\n",
    )
    assert '"closed_at": "1970-01-01T00:00:00Z"' in run("export", "-").stdout


def test_an_import_says_under_which_date_its_records_come(
    run: Run, small: Clock
) -> None:
    small.now = datetime(1970, 1, 1, tzinfo=UTC)
    Path("old.jsonl").write_text(
        '{"model": "Tern 13", "cause": "a/b", "closed_at": "2020-01-01T00:00:00Z"}\n'
    )

    shown = run("import", "old.jsonl", status=1)

    assert "Warning: the clock says 1970" in shown.stderr
    assert (
        "old.jsonl:1: closed_at 2020-01-01T00:00:00Z lies in the future (the clock here says 1970"
        in shown.stderr
    )


IN_1970 = f"{SMALL}import kb.bench.front; from datetime import UTC, datetime\n" + (
    "kb.bench.front.Bench.__init__.__defaults__ = (None, lambda: datetime(1970, 1, 1, tzinfo=UTC))"
)


@pytest.mark.slow
@pytest.mark.parametrize(("answer", "status"), [("y", 0), ("n", 1), ("", 1)])
def test_at_a_terminal_one_is_asked_whether_the_clock_is_right(
    tmp_path: Path, answer: str, status: int
) -> None:
    with Terminal(
        "confirm", CAUSE, "--model", "Tern 13", shop=tmp_path / "shop", setting=IN_1970
    ) as terminal:
        asked = terminal.until(
            r"Is the clock right, and shall it be saved with that date\? \[y/N\]: "
        )
        assert (
            "The clock says 1970-01-01T00:00:00Z, which cannot be; set the computer's date and time."
            in asked
        )

        terminal.send(f"{answer}\r")

        assert terminal.ended(20)
        assert terminal.status == status
        assert ("saved as job" in terminal.shown) == (status == 0)


def test_on_the_page_a_second_press_says_that_the_clock_is_right(
    bench: Bench, clock: Clock
) -> None:
    visitor = Visitor(create_app(bench))
    clock.now = datetime(1970, 1, 1, tzinfo=UTC)
    page = visitor.go(f"/confirm?cause={CAUSE}&model=Tern+13")
    assert "the clock says 1970" in page.text

    page = visitor.press("Save", note="pin 3 bent")

    assert page.status == 409
    assert "nothing was saved yet" in page.text
    assert bench.history().tip().count == 156
    page = visitor.press("The clock is right: save it")
    assert (page.status, "Saved" in page.text) == (200, True)
    assert [job.note for job in bench.jobs.last_saved(1)] == ["pin 3 bent"]


def test_a_day_that_is_given_needs_no_clock(bench: Bench, clock: Clock) -> None:
    clock.now = datetime(1970, 1, 1, tzinfo=UTC)
    with pytest.raises(ClockDoubt):
        bench.jobs.confirm(Confirmation(CAUSE, "Tern 13"))

    bench.jobs.confirm(Confirmation(CAUSE, "Tern 13", closed_at="2026-11-24T10:00:00Z"))

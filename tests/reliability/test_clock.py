"""A clock that is wrong: records are kept in their order, the trouble is said, nothing is overwritten."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kb.bench.front import Bench
from kb.history import History
from kb.history.backups import newest_backup
from kb.history.copies.backup import daily
from kb.history.trouble import ClockDoubt
from kb.model import Confirmation
from reliability.running import CAUSE, WORDS, Browser, Server, command, units

NOW = datetime.now(UTC)
WRONG = {
    "an hour back": NOW - timedelta(hours=1),
    "a day back": NOW - timedelta(days=1),
    "1970, as with a flat coin cell": datetime(1970, 1, 1, tzinfo=UTC),
    "ten years ahead": NOW + timedelta(days=3652),
}


@pytest.mark.parametrize("when", WRONG)
def test_with_a_wrong_clock_records_are_kept_in_order_and_the_clock_is_doubted(
    quick: Path, when: str
) -> None:
    times = [NOW, WRONG[when], NOW]
    bench = Bench(quick / "shop", clock=lambda: times[0])
    job = bench.jobs.begin("shows no battery", "Tern 13", "T-open")
    bench.jobs.confirm(Confirmation("no-battery/plug", model="Tern 13", unit="T-0"))
    times.pop(0)
    assert any("the clock says" in warning for warning in bench.health.warnings())
    assert bench.asking.search("shows no battery").entries
    minutes = bench.jobs.standing(job).minutes
    assert minutes is None or minutes >= 0
    with pytest.raises(ClockDoubt, match="nothing was saved"):
        bench.jobs.confirm(Confirmation("no-battery/plug", model="Tern 13", unit="T-1"))
    bench.jobs.confirm(
        Confirmation("no-battery/plug", model="Tern 13", unit="T-1"),
        clock_is_right=True,
    )
    times.pop(0)
    bench.jobs.confirm(
        Confirmation("no-battery/plug", model="Tern 13", unit="T-2"),
        clock_is_right=True,
    )
    assert units(quick / "shop") == ["T-0", "T-1", "T-2"]
    assert [record.seq for record in bench.history().records_since()] == [1, 2, 3, 4]
    assert bench.looking_back.overview("Tern 13").review.jobs == 3
    bench.close()


def test_the_pages_and_the_check_say_that_the_clock_is_wrong(shop: Path) -> None:
    with History.open(
        shop / "history.db", lambda: datetime.now(UTC) + timedelta(days=400)
    ) as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13"))
    with Server(shop) as server:
        browser = Browser(server.port)
        assert "the clock says" in browser.get("/").shown
        checked = command("verify", shop=shop)
        asked = browser.confirm("T-1")
        assert (asked.status, "nothing was saved yet" in asked.shown) == (409, True)
        assert browser.confirm("T-1", clock="right").status == 303
    assert (checked.returncode, "warning: the clock says" in checked.stderr) == (
        0,
        True,
    )
    assert len(units(shop)) == 2


def test_a_change_of_the_time_zone_changes_no_record(shop: Path) -> None:
    os.environ.pop("TZ", None)
    for number, zone in enumerate(("UTC", "Pacific/Kiritimati", "Pacific/Pago_Pago")):
        with Server(shop, env={"TZ": zone}) as server:
            assert Browser(server.port).confirm(f"T-{number}").status == 303
    with History.open(shop / "history.db") as history:
        closed = [job.closed_at for job in history.closed_jobs()]
    assert closed == sorted(closed)
    span = datetime.fromisoformat(closed[-1]) - datetime.fromisoformat(closed[0])
    assert timedelta(0) <= span < timedelta(minutes=10)


def test_a_wrong_clock_overwrites_no_backup_and_the_fullest_one_is_offered(
    quick: Path,
) -> None:
    shop = quick / "shop"
    for number, when in enumerate(
        [NOW + timedelta(days=3652), NOW, datetime(1970, 1, 1, tzinfo=UTC)]
    ):
        with History.open(shop / "history.db", lambda when=when: when) as history:  # type: ignore[misc]
            history.close_job(
                Confirmation(CAUSE, model="Tern 13", unit=f"T-{number}", words=WORDS)
            )
        assert daily(shop, when) is not None
    kept = {path.name: path.read_bytes() for path in (shop / "backups").iterdir()}
    assert daily(shop, NOW) is None
    assert {
        path.name: path.read_bytes() for path in (shop / "backups").iterdir()
    } == kept
    assert len(kept) == 3
    newest = newest_backup(shop / "history.db")
    assert newest is not None
    assert newest.name == "benchlore-1970-01-01.zip", "it holds the most records"

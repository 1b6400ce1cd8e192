"""Much that is new is taken in by a thread of its own; whoever asks meanwhile is answered at once, and told."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.places import CORPUS

from kb.bench.front import Bench
from kb.bench.health import BEING_READ
from kb.bench.machines import NoMachine, StillBeingRead
from kb.history import kinds
from kb.index import connections, refresh
from kb.index.index import Index
from kb.index.keeper import Keeper
from kb.model import Confirmation


@pytest.fixture
def held_up(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Taking in more than little waits in the keeper's thread until the event is set."""
    go = threading.Event()
    whole = refresh.refresh

    def waiting(*given: object, **named: object) -> object:
        if threading.current_thread().name == "index":
            assert go.wait(30)
        return whole(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(refresh, "refresh", waiting)
    yield go
    go.set()


def many_sheets(bench: Bench, number: int) -> None:
    own = bench.folder / "entries"
    own.mkdir(exist_ok=True)
    for each in range(number):
        shutil.copy(CORPUS / "no-battery.md", own / f"sheet-{each}.md")


def test_whoever_asks_while_many_sheets_arrive_is_answered_from_those_before_and_told(
    bench: Bench, held_up: threading.Event
) -> None:
    bench.asking.models()
    keeper = bench.shop.files.keep_in_background()
    many_sheets(bench, 100)

    first = bench.asking.search("no battery")

    assert BEING_READ in bench.health.warnings()
    assert {one.entry for one in first.entries} <= {
        path.stem for path in CORPUS.glob("*.md")
    }
    held_up.set()
    assert keeper.finished(60)
    assert BEING_READ not in bench.health.warnings()
    assert len(bench.entries.served()) == 104


def test_many_jobs_that_come_in_are_counted_later_and_none_is_missed(
    bench: Bench, held_up: threading.Event
) -> None:
    bench.asking.models()
    keeper = bench.shop.files.keep_in_background()
    with bench.history().together():
        for number in range(700):
            bench.history().close_job(
                Confirmation(
                    "no-battery/plug", model=f"Tern {number % 3}", words="no battery"
                )
            )

    assert bench.asking.models() == []
    held_up.set()
    assert keeper.finished(60)
    assert bench.asking.models() == ["Tern 0", "Tern 1", "Tern 2"]
    assert bench.health.state().in_step


def test_many_machines_that_come_in_are_shown_later_and_none_is_missed(
    bench: Bench, held_up: threading.Event
) -> None:
    bench.asking.models()
    keeper = bench.shop.files.keep_in_background()
    with bench.history().together():
        for number in range(2100):
            bench.machines.write(kinds.UNIT_IN, {"tag": f"P7-{number}", "lot": "P7"})

    assert bench.machines.units() == ()
    assert BEING_READ in bench.health.warnings()
    for ask in (
        lambda: bench.machines.machine("P7-7"),
        lambda: bench.machines.lot("P7"),
    ):
        with pytest.raises(StillBeingRead, match="0 of 2100 records"):
            ask()
    held_up.set()
    assert keeper.finished(60)
    assert len(bench.machines.units()) == len(bench.machines.lot("P7").units) == 2100
    with pytest.raises(NoMachine):
        bench.machines.machine("P9-9")
    assert BEING_READ not in bench.health.warnings()
    bench.machines.write(kinds.UNIT_IN, {"tag": "P8-1"})
    assert bench.machines.line("P8-1")


def test_machines_are_shown_as_they_stand_while_another_process_changes_the_index(
    bench: Bench, held_up: threading.Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(refresh, "SHORT_WAIT", 0.01)
    bench.asking.models()
    assert bench.machines.units() == ()
    bench.shop.files.keep_in_background()
    bench.machines.write(kinds.UNIT_IN, {"tag": "P7-1"})
    other = Index(bench.folder / "index.db")

    with other.changing(counts=False):
        assert bench.machines.units() == ()
        assert BEING_READ in bench.health.warnings()
    other.close()

    assert [one.line.tag for one in bench.machines.units()] == ["P7-1"]


def test_little_that_is_new_is_taken_in_at_once(
    bench: Bench, held_up: threading.Event
) -> None:
    """The keeper's thread is held up all the while."""
    bench.asking.models()
    bench.shop.files.keep_in_background()

    bench.jobs.confirm(
        Confirmation("no-battery/plug", model="Tern 13", words="no battery")
    )
    many_sheets(bench, 3)

    assert bench.asking.models() == ["Tern 13"]
    assert len(bench.entries.served()) == 7
    assert BEING_READ not in bench.health.warnings()


def test_a_keeper_that_cannot_work_leaves_it_to_whoever_asks(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.asking.models()
    keeper = bench.shop.files.keep_in_background()
    assert keeper.finished(60)
    monkeypatch.setattr(keeper, "_work", lambda: 1 / 0)
    assert keeper.finished(60)
    many_sheets(bench, 100)

    bench.asking.search("no battery")

    assert len(bench.entries.served()) == 104


def test_a_keeper_is_finished_only_after_work_that_began_when_it_was_asked() -> None:
    begun, go = threading.Semaphore(0), threading.Semaphore(0)

    def work() -> None:
        begun.release()
        go.acquire()

    keeper = Keeper(work)
    keeper.wake()
    assert begun.acquire(timeout=30)

    told: list[bool] = []
    asked = threading.Thread(target=lambda: told.append(keeper.finished(30)))
    asked.start()
    while not keeper._woken.is_set():
        time.sleep(0.01)
    go.release()  # the turn that was under way
    assert begun.acquire(timeout=30)
    assert told == []
    go.release()
    asked.join()
    assert told == [True]


def test_a_shop_that_serves_begins_with_the_sheets_and_only_much_more_is_left_for_later(
    tmp_path: Path, held_up: threading.Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Bench(tmp_path / "shop", stock=CORPUS)
    made.shop.files.keep_in_background()
    assert len(made.entries.served()) == 4
    made.close()

    monkeypatch.setattr(connections, "WAITED_FOR", 0.01)
    monkeypatch.setattr(connections, "AT_ONCE", 0.01)
    other = Bench(tmp_path / "other", stock=CORPUS)
    keeper = other.shop.files.keep_in_background()
    assert other.entries.served() == []
    assert other.asking.search("no battery").entries == ()
    assert BEING_READ in other.health.warnings()
    held_up.set()
    assert keeper.finished(60)
    assert len(other.entries.served()) == 4
    other.close()

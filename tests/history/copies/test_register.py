"""What is known of backups: when and where each was made, what is in none, and who is told."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from helpers.places import CORPUS
from helpers.shops import on_another_disk
from helpers.visiting import Visitor

from kb.base import disks
from kb.base.trouble import Refusal
from kb.bench.front import Bench
from kb.history import kinds
from kb.history.copies import register
from kb.history.copies.backup import backup, daily, renew, restore
from kb.history.copies.register import BackedUp
from kb.history.copies.rounds import Rounds
from kb.model import Confirmation
from webui.app import create_app

CAUSE = "no-battery/plug"
START = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
Run = Callable[..., Result]


class Clock:
    """A clock that is set by hand."""

    now = START

    def __call__(self) -> datetime:
        return self.now

    def later(self, **passed: float) -> None:
        self.now += timedelta(**passed)


@pytest.fixture
def tmp_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder on the disk, from which a stick differs."""
    return tmp_path_factory.mktemp("disk")


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def bench(clock: Clock, tmp_path: Path) -> Iterator[Bench]:
    """A shop on the disk of the tests' folder, with one job in its history."""
    made = Bench(tmp_path / "shop", stock=CORPUS, clock=clock)
    made.jobs.confirm(Confirmation(CAUSE, model="Tern 13"))
    yield made
    made.close()


@pytest.fixture
def stick(bench: Bench) -> Iterator[Path]:
    """A folder on another disk."""
    with on_another_disk(bench.folder) as folder:
        yield folder


def noted(bench: Bench, file: Path) -> BackedUp:
    """What is known after a backup into that file, made as the command makes it."""
    register.note(bench.folder, file, backup(bench.folder, file, bench.shop.clock()))
    return bench.health.backed_up(thorough=True)


def one_more(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation(CAUSE, model="Tern 13"))


# What counts


def test_a_history_that_was_never_backed_up_is_overdue_after_two_days(
    bench: Bench, clock: Clock
) -> None:
    found = bench.health.backed_up()
    assert (found.last, found.waiting, found.since, found.overdue) == (
        None,
        1,
        "2026-11-24T10:15:00Z",
        False,
    )

    clock.later(days=2)
    assert not bench.health.backed_up().overdue

    clock.later(seconds=1)
    found = bench.health.backed_up()
    assert found.overdue
    assert found.problems() == (
        "1 record is in no backup since 2026-11-24T10:15:00Z; make one with: benchlore backup FILE",
    )


def test_a_history_without_records_asks_for_no_backup(
    clock: Clock, tmp_path: Path
) -> None:
    empty = Bench(tmp_path / "empty", stock=CORPUS, clock=clock)
    empty.history()
    clock.later(days=400)

    assert empty.health.backed_up().problems() == ()
    empty.close()


def test_a_backup_by_command_is_known_with_its_day_and_place(
    bench: Bench, clock: Clock, tmp_path: Path
) -> None:
    found = noted(bench, tmp_path / "friday.zip")

    assert found.last
    assert (found.last.name, found.last.made, found.last.elsewhere) == (
        "friday.zip",
        "2026-11-24T10:15:00Z",
        False,
    )
    assert (found.last.file, found.waiting, found.overdue) == (
        str(tmp_path / "friday.zip"),
        0,
        False,
    )


def test_what_is_in_a_backup_waits_for_none_however_long_ago_it_was_made(
    bench: Bench, clock: Clock, tmp_path: Path
) -> None:
    noted(bench, tmp_path / "friday.zip")
    clock.later(days=21)
    assert not bench.health.backed_up().overdue

    one_more(bench)

    found = bench.health.backed_up()
    assert (found.waiting, found.since, found.overdue) == (
        1,
        "2026-12-15T10:15:00Z",
        False,
    )
    clock.later(days=3)
    assert bench.health.backed_up().overdue


def test_the_daily_backups_of_a_server_count_unnoted(
    bench: Bench, clock: Clock
) -> None:
    daily(bench.folder, clock())
    clock.later(days=3)

    found = bench.health.backed_up()

    assert found.last
    assert (found.last.name, found.overdue) == ("benchlore-2026-11-24.zip", False)


def test_a_backup_that_was_deleted_or_damaged_counts_no_longer(
    bench: Bench, clock: Clock, tmp_path: Path
) -> None:
    noted(bench, tmp_path / "friday.zip")
    (tmp_path / "friday.zip").unlink()
    assert bench.health.backed_up().last is None
    made = daily(bench.folder, clock())
    assert made
    clock.later(days=3)
    assert not bench.health.backed_up(thorough=True).overdue

    raw = bytearray(made.read_bytes())
    raw[len(raw) // 3] ^= 255
    made.write_bytes(raw)

    found = bench.health.backed_up(thorough=True)
    assert (found.last, found.overdue) == (None, True)
    assert found.problems()[0].startswith(f"{made}: this is no sound backup")


def test_a_backup_of_another_line_of_the_history_counts_no_longer(
    bench: Bench, clock: Clock, tmp_path: Path
) -> None:
    """Two records, an older backup put back in their place, and two others written: the newer backup has one only."""
    backup(bench.folder, tmp_path / "one.zip", clock())
    one_more(bench)
    noted(bench, tmp_path / "two.zip")
    bench.close()
    restore(tmp_path / "one.zip", bench.folder, clock(), replace=True)
    one_more(bench)

    found = bench.health.backed_up()

    assert found.last
    assert (found.last.name, found.waiting) == ("one.zip", 1)


def test_a_shop_just_put_back_is_not_overdue(
    bench: Bench, clock: Clock, tmp_path: Path
) -> None:
    backup(bench.folder, tmp_path / "friday.zip", clock())
    clock.later(days=30)
    restore(tmp_path / "friday.zip", tmp_path / "new", clock())

    new = Bench(tmp_path / "new", stock=CORPUS, clock=clock)

    assert new.health.backed_up(thorough=True).problems() == ()
    new.close()


def test_a_record_of_1970_does_not_make_a_history_overdue_at_once(
    bench: Bench, clock: Clock, tmp_path: Path
) -> None:
    noted(bench, tmp_path / "friday.zip")
    clock.now = datetime(1970, 1, 1, tzinfo=UTC)
    bench.history().note(kinds.NO_FIT, "", {"words": "rattles"})
    clock.now = START + timedelta(days=1)

    found = bench.health.backed_up()

    assert (found.waiting, found.since, found.overdue) == (
        1,
        "2026-11-24T10:15:00Z",
        False,
    )


@pytest.mark.parametrize(
    "note",
    ["", "{}", "[]", '{"file": 1}', '{"file": "x", "made": "monday", "records": 1}'],
)
def test_a_note_that_cannot_be_read_does_no_harm(bench: Bench, note: str) -> None:
    (bench.folder / "backups").mkdir()
    (bench.folder / "backups" / "noted-x.json").write_text(note)

    assert bench.health.backed_up().last is None


def test_old_notes_go_and_their_backups_stay(bench: Bench, tmp_path: Path) -> None:
    manifest = backup(bench.folder, tmp_path / "0.zip", START)
    for number in range(register.MOST_NOTES + 5):
        shutil.copy(tmp_path / "0.zip", tmp_path / f"{number}.copy.zip")
        register.note(bench.folder, tmp_path / f"{number}.copy.zip", manifest)

    assert len(list((bench.folder / "backups").glob("noted-*"))) == register.MOST_NOTES
    assert len(list(tmp_path.glob("*.copy.zip"))) == register.MOST_NOTES + 5


# Which disk


def test_a_backup_on_another_disk_is_told_beside_a_later_one_on_the_same(
    bench: Bench, clock: Clock, tmp_path: Path, stick: Path
) -> None:
    assert noted(bench, stick / "friday.zip").elsewhere
    clock.later(days=1)
    one_more(bench)

    found = noted(bench, tmp_path / "saturday.zip")

    assert found.last
    assert found.elsewhere
    assert (found.last.name, found.last.elsewhere) == ("saturday.zip", False)
    assert (found.elsewhere.name, found.elsewhere.elsewhere) == ("friday.zip", True)


def test_a_stick_that_is_not_plugged_in_is_believed_and_one_that_is_must_hold_its_backup(
    bench: Bench, stick: Path
) -> None:
    folder = stick / "mounted"
    folder.mkdir()
    noted(bench, folder / "friday.zip")
    (folder / "friday.zip").rename(stick / "friday.zip")
    assert bench.health.backed_up(thorough=True).last is None

    folder.rmdir()

    assert bench.health.backed_up(thorough=True).last is not None


def test_a_backup_into_a_folder_that_is_not_there_is_refused_and_makes_none(
    bench: Bench, tmp_path: Path
) -> None:
    for make in (backup, renew):
        with pytest.raises(
            Refusal,
            match=r"stick is not there; plug in or mount the disk it is on, or make the",
        ):
            make(bench.folder, tmp_path / "stick" / "friday.zip", START)

    assert not (tmp_path / "stick").exists()


def test_a_place_for_disks_takes_no_backup_while_its_disk_is_away(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The empty folder on which a disk is mounted else lies on the shop's own disk."""
    place = tmp_path / "mnt"
    place.mkdir()
    with monkeypatch.context() as mounted:
        mounted.setattr(disks, "disk_of", str)
        renew(bench.folder, place / "friday.zip", START)
    (place / "friday.zip").unlink()

    for make in (backup, renew):
        with pytest.raises(
            Refusal, match="held backups on another disk, which is not there now"
        ):
            make(bench.folder, place / "saturday.zip", START)

    assert list(place.iterdir()) == []


# Said at the terminal


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """The small library, and a clock set by hand, for commands."""
    clock = Clock()
    monkeypatch.setattr("kb.library.shelf.stock_folder", lambda: CORPUS)
    monkeypatch.setattr(Bench.__init__, "__defaults__", (None, clock))
    return clock


def test_verify_in_a_new_shop_says_that_there_is_nothing_yet_and_ends_well(
    run: Run, small: Clock
) -> None:
    for shown in (run("verify"), run("verify")):
        assert "CANNOT" not in shown.stdout
        assert shown.stdout.endswith("all is well\n")
        assert shown.stderr == ""
    assert '"ok": true' in run("verify", "--json").stdout


def test_verify_names_the_backup_that_was_just_made_and_on_which_disk(
    run: Run, small: Clock, tmp_path: Path
) -> None:
    run("confirm", CAUSE, "--model", "Tern 13")
    assert "last backup   none yet: benchlore backup FILE" in run("verify").stdout

    said = run("backup", "friday.zip").stdout

    assert said.startswith("friday.zip: 1 record and 1 file, checked\n")
    assert "on the same disk as the shop" in said
    small.later(hours=2)
    assert (
        "last backup   friday.zip, 2 h ago, on the same disk\n" in run("verify").stdout
    )
    run("confirm", CAUSE, "--model", "Tern 13")
    small.later(days=3)
    shown = run("verify", status=1)
    assert (
        "problem: 1 record is in no backup since 2026-11-24T12:15:00Z; make one with"
        in shown.stderr
    )
    assert "friday.zip, 3 d ago, on the same disk\n" in shown.stdout
    assert "1 record saved since\n" in shown.stdout
    with on_another_disk(tmp_path) as stick:
        assert "same disk" not in run("backup", str(stick / "monday.zip")).stdout
        assert (
            "last backup   monday.zip, just now, on another disk\n"
            in run("verify").stdout
        )


def test_a_backup_is_made_though_the_shop_can_keep_no_note_of_it(
    run: Run, small: Clock
) -> None:
    run("confirm", CAUSE, "--model", "Tern 13")
    Path("shop", "backups").write_text("in the way")

    shown = run("backup", "friday.zip")

    assert Path("friday.zip").exists()
    assert "keeps no note of this backup" in shown.stderr


def test_a_shop_with_an_entry_and_no_job_is_backed_up_and_put_back(
    run: Run, small: Clock
) -> None:
    assert "there is no history yet" in run("backup", "none.zip", status=1).stderr
    shutil.copytree(CORPUS, "shop/entries")

    run("backup", "friday.zip")

    run("restore", "friday.zip", "--shop", "new")
    assert sorted(os.listdir("new/entries")) == sorted(os.listdir(CORPUS))
    assert "all is well" in run("verify", "--shop", "new").stdout
    run("confirm", CAUSE, "--model", "Tern 13", "--shop", "new")


def test_what_a_backup_leaves_out_is_named_by_backup_verify_and_restore(
    run: Run, small: Clock
) -> None:
    run("confirm", CAUSE, "--model", "Tern 13")
    os.mkdir("shop/entries")
    Path("shop/entries/all is well\nyes.md").touch()

    assert (
        "left out: entries/all is well yes.md (its name"
        in run("backup", "friday.zip").stderr
    )
    assert "without entries/all is well yes.md\n" in run("verify").stdout
    assert (
        "could not be packed: entries/all is well yes.md (its"
        in run("restore", "friday.zip", "--shop", "new").stdout
    )


def test_the_first_page_says_since_when_no_backup_succeeded(
    bench: Bench, clock: Clock, tmp_path: Path
) -> None:
    visitor = Visitor(create_app(bench))
    assert "backup" not in visitor.page.text.lower()
    clock.later(days=2, minutes=1)
    assert (
        "No backup has succeeded yet. 1 record is in none. By hand: benchlore backup FILE"
        in visitor.go("/").text
    )
    noted(bench, tmp_path / "thursday.zip")
    assert "backup" not in visitor.go("/").text.lower()
    one_more(bench)

    clock.later(days=2, minutes=1)

    assert (
        "No backup has succeeded since 2026-11-26 10:16 . 1 record is in none."
        in visitor.go("/").text
    )


def test_the_first_page_says_at_once_that_the_rounds_of_the_server_fail_and_stops_when_they_do_not(
    bench: Bench, tmp_path: Path
) -> None:
    rounds = Rounds(
        bench.folder, bench.shop.clock, lambda told: None, tmp_path / "stick"
    )
    app = create_app(bench)
    app.extensions["watches"] = (rounds,)
    visitor = Visitor(app)

    rounds.look_and_tell()

    page = visitor.go("/")
    assert "No backup has succeeded since 2026-11-24 10:15 ." in page.text, (
        "the backup of the day did"
    )
    assert (
        f"No backup was made: {tmp_path / 'stick'} is not there; plug in or mount the disk it is on"
        in page.text
    )
    (tmp_path / "stick").mkdir()
    rounds.look_and_tell()
    assert "backup" not in visitor.go("/").text.lower()


def test_a_history_that_is_lost_is_told_once_on_the_first_page(bench: Bench) -> None:
    bench.close()
    (bench.folder / "history.db").write_bytes(b"no history" * 500)
    rounds = Rounds(bench.folder, bench.shop.clock, lambda told: None)
    app = create_app(bench)
    app.extensions["watches"] = (rounds,)

    rounds.look_and_tell()

    assert Visitor(app).go("/").html.count("put a backup in its place with") <= 1

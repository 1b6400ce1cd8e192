"""Commands that keep: an export leaves what is there alone, a backup is told whole, and verify says what is sound."""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Callable
from pathlib import Path

from click.testing import Result
from helpers import unwritten
from helpers.unwritten import FULL, Told, all_that_is_written, jobs

from kb.history import History
from kb.model import Confirmation

Run = Callable[..., Result]
CAUSE = "battery-not-detected/contact"


def test_an_export_goes_to_a_new_file_and_replaces_none_unasked(
    run: Run, tmp_path: Path
) -> None:
    run("confirm", CAUSE, "--model", "Tern 13")
    file = tmp_path / "jobs.jsonl"
    file.write_text("mine")

    assert "exists already" in run("export", str(file), status=1).stderr
    assert file.read_text() == "mine"

    assert run("export", str(file), "--replace").stderr == f"{file}: 1 job\n"
    (line,) = file.read_text("utf-8").splitlines()
    assert json.loads(line)["cause"] == CAUSE


def test_an_export_says_how_much_was_written_and_to_standard_output_nothing_but_the_lines(
    run: Run, tmp_path: Path
) -> None:
    run("intake", "-", "--lot", "P7", given="tag,model\nP7-001,Tern 13\n")
    run("confirm", CAUSE, "--model", "Tern 13", "--part", "fan", "--donor", "P7-001")
    assert (
        run("export", "jobs.jsonl").stderr
        == "jobs.jsonl: 1 job, 1 line on fits and models\n"
    )
    all_of_it = run("export", "all.jsonl", "--everything")

    lines = (tmp_path / "all.jsonl").read_text().splitlines()
    assert all_of_it.stderr == f"all.jsonl: {len(lines)} records\n"
    assert len(lines) > 1
    assert all_of_it.stdout == ""
    assert run("export").stderr == ""


def test_a_backup_that_was_made_is_put_back(run: Run, tmp_path: Path) -> None:
    run("confirm", CAUSE, "--model", "Tern 13")
    told = json.loads(run("backup", "kept.zip", "--json").stdout)

    back = json.loads(
        run("--shop", str(tmp_path / "other"), "restore", "kept.zip", "--json").stdout
    )

    assert told["records"] == back["records"] == 1
    assert (
        "1 record, chain whole"
        in run("--shop", str(tmp_path / "other"), "verify").stdout
    )


def lamps(run: Run, place: Path) -> Path:
    run("new-library", str(place))
    run("settings", "--library", str(place))
    return place


def test_a_library_of_another_trade_comes_back_with_the_backup_and_the_shop_works_with_it(
    run: Run, tmp_path: Path
) -> None:
    place = lamps(run, tmp_path / "lamps")
    run("backup", "kept.zip")
    for last in (False, True):
        other = tmp_path / f"other-{last}"
        back = run("--shop", str(other), "restore", "kept.zip").stdout
        told = (
            "the shop works with the library in"
            if last
            else "the library of that day is in"
        )
        assert f"{told} {other}/library" in back
        assert "lamp-stays-dark" in run("--shop", str(other), "list").stdout
        place.rename(tmp_path / "gone") if place.exists() else None
    assert (other / "shop.toml").read_text() == 'library = "library"\n'


def test_a_library_that_is_gone_stands_in_no_way_of_those_commands_that_mend_it(
    run: Run, tmp_path: Path
) -> None:
    lamps(run, tmp_path / "lamps").rename(tmp_path / "moved")

    assert "benchlore settings --library DIR" in run("list", status=1).stderr
    assert "names no library" in run("verify", status=1).stderr
    assert "names no library" in run("settings", status=1).stderr
    assert "left out: library" in run("backup", "kept.zip").stderr
    run("settings", "--library", str(tmp_path / "moved"))

    assert "lamp-stays-dark" in run("list").stdout
    assert "problem" not in run("verify").stderr


def test_verify_of_a_new_shop_ends_well_and_says_that_nothing_is_kept_yet(
    run: Run,
) -> None:
    assert "none yet: the first job makes it" in run("verify").stdout


def export(place: Path, *words: str, largest: int = -1) -> Told:
    with all_that_is_written() as out:
        return unwritten.run(place, ["export", *words], out, largest=largest)


def test_an_export_leaves_a_file_that_is_there_alone_unless_told_to_replace_it(
    place: Path,
) -> None:
    (place / "fri.jsonl").write_text("last week's\n")
    before = sorted(path.name for path in place.iterdir())

    told = export(place, "fri.jsonl")

    assert told == Told(
        1, "Error: fri.jsonl exists already; give another name, or add --replace\n"
    )
    assert (place / "fri.jsonl").read_text() == "last week's\n"
    assert export(place, "fri.jsonl", "--replace") == Told(0, "fri.jsonl: 1 job\n")
    assert (place / "fri.jsonl").read_text().startswith(f'{{"job": "{jobs(place)[0]}"')
    assert sorted(path.name for path in place.iterdir()) == before


def test_an_export_that_does_not_fit_leaves_the_old_one_whole(place: Path) -> None:
    assert export(place, "fri.jsonl") == Told(0, "fri.jsonl: 1 job\n")
    good = (place / "fri.jsonl").read_bytes()
    before = sorted(path.name for path in place.iterdir())

    told = export(place, "fri.jsonl", "--replace", largest=len(good) - 1)

    assert told.status == 1
    assert told.errors.startswith(
        "Error: fri.jsonl: File too large; nothing was written there; make room, "
    )
    assert (place / "fri.jsonl").read_bytes() == good
    assert sorted(path.name for path in place.iterdir()) == before


def test_an_export_follows_a_link_and_leaves_it_one(place: Path) -> None:
    (place / "stick").mkdir()
    (place / "stick" / "jobs.jsonl").write_text("older\n")
    (place / "fri.jsonl").symlink_to("stick/jobs.jsonl")

    assert export(place, "fri.jsonl").status == 1
    assert export(place, "fri.jsonl", "--replace") == Told(0, "fri.jsonl: 1 job\n")

    assert (place / "fri.jsonl").is_symlink()
    assert (place / "stick" / "jobs.jsonl").read_text().count("\n") == 1


def test_an_export_into_a_folder_that_is_not_there_says_so(place: Path) -> None:
    told = export(place, "none/such.jsonl")

    assert told == Told(
        1,
        "Error: none/such.jsonl cannot be opened (No such file or directory); give a file in a folder that is there\n",
    )


def test_an_export_to_a_pipe_goes_through_it_and_never_in_its_place(
    place: Path,
) -> None:
    os.mkfifo(place / "pipe")
    reading = os.open(place / "pipe", os.O_RDONLY | os.O_NONBLOCK)

    told = export(place, "pipe", "--replace")

    assert told == Told(0, "pipe: 1 job\n")
    assert stat.S_ISFIFO((place / "pipe").stat().st_mode)
    assert os.read(reading, 100_000).startswith(b'{"job": ')
    os.close(reading)


def test_an_export_to_a_full_device_says_so(place: Path) -> None:
    told = export(place, str(FULL))

    assert told.status == 1
    assert (
        "/dev/full: No space left on device; nothing was written there" in told.errors
    )


def test_an_export_is_in_utf_8_whatever_the_locale(place: Path) -> None:
    with History.open(place / "shop" / "history.db") as history:
        history.close_job(Confirmation(unwritten.CAUSE, "Tern 13", words="lädt nicht"))

    for name in ("-", "fri.jsonl"):
        with (place / "out").open("wb") as out:
            assert unwritten.run(place, ["export", name], out.fileno()).status == 0
        written = (place / ("out" if name == "-" else name)).read_bytes()
        assert "lädt nicht".encode() in written


def test_what_an_office_may_know_goes_into_one_file_of_the_shop(
    run: Run, tmp_path: Path
) -> None:
    run("intake", "-", "--lot", "P7", given="tag,model\nP7-001,Tern 13\n")
    run("confirm", CAUSE, "--model", "Tern 13", "--unit", "P7-001")

    first, again = (
        run("export", "--shared", "office"),
        run("export", "--shared", "office", "--parquet"),
    )

    (file,) = (tmp_path / "office").iterdir()
    assert first.stderr == f"office/{file.stem}.jsonl: 1 job, 1 line\n"
    assert again.stderr == f"office/{file.name}: 1 job, 1 line\n"
    assert file.suffix == ".parquet"


def test_an_export_for_an_office_goes_with_nothing_that_it_does_not_heed(
    run: Run,
) -> None:
    for words in (
        ["jobs.jsonl"],
        ["--everything"],
        ["--since", "2026-01-01"],
        ["--replace"],
        ["--csv"],
    ):
        assert (
            "goes alone" in run("export", *words, "--shared", "office", status=2).stderr
        )
    assert "goes with --shared" in run("export", "--parquet", status=2).stderr

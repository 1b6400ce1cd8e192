"""Old jobs come in: from a spreadsheet, shown before they are saved, and gone again as one."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from kb.bench.front import Bench

Run = Callable[..., Result]

PACK = "battery-not-detected/pack"
TABLE = f"""\
Closed;Model;Complaint;Found;Min;Colour
24.11.2024;Tern 13;größer Akku, battery not detected;{PACK};12,5;red
13.02.2025;Skua 14;the system shows no battery although one is fitted;worn pack;20;blue
"""


@pytest.fixture(scope="module")
def new_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop without a job whose sheets are read."""
    folder = tmp_path_factory.mktemp("new") / "shop"
    bench = Bench(folder)
    bench.asking.models()
    bench.close()
    return folder


@pytest.fixture(autouse=True)
def _in_a_new_shop(tmp_path: Path, new_shop: Path) -> None:
    shutil.copytree(new_shop, tmp_path / "shop")


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "old.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


def exported(run: Run) -> list[dict[str, object]]:
    return [json.loads(line) for line in run("export").stdout.splitlines()]


COLUMNS = ("--columns", "words=Complaint,day=Closed")


def test_a_dry_run_shows_what_would_be_saved_and_saves_nothing(
    run: Run, table: Path
) -> None:
    shown = run("import", str(table), *COLUMNS, "--propose", "1", "--dry-run").stdout

    assert "read as UTF-8, columns divided by semicolon" in shown
    assert "left out: Colour" in shown
    assert f"line 2: 2024-11-24  Tern 13  {PACK}  größer Akku" in shown
    assert f"line 3: 2025-02-13  Skua 14  {PACK} (proposed, " in shown
    assert "jobs that would be added: 2" in shown
    assert exported(run) == []


def test_a_cause_in_plain_words_is_proposed_with_its_line_and_probability_and_not_saved_unasked(
    run: Run, table: Path
) -> None:
    result = run("import", str(table), *COLUMNS, status=1)

    assert "jobs added: 1" in result.stdout
    assert (
        f"old.csv:3: the cause `worn pack` is not written as entry/cause; proposed: {PACK} at "
        in result.stderr
    )


def test_a_file_taken_in_twice_adds_nothing_and_one_retraction_takes_it_all_back(
    run: Run, table: Path
) -> None:
    first = run("import", str(table), *COLUMNS, "--propose", "1").stdout
    again = run("import", str(table), *COLUMNS, "--propose", "1").stdout
    saved = exported(run)
    told = first.split("benchlore retract ")[1].split()[0]
    gone = run("retract", told, "--why", "wrong file").stdout

    assert "jobs added: 2" in first
    assert "jobs added: 0; known already: 2" in again
    assert [job["minutes"] for job in saved] == [12.5, 20]
    assert str(saved[1]["note"]) == "written down as: worn pack"
    assert gone == f"retracted: import {told}: 2 jobs\n"
    assert exported(run) == []


def test_letters_of_an_old_encoding_arrive_whole_and_what_cannot_be_read_is_refused(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "latin.csv").write_bytes(TABLE.encode("cp1252"))
    (tmp_path / "picture.csv").write_bytes(bytes(range(256)) * 4)
    line = '{"model": "Tern 13", "cause": "a/b", "closed_at": "2024-11-24T10:15:00Z", "words": "lädt nicht"}'
    (tmp_path / "latin.jsonl").write_bytes(line.encode("cp1252"))

    assert (
        "read as cp1252"
        in run("import", str(tmp_path / "latin.csv"), *COLUMNS, "--propose", "1").stdout
    )
    assert str(exported(run)[0]["words"]).startswith("größer Akku")
    picture = run("import", str(tmp_path / "picture.csv"), status=1)
    assert "cannot be read cleanly as text; nothing was taken in" in picture.stderr
    assert (
        "latin.jsonl:1: this line is not UTF-8"
        in run("import", str(tmp_path / "latin.jsonl"), status=1).stderr
    )
    assert len(exported(run)) == 2


def test_days_are_the_days_of_the_shops_zone(
    run: Run, table: Path, tmp_path: Path
) -> None:
    (tmp_path / "shop" / "shop.toml").write_text(
        'zone = "Pacific/Auckland"\n', encoding="utf-8"
    )
    run("import", str(table), *COLUMNS, "--propose", "1")

    # Noon in Auckland in November is 13 hours ahead of UTC (tz database).
    assert exported(run)[0]["closed_at"] == "2024-11-23T23:00:00Z"
    assert len(run("export", "--since", "2024-11-25").stdout.splitlines()) == 1
    assert len(run("export", "--since", "2024-11-24").stdout.splitlines()) == 2


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (
            f"3/4/2024,Tern 13,dead,{PACK}",
            "`3/4/2024` may be two days; say whether the day comes first: --days dmy",
        ),
        (f"2099-01-01,Tern 13,dead,{PACK}", "lies in the future"),
        (
            f"31.02.2024,Tern 13,dead,{PACK}",
            "`31.02.2024` is no day; write it as in 2024-11-24",
        ),
        (f",Tern 13,dead,{PACK}", "the day is missing"),
        (f"2024-11-24,,dead,{PACK}", "the model is missing"),
        (
            "2024-11-24,Tern 13,dead,battery-not-detected/pak",
            "does not list the cause `pak`; use one of",
        ),
        ("2024-11-24,Tern 13,qqq zzz xxx,", "nothing here fits `qqq zzz xxx`"),
        (
            f"2024-11-24,Tren 13,dead,{PACK}",
            "no job was ever on a Tren 13; the nearest is Tern 13",
        ),
    ],
)
def test_a_line_that_cannot_be_right_is_told_and_not_saved(
    run: Run, tmp_path: Path, line: str, told: str
) -> None:
    run("confirm", PACK, "--model", "Tern 13")
    (tmp_path / "old.csv").write_text(
        f"day,model,words,cause\n{line}\n", encoding="utf-8"
    )
    result = run("import", str(tmp_path / "old.csv"), status=1)

    assert "old.csv:2: " in result.stderr
    assert told in result.stderr
    assert len(exported(run)) == 1


@pytest.mark.parametrize(
    ("text", "columns", "told"),
    [
        (
            "model,cause\n",
            (),
            "no column gives the day; the headings are model, cause. Say which, as in --columns day=",
        ),
        ("model,day\n", (), "no column gives the words or the cause"),
        (
            "model,day,words\n",
            ("colour=day",),
            "there is no field `colour`; the fields are model, tag, words",
        ),
        (
            "model,day,words\n",
            ("part=Teil",),
            "no column is headed `Teil`; the headings are model, day, words",
        ),
        ('model,day,words\nx,"y,z\n', (), "line 2: a quote is not closed"),
    ],
)
def test_a_file_that_is_no_list_of_jobs_is_refused_in_one_sentence(
    run: Run, tmp_path: Path, text: str, columns: tuple[str, ...], told: str
) -> None:
    (tmp_path / "old.csv").write_text(text, encoding="utf-8")
    given = [part for one in columns for part in ("--columns", one)]
    result = run("import", str(tmp_path / "old.csv"), *given, status=1)

    assert told in result.stderr
    assert result.stderr.count("\n") == 1


def test_lines_of_json_tell_unknown_causes_near_models_and_unknown_keys(
    run: Run, tmp_path: Path
) -> None:
    run("confirm", PACK, "--model", "Tern 13")
    line = {
        "model": "Tren 13",
        "cause": "no-such/thing",
        "closed_at": "2024-11-24T10:15:00Z",
        "minuts": 3,
    }
    (tmp_path / "old.jsonl").write_text(json.dumps(line) + "\n", encoding="utf-8")
    result = run("import", str(tmp_path / "old.jsonl"))

    assert (
        "causes that no sheet here lists, counted under their names: no-such/thing on 1 line"
        in result.stderr
    )
    assert (
        "models that nobody has seen here: Tren 13 (nearest: Tern 13)" in result.stderr
    )
    assert "keys that no job has, left out: minuts on 1 line" in result.stderr


def test_refused_lines_are_told_in_the_json_too(run: Run, tmp_path: Path) -> None:
    (tmp_path / "old.jsonl").write_text('{"model": 3}\n', encoding="utf-8")
    told = json.loads(
        run("import", str(tmp_path / "old.jsonl"), "--json", status=1).stdout
    )

    assert told["refused"] == 1
    assert told["refused_lines"][0]["line"] == 1
    assert "model is not a text" in told["refused_lines"][0]["problem"]


def test_an_export_for_spreadsheets_can_be_taken_in_by_another_shop(
    run: Run, table: Path, tmp_path: Path
) -> None:
    run("import", str(table), *COLUMNS, "--propose", "1")
    out = tmp_path / "jobs.csv"
    assert run("export", str(out), "--csv").stderr == f"{out}: 2 jobs\n"
    other = ("--shop", str(tmp_path / "other"))
    told = run("import", str(out), "--columns", "tag=unit,day=closed_at", *other).stdout

    assert out.read_text(encoding="utf-8-sig").startswith(
        "job,shop,model,unit,words,cause,minutes"
    )
    assert "jobs added: 2" in told


def test_a_job_is_retracted_by_four_characters_at_least_and_shown(run: Run) -> None:
    job = json.loads(
        run(
            "confirm", PACK, "--model", "Tern 13", "--words", "no batt", "--json"
        ).stdout
    )["job"]

    assert (
        "give at least 4 characters"
        in run("retract", job[:3], "--why", "x", status=2).stderr
    )
    assert len(exported(run)) == 1
    shown = run("retract", job[:4], "--why", "x").stdout
    assert shown.startswith(f"retracted: job {job}: Tern 13, {PACK}, closed ")
    assert "“no batt”" in shown

"""Looking at sheets and jobs at a terminal, new sheets, the last save taken back, models and days as written."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import Result

from kb.bench.front import Bench

Run = Callable[..., Result]
CONTACT = "battery-not-detected/contact"


def confirmed(run: Run, *more: str) -> str:
    told = run("confirm", CONTACT, "--untested", "--json", *more).stdout
    return str(json.loads(told)["job"])


def test_a_sheet_is_shown_with_its_counts_and_a_mistyped_one_is_named(run: Run) -> None:
    confirmed(run, "-m", "Tern 13")
    told = run("show", " Battery-not-detected.md ", "-m", "Tern 13").stdout
    causes = json.loads(
        run("show", "battery-not-detected", "-m", "Tern 13", "--json").stdout
    )["causes"]

    assert told.splitlines()[0].endswith(" [battery-not-detected]")
    assert "(contact; 1 here, 0 elsewhere)" in told
    assert (
        "(contact; 0 here, 1 elsewhere)"
        in run("show", "battery-not-detected", "-m", "Skua 14").stdout
    )
    assert all(f"{one['probability']:4.0%}  {one['text']} (" in told for one in causes)
    assert "## Cheapest test first" in told
    assert (
        "did you mean `battery-not-detected`?"
        in run("show", "Batery-not-detected/pack", status=2).stderr
    )


def test_the_list_is_narrowed_by_words_and_area(run: Run) -> None:
    confirmed(run, "-m", "Tern 13")
    listed = json.loads(run("list", "--area", "Power", "--json").stdout)
    few = run("list", "swollen").stdout

    assert len(listed) > 5
    assert {one["area"] for one in listed} == {"power"}
    assert "battery-swollen" in few
    assert "no-sound" not in few
    assert run("list", "--area", "power").stdout.count("power:\n") == 1
    assert "(1 job)" in run("list", "battery-not-detected").stdout
    assert run("list", "unheard of", status=1).stdout == "no sheet says that\n"
    assert (
        "there is no area `pwer`; did you mean `power`?"
        in run("list", "--area", "pwer", status=2).stderr
    )


def test_a_sheet_of_the_shops_own_is_marked_so_and_an_empty_one_is_to_mend(
    run: Run, tmp_path: Path
) -> None:
    text = json.loads(run("show", "no-sound", "--json").stdout)["text"]
    run("new", "lid sings", "--area", "case")
    (tmp_path / "shop" / "entries" / "no-sound.md").write_text(text)

    assert (
        run("show", "no-sound")
        .stdout.splitlines()[0]
        .endswith(" [no-sound] (own text)")
    )
    assert "(0 jobs, own)" in run("list", "no-sound").stdout
    assert run("list", "lid-sings").stdout.startswith("to mend:\n  lid-sings")


def test_jobs_are_listed_by_machine_model_and_day(run: Run) -> None:
    assert run("jobs", status=1).stdout == "no such job\n"
    first = confirmed(run, "-m", "Tern 13", "--unit", "T-01", "--on", "2024-02-03")
    second = confirmed(run, "-m", "Skua 14", "--unit", "T-02")

    assert [one["job"] for one in json.loads(run("jobs", "--json").stdout)] == [
        second,
        first,
    ]
    assert [
        one["job"] for one in json.loads(run("jobs", "--unit", "t-01", "--json").stdout)
    ] == [first]
    assert second not in run("jobs", "-m", "tern 13").stdout
    assert [
        one["job"]
        for one in json.loads(run("jobs", "--since", "2025-01-01", "--json").stdout)
    ] == [second]
    assert f"{first}  2024-02-03  {CONTACT}  T-01 · Tern 13\n" in run("jobs").stdout
    run("jobs", "--open", status=1)


def test_jobs_on_the_bench_come_first_and_are_counted_with_the_others(run: Run) -> None:
    confirmed(run, "-m", "Tern 13")
    closed = confirmed(run, "-m", "Tern 13")
    run("guide", "no sound", "-m", "Skua 14", "--unit", "T-03", given="q\n")
    on_bench = run("jobs", "--open").stdout

    assert closed not in on_bench
    assert on_bench.endswith("  on the bench  T-03 · Skua 14 · no sound\n")
    assert [one["open"] for one in json.loads(run("jobs", "--json").stdout)] == [
        True,
        False,
        False,
    ]
    assert run("jobs", "-n", "1").stdout.splitlines() == [
        on_bench.strip(),
        "and 2 more; --limit 3 shows all",
    ]


@pytest.mark.parametrize(
    ("day", "status"), [("2999-01-01", 1), ("yesterday", 2), ("2024-02-31", 2)]
)
def test_a_day_that_cannot_be_is_refused(run: Run, day: str, status: int) -> None:
    refused = run(
        "confirm", CONTACT, "-m", "Tern 13", "--untested", "--on", day, status=status
    )

    assert "day" in refused.stderr
    run("jobs", status=1)


def test_a_model_is_known_whatever_its_case_spaces_and_hyphens(run: Run) -> None:
    for model in ("Tern 13", "tern13", "TERN-13"):
        confirmed(run, "-m", model)

    assert {one["model"] for one in json.loads(run("jobs", "--json").stdout)} == {
        "Tern 13"
    }
    assert (
        "no job on Tren 13 yet; nearest: Tern 13"
        in run("search", "no charge", "-m", "Tren 13").stderr
    )
    assert "no job on" not in run("search", "no charge", "-m", "tern 13").stderr


def test_a_new_sheet_is_written_once_and_does_not_count_before_it_says_something(
    run: Run, tmp_path: Path
) -> None:
    told = run("new", "hinge  creaks", "when opened", "--area", "case").stdout
    sheet = tmp_path / "shop" / "entries" / "hinge-creaks-when-opened.md"
    again = run("new", "hinge creaks when opened", status=1).stderr
    long = json.loads(run("new", "z" * 30, "y" * 30, "--json").stdout)

    assert "benchlore check" in told
    assert sheet.read_text().startswith(
        "---\ntitle: hinge creaks when opened\narea: case\n"
    )
    assert "there is a sheet hinge-creaks-when-opened already" in again
    assert long["entry"] == Path(long["file"]).stem == "z" * 30
    assert "give a title with letters in it" in run("new", "???", status=2).stderr


@pytest.mark.parametrize(("more", "opened"), [((), 1), (("--no-editor",), 0)])
def test_the_editor_is_opened_at_a_terminal_unless_it_is_not_wanted(
    run: Run, monkeypatch: pytest.MonkeyPatch, more: tuple[str, ...], opened: int
) -> None:
    edited: list[str] = []
    terminal = SimpleNamespace(isatty=lambda: True)
    monkeypatch.setattr(
        "kb.cli.looking.sys", SimpleNamespace(stdin=terminal, stdout=terminal)
    )
    monkeypatch.setattr("click.edit", lambda filename: edited.append(filename))

    run("new", "lid sings", *more)

    assert [Path(one).name for one in edited] == ["lid-sings.md"] * opened


def test_a_sheet_just_begun_is_no_problem_and_a_torn_one_is(
    run: Run, tmp_path: Path
) -> None:
    run("new", "hinge creaks when opened")

    assert "problem" not in run("verify").stderr
    assert run("search", "no sound").stderr == ""
    assert "is what an empty sheet says" in run("check", status=1).stdout

    (tmp_path / "shop" / "entries" / "hinge-creaks-when-opened.md").write_text("torn")
    assert (
        "hinge-creaks-when-opened.md cannot be read" in run("verify", status=1).stderr
    )
    assert (
        "hinge-creaks-when-opened.md cannot be read" in run("search", "no sound").stderr
    )


def test_the_last_save_is_taken_back_only_when_it_is_said_twice(
    run: Run, tmp_path: Path
) -> None:
    assert "no confirmation is there" in run("undo", "--yes", status=1).stderr
    job = confirmed(run, "-m", "Tern 13", "--on", "2024-02-03")

    assert f"this would retract job {job}" in run("undo", status=2).stderr
    taken = run("undo", "--yes", "--by", "ab").stdout
    with closing(Bench(tmp_path / "shop")) as bench:
        *_, last = bench.history().records_since()

    assert taken == f"retracted job {job}: {CONTACT} on Tern 13, closed 2024-02-03\n"
    assert json.loads(last.body)["by"] == "ab"
    run("jobs", status=1)
    confirmed(run, "-m", "Tern 13")
    assert json.loads(run("undo", "--yes", "--json").stdout)["retracted"] is True


def test_help_is_a_command_too_and_short_options_work(run: Run) -> None:
    assert run("help", "search").stdout == run("search", "--help").stdout
    assert "Commands" in run("help").stdout
    assert "did you mean `search`?" in run("help", "serach", status=2).stderr
    assert run("-V").stdout == run("--version").stdout
    assert (
        len(
            json.loads(run("search", "no charge", "-n", "2", "--json").stdout)[
                "entries"
            ]
        )
        == 2
    )

"""Looking at sheets and jobs at a terminal, new sheets, the last save taken back, models and days as written."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Run = Callable[..., Result]
CONTACT = "battery-not-detected/contact"


def confirmed(run: Run, *more: str) -> str:
    told = run("confirm", CONTACT, "--untested", "--json", *more).stdout
    return str(json.loads(told)["job"])


def test_a_sheet_is_shown_with_its_counts_and_a_mistyped_one_is_named(run: Run) -> None:
    confirmed(run, "-m", "Tern 13")
    told = run("show", "battery-not-detected", "-m", "Tern 13").stdout

    assert "(contact; 1 here, 0 elsewhere)" in told
    assert "## Cheapest test first" in told
    assert json.loads(run("show", "battery-not-detected", "--json").stdout)["own"] is False
    assert "did you mean `battery-not-detected`?" in run("show", "batery-not-detected", status=2).stderr


def test_the_list_is_narrowed_by_words_and_area(run: Run) -> None:
    assert "battery-swollen" in run("list", "swollen").stdout
    listed = json.loads(run("list", "--area", "Power", "--json").stdout)

    assert len(listed) > 5
    assert {one["area"] for one in listed} == {"power"}
    run("list", "unheard of", status=1)


def test_jobs_are_listed_by_machine_model_and_day(run: Run) -> None:
    first = confirmed(run, "-m", "Tern 13", "--unit", "T-01", "--on", "2024-02-03")
    second = confirmed(run, "-m", "Skua 14", "--unit", "T-02")

    assert [one["job"] for one in json.loads(run("jobs", "--json").stdout)] == [second, first]
    assert first in run("jobs", "--unit", "t-01").stdout
    assert second not in run("jobs", "-m", "tern 13").stdout
    assert [one["job"] for one in json.loads(run("jobs", "--since", "2025-01-01", "--json").stdout)] == [second]
    assert "2024-02-03" in run("jobs").stdout
    run("jobs", "--open", status=1)


@pytest.mark.parametrize(("day", "status"), [("2999-01-01", 1), ("yesterday", 2), ("2024-02-31", 2)])
def test_a_day_that_cannot_be_is_refused(run: Run, day: str, status: int) -> None:
    refused = run("confirm", CONTACT, "-m", "Tern 13", "--untested", "--on", day, status=status)

    assert "day" in refused.stderr
    run("jobs", status=1)


def test_a_model_is_known_whatever_its_case_spaces_and_hyphens(run: Run) -> None:
    for model in ("Tern 13", "tern13", "TERN-13"):
        confirmed(run, "-m", model)

    assert {one["model"] for one in json.loads(run("jobs", "--json").stdout)} == {"Tern 13"}
    assert "no job on Tren 13 yet; nearest: Tern 13" in run("search", "no charge", "-m", "Tren 13").stderr
    assert "no job on" not in run("search", "no charge", "-m", "tern 13").stderr


def test_a_new_sheet_is_written_once_and_does_not_count_before_it_says_something(run: Run, tmp_path: Path) -> None:
    told = run("new", "hinge creaks when opened").stdout

    assert "benchlore check" in told
    assert (tmp_path / "shop/entries/hinge-creaks-when-opened.md").read_text().startswith("---\ntitle: hinge creaks")
    assert (
        "there is a sheet hinge-creaks-when-opened already" in run("new", "hinge creaks when opened", status=1).stderr
    )


def test_a_sheet_just_begun_is_no_problem_and_a_torn_one_is(run: Run, tmp_path: Path) -> None:
    run("new", "hinge creaks when opened")

    assert "problem" not in run("verify").stderr
    assert run("search", "no sound").stderr == ""
    assert "is what an empty sheet says" in run("check", status=1).stdout

    (tmp_path / "shop" / "entries" / "hinge-creaks-when-opened.md").write_text("torn")
    assert "hinge-creaks-when-opened.md cannot be read" in run("verify", status=1).stderr
    assert "hinge-creaks-when-opened.md cannot be read" in run("search", "no sound").stderr


def test_the_last_save_is_taken_back_only_when_it_is_said_twice(run: Run) -> None:
    run("undo", "--yes", status=1)
    job = confirmed(run, "-m", "Tern 13")

    assert f"this would retract job {job}" in run("undo", status=2).stderr
    assert run("undo", "--yes").stdout.startswith(f"retracted job {job}")
    run("jobs", status=1)


def test_help_is_a_command_too_and_short_options_work(run: Run) -> None:
    assert run("help", "search").stdout == run("search", "--help").stdout
    assert "Commands" in run("help").stdout
    assert "did you mean `search`?" in run("help", "serach", status=2).stderr
    assert run("-V").stdout == run("--version").stdout
    assert len(json.loads(run("search", "no charge", "-n", "2", "--json").stdout)["entries"]) == 2

"""The command line as a stranger meets it: wrong use, empty input, narrow terminals, old locales, scripts."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from helpers.terminal import shown_at_a_terminal

from kb.bench.asking import AskingDesk
from kb.cli.group import FAULT
from kb.cli.options import fitted
from kb.library.shelf import stock_folder

Run = Callable[..., Result]

PACK = "battery-not-detected/pack"


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ("serch x", "there is no command `serch`; did you mean `search`?"),
        ("stats", "there is no command `stats`; did you mean `review`?"),
        (
            "sell",
            "there is no command `sell`; `benchlore --help` lists those there are",
        ),
        ("confirm a/b --date x", "there is no option --date; did you mean `--on`?"),
        (
            "jobs --date x",
            "there is no option --date; `benchlore jobs --help` lists those there are\n",
        ),
        (
            "search -5 degrees",
            "words that begin with a dash stand after --, as in `benchlore search -- -5`",
        ),
        ("--jsn", "there is no option --jsn; `benchlore --help` lists those there are"),
        (
            "--model x search y",
            "--model stands after a command, as in `benchlore confirm ... --model`",
        ),
        ("-n 3", "-n stands after a command, as in `benchlore"),
        ("verify --jsn", "there is no option --jsn; did you mean `--json`?"),
        ("search", "say what is wrong, for example: benchlore search"),
        (
            "search x --model",
            "--model needs a value after it, in quotes if there are spaces in it",
        ),
        ("search x --limit many", "--limit: give a whole number from 1 to 50"),
        ("search x --stdin", "give either words or --stdin"),
        (
            "confirm",
            "ENTRY/CAUSE is missing; for example: benchlore confirm battery-not-detected/light-board --model",
        ),
        ("confirm a/b", "--model is missing; for example: benchlore confirm"),
        (
            "confirm a/b --model x --minutes few",
            "--minutes: give a number from 0 to 10000",
        ),
        (
            "review model",
            "got unexpected extra argument (model); for example: benchlore review --model",
        ),
        ("review --since monday", "--since: write the day as YYYY-MM-DD"),
        ("review --since 2026-12-01 --until 2026-11-01", "swap them"),
        ("check none.md", "path 'none.md' does not exist; give the path of a file"),
        (
            "check .",
            "there is no entry (*.md) in .; give a folder with entries, or a file",
        ),
        ("import none.jsonl", "No such file or directory; give the path of a file"),
        ("restore none.zip", "file 'none.zip' does not exist; give the path of a file"),
        ("backup .", "file '.' is a directory; give the path of a file"),
        ("serve --port 99999", "--port: give a whole number from 0 to 65535"),
    ],
)
def test_wrong_use_is_told_in_one_sentence_that_says_what_to_do(
    run: Run, wrong: str, told: str
) -> None:
    result = run(*wrong.split(), status=2)

    assert result.stdout == ""
    assert told in result.stderr
    assert result.stderr.count("\n") == 1


def test_a_file_that_cannot_be_written_is_told_with_what_to_do(run: Run) -> None:
    told = run("export", "nowhere/jobs.jsonl", status=1).stderr

    assert told.endswith(
        "(No such file or directory); give a file in a folder that is there\n"
    )


def test_an_export_of_a_shop_without_jobs_is_an_empty_file(run: Run) -> None:
    run("export", "jobs.jsonl")

    assert Path("jobs.jsonl").read_text() == ""


def test_input_that_ends_early_leaves_the_passphrase_as_it_was(run: Run) -> None:
    assert (
        "none was changed; type it twice, alike"
        in run("passphrase", given="", status=1).stderr
    )


def test_an_empty_file_to_import_and_sound_entries_are_told(run: Run) -> None:
    Path("none.jsonl").write_text("")

    assert "the file is empty" in run("import", "none.jsonl").stderr
    assert (
        run("check", str(stock_folder() / "battery-drains-fast.md")).stderr
        == "nothing to mend\n"
    )


@pytest.mark.parametrize("width", [20, 40, 80])
def test_lines_are_broken_between_words_and_none_is_lost(width: int) -> None:
    text = " 1  72% ####...... Battery and charger both seen, but no charge\n\n        matched: a charge-indicator"

    shown = fitted(text, width)

    assert shown.split() == text.split()
    assert all(
        len(line) <= width or len(line.split()) == 1 for line in shown.split("\n")
    )
    assert fitted(text, 200) == text


@pytest.mark.parametrize("columns", ["40", "120"])
def test_a_narrow_terminal_gets_lines_that_fit_and_a_pipe_gets_whole_ones(
    stocked_folder: Path, columns: str
) -> None:
    environment = {
        **os.environ,
        "COLUMNS": columns,
        "NO_COLOR": "1",
        "BENCHLORE_SHOP": str(stocked_folder),
    }
    command = [sys.executable, "-m", "kb", "search", "wont chrge, led orange"]
    shown = shown_at_a_terminal(command, environment)
    piped = subprocess.run(
        command, env=environment, capture_output=True, text=True, check=True
    ).stdout

    lines = shown.split("\n")
    assert max(map(len, lines)) <= int(columns)
    assert "\x1b" not in shown
    assert max(map(len, piped.split("\n"))) > 80
    assert " ".join(lines).split() == piped.split()


@pytest.mark.parametrize("locale", ["C", "C.UTF-8"])
def test_words_beyond_ascii_are_kept_whatever_the_locale(
    stocked_folder: Path, locale: str
) -> None:
    environment = {
        **os.environ,
        "LC_ALL": locale,
        "BENCHLORE_SHOP": str(stocked_folder),
    }
    environment.pop("PYTHONIOENCODING", None)
    command = [sys.executable, "-m", "kb"]
    saving = [
        *command,
        "confirm",
        PACK,
        "--model",
        "Tern 13",
        "--words",
        "l\u00e4dt nicht",
        "--json",
    ]
    subprocess.run(saving, env=environment, capture_output=True, check=True)

    shown = subprocess.run(
        [*command, "export"], env=environment, capture_output=True, check=True
    ).stdout

    assert json.loads(shown.decode())["words"] == "l\u00e4dt nicht"


@pytest.mark.parametrize(
    "error",
    [
        KeyError("battery-not-detected"),
        ValueError("not enough values to unpack"),
        IndexError("list index out of range"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_a_fault_of_the_program_is_told_as_one_with_its_place(
    run: Run, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def stumbles(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(AskingDesk, "search", stumbles)

    told = run("search", "no light", status=FAULT).stderr

    assert "fault of the program" in told
    assert f"{type(error).__name__} in test_usage.py" in told
    assert str(error.args[0]) not in told

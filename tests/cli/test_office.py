"""The office's command: its answers in lines and as JSON, what it was not given, and what does not fit."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from click.testing import Result
from helpers.offices import ONE, TWO, job, put

from kb.cli.office import office
from kb.index.elsewhere import read
from kb.office.questions import QUESTIONS

Run = Callable[..., Result]


def test_all_questions_are_answered_and_one_of_them_with_all_its_lines(
    run: Run, tmp_path: Path
) -> None:
    odd = [
        job(TWO, number, f"odd/thing-{number}", listed=False) for number in range(1, 13)
    ]
    put(tmp_path / "office", [job(ONE, 1, part="fan"), *odd])

    told = run("office", "office").stdout
    (answer,) = json.loads(
        run("office", "office", "--question", "gaps", "--json").stdout
    )["answers"].values()

    assert (
        f"     12  {TWO}: 12 jobs on 12 machines of 1 model, 2026-01-02 to 2026-01-02"
        in told
    )
    assert (
        "no-battery/plug on Tern 13: 7.7% (1.4% to 33.3%) of machines, 1 shop, 10 min"
        in told
    )
    assert "and 2 more; --question gaps shows all" in told
    assert "Parts of one model in another [fits]:\n      none" in told
    assert len(answer) == 12
    assert "more" not in run("office", "office", "--question", "gaps").stdout


def test_every_question_can_be_asked_by_its_name() -> None:
    (named,) = (option.type for option in office.params if option.name == "question")

    assert isinstance(named, click.Choice)
    assert list(named.choices) == [question.name for question in QUESTIONS]


def test_lines_that_do_not_fit_are_named_and_end_with_1(
    run: Run, tmp_path: Path
) -> None:
    put(tmp_path / "office", [job(ONE, 1)])
    with (tmp_path / "office" / f"shared-{ONE}.jsonl").open("a") as out:
        out.write('{"format":2}\n')

    found = run("office", "office", "--json", status=1)

    assert found.stderr == (
        f"shared-{ONE}.jsonl: 1 line of a format that this program does not read (it reads 1): update it\n"
    )
    assert json.loads(found.stdout)["answers"]["shops"][0]["jobs"] == 1
    assert json.loads(found.stdout)["unfit"][0]["lines"] == 1


def test_counts_are_written_for_shops_to_learn_from_and_over_nothing_else(
    run: Run, tmp_path: Path
) -> None:
    put(tmp_path / "office", [job(ONE, 1), job(TWO, 1)])
    (tmp_path / "notes.json").write_text("mine")

    for _ in range(2):
        said = run(
            "office", "office", "--question", "shops", "--counts", "all.json"
        ).stderr
    refused = run(
        "office", "office", "--question", "shops", "--counts", "notes.json", status=1
    ).stderr

    assert said == "all.json: 2 jobs of 2 shops, for benchlore learn\n"
    assert read((tmp_path / "all.json").read_bytes()).shops == 2
    assert (
        refused
        == "Error: notes.json is there and holds no pooled counts; give another name\n"
    )
    assert (tmp_path / "notes.json").read_text() == "mine"


def test_a_folder_without_jobs_and_one_that_is_not_there_are_told(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "office").mkdir()

    assert (
        "each writes its file with: benchlore export --shared"
        in run("office", "office", status=1).stderr
    )
    assert "does not exist" in run("office", "nowhere", status=2).stderr
    assert (
        "no engine is called abacus"
        in run("office", "office", "--engine", "abacus", status=1).stderr
    )


def test_without_the_libraries_it_says_how_to_get_them(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in [name for name in sys.modules if name.startswith("kb.office.")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "ibis", None)

    assert "pip install -e '.[office]'" in run("office", ".", status=1).stderr

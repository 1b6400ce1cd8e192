"""The guide at the terminal: one key an answer, back and aside, left and taken up again, confirmed at the end."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import Result
from helpers.donating import flat_floor, flat_job
from helpers.gated import gated_bench
from helpers.terminal import Terminal
from reliability.running import CORPUS, SMALL

from kb.bench.jobs import JobDesk, Standing
from kb.history import kinds

Run = Callable[..., Result]


@pytest.fixture(autouse=True)
def _small_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library of the tests, whose index is made in no time."""
    monkeypatch.setattr("kb.library.shelf.stock_folder", lambda: CORPUS)


def _job(result: Result) -> str:
    found = re.search(r"^job (\w+);", result.stdout)
    assert found, result.stdout
    return found[1]


def test_a_guided_job_ends_in_a_confirmation_with_everything_filled_in(
    run: Run,
) -> None:
    result = run(
        "guide", "no battery is listed", "--model", "Tern 13", given="c\n1\n12\n\n"
    )

    assert "Before you start:" in result.stdout
    assert "saved as job" in result.stdout
    (line,) = run("export", "-").stdout.splitlines()
    job = json.loads(line)
    assert (job["model"], job["words"], job["minutes"]) == (
        "Tern 13",
        "no battery is listed",
        12,
    )


def test_the_part_that_a_fix_in_vain_was_done_with_is_asked_for_and_the_next_one_is_filled_in(
    run: Run, tmp_path: Path
) -> None:
    bench = flat_floor(tmp_path / "shop")
    job = flat_job(bench)
    bench.parts.take("P7-03", "battery", "P7-01")

    asked = run("guide", "--job", job, given="2\n2\nq\n").stdout
    assert (
        "the battery from P7-03 did not help; 1 it did not fit, 2 it was dead, 3 it was not the cause"
        in asked
    )
    assert bench.jobs.job(job).failed_fixes == ()
    assert [one.good for one in bench.machines.unit("P7-03").moved] == ["no"]

    bench.machines.write(kinds.UNIT_IN, {"tag": "P7-04", "model": "Tern 13"})
    bench.machines.give_up("P7-04", "board gone")
    bench.parts.take("P7-04", "battery", "P7-01")
    confirmed = run("guide", "--job", job, given="1\n1\n12\n\n").stdout
    assert "part (that from P7-04) [battery]:" in confirmed
    closed = bench.jobs.job(job).closed
    assert closed
    assert (closed.part, closed.donor) == ("battery", "P7-04")
    bench.close()


def test_an_answer_is_kept_when_one_leaves_and_goes_on_later(run: Run) -> None:
    left = run("guide", "no battery is listed", "--model", "Tern 13", given="n\nq\n")

    again = run("guide", given="q\n")

    assert _job(again) == _job(left)
    first = re.findall(r"^(\S.*) \(\d+ min", left.stdout, re.MULTILINE)
    assert re.findall(r"^(\S.*) \(\d+ min", again.stdout, re.MULTILINE)[0] == first[-1]


def test_the_last_answer_can_be_taken_back(run: Run) -> None:
    result = run(
        "guide", "no battery is listed", "--model", "Tern 13", given="n\nb\nq\n"
    )

    steps = re.findall(r"^(\S.*) \(\d+ min", result.stdout, re.MULTILINE)
    assert steps[2] == steps[0]
    assert steps[1] != steps[0]


def test_a_key_that_means_nothing_is_said_and_asked_again(run: Run) -> None:
    result = run("guide", "no battery is listed", given="x\nq\n")

    assert "`x` is none of the keys; type one of 1, 2, " in result.stderr
    assert result.stdout.count("Why: ") == 1


def test_a_broken_off_input_leaves_the_job_open(run: Run) -> None:
    left = run("guide", "no battery is listed", "--model", "Tern 13", given="")

    assert _job(run("guide", given="q\n")) == _job(left)
    assert f"go on with: benchlore guide --job {_job(left)}" in left.stdout


def test_an_input_that_ends_within_the_confirmation_saves_nothing_and_says_how_to_go_on(
    run: Run,
) -> None:
    left = run(
        "guide", "no battery is listed", "--model", "Tern 13", given="c\n1\n", status=1
    )

    assert f"go on with: benchlore guide --job {_job(left)}" in left.stdout
    assert run("export", "-").stdout == ""
    assert "Aborted" not in left.stderr


def test_an_empty_line_answers_nothing(run: Run) -> None:
    result = run(
        "guide", "no battery is listed", "--model", "Tern 13", given="\n\nx\n\nq\n"
    )

    assert "`x` is none of the keys" in result.stderr
    assert result.stdout.count("Why: ") == 1


def test_the_key_that_leaves_does_so_at_a_question_for_a_number_too(run: Run) -> None:
    for given in ("c\nq\n", "c\n1\nq\n"):
        left = run("guide", "no battery is listed", "--model", "Tern 13", given=given)
        assert f"go on with: benchlore guide --job {_job(left)}" in left.stdout

    assert run("export", "-").stdout == ""


def test_enter_alone_chooses_none_of_several_causes(run: Run) -> None:
    run(
        "guide",
        "no battery is listed",
        "--model",
        "Tern 13",
        given="c\n\n\n\n\n",
        status=1,
    )

    assert run("export", "-").stdout == ""


def test_the_shop_stands_in_the_command_to_go_on_with_where_it_was_given(
    run: Run,
) -> None:
    left = run("guide", "no battery is listed", "--shop", "an other", given="q\n")

    assert f"benchlore guide --job {_job(left)} --shop 'an other'" in left.stdout


def test_without_words_and_without_an_open_job_it_says_what_to_type(run: Run) -> None:
    assert "say what is wrong" in run("guide", status=2).stderr


# At a terminal

ASKED = "q leave; the job stays open"


def guided(shop: Path) -> Terminal:
    return Terminal(
        "guide", "no battery is listed", "--model", "Tern 13", shop=shop, setting=SMALL
    )


@pytest.mark.parametrize("pause", [0.05, 0.2, 0.6, 2.0])
def test_enter_after_a_key_ends_nothing_however_late_it_comes(
    tmp_path: Path, pause: float
) -> None:
    with guided(tmp_path / "shop") as terminal:
        terminal.until(ASKED)
        terminal.press("n")
        time.sleep(pause)
        terminal.send("\r")
        terminal.until(ASKED)
        assert not terminal.ended(0.5)

        terminal.press("x")
        terminal.until("`x` is none of the keys")
        terminal.press("q")

        assert terminal.ended(20)
        assert terminal.status == 0
        assert "go on with: benchlore guide --job " in terminal.shown


def test_enter_pressed_again_and_again_ends_nothing(tmp_path: Path) -> None:
    with guided(tmp_path / "shop") as terminal:
        terminal.until(ASKED)
        for _ in range(5):
            terminal.press("\r")
            assert not terminal.ended(0.1)
        terminal.press("\r\r")
        assert not terminal.ended(0.3)


@pytest.mark.parametrize(
    ("before", "key", "status"),
    [("", "\x03", 130), ("c", "\x03", 130), ("", "\x04", 0)],
)
def test_leaving_otherwise_says_how_to_go_on_too(
    tmp_path: Path, before: str, key: str, status: int
) -> None:
    """Ctrl-C (130, as shells tell it: 128 and the number of the signal) and Ctrl-D, also within the confirmation."""
    with guided(tmp_path / "shop") as terminal:
        job = re.search(r"job (\w+);", terminal.until(ASKED))
        assert job
        if before:
            terminal.press(before)
            terminal.until("which one was it")
            terminal.rest()
            terminal.send(key)
        else:
            terminal.press(key)

        assert terminal.ended(20)
        assert terminal.status == status
        assert f"go on with: benchlore guide --job {job[1]}\n" in terminal.shown
        assert "Aborted" not in terminal.shown


def test_a_machine_with_an_open_job_gets_no_second_one_unless_it_is_another_fault(
    run: Run,
) -> None:
    pallet = "tag,model\nP7-010,Tern 13\n"
    run("intake", "-", "--lot", "P7", given=pallet)
    first = _job(run("guide", "no battery", "--unit", "P7-010", given="q\n"))

    told = run("guide", "no battery", "--unit", "p7-010", given="q\n", status=2).stderr

    assert f"job {first} is open on P7-010 already: no battery" in told
    assert "--another" in told
    other = _job(run("guide", "no light", "--unit", "P7-010", "--another", given="q\n"))
    jobs = json.loads(run("jobs", "--unit", "P7-010", "--json").stdout)
    assert {one["job"] for one in jobs} == {first, other}


def test_the_machine_tells_the_model_of_its_job_and_a_misread_tag_makes_no_machine(
    run: Run,
) -> None:
    run("intake", "-", "--lot", "P7", given="tag,model\nP7-010,Tern 13\n")

    told = run("guide", "no battery", "--unit", "P7-01O", given="q\n", status=2).stderr
    begun = run("guide", "no battery", "--unit", "P7-010", "--json").stdout

    assert "did you mean `P7-010`?" in told
    assert json.loads(begun)["model"] == "Tern 13"


def test_a_number_that_is_none_is_told_in_a_sentence(run: Run) -> None:
    told = run(
        "guide",
        "no battery is listed",
        "--model",
        "Tern 13",
        given="c\n1\nan hour\n60\n\n",
    )

    assert "`an hour` is none; type a number from 0 to 10000, or q to leave" in (
        told.stdout + told.stderr
    )


def test_a_second_thing_that_the_words_told_of_is_not_forgotten_with_the_first(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    stood = JobDesk.standing

    def of_two(desk: JobDesk, job: str, limit: int = 5) -> Standing:
        found = stood(desk, job, limit)
        two = ("no-battery", "charges-no-start")
        return replace(found, answer=replace(found.answer, two=two))

    monkeypatch.setattr(JobDesk, "standing", of_two)
    told = run(
        "guide",
        "no battery is listed",
        "--model",
        "Tern 13",
        "--unit",
        "P7-1",
        given="c\n1\n12\n\n",
    ).stdout

    assert "Two things are told here" in told
    assert "if it is still there, benchlore guide" in told.splitlines()[-1]
    assert "--unit P7-1" in told.splitlines()[-1]


def test_whoever_is_guided_through_one_fault_is_told_the_danger_of_the_machines_other_one(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = gated_bench(tmp_path)
    shop.jobs.begin("case stings on the charger", "Tern 13", "P7-001")
    shop.close()
    monkeypatch.setattr("kb.library.shelf.stock_folder", lambda: tmp_path / "stock")

    told = run(
        "guide",
        "no battery is listed",
        "--model",
        "Tern 13",
        "--unit",
        "P7-001",
        "--another",
        given="q\n",
    ).stdout

    assert told.index("Pull the charger at the wall.") < told.index("Before you start")

"""The guide at the terminal: one key an answer, back and aside, left and taken up again, confirmed at the end."""

from __future__ import annotations

import json
import re
from collections.abc import Callable

from click.testing import Result

Run = Callable[..., Result]


def _job(result: Result) -> str:
    found = re.search(r"^job (\w+);", result.stdout)
    assert found, result.stdout
    return found[1]


def test_a_guided_job_ends_in_a_confirmation_with_everything_filled_in(run: Run) -> None:
    result = run("guide", "no battery is listed", "--model", "Tern 13", given="c\n1\n12\n\n")

    assert "Before you start:" in result.stdout
    assert "saved as job" in result.stdout
    (line,) = run("export", "-").stdout.splitlines()
    job = json.loads(line)
    assert (job["model"], job["words"], job["minutes"]) == ("Tern 13", "no battery is listed", 12)


def test_an_answer_is_kept_when_one_leaves_and_goes_on_later(run: Run) -> None:
    left = run("guide", "no battery is listed", "--model", "Tern 13", given="n\nq\n")

    again = run("guide", given="q\n")

    assert _job(again) == _job(left)
    first = re.findall(r"^(\S.*) \(\d+ min", left.stdout, re.MULTILINE)
    assert re.findall(r"^(\S.*) \(\d+ min", again.stdout, re.MULTILINE)[0] == first[-1]


def test_the_last_answer_can_be_taken_back(run: Run) -> None:
    result = run("guide", "no battery is listed", "--model", "Tern 13", given="n\nb\nq\n")

    steps = re.findall(r"^(\S.*) \(\d+ min", result.stdout, re.MULTILINE)
    assert steps[2] == steps[0]
    assert steps[1] != steps[0]


def test_a_key_that_means_nothing_is_said_and_asked_again(run: Run) -> None:
    result = run("guide", "no battery is listed", given="x\nq\n")

    assert "`x` is none of the keys" in result.stderr


def test_a_broken_off_input_leaves_the_job_open(run: Run) -> None:
    left = run("guide", "no battery is listed", "--model", "Tern 13", given="")

    assert _job(run("guide", given="q\n")) == _job(left)


def test_without_words_and_without_an_open_job_it_says_what_to_type(run: Run) -> None:
    assert "say what is wrong" in run("guide", status=2).stderr

"""What is taken in of typed texts, and what is refused in a sentence."""

from __future__ import annotations

import pytest

from kb.base.trouble import Refusal
from kb.history import History
from kb.history.trouble import NotAccepted
from kb.model import Confirmation, Finding


def test_text_comes_back_as_it_was_typed(history: History) -> None:
    typed = (
        ' 19,5 V \u202e \u0001 "quoted" 電源 \n\'; DROP TABLE records; -- \U0001f50c '
    )
    job = history.close_job(
        Confirmation("a/b", model="Tern 13", words=typed, note=typed)
    ).job
    closed = history.job_state(job).closed
    assert closed is not None
    assert (closed.words, closed.note) == (typed, typed)


def test_what_cannot_be_stored_is_replaced_by_a_sign_that_says_so(
    history: History,
) -> None:
    job = history.open_job("Tern\x00 13", words="dark \ud800 screen")
    state = history.job_state(job)
    assert (state.model, state.words) == ("Tern\ufffd 13", "dark \ufffd screen")


@pytest.mark.parametrize(
    ("given", "problem"),
    [
        (Confirmation("a/b"), "model is missing"),
        (Confirmation("a/b", model=" "), "model is missing"),
        (Confirmation("jack", model="Tern 13"), "entry/cause"),
        (Confirmation("No-Light/jack", model="Tern 13"), "entry/cause"),
        (Confirmation("a/b/c", model="Tern 13"), "entry/cause"),
        (Confirmation("a/b", model="Tern 13", minutes=-1), "minutes"),
        (Confirmation("a/b", model="Tern 13", minutes=float("nan")), "minutes"),
        (Confirmation("a/b", model="Tern 13", minutes=float("inf")), "minutes"),
        (Confirmation("a/b", model="Tern 13", closed_at="yesterday"), "not a time"),
        (
            Confirmation("a/b", model="Tern 13", closed_at="2026-11-24T10:00:00"),
            "not a time in UTC",
        ),
        (Confirmation("a/b", model="T" * 201), "shorten it to 200"),
        (
            Confirmation("a/b", model="Tern 13", words="w" * 501),
            "501 characters are too many; shorten it to 500",
        ),
        (
            Confirmation("a/b", model="Tern 13", note="n" * 20_001),
            "shorten it to 20000",
        ),
        (
            Confirmation("a/b", model="Tern 13", outcomes=(Finding("", "dark"),)),
            "test is missing",
        ),
        (
            Confirmation(
                "a/b", model="Tern 13", outcomes=(Finding("a/b", "dark"),) * 201
            ),
            "201 outcomes",
        ),
    ],
)
def test_what_does_not_fit_is_refused_in_a_sentence(
    history: History, given: Confirmation, problem: str
) -> None:
    with pytest.raises(Refusal, match=problem):
        history.close_job(given)
    assert history.tip().count == 0


def test_texts_at_the_limit_are_taken(history: History) -> None:
    history.close_job(
        Confirmation("a/b", model="T" * 200, words="w" * 500, note="n" * 20_000)
    )
    assert history.tip().count == 1


def test_everything_wrong_with_a_job_is_said_at_once(history: History) -> None:
    with pytest.raises(NotAccepted, match=r"model is missing.*entry/cause.*minutes"):
        history.close_job(Confirmation("jack", minutes=-3))

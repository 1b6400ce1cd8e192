"""Trouble: where an error arose is told without what anybody typed."""

from __future__ import annotations

from kb.base.trouble import NotThere, Refusal, Trouble, where


def lost() -> None:
    raise KeyError("what somebody typed")


def wrapped() -> None:
    try:
        lost()
    except KeyError as error:
        raise ValueError("typed too") from error


def test_the_place_is_told_innermost_first_with_its_cause_and_without_its_words() -> (
    None
):
    try:
        wrapped()
    except ValueError as error:
        told = where(error)

    first, because = told.split("; because of ")
    assert first.startswith("ValueError in test_trouble.py:")
    assert " wrapped < test_trouble.py:" in first
    assert because.startswith("KeyError in test_trouble.py:")
    assert "typed" not in told


def test_every_refusal_is_a_trouble_and_no_fault_of_python_is() -> None:
    assert issubclass(NotThere, Refusal)
    assert issubclass(Refusal, Trouble)
    assert not issubclass(Trouble, (LookupError, ValueError, OSError))


def test_a_trouble_says_its_sentence_and_one_without_says_nothing() -> None:
    assert (
        Refusal("give another name").sentence,
        Refusal().sentence,
        Refusal(7).sentence,
    ) == (
        "give another name",
        "",
        "7",
    )

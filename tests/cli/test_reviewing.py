"""The commands for reviewing: an empty review says what to ask for."""

from __future__ import annotations

from collections.abc import Callable

from click.testing import Result

Run = Callable[..., Result]

PACK = "battery-not-detected/pack"


def test_an_empty_review_says_what_to_ask_for(run: Run) -> None:
    assert "confirm a fix at the bench" in run("review", status=1).stderr

    run("confirm", PACK, "--model", "Tern 13")

    told = run("review", "--model", "Skua 14", "--until", "2020-01-01", status=1).stderr
    assert told == (
        "no closed jobs on Skua 14 in these days; choose other days, or a model that was here, such as Tern 13\n"
    )

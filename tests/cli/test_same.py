"""The command for models that are the same: told before, said, listed and taken back."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from kb.bench.front import Bench
from kb.history import kinds
from kb.model import Confirmation

Run = Callable[..., Result]

PACK = "battery-not-detected/pack"


@pytest.fixture(autouse=True)
def _doubled(stocked_folder: Path) -> None:
    """A job on a Tern 13, and one and a machine on a Tern13."""
    bench = Bench(stocked_folder)
    for model in ("Tern 13", "Tern13"):
        bench.history().close_job(Confirmation(PACK, model))
    bench.machines.write(kinds.UNIT_IN, {"tag": "P7-1", "model": "Tern13"})
    bench.close()


def test_two_names_are_one_after_a_dry_run_and_two_again(run: Run) -> None:
    assert (
        run("same").stdout
        == 'written two ways: Tern 13 and Tern13; benchlore same "Tern13" "Tern 13"\n'
    )
    moved = "1 closed job, 0 open jobs and 1 machine"
    dry = run("same", "tern13", "tern 13", "--dry-run").stdout
    assert dry == f"Tern13 would be counted as Tern 13: {moved}; nothing was saved\n"
    assert "Tern13" in run("review", "--model", "Tern13").stdout

    said = run("same", "tern13", "tern 13").stdout

    assert said.splitlines() == [
        f"Tern13 is counted as Tern 13 from now on: {moved}",
        'if they are two models after all: benchlore same "Tern13" --two',
    ]
    assert run("same").stdout == "Tern13 is counted as Tern 13\n"
    assert (
        json.loads(run("review", "--model", "Tern13", "--json").stdout)["model"]
        == "Tern 13"
    )
    assert "all is well" in run("verify").stdout
    assert run("same", "Tern13", "Tern 13", status=1).stderr.startswith(
        "Error: Tern13 is already the same as Tern 13"
    )
    assert (
        run("same", "TERN13", "--two").stdout
        == "Tern13 and Tern 13 are two models again\n"
    )
    assert (
        json.loads(run("review", "--model", "Tern13", "--json").stdout)["model"]
        == "Tern13"
    )
    assert run("same", "Tern13", "--two", status=2).stderr.startswith(
        "Error: Tern13 is not counted as another model"
    )


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("Tern13",), "give the name that is kept too"),
        (("--two",), "name the one model that is meant"),
        (("Tern13", "Tern 13", "--two"), "name the one model that is meant"),
        (("Tern13", "--two", "--dry-run"), "--dry-run goes with two names"),
        (
            ("Tern13", "Tern", "13"),
            'put it in quotes, as in benchlore same "Tern13" "Tern 13"',
        ),
    ],
)
def test_a_slip_is_told_and_saves_nothing(
    run: Run, given: tuple[str, ...], told: str
) -> None:
    assert told in run("same", *given, status=2).stderr
    assert json.loads(run("same", "--json").stdout)["same"] == []

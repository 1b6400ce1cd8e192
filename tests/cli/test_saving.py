"""The commands for saving: a cause renamed meanwhile, a fault while saving, and output that is lost after it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from helpers import unwritten
from helpers.unwritten import (
    CAUSE,
    LOST,
    MODEL,
    WAYS,
    Told,
    Way,
    all_that_is_written,
    each_way,
    jobs,
)

from kb.bench.front import Bench
from kb.bench.jobs import JobDesk
from kb.cli.group import FAULT
from kb.history import kinds

Run = Callable[..., Result]


@pytest.fixture
def served(stocked: Bench) -> Bench:
    """The shop of the command line, with a machine for which a donor's battery was taken."""
    for tag in ("P7-01", "P7-03"):
        stocked.machines.write(kinds.UNIT_IN, {"tag": tag, "model": "Tern 13"})
    stocked.machines.give_up("P7-03", "board gone")
    stocked.parts.take("P7-03", "battery", "P7-01")
    return stocked


def test_a_cause_renamed_while_it_is_being_confirmed_is_saved_and_told_by_its_old_name(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    # renamed right after it was looked up
    monkeypatch.setattr(JobDesk, "_check_cause", lambda self, cause: None)

    said = run("confirm", "battery-not-detected/old-name", "--model", "Tern 13").stdout

    assert "saved as job" in said
    assert "no entry here lists battery-not-detected/old-name" in said


def test_a_fault_while_saving_leaves_the_history_as_it_was(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    run("confirm", "battery-not-detected/contact", "--model", "Tern 13")
    before = (tmp_path / "shop" / "history.db").read_bytes()

    def stumbles(*_: object, **__: object) -> None:
        raise KeyError("close")

    monkeypatch.setattr("kb.history.fields.to_json", stumbles)
    run("confirm", "battery-not-detected/pack", "--model", "Tern 13", status=FAULT)

    assert (tmp_path / "shop" / "history.db").read_bytes() == before


def test_a_machine_tells_its_model_and_the_part_that_came_for_it(
    run: Run, served: Bench
) -> None:
    saved = run(
        "confirm",
        "battery-not-detected/pack",
        "--untested",
        "--unit",
        "P7-01",
        "--json",
    )

    assert saved.stderr.startswith(
        'the battery from P7-03 that came for P7-01 counts as fitted; --part "" if not'
    )
    job = served.jobs.job(json.loads(saved.stdout)["job"]).closed
    assert job
    assert (job.model, job.part, job.donor) == ("Tern 13", "battery", "P7-03")
    assert (
        "--model is missing"
        in run(
            "confirm", "battery-not-detected/pack", "--unit", "P9-99", status=2
        ).stderr
    )


def test_no_part_is_filled_in_where_one_is_given_or_none_was_fitted(
    run: Run, served: Bench
) -> None:
    saved = run(
        "confirm",
        "battery-not-detected/pack",
        "--untested",
        "--unit",
        "P7-01",
        "--part",
        "",
        "--json",
    )

    assert "counts as fitted" not in saved.stderr
    job = served.jobs.job(json.loads(saved.stdout)["job"]).closed
    assert job
    assert (job.part, job.donor) == ("", "")


@each_way
def test_what_is_confirmed_is_saved_once_and_nobody_is_told_to_save_it_again(
    place: Path, way: Way
) -> None:
    with way() as out:
        told = unwritten.run(place, ["confirm", CAUSE, *MODEL], out)

    _, saved = jobs(place)
    assert told == Told(
        LOST,
        f"saved as job {saved}: that stands; only its output could not be written ({WAYS[way]})\n",
    )


def test_output_that_is_written_is_no_matter(place: Path) -> None:
    with all_that_is_written() as out:
        assert unwritten.run(place, ["confirm", CAUSE, *MODEL], out) == Told(0, "")


def test_a_misread_tag_makes_no_second_machine(run: Callable[..., Result]) -> None:
    run("intake", "-", "--lot", "P7", given="tag,model\nP7-010,Tern 13\n")
    cause = "battery-not-detected/pack"

    told = run(
        "confirm", cause, "--model", "Tern 13", "--unit", "P7-01O", status=2
    ).stderr

    assert "did you mean `P7-010`?" in told
    assert run("unit", "P7-01O", status=2).stdout == ""

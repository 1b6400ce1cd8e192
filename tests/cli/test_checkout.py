"""The command for check-outs: its order and reasons, what it writes, its stable JSON, and sentences for wrong use."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import Result

Run = Callable[..., Result]
TAG = "P7-012"


@pytest.fixture
def machine(run: Run) -> Run:
    """A machine that one job names."""
    run(
        "confirm",
        "battery-not-detected/light-board",
        "--model",
        "Tern 13",
        "--unit",
        TAG,
        "--by",
        "AW",
        "--untested",
    )
    return run


def told(run: Run, *arguments: str) -> dict[str, Any]:
    found = json.loads(run("checkout", TAG, *arguments, "--json").stdout)
    assert isinstance(found, dict)
    return found


def test_the_order_is_printed_with_a_reason_for_each_line(machine: Run) -> None:
    lines = machine("checkout", TAG).stdout.splitlines()

    assert lines[0] == "P7-012 · Tern 13: 0 of 34 lines settled"
    assert lines[1].startswith("About ")
    assert "less than in the list's own order" in lines[1]
    assert lines[2].startswith("  1  pack-flat (1 min): look along")
    assert lines[3] == "     before everything else, whatever the figures say"
    assert any("by the list; found after closing up it costs" in line for line in lines)


def test_the_keys_of_the_json_are_stable(machine: Run) -> None:
    found = told(machine)

    assert list(found) == [
        "unit",
        "model",
        "ready",
        "kept_here_by",
        "signed",
        "next",
        "expected_minutes",
        "list_minutes",
        "order",
        "waits",
        "lines",
        "open_points",
        "job",
        "warnings",
        "version",
    ]
    assert list(found["order"][0]) == [
        "line",
        "text",
        "minutes",
        "wait_minutes",
        "fails",
        "bad_here",
        "seen_here",
        "bad_elsewhere",
        "seen_elsewhere",
        "late_minutes",
        "why",
    ]
    assert list(found["lines"][0]) == [
        "line",
        "state",
        "at",
        "by",
        "why",
        "value",
        "job",
    ]
    assert (found["unit"], found["next"], found["ready"], found["job"]) == (
        TAG,
        "pack-flat",
        False,
        None,
    )
    assert found["expected_minutes"] < found["list_minutes"]


def test_what_is_seen_is_written_down(machine: Run) -> None:
    machine(
        "checkout", TAG, "--good", "pack-flat", "--good", "locks-absent", "--by", "JT"
    )
    machine("checkout", TAG, "--good", "wiped", "--value", "sanitize, 100 %")
    machine("checkout", TAG, "--not-there", "card-reader")
    machine("checkout", TAG, "--waive", "camera", "--why", "none wanted")

    found = told(machine, "--bad", "every-key", "--note", "row of keys dead")

    states = {line["line"]: line for line in found["lines"]}
    assert states["pack-flat"]["state"] == "good"
    assert states["locks-absent"]["by"] == "JT"
    assert states["wiped"]["value"] == "sanitize, 100 %"
    assert states["card-reader"]["state"] == "not there"
    assert (states["camera"]["state"], states["camera"]["why"]) == (
        "waived",
        "none wanted",
    )
    assert (states["every-key"]["state"], states["every-key"]["job"]) == (
        "failed",
        found["job"],
    )
    assert found["open_points"] == [
        "camera waived (none wanted)",
        "card-reader not there",
    ]
    assert (
        "every-key failed: job" in machine("checkout", TAG, "--bad", "every-key").stdout
    )
    assert {
        line["line"]: line["state"]
        for line in told(machine, "--back", "camera")["lines"]
    }["camera"] == "open"


def test_the_repairer_is_refused_and_another_signs(machine: Run) -> None:
    while line := told(machine)["next"]:
        record = ("--value", "sanitize, 100 %") if line == "wiped" else ()
        machine("checkout", TAG, "--good", line, *record)

    refused = machine("checkout", TAG, "--sign", "AW", status=1).stderr
    signed = told(machine, "--sign", "JT")

    assert (
        "AW repaired P7-012, and whoever repaired does not sign; have somebody else"
        in refused
    )
    assert signed["signed"]["by"] == "JT"
    assert "Signed by JT" in machine("checkout", TAG).stdout


@pytest.mark.parametrize(
    ("arguments", "status", "sentence"),
    [
        (("--sign", "JT"), 1, "P7-012 is not ready to be signed: 34 lines open"),
        (("--good", "install"), 1, "install comes after wiped; show that first"),
        (("--waive", "wiped", "--why", "no time"), 1, "wiped is never waived"),
        (("--waive", "camera"), 2, "--waive needs a reason; give it with --why"),
        (("--good", "every-kye"), 2, "no line `every-kye`; did you mean `every-key`?"),
        (("--good", "pad", "--good", "every-kye"), 2, "did you mean `every-key`?"),
        (
            ("--good", "pad", "--bad", "camera"),
            2,
            "give one of --good, --bad, --not-there, --waive, --back and --sign",
        ),
        (("--note", "dead"), 2, "--note goes with --bad; give both"),
        (("--why", "so"), 2, "--why goes with --waive or --not-there; give both"),
        (
            ("--good", "pad", "--good", "camera", "--value", "x"),
            2,
            "give one --good with it",
        ),
        (("--back", "pad"), 1, "pad showed nothing yet; there is nothing to take back"),
    ],
)
def test_what_does_not_fit_is_told_in_a_sentence_and_writes_nothing(
    machine: Run, arguments: tuple[str, ...], status: int, sentence: str
) -> None:
    before = told(machine)["lines"]

    assert sentence in machine("checkout", TAG, *arguments, status=status).stderr

    assert told(machine)["lines"] == before


def test_a_tag_that_nobody_knows_is_told(machine: Run) -> None:
    assert "no record names a machine P9" in machine("checkout", "P9", status=2).stderr


def test_the_job_that_a_failed_line_opened_is_ended_by_its_id_and_named_while_it_is_open(
    machine: Run,
) -> None:
    opened = json.loads(
        machine(
            "checkout", TAG, "--bad", "every-key", "--note", "row 3 dead", "--json"
        ).stdout
    )
    confirm = (
        "confirm",
        "row-of-keys-dead/ribbon-contact",
        "--model",
        "Tern 13",
        "--again",
    )
    assert (
        f"what ends it is confirmed with --job {opened['job']}"
        in machine(*confirm, "--unit", TAG).stderr
    )
    wrong = machine(
        *confirm, "--unit", "P9-001", "--job", opened["job"], status=2
    ).stderr
    assert f"is of {TAG} and not of P9-001" in wrong

    ended = machine(*confirm, "--job", opened["job"][:6])

    assert "still open" not in ended.stderr
    unit = json.loads(machine("unit", TAG, "--json").stdout)
    assert unit["open_jobs"] == []
    assert {job["job"]: job["words"] for job in unit["jobs"]}[
        opened["job"]
    ] == "row 3 dead"
    assert (
        "is closed already"
        in machine(*confirm, "--job", opened["job"], status=2).stderr
    )


def test_a_record_that_is_missing_is_asked_for_before_anything_is_written(
    machine: Run,
) -> None:
    told_so = machine(
        "checkout", TAG, "--good", "pack-flat", "--good", "wiped", status=2
    )

    assert "--good wiped --value TEXT" in told_so.stderr
    lines = {one["line"]: one["state"] for one in told(machine)["lines"]}
    assert (lines["pack-flat"], lines["wiped"]) == ("open", "open")

"""Commands that keep: an export leaves what is there alone, a backup is told whole, and verify says what is sound."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from click.testing import Result

Run = Callable[..., Result]
CAUSE = "battery-not-detected/contact"


def test_an_export_goes_to_a_new_file_and_replaces_none_unasked(run: Run, tmp_path: Path) -> None:
    run("confirm", CAUSE, "--model", "Tern 13")
    file = tmp_path / "jobs.jsonl"
    file.write_text("mine")

    assert "exists already" in run("export", str(file), status=1).stderr
    assert file.read_text() == "mine"

    assert run("export", str(file), "--replace").stderr == f"{file}: 1 job\n"
    (line,) = file.read_text("utf-8").splitlines()
    assert json.loads(line)["cause"] == CAUSE


def test_an_export_says_how_much_was_written_and_to_standard_output_nothing_but_the_lines(
    run: Run, tmp_path: Path
) -> None:
    run("intake", "-", "--lot", "P7", given="tag,model\nP7-001,Tern 13\n")
    run("confirm", CAUSE, "--model", "Tern 13", "--part", "fan", "--donor", "P7-001")
    assert run("export", "jobs.jsonl").stderr == "jobs.jsonl: 1 job, 1 line on fits and models\n"
    all_of_it = run("export", "all.jsonl", "--everything")

    lines = (tmp_path / "all.jsonl").read_text().splitlines()
    assert all_of_it.stderr == f"all.jsonl: {len(lines)} records\n"
    assert len(lines) > 1
    assert all_of_it.stdout == ""
    assert run("export").stderr == ""


def test_a_backup_that_was_made_is_put_back(run: Run, tmp_path: Path) -> None:
    run("confirm", CAUSE, "--model", "Tern 13")
    told = json.loads(run("backup", "kept.zip", "--json").stdout)

    back = json.loads(run("--shop", str(tmp_path / "other"), "restore", "kept.zip", "--json").stdout)

    assert told["records"] == back["records"] == 1
    assert "1 record, chain whole" in run("--shop", str(tmp_path / "other"), "verify").stdout


def test_verify_of_a_new_shop_ends_well_and_says_that_nothing_is_kept_yet(run: Run) -> None:
    assert "none yet: the first job makes it" in run("verify").stdout

"""The commands for saving: what happens to a cause renamed meanwhile, and to a fault while saving."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from kb.bench.jobs import JobDesk
from kb.cli.group import FAULT

Run = Callable[..., Result]


def test_a_cause_renamed_while_it_is_being_confirmed_is_saved_and_told_by_its_old_name(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(JobDesk, "_check_cause", lambda self, cause: None)  # renamed right after it was looked up

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

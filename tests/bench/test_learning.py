"""The desk for learning from other shops: newer counts replace older ones, and a backup carries them."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.pooling import file_of

from kb.base.trouble import Refusal
from kb.bench.front import Bench
from kb.history.copies.backup import backup, restore
from kb.index.elsewhere import CountsTrouble
from kb.model import Confirmation

NOW = datetime(2026, 12, 1, tzinfo=UTC)


def test_what_comes_in_is_told_with_what_the_library_does_not_have(
    small: Bench,
) -> None:
    known = small.learning.learn(file_of("no-battery"))
    assert (known.made, known.shops, known.jobs, known.sheets, known.of_sheets) == (
        "2026-11-30",
        31,
        217,
        1,
        4,
    )
    assert (known.unknown_sheets, known.unknown_causes, known.believed) == (0, 0, True)

    given = json.loads(file_of("no-battery"))
    given["entries"]["of-another-library"] = given["entries"]["no-battery"]
    given["entries"]["keys-dead"] = given["entries"].pop("no-battery")
    told = small.learning.learn(json.dumps(given).encode())
    assert (told.sheets, told.unknown_sheets, told.unknown_causes) == (1, 1, 2)
    assert small.learning.standing() == told


def test_newer_counts_replace_older_ones_and_not_the_other_way_round(
    small: Bench,
) -> None:
    small.learning.learn(file_of("no-battery", "2026-11-30"))
    small.learning.learn(file_of("keys-dead", "2026-12-01"))
    kept = small.learning.file.read_bytes()

    with pytest.raises(
        Refusal,
        match=r"of 2026-11-30, those kept here of 2026-12-01; .* learn --forget",
    ):
        small.learning.learn(file_of("no-battery", "2026-11-30"))
    with pytest.raises(CountsTrouble):
        small.learning.learn(b"{}")
    assert small.learning.file.read_bytes() == kept

    assert small.learning.forget()
    assert not small.learning.forget()
    assert small.learning.standing() is None
    small.learning.learn(file_of("no-battery", "2026-11-30"))


def test_a_file_that_was_damaged_is_told_and_mended_by_new_counts(small: Bench) -> None:
    small.learning.learn(file_of("no-battery"))
    small.learning.file.write_bytes(b"torn")

    with pytest.raises(CountsTrouble, match="line 1"):
        small.learning.standing()
    assert small.learning.learn(file_of("no-battery")).shops == 31


def test_a_backup_carries_what_was_learned(small: Bench, tmp_path: Path) -> None:
    small.jobs.confirm(Confirmation("no-battery/plug", "Tern 13"))
    small.learning.learn(file_of("no-battery"))
    backup(small.folder, tmp_path / "kept.zip", NOW)
    small.close()
    shutil.rmtree(small.folder)

    restore(tmp_path / "kept.zip", small.folder, NOW)

    found = small.learning.standing()
    assert found is not None
    assert found.jobs == 217

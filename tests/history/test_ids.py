"""Ids of jobs: short, without look-alikes, never twice."""

from __future__ import annotations

from pathlib import Path

from helpers.histories import START

from kb.history import History
from kb.history.ids import ALPHABET, random_id


def test_two_jobs_never_share_an_id(tmp_path: Path) -> None:
    ids = iter(["shop", "one", "two", "two", "one", "three", "two", "four"])
    with History.open(
        tmp_path / "history.db", lambda: START, lambda: next(ids)
    ) as history:
        jobs = [history.open_job("Tern 13"), history.open_job("Tern 13")]
        records = [record.id for record in history.records_since()]
    assert (jobs, records) == (["one", "three"], ["two", "four"])


def test_ids_are_twelve_characters_without_look_alikes() -> None:
    ids = {random_id() for _ in range(1000)}
    assert len(ids) == 1000
    assert {len(one) for one in ids} == {12}
    assert set("".join(ids)) <= set(ALPHABET)
    assert not set("ilou") & set(ALPHABET)

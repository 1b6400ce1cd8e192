"""The desk for the past: a file is judged before it is taken in, and all of it can be taken back as one."""

from __future__ import annotations

import pytest

from kb.base.trouble import Refusal
from kb.bench.front import Bench
from kb.bench.past import PastAsked

OLD = b"""model,day,words,cause,minutes
Tern 13,2024-04-03,no battery,no-battery/pack,12
Tern 13,2024-04-04,dead keys,keys-dead/ribbon,8
Tern 13,yesterday,dead keys,keys-dead/ribbon,8
"""


def test_a_dry_run_judges_every_line_and_saves_none(bench: Bench) -> None:
    past = bench.past.read(OLD, PastAsked(new_models=True), "old.csv")

    assert (past.report.added, past.imported) == (2, "")
    assert [remark.line for remark in past.report.remarks] == [4]
    assert list(bench.history().closed_jobs()) == []


def test_what_came_in_is_taken_back_as_one_and_not_twice(bench: Bench) -> None:
    past = bench.past.read(OLD, PastAsked(new_models=True), "old.csv", dry=False)
    imported = bench.past.find_import(past.imported[:8].upper())
    assert imported
    assert len(bench.past.jobs_of(imported)) == 2

    assert bench.past.take_back(imported, "the wrong file") == 2

    assert bench.past.jobs_of(imported) == ()
    with pytest.raises(Refusal, match="are retracted already"):
        bench.past.take_back(imported, "the wrong file")
    assert bench.past.find_import("zzzz") is None

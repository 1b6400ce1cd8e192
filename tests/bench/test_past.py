"""The desk for the past: a file is judged before it is taken in, and all of it can be taken back as one."""

from __future__ import annotations

import pytest
from helpers.floors import PLUG

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


def test_what_was_written_down_outweighs_the_words_alone_unless_it_names_a_cause_that_they_hardly_fit(
    stocked: Bench,
) -> None:
    rows = (
        "battery not detected;charge indicator board",
        "no keys work on the keyboard;keyboard replaced",
        "charging port loose;port resoldered",
    )
    data = "\n".join(
        ("Day;Model;Words;Cause", *(f"24.11.24;Tern 13;{row}" for row in rows))
    ).encode()

    past = stocked.past.read(data, PastAsked(), "old.csv")

    board, keys, port = past.proposals
    assert (board.cause, board.probability > 0.6) == (
        "battery-not-detected/light-board",
        True,
    )
    assert keys.cause == "keyboard-dead/keyboard"
    assert not (port.cause.startswith("usb") and port.probability > 0.3)


def test_one_model_spelt_in_several_ways_in_an_old_list_is_one_and_each_problem_has_its_remedy_beside_it(
    bench: Bench,
) -> None:
    head = "Day;Model;Words;Cause;Minutes\n"
    good = "".join(
        f"24.11.24;{model};dead;{PLUG};1 h\n"
        for model in ("tern13", "Tern 13", "TERN-13", "Tern 13")
    )
    bad = "soon;Tern 13;dead;no-battery/plug;ages\n24.11.24;Tern 13;;;\n"

    past = bench.past.read(
        (head + good + bad).encode(), PastAsked(), "old.csv", dry=False
    )

    assert {
        (line.job.model, line.job.minutes, line.job.closed_at[:10])
        for line in past.jobs
    } == {("Tern 13", 60.0, "2024-11-24")}
    both, neither = past.report.remarks
    assert (
        "`soon` is no day (write it as in 2024-11-24); minutes cannot be ages"
        in both.problem
    )
    assert neither.problem == "neither words nor a cause are written"

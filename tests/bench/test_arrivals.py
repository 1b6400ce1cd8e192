"""The desk for arrivals: each machine comes in once and under its own tag."""

from __future__ import annotations

from helpers.arriving import PLANTED, furnished, planted

from kb.bench.front import Bench
from kb.history import kinds


def test_the_good_lines_come_in_and_the_same_list_again_changes_nothing(bench: Bench) -> None:
    furnished(bench)
    bench.arrivals.take_in(planted(), "P7", "pallet.csv")
    count = bench.history().tip().count
    assert count == 4 + 28

    again = bench.arrivals.take_in(planted(), "P7", "pallet.csv")

    assert bench.history().tip().count == count
    assert (len(again.arriving), len(again.known)) == (0, 28)
    assert [remark.line for remark in again.remarks] == sorted(PLANTED)


def test_machines_without_a_tag_get_the_next_free_one_and_do_not_come_twice(bench: Bench) -> None:
    bench.machines.write(kinds.UNIT_IN, {"tag": "P7-0041", "model": "Tern 13", "lot": "P7"})
    text = "model;complaint\nTern 13;dead\nTern 13;dead\nTern 13;hinge loose\n"

    first = bench.arrivals.take_in(text, "P7")
    again = bench.arrivals.take_in(text, "P7")

    assert [one.tag for one in first.arriving] == ["P7-0042", "P7-0043", "P7-0044"]
    assert (len(again.arriving), len(again.known)) == (0, 3)


def test_a_machine_that_only_a_job_has_named_comes_in_under_its_tag(bench: Bench) -> None:
    bench.jobs.begin("no battery", "Tern 13", "P7-001")

    pallet = bench.arrivals.take_in("tag,model,place\nP7-001,Tern 13,A1\n", "P7")

    assert pallet.remarks == ()
    found = bench.machines.unit("P7-001")
    assert (found.place, len(found.open_jobs)) == ("A1", 1)

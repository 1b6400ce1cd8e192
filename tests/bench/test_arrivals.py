"""The desk for arrivals: each machine comes in once and under its own tag."""

from __future__ import annotations

from helpers.arriving import PLANTED, furnished, planted

from kb.bench.front import Bench
from kb.history import kinds


def test_the_good_lines_come_in_and_the_same_list_again_changes_nothing(
    bench: Bench,
) -> None:
    furnished(bench)
    bench.arrivals.take_in(planted(), "P7", "pallet.csv")
    count = bench.history().tip().count
    assert count == 4 + 28

    again = bench.arrivals.take_in(planted(), "P7", "pallet.csv")

    assert bench.history().tip().count == count
    assert (len(again.arriving), len(again.known)) == (0, 28)
    assert [remark.line for remark in again.remarks] == sorted(PLANTED)


def test_machines_without_a_tag_get_the_next_free_one_and_do_not_come_twice(
    bench: Bench,
) -> None:
    bench.machines.write(
        kinds.UNIT_IN, {"tag": "P7-0041", "model": "Tern 13", "lot": "P7"}
    )
    text = "model;complaint\nTern 13;dead\nTern 13;dead\nTern 13;hinge loose\n"

    first = bench.arrivals.take_in(text, "P7")
    again = bench.arrivals.take_in(text, "P7")

    assert [one.tag for one in first.arriving] == ["P7-0042", "P7-0043", "P7-0044"]
    assert (len(again.arriving), len(again.known)) == (0, 3)


def test_a_machine_that_only_a_job_has_named_comes_in_under_its_tag(
    bench: Bench,
) -> None:
    bench.jobs.begin("no battery", "Tern 13", "P7-001")

    pallet = bench.arrivals.take_in("tag,model,place\nP7-001,Tern 13,A1\n", "P7")

    assert pallet.remarks == ()
    found = bench.machines.unit("P7-001")
    assert (found.place, len(found.open_jobs)) == ("A1", 1)


def test_one_model_spelt_in_several_ways_in_one_list_is_one_model(bench: Bench) -> None:
    text = (
        "tag,model\nH-1,skua14\nH-2,Skua 14\nH-3,Skua-14\nH-4,Skua 14\nH-5,Petrel 15\n"
    )

    pallet = bench.arrivals.take_in(text, "H")

    assert dict(pallet.new_models) == {"Skua 14": 4, "Petrel 15": 1}
    assert {one.line.model for one in bench.machines.units("H")} == {
        "Skua 14",
        "Petrel 15",
    }


def test_a_list_that_was_mended_tells_more_of_the_machines_that_are_in_and_doubles_none(
    bench: Bench,
) -> None:
    bench.arrivals.take_in(
        "tag,model,complaint,cond\nH-1,Skua 14,dead,scratched\nH-2,Skua 14,dead,\n,,,\n",
        "H",
    )
    mended = "tag,model,complaint,look,place\nH-1,skua14,dead,scratched,A1\nH-2,Skua 14,dead,,\n"

    pallet = bench.arrivals.take_in(mended, "H")

    assert pallet.remarks == ()
    assert ([one.tag for one in pallet.further], [one.tag for one in pallet.known]) == (
        ["H-1"],
        ["H-2"],
    )
    found = bench.machines.unit("H-1")
    assert (found.look, found.place, found.model) == ("scratched", "A1", "Skua 14")
    assert len(bench.machines.units("H")) == 2
    assert bench.arrivals.take_in(mended, "H").further == ()


def test_a_line_that_contradicts_the_machine_of_its_tag_is_refused_and_one_that_left_is_said_to_have_left(
    bench: Bench,
) -> None:
    bench.arrivals.take_in(
        "tag,model,complaint\nH-1,Skua 14,dead\nH-2,Skua 14,dead\n", "H"
    )
    bench.machines.let_go("H-2", "sold")

    pallet = bench.arrivals.take_in(
        "tag,model,complaint\nH-1,Skua 14,no sound\nH-2,Skua 14,dead again\n", "H"
    )

    problems = [(one.problem, one.instead) for one in pallet.remarks]
    assert "other things are told of it" in problems[0][0]
    assert "leave the line out" in problems[0][1]
    assert "left the shop before" in problems[1][0]
    assert "benchlore unit H-2 --back" in problems[1][1]

"""The state of a machine on the floor, by its records alone."""

from __future__ import annotations

from helpers.tagged import PLUG, TAG, came_in, state

from kb.bench.front import Bench
from kb.history import kinds
from kb.machines.units import NextStep
from kb.model import Confirmation


def test_a_machine_goes_through_its_states_by_its_records_alone(bench: Bench) -> None:
    came_in(bench)
    assert state(bench) == ("waiting", "first look")
    bench.machines.correct(TAG, {"words": "no battery"})
    assert state(bench) == ("waiting", "find the fault")
    job = bench.jobs.begin("no battery", "Tern 13", TAG)
    assert state(bench) == ("on the bench", "go on with its job")
    bench.machines.want(TAG, "battery", job)
    assert state(bench) == ("waiting for a part", "get the part")
    bench.jobs.confirm(Confirmation(PLUG, job=job, part="battery", by="AW"))
    assert state(bench) == ("to be checked", "check-out")
    bench.machines.write(kinds.SIGNED, {"tag": TAG, "by": "JT"})
    assert state(bench) == ("ready", "hand over")
    sold = bench.machines.let_go(TAG, "sold", 12000)
    assert state(bench) == ("gone", "nothing")
    bench.machines.strike(sold.id, "wrong machine")
    assert state(bench) == ("ready", "hand over")
    bench.machines.give_up(TAG, "needed for P7-003")
    assert state(bench) == ("donor", "take parts")


def test_first_looks_leave_a_machine_with_a_complaint_waiting(bench: Bench) -> None:
    came_in(bench, words="no battery")
    for line in bench.machines.arrival_lines():
        bench.machines.write(
            kinds.FUNCTION, {"tag": TAG, "line": line.name, "shown": "good"}
        )
    assert state(bench) == ("waiting", "find the fault")

    bench.machines.write(
        kinds.FUNCTION, {"tag": TAG, "line": "every-key", "shown": "good"}
    )

    assert state(bench) == ("to be checked", "check-out")


def test_a_machine_without_complaint_that_was_looked_at_goes_to_the_check_out(
    bench: Bench,
) -> None:
    came_in(bench)
    bench.machines.write(
        kinds.FUNCTION, {"tag": TAG, "line": "pack-flat", "shown": "good"}
    )

    assert state(bench) == ("to be checked", "check-out")


def test_a_failed_line_is_what_comes_next(bench: Bench) -> None:
    came_in(bench)
    bench.machines.write(
        kinds.FUNCTION, {"tag": TAG, "line": "every-key", "shown": "bad"}
    )

    stands = bench.machines.machine(TAG).stands

    assert (stands.step, stands.todo) == (
        NextStep.DIAGNOSE,
        "Find what is behind the failed every-key.",
    )


def test_a_machine_whose_list_says_that_it_works_is_looked_at_like_one_without_a_complaint(
    bench: Bench,
) -> None:
    came_in(bench, words="Works fine!")
    assert state(bench) == ("waiting", "first look")
    assert bench.pile.view().unseen == (TAG,)
    assert bench.pile.view().outlooks == ()

    bench.machines.correct(TAG, {"words": "works fine, no sound"})

    assert state(bench) == ("waiting", "find the fault")
    assert bench.pile.view().unseen == ()

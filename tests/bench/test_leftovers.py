"""What is left in a donor: what nobody took, and for whom."""

from __future__ import annotations

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.bench.leftovers import parts_left


def test_a_part_that_was_taken_is_not_left_and_what_is_waited_for_stands_first(
    bench: Bench,
) -> None:
    for tag, model in (
        ("P7-001", "Tern 13"),
        ("P7-002", "Tern 13"),
        ("P7-003", "Skua 14"),
    ):
        bench.arrivals.arrive(
            Arrived(tag=tag, lot="P7", model=model, words="no battery")
        )
    bench.machines.give_up("P7-001", "lid broken")
    bench.machines.want("P7-002", "speaker set")
    bench.machines.want("P7-003", "fan")
    bench.parts.take("P7-001", "keyboard", "P7-002")

    left = parts_left(bench.parts, bench.machines.machine("p7-001"))

    assert left[0].part == "speaker set"
    assert left[0].waiting == ("P7-002",)
    fan = next(one for one in left if one.part == "fan")
    assert fan.waiting == (), "of another model, of which nobody knows that it fits"
    assert "keyboard" not in {one.part for one in left}
    assert all(0 < one.good <= 1 for one in left)
    battery = next(one for one in left if one.part == "battery")
    assert battery.good < fan.good, "what its complaint points to is doubted"

"""The way on through a check-out: what waits for a failed line, and why a line comes where it does."""

from __future__ import annotations

from dataclasses import replace

from helpers.looked import LINES, all_good, shown, stands, unit

from kb.history.units import Unit
from kb.machines.checkout.shares import Looks
from kb.machines.checkout.way import WORTH_TELLING, WayOn, counted_lines, way_on

COUNTED = counted_lines(LINES, {}, {}, {})


def way(of: Unit) -> WayOn:
    return way_on([*stands(of).values()], COUNTED)


def test_everything_that_is_left_is_on_the_way_once_and_takes_no_longer_than_as_listed() -> (
    None
):
    found = way(unit([]))

    assert sorted(one.line.name for one in found.todo) == sorted(
        line.name for line in LINES
    )
    assert found.expected_minutes <= found.listed_minutes
    assert all(one.why for one in found.todo)


def test_nothing_is_left_of_a_machine_on_which_every_line_is_good() -> None:
    assert way(all_good()) == WayOn()


def test_while_a_pinned_line_failed_everything_else_waits_for_it() -> None:
    pinned = next(line.name for line in LINES if line.first)
    found = way(unit([shown(pinned, "bad", 1)]))

    assert found.todo == ()
    assert {names for _, names in found.held} == {(pinned,)}
    assert len(found.held) == len(LINES) - 1


def test_what_comes_after_a_failed_line_waits_and_the_rest_goes_on() -> None:
    machine = all_good()
    left = {
        name: told
        for name, told in machine.lines.items()
        if name not in ("look", "pad")
    }
    found = way(
        replace(machine, lines={**left, "close-up": shown("close-up", "bad", 20)})
    )

    assert [one.line.name for one in found.todo] == ["pad"]
    assert [(standing.line.name, names) for standing, names in found.held] == [
        ("look", ("close-up",))
    ]


def test_counted_failures_move_the_share_of_a_line_and_never_of_work() -> None:
    counted = counted_lines(LINES, {"pad": Looks(seen=20, bad=20)}, {}, {})

    assert counted["pad"].fails > COUNTED["pad"].fails
    assert {counted[line.name].fails for line in LINES if line.work} == {0.0}


def test_each_line_says_why_it_comes_where_it_does() -> None:
    for one in way(unit([])).todo:
        if one.line.work:
            assert (
                "done here, about" in one.why or "nothing that comes later" in one.why
            )
        elif one.line.first:
            assert one.why == "before everything else, whatever the figures say"
        else:
            costs = f"found after closing up it costs {one.late_minutes:.0f} min more"
            assert (costs in one.why) == (one.late_minutes >= WORTH_TELLING)

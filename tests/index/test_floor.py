"""The index of the floor: a machine goes with its last record, and one record more costs what it concerns."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.bench.front import Bench
from kb.bench.machines import NoMachine
from kb.history import History, kinds
from kb.index import file
from kb.index.floor import FloorTable
from kb.model import Confirmation


def test_a_machine_whose_only_record_was_struck_is_gone_from_every_list(
    bench: Bench,
) -> None:
    wrong = bench.machines.write(
        kinds.UNIT_IN, {"tag": "P7-999", "model": "Tern 13", "lot": "P7"}
    )
    bench.machines.strike(wrong.id, "typed twice")

    assert bench.machines.units() == ()
    with pytest.raises(NoMachine):
        bench.machines.unit("P7-999")


def steps_to_take(jobs: int, place: Path) -> int:
    """How many steps SQLite does to take in one more record after so many jobs, each on a machine of its own."""
    connection = file.opened(":memory:")
    floor, steps = FloorTable(connection), 0

    def step() -> int:
        nonlocal steps
        steps += 1
        return 0

    with History.open(place / "history.db") as history, history.together():
        for number in range(jobs + 1):
            history.close_job(
                Confirmation("no-battery/plug", "Tern 13", unit=f"T-{number}")
            )
    with History.open(place / "history.db") as history:
        *earlier, last = history.records_since()
    for record in earlier:
        floor.take(record, (record.shop,))
    connection.set_progress_handler(step, 1)
    assert floor.take(last, (last.shop,)) == (f"t-{jobs}",)
    connection.close()
    return steps


def test_taking_in_a_record_is_no_search_through_all_that_came_before(
    tmp_path: Path,
) -> None:
    assert (
        steps_to_take(400, tmp_path / "many")
        <= steps_to_take(20, tmp_path / "few") + 20
    )

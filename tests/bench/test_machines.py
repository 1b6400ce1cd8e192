"""The desk for machines: looked up by tag however it is written, in states that follow from the records alone."""

from __future__ import annotations

import pytest
from helpers.tagged import TAG, came_in

from kb.bench.front import Bench
from kb.bench.machines import NoMachine


def test_a_tag_is_found_however_it_is_written(bench: Bench) -> None:
    came_in(bench)

    for written in ("P7-012", "p7-012", " p7 - 012 "):
        assert bench.machines.unit(written).tag == TAG
    with pytest.raises(NoMachine, match="no record names a machine P7-013"):
        bench.machines.unit("P7-013")
    with pytest.raises(NoMachine):
        bench.machines.unit(" ")


def test_what_is_written_of_a_machine_that_nobody_knows_is_refused(
    bench: Bench,
) -> None:
    with pytest.raises(NoMachine):
        bench.machines.note("P9-001", "lid scratched")
    assert bench.history().tip().count == 0

"""The index of the floor: a machine goes with its last record."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.bench.machines import NoMachine
from kb.history import kinds


def test_a_machine_whose_only_record_was_struck_is_gone_from_every_list(bench: Bench) -> None:
    wrong = bench.machines.write(kinds.UNIT_IN, {"tag": "P7-999", "model": "Tern 13", "lot": "P7"})
    bench.machines.strike(wrong.id, "typed twice")

    assert bench.machines.units() == ()
    with pytest.raises(NoMachine):
        bench.machines.unit("P7-999")

"""An answer holds what is believed and what to do: its shares sum to one, and each cause knows its own name."""

from __future__ import annotations

import math

from kb.bench.front import Bench
from kb.model import Confirmation


def test_an_answer_is_whole(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))

    answer = bench.asking.search("battery absent in setup", "Tern 13", limit=9)

    assert math.isclose(
        sum(entry.probability for entry in answer.entries) + answer.something_else,
        1,
        abs_tol=1e-9,
    )
    for entry in answer.entries:
        assert [f"{entry.entry}/{cause.slug}" for cause in entry.causes] == [
            cause.cause for cause in entry.causes
        ]
        assert all(cause.low <= cause.within <= cause.high for cause in entry.causes)

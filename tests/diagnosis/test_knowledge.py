"""What confirmed jobs teach of tests and causes."""

from __future__ import annotations

import pytest
from helpers.taught import APPEARS, PACK, PLUG, UNCHANGED, believed, odds

from kb.bench.front import Bench
from kb.model import Confirmation, Finding

# How far a test is trusted


@pytest.mark.parametrize(
    ("shown", "right", "wrong"),
    [
        ((UNCHANGED, UNCHANGED, UNCHANGED, APPEARS), 1, 3),
        ((APPEARS, APPEARS, APPEARS, UNCHANGED), 3, 1),
        ((), 0, 0),
    ],
)
def test_a_test_is_trusted_by_how_often_it_was_right_on_confirmed_jobs(
    bench: Bench, shown: tuple[Finding, ...], right: int, wrong: int
) -> None:
    """It was the plug each time, which makes the battery appear: 1 right, 3 wrong give (.95 · 20 + 1) / 24 = .8333."""
    for finding in shown:
        bench.jobs.confirm(Confirmation(PLUG, "Tern 13", outcomes=(finding,)))
    trust = (0.95 * 20 + right) / (20 + right + wrong)

    before, after = believed(bench), believed(bench, APPEARS)

    assert odds(after, PLUG, PACK) / odds(before, PLUG, PACK) == pytest.approx(
        trust / (1 - trust), rel=1e-9
    )


def test_what_was_shown_on_jobs_of_another_cause_teaches_that_cause(
    bench: Bench,
) -> None:
    """Of a pack the plug's test is right where nothing changes."""
    for _ in range(5):
        bench.jobs.confirm(Confirmation(PACK, "Tern 13", outcomes=(UNCHANGED,)))
    trust = (0.95 * 20 + 5) / 25

    before, after = believed(bench), believed(bench, APPEARS)

    assert odds(after, PLUG, PACK) / odds(before, PLUG, PACK) == pytest.approx(
        trust / (1 - trust), rel=1e-9
    )

"""What was shown on a job, and what of it still counts."""

from __future__ import annotations

import pytest
from helpers.taught import APPEARS, PACK, PLUG, RESEAT, believed, odds

from kb.bench.front import Bench
from kb.model import Confirmation, Finding


def test_an_outcome_that_the_entry_no_longer_has_teaches_nothing_and_shows_nothing(
    bench: Bench,
) -> None:
    gone = Finding(RESEAT, "it came back for a moment")
    bench.jobs.confirm(
        Confirmation(
            PLUG,
            "Tern 13",
            outcomes=(gone, Finding("no-battery/gone", "battery appears")),
        )
    )

    assert believed(bench, gone) == believed(bench)
    assert odds(believed(bench, APPEARS), PLUG, PACK) / odds(
        believed(bench), PLUG, PACK
    ) == pytest.approx(19)

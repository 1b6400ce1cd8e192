"""Confirming: a cause that no entry lists is refused with what there is, and what was not measured is named."""

from __future__ import annotations

import pytest

from kb.base.trouble import NotThere
from kb.bench.front import Bench
from kb.diagnosis import confirming
from kb.model import Confirmation, Finding


def test_a_cause_that_is_not_listed_is_refused_with_the_nearest(bench: Bench) -> None:
    with bench.shop.knowing() as knowledge:
        confirming.check_cause("no-battery/pack", knowledge)
        with pytest.raises(NotThere, match="did you mean `no-battery`"):
            confirming.check_cause("no-batery/pack", knowledge)
        with pytest.raises(NotThere, match="use one of no-battery/"):
            confirming.check_cause("no-battery/gone", knowledge)


def test_a_test_of_the_sheet_that_the_fix_waits_for_is_missing_until_it_showed_something(
    gated: Bench,
) -> None:
    with gated.shop.knowing() as knowledge:
        waiting = [
            (f"{slug}/{fix.causes[0]}", entry.tests)
            for slug in knowledge.index.slugs().values()
            if (entry := knowledge.entry(slug))
            for fix in entry.fixes
            if fix.after
        ]
        cause, tests = waiting[0]
        slug = cause.partition("/")[0]
        missing = confirming.missing_tests(cause, (), knowledge)
        shown = [
            Finding(f"{slug}/{test.slug}", test.outcomes[0].text) for test in tests
        ]

        assert missing
        assert confirming.missing_tests(cause, shown, knowledge) == ()
        assert confirming.missing_tests("gone-entry/gone", (), knowledge) == ()


def test_what_a_confirmation_changed_is_told_with_its_place_and_counts(
    bench: Bench,
) -> None:
    for _ in range(6):
        bench.jobs.confirm(Confirmation("no-battery/light-board", "Tern 13"))

    with bench.shop.knowing("Tern 13") as knowledge:
        told = confirming.effect("no-battery/light-board", knowledge)
        renamed = confirming.effect("no-battery/gone", knowledge)

    assert told == "this cause is now first on Tern 13: 6 of 6 here"
    assert renamed.startswith("no entry here lists no-battery/gone")

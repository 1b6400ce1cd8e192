"""Cures that leave their part in doubt: how likely it is after a good part has cured, and why it is no likelier."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from kb.base.worded import Worded, worded
from kb.diagnosis import causes
from kb.diagnosis.causes import Counts
from kb.diagnosis.knowledge import CERTAIN, OneEntry
from kb.model import Entry, Finding, Outcome, Test

#: A cause that is believed less than this after its part has cured is in doubt.
CURED = 0.85


def swapped(
    entry: Entry, test: Test, outcome: Outcome, parts: Collection[str]
) -> frozenset[str]:
    """The causes that an outcome points to and that are mended by a part which its test asks for.

    `parts` are those of the trade: what else a test asks for is a tool.
    """
    asked = set(parts).intersection(test.needs)
    fixes = ((cause, entry.fix_for(cause)) for cause in outcome.points_to)
    return frozenset(
        cause for cause, fix in fixes if fix and asked.intersection(fix.parts)
    )


def doubts(
    entry: Entry, parts: Collection[str], pallet: bool = False
) -> Mapping[tuple[str, str], Worded]:
    """A sentence for each cure of a sheet after which its part is still in doubt, by test and outcome.

    Reckoned with the sheet alone, as its weights say for a shop with machines of that source.
    """
    shares = causes.cause_shares(entry, Counts(), pallet)
    told = {}
    for test in entry.tests:
        for outcome in test.outcomes:
            cured = swapped(entry, test, outcome, parts)
            if not cured or len(cured) < len(outcome.points_to):
                continue
            after = _belief(entry, test, outcome, shares)
            share = sum(after[f"{entry.slug}/{one}"] for one in cured)
            before = sum(shares[one] for one in cured)
            if share < CURED:
                told[test.slug, outcome.text] = worded(
                    "This alone leaves it at {share:.0%}: it was at {before:.0%} before, and the test is right "
                    "{right:.0%} of the time.",
                    share=share,
                    before=before,
                    right=test.reliability,
                )
    return told


def _belief(
    entry: Entry, test: Test, outcome: Outcome, shares: Mapping[str, float]
) -> Mapping[str, float]:
    finding = Finding(f"{entry.slug}/{test.slug}", outcome.text)
    return causes.diagnose(
        {entry.slug: CERTAIN}, OneEntry(entry, shares), findings=[finding]
    ).posterior

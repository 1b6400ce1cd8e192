"""What a sheet alone is led to believe by one outcome of one test."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from kb.diagnosis import causes, cures
from kb.diagnosis.causes import Counts
from kb.diagnosis.knowledge import CERTAIN, OneEntry
from kb.library.customs import shipped_customs
from kb.model import Entry, Finding, Outcome, Test


@dataclass(frozen=True, slots=True)
class Told:
    """An outcome of a test that points to causes, and the belief in the causes of the sheet before and after it."""

    entry: Entry
    test: Test
    outcome: Outcome
    before: Mapping[str, float]
    belief: Mapping[str, float]

    @property
    def leads(self) -> str:
        """The cause that is believed most."""
        return max(self.belief, key=lambda cause: (self.belief[cause], cause))

    def might(self, causes: Collection[str]) -> float:
        """The most that the belief in these causes can be by their weights and the trust in the test."""
        before = sum(self.before[cause] for cause in causes)
        right, wrong = (
            self.test.reliability,
            (1.0 - self.test.reliability) / (len(self.test.outcomes) - 1),
        )
        return before * right / (before * right + (1.0 - before) * wrong)

    @property
    def swapped(self) -> frozenset[str]:
        """The causes pointed to that are mended by a part which the test asks for."""
        return cures.swapped(
            self.entry, self.test, self.outcome, shipped_customs().trade().parts
        )

    def __str__(self) -> str:
        shown = ", ".join(
            f"{cause} {share:.2f}"
            for cause, share in sorted(self.belief.items(), key=lambda p: -p[1])
        )
        return f"{self.entry.slug}:{self.outcome.line} `{self.outcome.text}` -> {shown}"


def pointing(entry: Entry) -> Iterator[Told]:
    """Every outcome of a sheet that points to causes, with what is believed after it alone."""
    knowledge = OneEntry(entry, causes.cause_shares(entry, Counts()))
    for test in entry.tests:
        for outcome in test.outcomes:
            if outcome.points_to:
                finding = Finding(f"{entry.slug}/{test.slug}", outcome.text)
                posterior = causes.diagnose(
                    {entry.slug: CERTAIN}, knowledge, findings=[finding]
                ).posterior
                yield Told(
                    entry,
                    test,
                    outcome,
                    knowledge.shares_known,
                    _of_causes(entry, posterior),
                )


def _of_causes(entry: Entry, posterior: Mapping[str, float]) -> dict[str, float]:
    """The belief in each listed cause of the sheet."""
    return {
        cause.slug: posterior[f"{entry.slug}/{cause.slug}"] for cause in entry.causes
    }

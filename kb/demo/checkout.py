"""The check-outs of the invented shop: what each line fails on which model in truth, and what machines showed on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from random import Random
from typing import Literal

from kb.demo.scenario import Scenario, shipped_scenario
from kb.library.checklist import WORD_SHARES, CheckLine

#: The luck of the models in the demo shop.
SEED = 5
#: How far models lie apart: standard deviation of the logarithm of a line's share on a model (invented).
SPREAD = 0.7
#: How much more often a line fails for each share of a model's jobs that a habit behind it makes up (invented).
PRONE = 10.0
#: No line of an invented model fails more often.
MOST = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedLook:
    """What one line showed on an invented machine, as a `function` record says it."""

    line: CheckLine
    shown: Literal["good", "bad"]
    value: str = ""


@dataclass(frozen=True, slots=True)
class InventedCheckOuts:
    """The check-outs of machines that never were, by a list; the same seed gives the same ones."""

    lines: tuple[CheckLine, ...]
    seed: int
    scenario: Scenario = field(default_factory=shipped_scenario)

    def true_shares(self, model: str) -> Mapping[str, float]:
        """The share of machines of a model that fail each line in truth.

        The list's word, by luck of the model (lognormal with a mean of 1, so that over many models the words are right
        on the whole), and more where a habit of the model lies behind the line: its owners complain of it too.
        """
        return {
            line.name: 0.0 if line.work else self._true_share(model, line)
            for line in self.lines
        }

    def looks(self, tag: str, model: str) -> Iterator[InventedLook]:
        """A whole check-out of a machine, line by line; what failed is mended on the spot and shown good."""
        chance = Random(f"check-out {self.seed} {tag}")
        shares = self.true_shares(model)
        for line in self.lines:
            if chance.random() < shares[line.name]:
                yield InventedLook(line=line, shown="bad")
            yield InventedLook(
                line=line, shown="good", value=self.scenario.reading(line.reads, chance)
            )

    def _true_share(self, model: str, line: CheckLine) -> float:
        luck = Random(f"check-out {self.seed} {model} {line.name}").lognormvariate(
            -(SPREAD**2) / 2, SPREAD
        )
        habits = [habit for habit in self.scenario.habits if habit.model == model]
        prone = sum(habit.share for habit in habits if habit.entry in line.sheets)
        return min(WORD_SHARES[line.weight] * luck * (1 + PRONE * prone), MOST)

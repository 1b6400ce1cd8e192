"""The faults of an invented shop, drawn from the hidden habits of its models and from what fails anywhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from random import Random

from kb.demo.scenario import Habit, Scenario, shipped_scenario
from kb.model import WEIGHT_ODDS, Entry, Fix

#: The odds of the entries that come up often in any shop against those of the others (assumption).
COMMON_ODDS = 5.0

#: How far this shop's causes stray from the entries' weights: standard deviation of the logarithm of their odds.
STRAY = 0.5


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a machine, before anybody knows."""

    model: str
    entry: Entry
    cause: str
    scenario: Scenario = field(
        default_factory=shipped_scenario, compare=False, repr=False
    )

    @property
    def name(self) -> str:
        """`entry/cause`."""
        return f"{self.entry.slug}/{self.cause}"

    @property
    def fix(self) -> Fix | None:
        """What mends it, None where its sheet says nothing."""
        return self.entry.fix_for(self.cause)

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that mending it may ask for."""
        return self.fix.parts if self.fix else ()


class Faults:
    """The faults of the invented shop's machines, drawn from its habits and from what fails anywhere.

    Habits whose entry or cause is not among the entries are left out.
    """

    def __init__(
        self, entries: Sequence[Entry], seed: int, scenario: Scenario | None = None
    ) -> None:
        self.scenario = scenario or shipped_scenario()
        in_order = sorted(entries, key=lambda one: one.slug)
        self.entries = {entry.slug: entry for entry in in_order if entry.causes}
        self.habits = tuple(
            habit for habit in self.scenario.habits if self._known(habit)
        )
        self._odds = {
            slug: _odds_of_causes(entry, seed) for slug, entry in self.entries.items()
        }
        self._slugs = tuple(self.entries)
        usual = [
            COMMON_ODDS if slug in self.scenario.common else 1.0 for slug in self._slugs
        ]
        strayed = [
            odds * _stray(seed, slug)
            for odds, slug in zip(usual, self._slugs, strict=True)
        ]
        self._entry_odds = list(accumulate(strayed))
        models = self.scenario.models
        self._models, self._model_odds = (
            tuple(models),
            list(accumulate(models.values())),
        )

    def draw(self, rng: Random) -> Fault:
        """The fault of the next machine: one of its model's habits, or what fails anywhere."""
        model = rng.choices(self._models, cum_weights=self._model_odds)[0]
        left = rng.random()
        for habit in self.habits:
            if habit.model == model:
                left -= habit.share
                if left < 0:
                    return Fault(
                        model,
                        self.entries[habit.entry],
                        habit.cause.partition("/")[2],
                        self.scenario,
                    )
        return self._of_entry(
            model, rng.choices(self._slugs, cum_weights=self._entry_odds)[0], rng
        )

    def of_entry(self, slug: str, rng: Random) -> Fault:
        """A fault of that entry on any model, habits aside."""
        return self._of_entry(
            rng.choices(self._models, cum_weights=self._model_odds)[0], slug, rng
        )

    def _of_entry(self, model: str, slug: str, rng: Random) -> Fault:
        entry = self.entries[slug]
        cause = rng.choices([cause.slug for cause in entry.causes], self._odds[slug])[0]
        return Fault(model, entry, cause, self.scenario)

    def _known(self, habit: Habit) -> bool:
        entry = self.entries.get(habit.entry)
        return (
            entry is not None and entry.cause(habit.cause.partition("/")[2]) is not None
        )


def _odds_of_causes(entry: Entry, seed: int) -> list[float]:
    """The odds of an entry's causes in this shop."""
    return [
        WEIGHT_ODDS[cause.weight] * _stray(seed, f"{entry.slug}/{cause.slug}")
        for cause in entry.causes
    ]


def _stray(seed: int, name: str) -> float:
    """How far this shop's odds of an entry or a cause stray from the usual ones, whatever else the library holds."""
    return Random(f"faults {seed} {name}").lognormvariate(0.0, STRAY)

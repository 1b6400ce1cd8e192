"""The scenario of a demo, read from the library's `house/demo.toml`: its models and what each is prone to."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from random import Random
from typing import Any

from kb.base.trouble import NotThere, Refusal
from kb.library.customs import DEMO, Customs, shipped_customs

#: What stands in the file for a part that fits every model.
ALL_MODELS = "all"


@dataclass(frozen=True, slots=True)
class Habit:
    """A weakness of a model: the share of its jobs that turn out to be this cause."""

    model: str
    cause: str
    share: float

    @property
    def entry(self) -> str:
        """The slug of the entry the cause belongs to."""
        return self.cause.partition("/")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """An invented shop of one trade.

    `models` holds the odds that a machine of the pile is one, `families` by part the models among which it fits,
    `common` the entries that come up often anywhere, `readings` what is written down with lines of the check-out.
    `first_looks` are lines that every machine shows when it comes in, `locks` the one that a locked machine fails.
    """

    shop: str
    seller: str
    search: str
    models: Mapping[str, float]
    habits: tuple[Habit, ...] = ()
    common: frozenset[str] = frozenset()
    families: Mapping[str, Sequence[Sequence[str]]] = field(default_factory=dict)
    consumables: frozenset[str] = frozenset()
    readings: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    before: tuple[str, ...] = ("",)
    after: tuple[str, ...] = ("",)
    misfits: tuple[str, ...] = ("mounting",)
    first_looks: tuple[str, ...] = ()
    locks: str = ""
    usual_part: str = ""

    def fits_across(self, part: str, model: str, other: str) -> bool:
        """Whether a part of one invented model fits another one.

        >>> fits = shipped_scenario().fits_across
        >>> fits("fan", "Tern 13", "Godwit 13"), fits("battery", "Tern 13", "Godwit 13")
        (True, False)
        """
        return any(
            model in family and other in family
            for family in self.families.get(part, ())
        )

    def reading(self, reads: str, chance: Random) -> str:
        """What is written down with a line that reads this, empty for one of which nothing is invented."""
        told = self.readings.get(reads, {})
        if "odds" in told:
            return str(chance.choices(told["texts"], told["odds"])[0])
        if "texts" in told:
            return str(chance.choice(told["texts"]))
        if "text" in told:
            return str(told["text"]).format(chance.randint(told["from"], told["to"]))
        return ""


@cache
def shipped_scenario() -> Scenario:
    """The scenario of the library that ships with the program."""
    return scenario_of(shipped_customs())


def scenario_of(customs: Customs) -> Scenario:
    """The scenario of a library; NotThere for one without, Refusal for one that cannot be read."""
    text = customs.demo()
    if not text:
        raise NotThere(
            f"this library has no {customs.path(DEMO)}, so there is nothing to invent; write one first"
        )
    try:
        return _scenario(tomllib.loads(text))
    except (
        tomllib.TOMLDecodeError,
        KeyError,
        TypeError,
        ValueError,
        AttributeError,
    ) as error:
        raise Refusal(
            f"{customs.path(DEMO)} is not in its form ({error}); mend it"
        ) from error


def _scenario(given: Mapping[str, Any]) -> Scenario:
    models = {str(model): float(odds) for model, odds in given["models"].items()}
    if not models:
        raise ValueError("[models] names none")
    lists = {
        name: tuple(given[name])
        for name in ("before", "after", "misfits", "first_looks")
        if given.get(name)
    }
    habits = []
    for model, causes in given.get("habits", {}).items():
        habits += [Habit(model, cause, float(share)) for cause, share in causes.items()]
    return Scenario(
        shop=given["shop"],
        seller=given["seller"],
        search=given["search"],
        models=models,
        habits=tuple(habits),
        common=frozenset(given.get("common", ())),
        families={
            part: _families(shared, models)
            for part, shared in given.get("families", {}).items()
        },
        consumables=frozenset(given.get("consumables", ())),
        readings=given.get("readings", {}),
        locks=given.get("locks", ""),
        usual_part=given.get("usual_part", ""),
        **lists,
    )


def _families(shared: Any, models: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """The models among which a part fits, as the file says it: lists of them, or the word for all."""
    return (tuple(models),) if shared == ALL_MODELS else tuple(map(tuple, shared))

"""Invented pallets out of worlds with hidden truths, and simpler ways to bid on them, to hold the bid against."""

from __future__ import annotations

import math
import random
import statistics
from dataclasses import dataclass

from kb.machines.cost.bids import PalletOffer, SeenMachine

HOURLY = 3600


@dataclass(frozen=True, kw_only=True)
class World:
    """How far machines, models and lots lie apart; the more machines `alike` is worth, the nearer are the models."""

    alike: float = 10.0
    #: Standard deviations of logarithms: minutes of a machine, of a model; log odds of a lot.
    machines: float = 0.6
    models: float = 0.25
    lots: float = 0.0


WORLDS = {
    "models as alike as assumed": World(alike=4),
    "models more alike": World(),
    "models all the same": World(alike=math.inf),
    "models far apart": World(alike=2, models=0.4),
    "some take very long": World(machines=0.9, models=0.5),
    "lots apart a little": World(lots=0.25),
    "lots apart": World(lots=0.4),
}


@dataclass(frozen=True)
class _Model:
    name: str
    good: float
    minutes: dict[bool, float]
    needs_parts: float
    parts: float
    sale: int


@dataclass(frozen=True)
class Pallet:
    """What was seen before it, the offer, and what it brought in truth."""

    seen: list[SeenMachine]
    offer: PalletOffer
    brought: float


def pallet(world: World, seen: int, seed: int) -> Pallet:
    """A shop that has done some machines of a few lots, and the next pallet of 12 to 40 with its truth."""
    chance = random.Random(f"{world} {seen} {seed}")
    mean = chance.uniform(0.45, 0.8)
    models = [
        _model(f"Model {number}", world, mean, chance)
        for number in range(chance.randint(3, 8))
    ]
    popular = [chance.uniform(0.1, 1.1) for _ in models]
    done: list[SeenMachine] = []
    while len(done) < seen:
        size = min(seen - len(done), chance.randint(12, 40))
        drawn = chance.choices(models, popular, k=size)
        done += _machines(drawn, world, f"lot {len(done)}", chance)
    drawn = chance.choices(models, popular, k=chance.randint(12, 40))
    sale = {model.name: model.sale for model in models}
    brought = 0.0
    for machine in _machines(drawn, world, "next", chance):
        brought += (
            machine.good * sale[machine.model]
            - machine.minutes * HOURLY / 60
            - machine.parts_cents
        )
    names = [model.name for model in drawn]
    counts = {name: names.count(name) for name in names}
    return Pallet(
        done, PalletOffer(counts=counts, sale_cents=sale, hourly_cents=HOURLY), brought
    )


def _model(name: str, world: World, mean: float, chance: random.Random) -> _Model:
    alike = world.alike
    good = (
        mean
        if math.isinf(alike)
        else chance.betavariate(mean * alike, (1 - mean) * alike)
    )
    apart = [math.exp(chance.gauss(0, world.models)) for _ in range(4)]
    minutes = {
        True: chance.uniform(25, 45) * apart[0],
        False: chance.uniform(20, 60) * apart[1],
    }
    return _Model(
        name,
        good,
        minutes,
        min(0.9, 0.35 * apart[2]),
        1500 * apart[3],
        chance.randrange(6000, 24000),
    )


def _machines(
    models: list[_Model], world: World, lot: str, chance: random.Random
) -> list[SeenMachine]:
    luck = math.exp(chance.gauss(0, world.lots))
    spread = world.machines
    made = []
    for model in models:
        good = chance.random() < model.good * luck / (
            model.good * luck + 1 - model.good
        )
        minutes = model.minutes[good] * math.exp(
            chance.gauss(0, spread) - spread**2 / 2
        )
        needs = chance.random() < model.needs_parts * (1 if good else 0.3)
        parts = round(model.parts * math.exp(chance.gauss(0, 0.5))) if needs else 0
        made.append(SeenMachine(model.name, good, minutes, parts, lot))
    return made


def hasty(one: Pallet) -> tuple[float, float]:
    """The mean of a machine seen with its standard error, times the machines offered: 80 % as it is often reckoned."""
    count = sum(one.offer.counts.values())
    sale = (
        sum(one.offer.sale_cents[model] * of for model, of in one.offer.counts.items())
        / count
    )
    worth = [
        machine.good * sale - machine.minutes * HOURLY / 60 - machine.parts_cents
        for machine in one.seen
    ]
    mean = statistics.fmean(worth)
    reach = (
        statistics.NormalDist().inv_cdf(0.9)
        * statistics.stdev(worth)
        / len(worth) ** 0.5
    )
    return count * (mean - reach), count * (mean + reach)

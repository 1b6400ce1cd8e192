"""What the counts of other shops gain for a new shop with few jobs of its own, with and without them.

Run `PYTHONPATH=tests:tests/benchmarks python tests/benchmarks/elsewhere.py` (see --help). Thirty shops work on machines
of one world, whose faults stray from what the sheets say; each shop strays from its world. A new shop of the same world
gets machines under wordings that the search has never read. Every way of working gets the same machines.
"""

from __future__ import annotations

import argparse
import math
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import accumulate
from multiprocessing import Pool
from pathlib import Path
from random import Random

import policies
from machine import Machine, Ticket, tickets
from shop import held_out

from kb.bench.front import Bench
from kb.demo.complaints import complaint
from kb.demo.habits import COMMON_ODDS, Fault
from kb.demo.scenario import Habit, Scenario, shipped_scenario
from kb.diagnosis.answer import Step
from kb.history.ids import derived_id
from kb.index.elsewhere import FILE
from kb.model import WEIGHT_ODDS, Entry, Job
from kb.office.pooled import SharedCount, pooled

#: How many jobs of its own the new shop has, and how many shops there are beside it, with so many jobs each.
OWN_JOBS, SHOPS, SIZES = (0, 20, 100), 30, (100, 300, 1_000, 3_000)
#: How far the world strays from the sheets and each shop from its world: standard deviations of logarithms of odds.
WORLD, ALIKE, APART = 0.7, 0.5, 1.2
#: The share of its jobs that a careless shop writes down under any cause, and the false jobs a hostile one sends.
CARELESS, FALSE_JOBS = 0.5, 1_000_000


@dataclass(frozen=True, slots=True)
class World:
    """One kind of world: how far shops stray, the share of the models' habits that each has, and who lies."""

    name: str
    stray: float = ALIKE
    habits: float = 1.0
    liar: str = ""


WORLDS = (
    World("shops alike"),
    World("shops with habits of their own", stray=APART, habits=0.5),
    World("shops alike, one of 30 careless", liar="careless"),
    World("shops alike, one of 30 hostile", liar="hostile"),
)


class Place:
    """What is wrong with the machines of one shop: as in its world, but for how it strays."""

    def __init__(
        self, entries: Sequence[Entry], world: World, seed: int, number: int
    ) -> None:
        self._scenario = shipped_scenario()
        self._entries = {entry.slug: entry for entry in entries if entry.causes}
        self._world, self._seed, self._number = world, seed, number
        common = self._scenario.common
        usual = {
            slug: (COMMON_ODDS if slug in common else 1.0) * self._strays(slug)
            for slug in self._entries
        }
        self._slugs, self._often = list(usual), list(accumulate(usual.values()))
        self._odds = {
            slug: [
                WEIGHT_ODDS[cause.weight] * self._strays(f"{slug}/{cause.slug}")
                for cause in entry.causes
            ]
            for slug, entry in self._entries.items()
        }
        self._habits = [one for one in self._scenario.habits if self._has(one)]

    def draw(self, rng: Random) -> Fault:
        """The fault of the next machine: a habit of its model, or what fails anywhere."""
        models = self._scenario.models
        model = rng.choices(list(models), list(models.values()))[0]
        left = rng.random()
        for habit in self._habits:
            left -= habit.share if habit.model == model else 0.0
            if left < 0:
                return self._fault(model, habit.entry, habit.cause.partition("/")[2])
        slug = rng.choices(self._slugs, cum_weights=self._often)[0]
        causes = [cause.slug for cause in self._entries[slug].causes]
        return self._fault(model, slug, rng.choices(causes, self._odds[slug])[0])

    def shares(self, fault: Fault) -> dict[str, float]:
        """In truth, the shares of the causes of a fault's sheet on its model."""
        slug, odds = fault.entry.slug, self._odds[fault.entry.slug]
        habits = [one for one in self._habits if one.model == fault.model]
        place = self._slugs.index(slug)
        of_sheet = (
            self._often[place] - (self._often[place - 1] if place else 0.0)
        ) / self._often[-1]
        rest = of_sheet * (1.0 - sum(one.share for one in habits))
        had = {
            cause.slug: rest * one / sum(odds)
            for cause, one in zip(fault.entry.causes, odds, strict=True)
        }
        for habit in habits:
            if habit.entry == slug:
                had[habit.cause.partition("/")[2]] += habit.share
        return {cause: share / sum(had.values()) for cause, share in had.items()}

    def _fault(self, model: str, slug: str, cause: str) -> Fault:
        return Fault(model, self._entries[slug], cause, self._scenario)

    def _has(self, habit: Habit) -> bool:
        entry = self._entries.get(habit.entry)
        kept = (
            Random(
                f"habit {self._seed} {self._number} {habit.model} {habit.cause}"
            ).random()
            < self._world.habits
        )
        return (
            kept
            and entry is not None
            and entry.cause(habit.cause.partition("/")[2]) is not None
        )

    def _strays(self, name: str) -> float:
        of_world = Random(f"world {self._seed} {name}").gauss(0.0, WORLD)
        return math.exp(
            of_world
            + Random(f"shop {self._seed} {self._number} {name}").gauss(
                0.0, self._world.stray
            )
        )


def shared(entries: Sequence[Entry], world: World, seed: int) -> Iterator[SharedCount]:
    """The counts that the other shops send."""
    for number in range(1, SHOPS + 1):
        place, dice = (
            Place(entries, world, seed, number),
            Random(f"sent {seed} {number}"),
        )
        liar = world.liar if number == 1 else ""
        counts = Counter[tuple[str, str, str]]()
        for _ in range(dice.choice(SIZES)):
            fault = place.draw(dice)
            careless = liar == "careless" and dice.random() < CARELESS
            cause = dice.choice(fault.entry.causes).slug if careless else fault.cause
            counts[fault.model, fault.entry.slug, cause] += 1
        if liar == "hostile":
            counts = Counter(_false(entries))
        yield from (
            SharedCount(f"shop {number}", *what, jobs) for what, jobs in counts.items()
        )


def _false(entries: Sequence[Entry]) -> dict[tuple[str, str, str], int]:
    """A million jobs of the least likely cause of every sheet on every model."""
    rarest = {
        one.slug: min(one.causes, key=lambda cause: WEIGHT_ODDS[cause.weight]).slug
        for one in entries
        if one.causes
    }
    models = shipped_scenario().models
    return {
        (model, slug, cause): FALSE_JOBS
        for slug, cause in rarest.items()
        for model in models
    }


@dataclass(frozen=True, slots=True)
class Way:
    """So many jobs of the shop's own, with the counts of other shops or without."""

    jobs: int
    learned: bool

    def __str__(self) -> str:
        return (
            f"{self.jobs} own jobs, {'with' if self.learned else 'without'} other shops"
        )


WAYS = tuple(Way(jobs, learned) for jobs in OWN_JOBS for learned in (False, True))


@dataclass(frozen=True, slots=True)
class Setting:
    """The new shop's folders, the machines that come to it, and how many of them are worked on to the end."""

    folder: Path
    stock: Path
    tickets: tuple[Ticket, ...]
    truth: str
    played: int
    seed: int


def prepare(
    folder: Path, world: World, seed: int, machines: int, played: int
) -> Setting:
    """Write the library without the wordings held out, the new shop for each way, and draw its machines."""
    stock, entries, heard = held_out(folder, seed)
    counts = pooled(shared(entries, world, seed), date(2026, 11, 30)).to_json().encode()
    place = Place(entries, world, seed, 0)
    jobs = tuple(_jobs(place, shipped_scenario(), seed))
    Bench(folder / "first", stock).asking.models()
    for way in WAYS:
        shutil.copytree(
            folder / "first",
            folder / str(way),
            ignore=shutil.ignore_patterns("history*"),
        )
        bench = Bench(folder / str(way), stock)
        for job in jobs[: way.jobs]:
            bench.history().adopt(job)
        if way.learned:
            (folder / str(way) / FILE).write_bytes(counts)
        bench.asking.models()
        bench.close()
    drawn = tuple(tickets(place, heard, machines, seed))
    return Setting(folder, stock, drawn, in_truth(place, drawn), played, seed)


def _jobs(place: Place, scenario: Scenario, seed: int) -> Iterator[Job]:
    dice = Random(f"own jobs {seed}")
    for number in range(max(OWN_JOBS)):
        fault = place.draw(dice)
        words = complaint(fault.entry, dice, scenario)
        name = derived_id(f"own {seed} {number}")
        yield Job(
            job=name,
            model=fault.model,
            cause=fault.name,
            words=words,
            closed_at="2026-10-01T09:00:00Z",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One machine under one way: what was believed before any test, and the minutes if it was worked on to the end."""

    way: Way
    loss: float
    said: float
    right: bool
    first: bool
    minutes: float | None = None


@dataclass
class Worker:
    """One process: the new shop's benches, and the machines it works on."""

    setting: Setting
    benches: dict[Way, Bench] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.benches = {
            way: Bench(self.setting.folder / str(way), self.setting.stock)
            for way in WAYS
        }
        self.entries = {
            entry.slug: entry for entry in self.benches[WAYS[0]].entries.served()
        }

    def work(self, number: int) -> list[Tried]:
        """The machine of that number under every way."""
        return [
            self._tried(way, bench, self.setting.tickets[number])
            for way, bench in self.benches.items()
        ]

    def _tried(self, way: Way, bench: Bench, ticket: Ticket) -> Tried:
        fault = ticket.fault
        with bench.shop.knowing(fault.model) as knowledge:
            shares = dict(knowledge.shares(fault.entry))
        top = max(
            fault.entry.causes, key=lambda cause: (shares[cause.slug], cause.slug)
        ).slug
        answer = bench.asking.search(ticket.words, fault.model)
        causes = [cause for one in answer.entries for cause in one.causes]
        named = (
            min(causes, key=lambda cause: (-cause.probability, cause.cause)).cause
            if causes
            else ""
        )
        return Tried(
            way=way,
            loss=-math.log(shares[fault.cause]),
            said=shares[top],
            right=top == fault.cause,
            first=named == fault.name,
            minutes=self._minutes(bench, ticket, answer.next_step)
            if ticket.number < self.setting.played
            else None,
        )

    def _minutes(self, bench: Bench, ticket: Ticket, first: Step | None) -> float:
        machine = Machine(ticket, self.setting.seed)
        policies.as_advised(machine, bench, self.entries, first)
        return machine.minutes


_worker: Worker | None = None


def _start(setting: Setting) -> None:
    global _worker
    _worker = Worker(setting)


def _work(number: int) -> list[Tried]:
    assert _worker is not None
    return _worker.work(number)


def mean(values: Sequence[float]) -> tuple[float, float]:
    """The mean of values and its standard error."""
    middle = sum(values) / len(values)
    spread = sum((value - middle) ** 2 for value in values) / max(len(values) - 1, 1)
    return middle, math.sqrt(spread / len(values))


def in_truth(place: Place, drawn: Sequence[Ticket]) -> str:
    """The row of somebody who knows how often each cause is it, in this shop and on this model."""
    shares = [(place.shares(ticket.fault), ticket.fault.cause) for ticket in drawn]
    right = mean(
        [
            max(known, key=lambda cause: (known[cause], cause)) == true
            for known, true in shares
        ]
    )
    loss = mean([-math.log(known[true]) for known, true in shares])
    return (
        f"| the shares known | | | {right[0]:.3f} | {loss[0]:.3f} ± {loss[1]:.3f} | |"
    )


def told(world: World, truth: str, tried: Sequence[Tried]) -> Iterator[str]:
    """The lines of one world: a row for each way, and what the counts save on the same machines."""
    yield f"\n{world.name}"
    yield "| | minutes | right cause first | of its sheet | log loss of causes | said / true |"
    yield "| --- | --- | --- | --- | --- | --- |"
    for way in WAYS:
        of_way = [one for one in tried if one.way == way]
        minutes = mean([one.minutes for one in of_way if one.minutes is not None])
        first, right = (
            mean([one.first for one in of_way]),
            mean([one.right for one in of_way]),
        )
        loss, said = (
            mean([one.loss for one in of_way]),
            mean([one.said for one in of_way]),
        )
        yield (
            f"| {way} | {minutes[0]:.1f} ± {minutes[1]:.1f} | {first[0]:.3f} | {right[0]:.3f} "
            f"| {loss[0]:.3f} ± {loss[1]:.3f} | {said[0]:.2f} / {right[0]:.2f} |"
        )
    yield truth
    for jobs in OWN_JOBS:
        with_them, without = (
            [
                one.minutes
                for one in tried
                if one.way == Way(jobs, learned) and one.minutes is not None
            ]
            for learned in (True, False)
        )
        saved = mean(
            [before - after for before, after in zip(without, with_them, strict=True)]
        )
        yield f"{jobs} own jobs: other shops save {saved[0]:.1f} ± {saved[1]:.1f} min a machine"


def main() -> None:
    """Read the arguments, run every world, print its table."""
    parser = argparse.ArgumentParser(
        description="What the counts of other shops gain for a new shop."
    )
    parser.add_argument(
        "--machines",
        type=int,
        default=1_500,
        help="machines of which the beliefs are looked at",
    )
    parser.add_argument(
        "--played",
        type=int,
        default=400,
        help="machines of those that are worked on to the end",
    )
    parser.add_argument("--seed", type=int, default=43)
    parser.add_argument("--workers", type=int, default=2, help="processes")
    parser.add_argument(
        "--world", type=int, default=0, help="only that one, from 1 on; 0 for all"
    )
    given = parser.parse_args()
    for world in WORLDS[given.world - 1 : given.world] if given.world else WORLDS:
        began = time.perf_counter()
        with tempfile.TemporaryDirectory() as folder:
            setting = prepare(
                Path(folder), world, given.seed, given.machines, given.played
            )
            with Pool(given.workers, _start, (setting,)) as pool:
                found = pool.map(_work, range(given.machines), chunksize=10)
        print(
            "\n".join(
                told(world, setting.truth, [one for runs in found for one in runs])
            ),
            flush=True,
        )
        print(f"in {time.perf_counter() - began:.0f} s, seed {given.seed}", flush=True)


if __name__ == "__main__":
    main()

"""What the computed order gains on the shipped list in an invented truth: learned, by formula, played, and misled."""

from __future__ import annotations

import random
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

from helpers.checklists import Checklist, played
from kb.demo.checkout import InventedCheckOuts
from kb.demo.scenario import shipped_scenario
from kb.library import checklist
from kb.library.checklist import CheckLine
from kb.library.shelf import stock_folder
from kb.machines.checkout.figures import ListFigures
from kb.machines.checkout.shares import Looks
from kb.machines.checkout.way import counted_lines


@dataclass(frozen=True, slots=True)
class Gain:
    """Minutes a machine by the list's own order, by the computed one, and by the best that could be known."""

    listed: float
    computed: float
    best: float

    @property
    def saved(self) -> float:
        """What the computed order saves against the list's own."""
        return self.listed - self.computed


def shipped_lines() -> tuple[CheckLine, ...]:
    """The lines of the list that ships with the program."""
    return checklist.parse(
        (stock_folder() / "house" / "checkout.md").read_text("utf-8")
    ).lines


def learned(world: InventedCheckOuts, machines: int) -> dict[str, ListFigures]:
    """The shipped list by model, with what the check-outs of so many machines of each model taught."""
    looks = {
        model: _looks(world, model, machines) for model in shipped_scenario().models
    }
    found = {}
    for model, here in looks.items():
        others = [one for name, one in looks.items() if name != model]
        elsewhere = {
            line.name: _sum([other[line.name] for other in others])
            for line in world.lines
        }
        counted = counted_lines(world.lines, here, elsewhere, leanings={})
        found[model] = ListFigures(
            world.lines, {name: one.fails for name, one in counted.items()}
        )
    return found


def gain(world: InventedCheckOuts, machines: int, wrong: bool = False) -> Gain:
    """Expected minutes by formula in truth, the mean over the models.

    With `wrong` half of the lines take two thirds of their minutes or half as much again, and two in nine sit one
    deeper or less deep than the list says; the shares are those that were learned.
    """
    gains = []
    for model, figures in learned(world, machines).items():
        truth = in_truth(world, model, wrong)
        listed, computed = figures.listed_order(), figures.best_order()
        gains.append(
            Gain(
                *(
                    truth.minutes_of(way)
                    for way in (listed, computed, truth.best_order())
                )
            )
        )
    return _mean(gains)


def gain_played(world: InventedCheckOuts, machines: int, played_each: int) -> Gain:
    """The same on machines drawn and gone through one by one, so many of each model."""
    gains = []
    for number, (model, figures) in enumerate(learned(world, machines).items()):
        truth = in_truth(world, model, wrong=False)
        drawn = Checklist(
            [line.minutes for line in truth.lines],
            truth.fails,
            truth.ends,
            truth.redo,
            [],
        )
        ways = (figures.listed_order(), figures.best_order(), truth.best_order())
        gains.append(
            Gain(*(played(drawn, way, played_each, seed=number)[0] for way in ways))
        )
    return _mean(gains)


def in_truth(world: InventedCheckOuts, model: str, wrong: bool) -> ListFigures:
    """The list as it is in truth on a model."""
    lines = tuple(
        _wrongly(line, random.Random(f"wrong {world.seed} {model} {line.name}"))
        for line in world.lines
    )
    return ListFigures(lines if wrong else world.lines, world.true_shares(model))


def _wrongly(line: CheckLine, chance: random.Random) -> CheckLine:
    minutes = line.minutes * chance.choice((2 / 3, 1, 1, 1.5))
    depth = (
        line.depth + chance.choice((-1, 0, 0, 0, 0, 0, 0, 0, 1)) if line.depth else 0
    )
    return replace(
        line, minutes=minutes, depth=min(3, max(1, depth)) if line.depth else 0
    )


def _looks(world: InventedCheckOuts, model: str, machines: int) -> dict[str, Looks]:
    bad = dict.fromkeys((line.name for line in world.lines), 0)
    for number in range(machines):
        for look in world.looks(f"{model} {number}", model):
            bad[look.line.name] += look.shown == "bad"
    return {name: Looks(count, machines) for name, count in bad.items()}


def _mean(gains: Sequence[Gain]) -> Gain:
    return Gain(
        statistics.fmean(one.listed for one in gains),
        statistics.fmean(one.computed for one in gains),
        statistics.fmean(one.best for one in gains),
    )


def _sum(looks: Sequence[Looks]) -> Looks:
    return Looks(sum(one.bad for one in looks), sum(one.seen for one in looks))

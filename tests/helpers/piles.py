"""Simulated piles: machines whose causes are hidden, played by any policy; what the pile's arithmetic is held to.

Models have habits (some causes are theirs more than others'), a ticket's words point to an area, mostly rightly, and
beliefs are what Bayes' rule makes of both, so that they mean what they say. Minutes, prices and shares are invented.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from random import Random

from kb.machines.pile.waiting import Piece, Pile, PileStep, Remedy, Waiting, after

#: Kinds of part: cents, and how likely two models share a family of it.
PARTS = {
    "mainboard": (9500, 0.0), "panel": (5500, 0.4), "keyboard": (2400, 0.3), "battery": (3200, 0.0),
    "drive": (2600, 1.0), "pad": (1700, 0.3), "fan": (1400, 0.3), "jack": (800, 0.4), "hinge": (1500, 0.2),
    "radio": (1200, 0.8), "memory": (1900, 1.0), "camera": (900, 0.4),
}  # fmt: skip
#: Causes: area, part or none, minutes of the repair, share.
CAUSES = {
    "jack broken": ("power", "jack", 18, 5), "battery worn": ("power", "battery", 8, 8),
    "charging fault on the board": ("power", "mainboard", 25, 4), "fuse open": ("power", "", 32, 3),
    "setting lost": ("start", "", 6, 6), "memory bad": ("start", "memory", 7, 4),
    "board dead": ("start", "mainboard", 25, 3), "contacts dirty": ("start", "", 10, 7),
    "panel cracked": ("screen", "panel", 18, 6), "screen cable": ("screen", "", 22, 6),
    "lid switch": ("screen", "", 10, 3), "keyboard wet": ("input", "keyboard", 22, 5),
    "pad ribbon loose": ("input", "", 10, 5), "pad dead": ("input", "pad", 12, 3),
    "drive failing": ("store", "drive", 14, 6), "system broken": ("store", "", 28, 9),
    "fan stuck": ("heat", "fan", 16, 4), "paste dry": ("heat", "", 18, 6), "hinge loose": ("case", "hinge", 25, 3),
    "radio bad": ("net", "radio", 9, 2), "aerial loose": ("net", "", 14, 3), "camera dead": ("net", "camera", 14, 1),
}  # fmt: skip
#: Minutes of a first look by area; the share of tickets whose words point to the right one; causes no entry lists.
LOOKS = {
    "power": 16,
    "start": 21,
    "screen": 10,
    "input": 7,
    "store": 12,
    "heat": 13,
    "case": 6,
    "net": 12,
}
RIGHT_WORDS, UNLISTED, LISTED, FETCH, SOUND = 0.85, 0.04, 6, 7, 0.95

#: Machines, models, and minutes and cents of both regimes: short of hours, short of money.
REGIMES = {
    "short of hours": {12: (3, 280, 6000), 32: (5, 750, 15000), 100: (8, 2300, 40000)},
    "short of money": {12: (3, 780, 1500), 32: (5, 1980, 3800), 100: (8, 5280, 10000)},
}


@dataclass(frozen=True, slots=True)
class Truth:
    """What nobody knows of one machine: its cause (None for one that is not listed), and which pieces are bad."""

    cause: str | None
    bad: frozenset[str]


@dataclass(frozen=True, slots=True)
class Hidden:
    """A pile and the truth of each of its machines."""

    pile: Pile
    truths: Mapping[str, Truth]


@dataclass(frozen=True, slots=True)
class Played:
    """How a pile went: tags that work now with the minutes spent until then, and all steps taken."""

    working: tuple[tuple[str, float], ...]
    steps: tuple[PileStep, ...]


Policy = Callable[[Pile], PileStep | None]
Look = Callable[[Waiting, Truth], Remedy | None]


def drawn(machines: int, regime: str, seed: int) -> Hidden:
    """A pile of that many machines in that regime."""
    rng = Random(f"pile {seed}")
    models, minutes, cents = REGIMES[regime][machines]
    pools = _pools(models, rng)
    habits = [
        {cause: share * rng.gammavariate(1, 1) for cause, (*_, share) in CAUSES.items()}
        for _ in range(models)
    ]
    waiting, truths = [], {}
    for number in range(machines):
        model = rng.randrange(models)
        machine, truth = _machine(
            f"P-{number + 1:03}", habits[model], pools[model], rng
        )
        waiting.append(machine)
        truths[machine.tag] = truth
    prices = {
        pool: PARTS[pool.split(",")[0]][0]
        for of_model in pools
        for pool in of_model.values()
    }
    return Hidden(
        Pile(waiting=tuple(waiting), minutes=minutes, cents=cents, prices=prices),
        truths,
    )


def _pools(models: int, rng: Random) -> list[dict[str, str]]:
    """The pool of every kind of part, by model: its own family, or that of a model before it."""
    pools: list[dict[str, str]] = []
    for model in range(models):
        own = {}
        for part, (_, shared) in PARTS.items():
            joins = pools and rng.random() < shared
            own[part] = rng.choice(pools)[part] if joins else f"{part}, {model}"
        pools.append(own)
    return pools


def _machine(
    tag: str, habits: Mapping[str, float], pools: Mapping[str, str], rng: Random
) -> tuple[Waiting, Truth]:
    causes = list(habits)
    cause = rng.choices(causes, list(habits.values()))[0]
    area = CAUSES[cause][0] if rng.random() < RIGHT_WORDS else rng.choice(list(LOOKS))
    slow, listed = rng.lognormvariate(0, 0.3), rng.random() >= UNLISTED
    weights = {name: share * _says(name, area) for name, share in habits.items()}
    whole, best = (
        math.fsum(weights.values()),
        sorted(weights, key=lambda name: -weights[name])[:LISTED],
    )
    remedies = []
    for name in best:
        _, part, minutes, _ = CAUSES[name]
        belief = (1 - UNLISTED) * weights[name] / whole
        spent = round(slow * minutes + (FETCH if part else 0), 1)
        remedies.append(
            Remedy(
                cause=name,
                belief=belief,
                minutes=spent,
                part=pools[part] if part else "",
            )
        )
    bad = {pool for pool in pools.values() if rng.random() > SOUND}
    wanted = CAUSES[cause][1]
    truly = cause if listed and cause in best else None
    if wanted and truly:
        bad.add(pools[wanted])
    pieces = tuple(Piece(part=pool, sound=SOUND) for pool in pools.values())
    look = round(LOOKS[area] * rng.lognormvariate(0, 0.3), 1)
    return Waiting(tag=tag, look=look, remedies=tuple(remedies), pieces=pieces), Truth(
        truly, frozenset(bad)
    )


def _says(cause: str, area: str) -> float:
    """P(the ticket's words point to that area | cause)."""
    by_lot = (1 - RIGHT_WORDS) / len(LOOKS)
    return by_lot + (RIGHT_WORDS if CAUSES[cause][0] == area else 0.0)


def true_cause(machine: Waiting, truth: Truth) -> Remedy | None:
    """A look that shows the true cause after its expected minutes; another may play the guide instead."""
    return next((one for one in machine.remedies if one.cause == truth.cause), None)


def four_machines(seed: int) -> Pile:
    """Four machines out of a pile of 32, three causes each at most, short of hours or of money or of both."""
    rng = Random(f"four {seed}")
    pile = drawn(32, "short of hours", seed).pile
    machines = tuple(
        _with_three_causes(machine) for machine in rng.sample(pile.waiting, 4)
    )
    return replace(
        pile,
        waiting=machines,
        minutes=rng.choice([60, 90, 120, 160]),
        cents=rng.choice([0, 1500, 3000]),
    )


def _with_three_causes(machine: Waiting) -> Waiting:
    likeliest = sorted(machine.remedies, key=lambda one: -one.belief)[:3]
    whole = sum(one.belief for one in likeliest) / (1 - UNLISTED)
    return replace(
        machine,
        remedies=tuple(replace(one, belief=one.belief / whole) for one in likeliest),
    )


def expected_of(policy: Policy, pile: Pile) -> float:
    """The working machines that a policy can expect of a small pile, over everything that may show."""
    values: dict[tuple[object, ...], float] = {}

    def value(now: Pile) -> float:
        key = now.waiting, now.donors, round(now.minutes, 5), now.cents
        if key not in values:
            step = policy(now)
            values[key] = (
                0.0
                if step is None
                else math.fsum(p * (w + value(then)) for p, w, then in shown(now, step))
            )
        return values[key]

    return value(pile)


def shown(pile: Pile, step: PileStep) -> list[tuple[float, int, Pile]]:
    """What a step may show: how likely, whether a machine works by it, and the pile after it."""
    machines = {machine.tag: machine for machine in (*pile.waiting, *pile.donors)}
    if step.kind == "look":
        machine = machines[step.tag]
        unlisted = 1 - math.fsum(one.belief for one in machine.remedies)
        causes = [(one.belief, one) for one in machine.remedies] + [(unlisted, None)]
        return [
            (belief, 0, after(pile, step, cause))
            for belief, cause in causes
            if belief > 1e-9
        ]
    repair, good = machines[step.tag].repair, 1.0
    assert repair
    if step.donor:
        donor = machines[step.donor]
        good = next(
            donor.good(piece) for piece in donor.pieces if piece.part == step.part
        )
    outcomes = [
        (good * repair.belief, 1, True),
        (1 - good, 0, False),
        (good * (1 - repair.belief), 0, None),
    ]
    return [
        (chance, works, after(pile, step, what))
        for chance, works, what in outcomes
        if chance > 1e-9
    ]


def play(hidden: Hidden, policy: Policy, look: Look = true_cause) -> Played:
    """The pile played to its end: the policy is asked anew after every step."""
    pile, working, steps = hidden.pile, list[tuple[str, float]](), list[PileStep]()
    while (step := policy(pile)) is not None:
        machine = next(one for one in pile.waiting if one.tag == step.tag)
        if step.minutes > pile.minutes + 1e-6 or step.cents > pile.cents:
            raise AssertionError(
                f"{step} is beyond the {pile.minutes} minutes and {pile.cents} cents left"
            )
        if step.kind == "look":
            pile = after(pile, step, look(machine, hidden.truths[step.tag]))
        else:
            works = not step.donor or step.part not in hidden.truths[step.donor].bad
            pile = after(pile, step, works)
            if works:
                working.append((step.tag, hidden.pile.minutes - pile.minutes))
        steps.append(step)
    return Played(tuple(working), tuple(steps))


def three_machines(seed: int) -> Pile:
    """Three machines of one model, two causes each, with a fan and a pad to give."""
    rng = Random(seed)
    machines = []
    for number in range(3):
        part = rng.choice(["fan", "pad", ""])
        causes = (
            Remedy(cause="one", belief=0.55, minutes=rng.randint(10, 30), part=part),
            Remedy(
                cause="two",
                belief=0.4,
                minutes=rng.randint(10, 30),
                part=rng.choice(["fan", ""]),
            ),
        )
        pieces = (Piece(part="fan", sound=0.9), Piece(part="pad", sound=0.8))
        machines.append(
            Waiting(
                tag=f"P7-{number}",
                look=rng.randint(3, 15),
                remedies=causes,
                pieces=pieces,
            )
        )
    prices = {"fan": 1400, "pad": 1700}
    return Pile(
        waiting=tuple(machines),
        minutes=rng.choice([45, 70, 200]),
        cents=rng.choice([0, 1500]),
        prices=prices,
    )


def with_doubts(pile: Pile) -> Pile:
    """The same, but two machines are to be repaired by their first remedy before a look at what is left."""
    in_doubt = [replace(machine, ready=True) for machine in pile.waiting[:2]]
    return replace(pile, waiting=(*in_doubt, *pile.waiting[2:]))


def doubted(tag: str = "P7-1") -> Waiting:
    """A machine that waits for a fan, which is its cause 7 times in 10; else it is a setting 2 times in 3."""
    fan = Remedy(cause="fan stuck", belief=0.7, minutes=20, part="fan")
    return Waiting(
        tag=tag,
        look=15,
        remedies=(fan, Remedy(cause="setting", belief=0.2, minutes=10)),
        ready=True,
    )


def needy(tag: str, part: str) -> Waiting:
    """A machine that is known to want a part, ten minutes to fit."""
    return Waiting(
        tag=tag,
        look=0,
        remedies=(Remedy(cause="worn", belief=1.0, minutes=10, part=part),),
    )

"""Piles played with the real guide: looks cost what its tests cost and may be wrong, as on a bench.

    PYTHONPATH=.:tests python tests/benchmarks/piles_guided.py [--piles 30] [--machines 32]

Machines and words are those of `guided.py`, their beliefs those that the search gives. A look follows the guide, test
by test, until a repair works or a part is needed; every repair that does not help sends the machine back with what
was learned. The hours are half of what following the guide on all of them takes (short of hours), or three times as
many with a quarter of the money. Every way of choosing the next machine plays the same piles.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from guided import GuidedShop, bad_parts, guided_shop, pool_of, pools_of
from helpers.pile_rivals import SIMPLE
from helpers.piles import PARTS, Policy
from machine import Machine, Ticket

from kb.diagnosis.answer import Outline
from kb.diagnosis.answering import Complaint
from kb.diagnosis.case import OPENING_MINUTES, PART_MINUTES, SoFar
from kb.machines import complaints
from kb.machines.pile import Pile, Waiting, next_step
from kb.machines.pile.policy import by_prices
from kb.machines.pile.waiting import Piece, PileStep
from kb.model import Finding, Fix

WAYS: dict[str, Policy] = {**SIMPLE, "ours, prices alone": by_prices, "ours": next_step}
#: Share of the hours that all machines take, and cents a machine, by regime.
REGIMES = {"short of hours": (0.5, 470), "short of money": (1.5, 120)}
#: Cents of a part that the simulated piles do not price.
OTHER_PART = 1200
MOST_STEPS = 40


@dataclass
class OnThePile:
    """One machine while it is on the pile: what was found, what it waits for, and the minutes that were spent on it."""

    ticket: Ticket
    body: Machine
    findings: list[Finding] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)
    wants: tuple[str, Fix] | None = None
    given_up: bool = False

    @property
    def tag(self) -> str:
        return f"P-{self.ticket.number:04}"


class GuidedBench:
    """The bench with the guide; what it answers to the same findings is asked once."""

    def __init__(self, shop: GuidedShop) -> None:
        self.shop = shop
        self._answers: dict[object, Outline] = {}

    def answer(self, one: OnThePile) -> Outline:
        """What is believed of a machine, and the next step."""
        key = one.ticket.number, tuple(one.findings), tuple(one.failed), one.body.opened
        if key not in self._answers:
            at = SoFar(failed=tuple(one.failed), opened=one.body.opened)
            words, model = one.ticket.words, one.ticket.fault.model
            complaint = Complaint(
                text=words, model=model, findings=tuple(one.findings), limit=8, at=at
            )
            (self._answers[key],) = self.shop.bench.asking.outlines([complaint])
        return self._answers[key]

    def look(self, one: OnThePile, minutes: float) -> bool:
        """Follow the guide until the machine works, wants a part or is given up, or the minutes are over."""
        until = one.body.minutes + minutes
        for _ in range(MOST_STEPS):
            if one.body.minutes >= until:
                return False
            step = self.answer(one).next_step
            entry = self.shop.entries.get(step.entry) if step else None
            test, fix = (
                (entry.test(step.name), entry.fix_for(step.name))
                if step and entry
                else (None, None)
            )
            if step and entry and step.kind == "test" and test:
                one.findings.append(
                    Finding(
                        f"{entry.slug}/{test.slug}", one.body.test(entry, test).text
                    )
                )
            elif step and entry and step.kind == "fix" and fix and fix.parts:
                one.wants = (f"{entry.slug}/{step.name}", fix)
                return False
            elif step and entry and step.kind == "fix" and fix:
                if one.body.repair(entry, fix):
                    return True
                one.failed.append(f"{entry.slug}/{step.name}")
            else:
                break
        one.given_up = True
        return False

    def fit(self, one: OnThePile, piece_is_good: bool) -> bool:
        """Fit the part that a machine wants; a dead one teaches nothing, one in vain is a repair that did not help."""
        assert one.wants
        name, fix = one.wants
        entry = self.shop.entries[name.partition("/")[0]]
        works = one.body.repair(entry, fix) and piece_is_good
        one.body.fixed = works
        if works:
            return True
        if piece_is_good:
            one.failed.append(name)
            one.wants = None
        return False


def waiting(bench: GuidedBench, one: OnThePile) -> Waiting:
    """The machine as the pile reckons with it, as the program makes it out of its records."""
    model = one.ticket.fault.model
    if one.given_up:
        return Waiting(tag=one.tag, look=0.0)
    if one.wants:
        _, fix = one.wants
        minutes = (
            fix.minutes
            + PART_MINUTES
            + OPENING_MINUTES * (fix.cover_off and not one.body.opened)
        )
        return complaints.wanting(
            one.tag, fix.parts[0], minutes, pools_of(model), bench.answer(one)
        )
    answer = bench.answer(one)
    causes = complaints.believed(answer)
    return complaints.waiting(one.tag, answer, causes, pools_of(model))


def all_minutes(bench: GuidedBench, tickets: Sequence[Ticket], seed: int) -> float:
    """What following the guide on all of them takes, every part good and at hand."""
    whole = 0.0
    for ticket in tickets:
        one = OnThePile(ticket, Machine(ticket, seed))
        works = False
        while not (works or one.given_up):
            works = bench.look(one, 10_000.0) or (
                one.wants is not None and bench.fit(one, piece_is_good=True)
            )
        whole += one.body.minutes
    return whole


@dataclass
class PlayedPile:
    """A pile under way: machines by tag, donors already cut up, what pieces are gone, and what is left."""

    bench: GuidedBench
    machines: dict[str, OnThePile]
    bad: Mapping[str, frozenset[str]]
    minutes: float
    cents: int
    donors: set[str] = field(default_factory=set)
    gone: set[tuple[str, str]] = field(default_factory=set)
    working: int = 0
    kept: dict[str, Waiting] = field(default_factory=dict)

    def pile(self) -> Pile:
        """The pile as the program sees it."""
        known = {tag: self._known(tag) for tag in self.machines}
        asked = {
            one.part
            for machine in known.values()
            for one in machine.remedies
            if one.part
        }
        lending = {tag: self._lending(machine, asked) for tag, machine in known.items()}
        return Pile(
            waiting=tuple(
                machine for tag, machine in lending.items() if tag not in self.donors
            ),
            donors=tuple(lending[tag] for tag in sorted(self.donors)),
            minutes=self.minutes,
            cents=self.cents,
            prices={pool: price(pool) for pool in asked},
        )

    def _known(self, tag: str) -> Waiting:
        if tag not in self.kept:
            self.kept[tag] = waiting(self.bench, self.machines[tag])
        return self.kept[tag]

    def _lending(self, machine: Waiting, asked: set[str]) -> Waiting:
        model = self.machines[machine.tag].ticket.fault.model
        held = (
            pool
            for pool in sorted(asked)
            if pool_of(pool.split(", ")[0], model) == pool
        )
        return replace(
            machine,
            pieces=tuple(
                Piece(part=pool)
                for pool in held
                if (machine.tag, pool) not in self.gone
            ),
        )

    def do(self, step: PileStep) -> None:
        """One step in truth."""
        one = self.machines[step.tag]
        before = one.body.minutes
        if step.kind in ("look", "repair"):
            works = self.bench.look(one, self.minutes)
        else:
            piece_is_good = True
            if step.donor:
                self.donors.add(step.donor)
                self.gone.add((step.donor, step.part))
                piece_is_good = step.part.split(", ")[0] not in self.bad[step.donor]
            self.cents -= step.cents
            works = self.bench.fit(one, piece_is_good)
        self.minutes -= (
            one.body.minutes
            - before
            + (PART_MINUTES if step.kind in ("fit", "buy") else 0.0)
        )
        self.kept.pop(step.tag, None)
        if works and self.minutes >= 0:
            self.working += 1
        if works:
            del self.machines[step.tag]


@cache
def price(pool: str) -> int:
    """Cents of a part of that pool."""
    names = {
        "touchpad": "pad",
        "charging socket": "jack",
        "hinge set": "hinge",
        "wireless card": "radio",
    }
    names |= {
        "memory module": "memory",
        "M.2 drive": "drive",
        "camera module": "camera",
    }
    part = pool.split(", ")[0]
    return PARTS.get(names.get(part, part), (OTHER_PART, 0.0))[0]


def played(
    bench: GuidedBench,
    tickets: Sequence[Ticket],
    regime: tuple[float, int],
    policy: Policy,
    seed: int,
) -> int:
    """How many of these machines a policy makes work."""
    share, cents = regime
    machines = {
        one.tag: one
        for one in (OnThePile(ticket, Machine(ticket, seed)) for ticket in tickets)
    }
    whole = {
        part
        for ticket in tickets
        for fix in ticket.fault.entry.fixes
        for part in fix.parts
    } | PART_NAMES
    bad = {
        tag: bad_parts(one.ticket, sorted(whole), bench.shop.spread, seed)
        for tag, one in machines.items()
    }
    hours = share * all_minutes(bench, tickets, seed)
    state = PlayedPile(bench, machines, bad, hours, cents * len(tickets))
    while state.minutes > 0 and (step := policy(state.pile())) is not None:
        state.do(step)
    return state.working


#: Parts that any machine may lend.
PART_NAMES = frozenset(PARTS)


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--piles", type=int, default=30)
    options.add_argument("--machines", type=int, default=32)
    options.add_argument("--seed", type=int, default=11)
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        shop = guided_shop(Path(folder), given.piles * given.machines, given.seed)
        bench = GuidedBench(shop)
        for name, regime in REGIMES.items():
            print(
                f"{name}: working machines of {given.machines}, mean of {given.piles} piles",
                flush=True,
            )
            _table(bench, given.piles, given.machines, regime)
        shop.bench.close()


def _table(
    bench: GuidedBench, piles: int, machines: int, regime: tuple[float, int]
) -> None:
    pile_of = [
        bench.shop.tickets[number * machines : (number + 1) * machines]
        for number in range(piles)
    ]
    found: dict[str, list[int]] = {}
    for way, policy in WAYS.items():
        began = time.process_time()
        found[way] = [
            played(bench, tickets, regime, policy, number)
            for number, tickets in enumerate(pile_of)
        ]
        spent = (time.process_time() - began) / piles
        print(
            f"  {way:28} {statistics.fmean(found[way]):6.2f}   {spent:5.1f} s a pile",
            flush=True,
        )
    for way in WAYS:
        if way != "ours":
            _against(found["ours"], found[way], way)


def _against(ours: Sequence[int], theirs: Sequence[int], way: str) -> None:
    gains = [mine - other for mine, other in zip(ours, theirs, strict=True)]
    error = statistics.stdev(gains) / len(gains) ** 0.5
    print(
        f"  ours less {way:28} {statistics.fmean(gains):+.2f} ± {error:.2f}, least {min(gains):+d}",
        flush=True,
    )


if __name__ == "__main__":
    main()

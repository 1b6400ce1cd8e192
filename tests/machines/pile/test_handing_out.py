"""Pieces handed out within limits, held against every way."""

from __future__ import annotations

from itertools import product
from random import Random

from kb.machines.pile.handing_out import most


def test_the_most_machines_within_limits_are_those_of_every_way() -> None:
    rng = Random(8)
    for _ in range(80):
        limits = [(frozenset([number]), rng.randint(0, 4)) for number in range(3)]
        limits += [
            (frozenset(rng.sample(range(3), 2)), rng.randint(0, 6)),
            (frozenset(range(3)), rng.randint(0, 9)),
        ]
        ways = [
            way
            for way in product(range(5), repeat=3)
            if all(sum(way[n] for n in s) <= have for s, have in limits)
        ]

        found, shared = most(limits, 3, keep=200)

        assert found == max(map(sum, ways))
        if found:
            assert sorted(shared) == sorted(way for way in ways if sum(way) == found)

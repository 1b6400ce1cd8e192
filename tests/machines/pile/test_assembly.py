"""Machines built of several: against enumeration of every way, and a pile of a hundred donors in time."""

from __future__ import annotations

import math
import time
from itertools import permutations, product
from random import Random

import pytest

from kb.machines.pile.assembly import Assembly, assembled
from kb.machines.pile.handing_out import Fits, LoosePiece, PartsOf, Recipe

#: Kinds of part, and how likely a model shares its family of them with one before it.
KINDS = {
    "board": 0.0,
    "panel": 0.3,
    "palm rest": 0.2,
    "keyboard": 0.3,
    "pad": 0.4,
    "battery": 0.0,
    "drive": 1.0,
    "memory": 1.0,
    "radio": 0.9,
    "bottom": 0.0,
}

Case = tuple[list[Recipe], list[LoosePiece], dict[tuple[str, str, str], float]]


def case(
    seed: int, donors: int, models: int, kinds: tuple[str, ...], lacking: float
) -> Case:
    """Donors of several models, each lacking some of its parts, and fits across models by hidden families."""
    rng, names = Random(seed), [f"model {number}" for number in range(models)]
    fits = {}
    for kind in kinds:
        family: dict[str, str] = {}
        for number, name in enumerate(names):
            joins = number and rng.random() < max(
                KINDS[kind], 0.3 if models < 5 else 0.0
            )
            family[name] = family[rng.choice(names[:number])] if joins else name
        for giver, receiver in permutations(names, 2):
            fits[kind, giver, receiver] = (
                rng.uniform(0.8, 0.97) if family[giver] == family[receiver] else 0.1
            )
    pieces = []
    for number in range(donors):
        model = rng.choice(names)
        for kind in kinds:
            if rng.random() > lacking:
                good = rng.choice([rng.uniform(0.3, 1.0), 0.95])
                pieces.append(
                    LoosePiece(tag=f"A{number}", part=kind, model=model, good=good)
                )
    return [Recipe(model=name, parts=kinds) for name in names], pieces, fits


def enumerated(
    recipes: list[Recipe], pieces: list[LoosePiece], fits: Fits
) -> tuple[int, float]:
    """The most machines, and of these the greatest sum of logarithms, by every number of each and every handing out."""
    parts_of, kinds = PartsOf(recipes, pieces, fits), recipes[0].parts
    most_of_any = min(sum(piece.part == kind for piece in pieces) for kind in kinds)
    best = (0, 0.0)
    for numbers in product(range(most_of_any + 1), repeat=len(recipes)):
        if best[0] <= sum(numbers) <= most_of_any:
            wanted = [
                recipe.model
                for recipe, number in zip(recipes, numbers, strict=True)
                for _ in range(number)
            ]
            worth = sum(
                _best_handing_out(kind, wanted, pieces, parts_of) for kind in kinds
            )
            if (worth > -math.inf and (sum(numbers), worth) > best) or (
                worth > -math.inf and sum(numbers) > best[0]
            ):
                best = sum(numbers), worth
    return best


def _best_handing_out(
    kind: str, wanted: list[str], pieces: list[LoosePiece], parts_of: PartsOf
) -> float:
    own = [piece for piece in pieces if piece.part == kind and piece.good >= 0.5]
    best = -math.inf
    for chosen in permutations(own, len(wanted)):
        chances = [
            parts_of.fit(kind, p.model, model) * p.good
            for p, model in zip(chosen, wanted, strict=True)
        ]
        if min(chances, default=1.0) > 0:
            best = max(best, math.fsum(map(math.log, chances)))
    return best


def worth(found: Assembly) -> float:
    return math.fsum(math.log(machine.chance) for machine in found.machines)


def test_what_can_be_built_is_what_enumeration_finds() -> None:
    for seed in range(25):
        recipes, pieces, fits = case(seed, 5, 3, ("board", "keyboard", "pad"), 0.2)

        found = assembled(recipes, pieces, fits)

        number, sum_of_logs = enumerated(recipes, pieces, fits)
        assert len(found.machines) == number, seed
        assert worth(found) == pytest.approx(sum_of_logs), seed


def test_a_bought_part_adds_a_machine_exactly_where_building_with_it_makes_one_more() -> (
    None
):
    for seed in range(12):
        recipes, pieces, fits = case(seed, 8, 3, ("board", "keyboard", "pad"), 0.4)
        prices = {
            (kind, recipe.model): 1000 for recipe in recipes for kind in recipe.parts
        }

        found = assembled(recipes, pieces, fits, prices)

        now = len(found.machines)
        adding = set()
        for kind, model in prices:
            bought = LoosePiece(tag="new", part=kind, model=model, good=1.0)
            if len(assembled(recipes, [*pieces, bought], fits).machines) > now:
                adding.add((kind, model))
        assert {(one.part, one.model) for one in found.additions} == adding
        assert all("bought" in one.machine.tags for one in found.additions)


def test_every_machine_has_one_piece_of_each_kind_and_no_piece_is_used_twice() -> None:
    recipes, pieces, fits = case(3, 60, 6, tuple(KINDS), 0.3)

    found = assembled(recipes, pieces, fits)

    used = [
        (one.piece.tag, one.piece.part)
        for machine in found.machines
        for one in machine.pieces
    ]
    assert len(found.machines) > 5
    assert len(used) == len(set(used))
    assert all(
        [one.piece.part for one in machine.pieces] == list(KINDS)
        for machine in found.machines
    )
    for machine in found.machines:
        for one in machine.pieces:
            own = (
                0.97
                if one.piece.model == machine.model
                else fits[one.piece.part, one.piece.model, machine.model]
            )
            assert one.chance == pytest.approx(own * one.piece.good)


def test_a_hundred_donors_take_less_than_two_seconds() -> None:
    recipes, pieces, fits = case(1, 100, 8, tuple(KINDS), 0.35)
    prices = {(kind, recipe.model): 2500 for recipe in recipes for kind in recipe.parts}
    started = time.process_time()

    found = assembled(recipes, pieces, fits, prices)

    assert time.process_time() - started < 2.0
    assert found.machines
    assert found.additions
    assert assembled(recipes, pieces, fits, prices) == found


def test_the_best_pieces_go_into_one_machine() -> None:
    recipes = [Recipe(model="Skua 14", parts=("board", "panel"))]
    goods = {"A1": (0.9, 0.6), "A2": (0.6, 0.9)}
    pieces = [
        LoosePiece(tag=tag, part=part, model="Skua 14", good=good)
        for tag, both in goods.items()
        for part, good in zip(("board", "panel"), both, strict=True)
    ]

    found = assembled(recipes, pieces, {})

    assert [machine.tags for machine in found.machines] == [("A1", "A2"), ("A1", "A2")]
    assert found.machines[0].chance == pytest.approx(0.97**2 * 0.81)


def test_doubtful_pieces_and_pairs_that_do_not_fit_are_left_out() -> None:
    recipes = [
        Recipe(model="Skua 14", parts=("panel",)),
        Recipe(model="Fulmar 14", parts=("panel",)),
    ]
    bad = LoosePiece(tag="A1", part="panel", model="Skua 14", good=0.4)
    other = LoosePiece(tag="A2", part="panel", model="Kittiwake 14", good=0.9)

    assert (
        assembled(
            recipes, [bad, other], {("panel", "Kittiwake 14", "Skua 14"): 0.05}
        ).machines
        == ()
    )
    assert assembled(recipes, [], {}).machines == ()
    assert assembled([], [bad], {}).machines == ()

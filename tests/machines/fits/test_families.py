"""Families of models, held against enumeration and published counts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from random import Random

import pytest
from helpers.trying import (
    WORKED,
)
from hypothesis import given
from hypothesis import strategies as st

from kb.machines.fits import chance
from kb.machines.fits.families import (
    LUCK,
    MISFIT,
    Try,
    learned_alpha,
    learned_claim,
    linked,
    partitions,
    tied,
)


def every_partition(models: Sequence[str]) -> Iterator[list[list[str]]]:
    """All ways to part the models, one by one: each new one joins a family or founds one."""
    if not models:
        yield []
        return
    for families in every_partition(models[:-1]):
        for place in range(len(families)):
            yield [
                *families[:place],
                [*families[place], models[-1]],
                *families[place + 1 :],
            ]
        yield [*families, [models[-1]]]


def prior(families: Sequence[Sequence[str]], alpha: float) -> float:
    """The restaurant process in one formula: alpha to the number of families, times (size - 1)! of each."""
    return math.prod(alpha * math.factorial(len(family) - 1) for family in families)


def enumerated(tries: Sequence[Try], giver: str, receiver: str, alpha: float) -> float:
    """P(fits) by going through every partition of the linked models."""
    models = linked(tied(tries), [giver, receiver])
    factors = {
        "worked": (1 - MISFIT, LUCK),
        "failed": (MISFIT, 1 - LUCK),
        "claimed": (7.0, 1.0),
    }
    whole, together = 0.0, 0.0
    for families in every_partition(models):
        home = {
            model: number for number, family in enumerate(families) for model in family
        }
        weight = prior(families, alpha)
        for a, b, shown in tries:
            if a in home:
                weight *= factors[shown][home[a] != home[b]]
        whole += weight
        together += weight * (home[giver] == home[receiver])
    same = together / whole
    return same * (1 - MISFIT) + (1 - same) * LUCK


@pytest.mark.parametrize(
    ("tries", "pair", "figure"),
    [
        pytest.param([], "ac", 0.250, id="nothing known"),
        pytest.param([("c", "a", "claimed")], "ac", 0.682, id="one claim"),
        pytest.param(WORKED, "ac", 0.955, id="a chain"),
        pytest.param(
            [*WORKED, ("a", "c", "failed")], "ac", 0.643, id="a chain, and it failed"
        ),
        pytest.param(
            [*WORKED, ("a", "c", "failed")],
            "bc",
            0.647,
            id="doubt falls on the link tried once",
        ),
        pytest.param(
            [*WORKED, ("a", "c", "failed")],
            "ab",
            0.967,
            id="and not on the one tried twice",
        ),
    ],
)
def test_worked_figures_come_out_to_three_decimals(
    tries: list[Try], pair: str, figure: float
) -> None:
    assert chance(tries, pair[0], pair[1]) == pytest.approx(figure, abs=5e-4)
    assert chance(iter(tries), pair[1], pair[0]) == pytest.approx(figure, abs=5e-4)


@given(
    st.lists(
        st.tuples(
            *[st.sampled_from("abcdefg")] * 2,
            st.sampled_from(["worked", "failed", "claimed"]),
        ),
        max_size=12,
    ).map(lambda tries: [done for done in tries if done[0] != done[1]]),
    st.sampled_from([0.5, 3.0, 9.0]),
)
def test_the_beam_agrees_with_all_partitions_of_seven_models(
    tries: list[Try], alpha: float
) -> None:
    assert chance(tries, "a", "b", alpha) == pytest.approx(
        enumerated(tries, "a", "b", alpha), abs=1e-3
    )


def test_there_are_as_many_partitions_as_bells_numbers() -> None:
    """1, 1, 2, 5, 15, 52, 203, 877: OEIS A000110 (from memory)."""
    models = "abcdefg"

    found = [
        len(partitions(models[:n], {}, 3.0, named=models, beam=1000)) for n in range(8)
    ]

    assert found == [1, 1, 2, 5, 15, 52, 203, 877]
    assert [sum(1 for _ in every_partition(models[:n])) for n in range(8)] == found


def test_the_number_of_families_of_four_models_is_as_ewens_says() -> None:
    """Ewens 1972 (Theoretical Population Biology 3): alpha^k |s(4, k)| / (alpha (alpha+1) (alpha+2) (alpha+3))."""
    ways = partitions("abcd", {}, 2.0)
    sizes = Counter[int]()
    for families, weight in ways.items():
        sizes[len(families)] += weight  # type: ignore[assignment]
    whole = sum(ways.values())

    assert [sizes[k] / whole for k in (1, 2, 3, 4)] == pytest.approx(
        [0.1, 11 / 30, 0.4, 2 / 15]
    )


def test_no_answer_takes_long_however_tangled_the_tries() -> None:
    import time

    rng, models = Random(4), [f"model {number}" for number in range(20)]
    spent = []
    for _ in range(20):
        shown = ["worked", "failed", "failed", "claimed"]
        tries: list[Try] = [
            (*rng.sample(models, 2), rng.choice(shown))  # type: ignore[misc]
            for _ in range(40)
        ]
        started = time.process_time()
        chance(tries, rng.choice(models), rng.choice(models))
        spent.append(time.process_time() - started)

    # 11 ms on a quiet machine, for evidence far worse than any shop's
    assert sorted(spent)[10] < 0.05


def test_a_thousand_tries_that_contradict_each_other_still_give_a_figure() -> None:
    tangle: list[Try] = [
        ("a", "b", "worked"),
        ("b", "c", "worked"),
        ("a", "c", "failed"),
    ]

    assert 0.0 < chance(tangle * 1000, "a", "c") < 1.0


def test_alpha_and_claims_are_learned_from_what_came_true() -> None:
    assert learned_alpha(9, 17) == pytest.approx(1.0)  # (9 + 1) / (17 + 3) is one half
    assert (
        learned_alpha(9, 17, worked_here=0, tried_here=12)
        > learned_alpha(9, 17)
        > learned_alpha(9, 17, 12, 12)
    )
    assert learned_claim(0, 0) == pytest.approx(7.0)
    assert learned_claim(1, 9) < 7.0 < learned_claim(9, 9)

"""Partial pooling: against scipy, on groups whose strength is known, and what must hold of any counts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from random import Random
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from kb.base import pooling
from kb.base.pooling import (
    FEWEST_GROUPS,
    MIDDLES,
    STRENGTHS,
    USUAL,
    Group,
    Pooling,
    between_shops,
    from_json,
    learned,
    of_one_shop,
    smoothed,
    told,
)

CAUSES = ("a", "b", "c", "d")
OWN = {"a": 0.5, "b": 0.3, "c": 0.15, "d": 0.05}
EVEN = tuple(1 / len(STRENGTHS) for _ in STRENGTHS)


def only(strength: float) -> tuple[float, ...]:
    return tuple(float(one == strength) for one in STRENGTHS)


def pool_of(*strengths: float) -> Pooling:
    """One strength for few, some and many jobs each."""
    return Pooling(10.0, tuple(only(strength) for strength in strengths))


def drawn(dice: Random, strength: float, jobs: int) -> Group:
    """What a model had whose shares lie about the sheet's own as a Dirichlet of that strength."""
    gammas = {
        cause: dice.gammavariate(strength * share, 1.0) + 1e-12
        for cause, share in OWN.items()
    }
    here = Counter(dice.choices(list(gammas), list(gammas.values()), k=jobs))
    return Group(here=here, elsewhere={}, own=OWN)


def test_how_likely_a_strength_is_after_counts_is_as_scipy_has_it() -> None:
    here, elsewhere = {"a": 1.0, "c": 6.0}, {"a": 3.0, "b": 1.5}
    upper = smoothed(OWN, elsewhere, 10.0)
    counts = [int(here.get(cause, 0)) for cause in CAUSES]
    chances = [
        weight
        * stats.dirichlet_multinomial.pmf(
            counts, [strength * upper[cause] for cause in CAUSES], sum(counts)
        )
        for weight, strength in zip(EVEN, STRENGTHS, strict=True)
    ]
    means = [
        sum(
            chance * (here.get(cause, 0) + strength * upper[cause]) / (7 + strength)
            for chance, strength in zip(chances, STRENGTHS, strict=True)
        )
        / sum(chances)
        for cause in CAUSES
    ]

    found = Pooling(10.0, (EVEN, EVEN, EVEN)).pooled(
        Group(here=here, elsewhere=elsewhere, own=OWN)
    )

    # between the middles of two sorts the weights are between theirs, here even on both sides
    assert [found.shares[cause] for cause in CAUSES] == pytest.approx(means, abs=1e-9)


def test_with_one_strength_it_is_the_rule_of_two_levels() -> None:
    group = Group(here={"b": 20.0, "d": 5.0}, elsewhere={"a": 4.0}, own=OWN)

    found = pool_of(2.0, 2.0, 2.0).pooled(group)

    assert found.shares == pytest.approx(
        smoothed(smoothed(OWN, {"a": 4.0}, 10.0), group.here, 2.0)
    )
    assert found.jobs == pytest.approx(dict.fromkeys(OWN, 25.0 + 2.0))


def test_a_model_with_one_job_or_none_is_pooled_as_usual_whatever_was_learned() -> None:
    for here in ({}, {"b": 1.0}):
        found = pool_of(0.25, 0.25, 0.25).pooled(
            Group(here=here, elsewhere={}, own=OWN)
        )
        assert found.shares == pytest.approx(smoothed(OWN, here, USUAL))


def test_what_jobs_of_one_cause_tell_is_the_mean_number_of_tables() -> None:
    for jobs in (1, 2, 7, 199, 200, 201, 5_000):
        assert told(jobs) == pytest.approx(
            special.digamma(jobs + 1) - special.digamma(1), rel=1e-12
        )


def test_habits_and_chance_are_told_apart_where_both_are_there() -> None:
    """A fifth of the models hold to one cause, the others share what all have: each is believed as it deserves."""
    dice = Random("pooling")
    groups = [
        drawn(dice, 0.25 if number % 5 == 0 else 128.0, dice.choice((2, 3, 6, 12, 30)))
        for number in range(600)
    ]

    found = learned(groups)

    assert found is not None
    habit = found.pooled(Group(here={"c": 12.0}, elsewhere={}, own=OWN)).shares["c"]
    chance = found.pooled(
        Group(here={"a": 6.0, "b": 4.0, "c": 2.0}, elsewhere={}, own=OWN)
    ).shares["c"]
    assert habit > 0.9
    assert chance == pytest.approx(0.15, abs=0.03)


@pytest.mark.parametrize("strength", [0.5, 8.0, 64.0])
def test_the_strength_that_models_have_is_found(strength: float) -> None:
    dice = Random(f"one strength {strength}")

    found = learned([drawn(dice, strength, 25) for _ in range(400)])

    assert found is not None
    mean = math.exp(
        sum(
            weight * math.log(one)
            for weight, one in zip(found.weights[2], STRENGTHS, strict=True)
        )
    )
    assert strength / 1.6 <= mean <= strength * 1.6


def test_in_nine_of_ten_and_more_the_truth_lies_within_the_interval() -> None:
    """Of shares drawn as the mixture says, the central 95 % of a beta of the jobs told holds 90 to 98 %."""
    dice, held, asked = Random("coverage"), 0, 0
    weights = tuple(1 / 3 if one in (0.5, 8.0, 64.0) else 0.0 for one in STRENGTHS)
    found = Pooling(1e6, (weights, weights, weights))
    for _ in range(1_500):
        strength, jobs = dice.choice((0.5, 8.0, 64.0)), dice.choice((3, 8, 20))
        gammas = [dice.gammavariate(strength * share, 1.0) for share in OWN.values()]
        truth = dict(zip(OWN, (one / sum(gammas) for one in gammas), strict=True))
        here = Counter(dice.choices(list(truth), list(truth.values()), k=jobs))
        pooled = found.pooled(Group(here=here, elsewhere={}, own=OWN))
        for cause in ("a", "b"):
            share, rests_on = pooled.shares[cause], pooled.jobs[cause]
            low, high = stats.beta.interval(
                0.95, share * rests_on, (1 - share) * rests_on
            )
            held += low <= truth[cause] <= high
            asked += 1

    assert 0.90 <= held / asked <= 0.98


def test_too_few_models_teach_nothing() -> None:
    dice = Random("few")
    groups = [drawn(dice, 1.0, 5) for _ in range(FEWEST_GROUPS)]
    alone = [drawn(dice, 1.0, 1) for _ in range(500)]

    assert learned([*groups[1:], *alone]) is None
    assert learned(groups) is not None


def test_what_was_learned_is_read_again_as_it_was_written() -> None:
    dice = Random("written")
    found = learned([drawn(dice, 2.0, 6) for _ in range(60)])

    assert found is not None
    assert from_json(found.to_json()) == found
    assert from_json("") is None


counts = st.dictionaries(st.sampled_from(CAUSES), st.floats(0, 300), max_size=4)


@given(here=counts, elsewhere=counts)
def test_shares_sum_to_one_and_rest_on_some_jobs(
    here: dict[str, float], elsewhere: dict[str, float]
) -> None:
    found = Pooling(20.0, (EVEN, EVEN, EVEN)).pooled(
        Group(here=here, elsewhere=elsewhere, own=OWN)
    )

    assert sum(found.shares.values()) == pytest.approx(1.0)
    assert min(found.shares.values()) > 0
    assert min(found.jobs.values()) > 0


@given(jobs=st.floats(1, 100))
def test_how_likely_a_strength_is_changes_by_little_with_a_little_more_work(
    jobs: float,
) -> None:
    pool = pool_of(0.25, 8.0, 128.0)
    before, after = pool.likely(jobs), pool.likely(jobs + 1e-6)

    assert sum(before) == pytest.approx(1.0)
    assert before == pytest.approx(after, abs=1e-5)
    assert all(
        pool.likely(middle) == weights
        for middle, weights in zip(MIDDLES, pool.weights, strict=True)
    )


def test_a_cause_that_a_sheet_does_not_list_is_left_out() -> None:
    group = Group(here={"a": 2.0}, elsewhere={"b": 1.0}, own=OWN)
    stray = Group(
        here={"a": 2.0, "gone": 9.0}, elsewhere={"b": 1.0, "gone": 5.0}, own=OWN
    )

    assert pooling.Pooling(10.0, (EVEN, EVEN, EVEN)).pooled(stray) == Pooling(
        10.0, (EVEN, EVEN, EVEN)
    ).pooled(group)


def test_a_few_groups_sway_what_is_believed_beforehand_by_as_much_as_they_are() -> None:
    sure = [Group(here={"d": 6.0}, elsewhere={}, own=OWN)] * FEWEST_GROUPS

    found = learned(sure)

    assert found is not None
    # 40 groups beside a prior worth 20, which gives these strengths .1
    assert 0.5 < sum(found.weights[1][:3]) < 0.75


@pytest.mark.parametrize(("strays", "worth"), [(True, 5.0), (False, 80.0)])
def test_a_sheet_counts_for_more_where_the_shop_has_what_it_says(
    strays: bool, worth: float
) -> None:
    """Models alike among themselves, whose causes are those of the sheet, or the other way round."""
    dice = Random("sheet")
    shop = dict(zip(OWN, reversed(OWN.values()), strict=True)) if strays else OWN
    groups = [
        Group(
            here=Counter(dice.choices(list(shop), list(shop.values()), k=8)),
            own=OWN,
            elsewhere=Counter(dice.choices(list(shop), list(shop.values()), k=20)),
        )
        for _ in range(300)
    ]

    found = learned(groups)

    assert found is not None
    assert found.prior_jobs == worth


@pytest.mark.parametrize("jobs", [1, 5, 60, 5_000])
def test_jobs_of_one_shop_tell_as_much_of_all_as_the_spread_of_their_mean_says(
    jobs: int,
) -> None:
    """As many single jobs of different shops would have a mean of the same variance as these, by scipy."""
    share, alike = 0.3, 8.0
    spread = stats.betabinom.var(jobs, alike * share, alike * (1 - share)) / jobs**2

    assert of_one_shop(jobs, alike) == pytest.approx(share * (1 - share) / spread)


def of_shops(dice: Random, alike: float, false: bool = False) -> list[Group]:
    """What twelve shops had of one sheet; with `false` one of them sends a million jobs of one cause instead."""
    counts = [drawn(dice, alike, dice.choice((3, 10, 40))).here for _ in range(12)]
    if false:
        counts[0] = {"d": 1_000_000}
    return [
        Group(here=counts[n], elsewhere=told_by(counts[:n] + counts[n + 1 :]), own=OWN)
        for n in range(12)
    ]


def told_by(shops: list[Mapping[str, float]]) -> dict[str, float]:
    summed = Counter[str]()
    for counts in shops:
        jobs = sum(counts.values())
        summed.update(
            {cause: count * of_one_shop(jobs) / jobs for cause, count in counts.items()}
        )
    return dict(summed)


@pytest.mark.parametrize("alike", [2.0, 8.0, 32.0])
def test_how_alike_shops_are_is_found_though_one_of_twelve_lies(alike: float) -> None:
    dice = Random(f"shops {alike}")

    honest = between_shops({str(n): of_shops(dice, alike) for n in range(60)})
    fooled = between_shops(
        {str(n): of_shops(dice, alike, false=True) for n in range(60)}
    )

    assert alike / 1.5 <= median(honest.values()) <= alike * 1.5
    # it makes shops look less alike (32 as 8), no more
    assert alike / 4.5 <= median(fooled.values()) <= alike * 1.5


def test_shops_that_had_one_job_each_say_nothing_of_how_alike_they_are() -> None:
    lone = Group(here={"a": 1.0}, elsewhere={"b": 4.0}, own=OWN)

    assert between_shops({"sheet": [lone] * 9}) == pytest.approx(
        {"sheet": USUAL}, abs=0.5
    )
    assert between_shops({}) == {}

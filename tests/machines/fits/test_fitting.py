"""What fits: families of models against enumeration and published counts, and the evidence told before the figure."""

from __future__ import annotations

import math
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from random import Random

import pytest
from helpers.trying import (
    WORLDS,
    Rule,
    by_families,
    by_families_if_linked,
    chain_product,
    foretell,
    joined_is_fits,
    tried_pairs_only,
)
from hypothesis import given
from hypothesis import strategies as st

from kb.machines.fits import Fitting, PartTry, chance, fitting
from kb.machines.fits.families import LUCK, MISFIT, Try, learned_alpha, learned_claim, linked, partitions, tied

LONG = os.environ.get("BENCHLORE_LONG") == "1"

WORKED: list[Try] = [("a", "b", "worked"), ("b", "a", "worked"), ("b", "c", "worked")]


def every_partition(models: Sequence[str]) -> Iterator[list[list[str]]]:
    """All ways to part the models, one by one: each new one joins a family or founds one."""
    if not models:
        yield []
        return
    for families in every_partition(models[:-1]):
        for place in range(len(families)):
            yield [*families[:place], [*families[place], models[-1]], *families[place + 1 :]]
        yield [*families, [models[-1]]]


def prior(families: Sequence[Sequence[str]], alpha: float) -> float:
    """The restaurant process in one formula: alpha to the number of families, times (size - 1)! of each."""
    return math.prod(alpha * math.factorial(len(family) - 1) for family in families)


def enumerated(tries: Sequence[Try], giver: str, receiver: str, alpha: float) -> float:
    """P(fits) by going through every partition of the linked models."""
    models = linked(tied(tries), [giver, receiver])
    factors = {"worked": (1 - MISFIT, LUCK), "failed": (MISFIT, 1 - LUCK), "claimed": (7.0, 1.0)}
    whole, together = 0.0, 0.0
    for families in every_partition(models):
        home = {model: number for number, family in enumerate(families) for model in family}
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
        pytest.param([*WORKED, ("a", "c", "failed")], "ac", 0.643, id="a chain, and it failed"),
        pytest.param([*WORKED, ("a", "c", "failed")], "bc", 0.647, id="doubt falls on the link tried once"),
        pytest.param([*WORKED, ("a", "c", "failed")], "ab", 0.967, id="and not on the one tried twice"),
    ],
)
def test_worked_figures_come_out_to_three_decimals(tries: list[Try], pair: str, figure: float) -> None:
    assert chance(tries, pair[0], pair[1]) == pytest.approx(figure, abs=5e-4)
    assert chance(iter(tries), pair[1], pair[0]) == pytest.approx(figure, abs=5e-4)


@given(
    st.lists(
        st.tuples(*[st.sampled_from("abcdefg")] * 2, st.sampled_from(["worked", "failed", "claimed"])), max_size=12
    ).map(lambda tries: [done for done in tries if done[0] != done[1]]),
    st.sampled_from([0.5, 3.0, 9.0]),
)
def test_the_beam_agrees_with_all_partitions_of_seven_models(tries: list[Try], alpha: float) -> None:
    assert chance(tries, "a", "b", alpha) == pytest.approx(enumerated(tries, "a", "b", alpha), abs=1e-3)


def test_there_are_as_many_partitions_as_bells_numbers() -> None:
    """1, 1, 2, 5, 15, 52, 203, 877: OEIS A000110 (from memory)."""
    models = "abcdefg"

    found = [len(partitions(models[:n], {}, 3.0, named=models, beam=1000)) for n in range(8)]

    assert found == [1, 1, 2, 5, 15, 52, 203, 877]
    assert [sum(1 for _ in every_partition(models[:n])) for n in range(8)] == found


def test_the_number_of_families_of_four_models_is_as_ewens_says() -> None:
    """Ewens 1972 (Theoretical Population Biology 3): alpha^k |s(4, k)| / (alpha (alpha+1) (alpha+2) (alpha+3))."""
    ways = partitions("abcd", {}, 2.0)
    sizes = Counter[int]()
    for families, weight in ways.items():
        sizes[len(families)] += weight  # type: ignore[assignment]
    whole = sum(ways.values())

    assert [sizes[k] / whole for k in (1, 2, 3, 4)] == pytest.approx([0.1, 11 / 30, 0.4, 2 / 15])


def test_no_answer_takes_long_however_tangled_the_tries() -> None:
    import time

    rng, models = Random(4), [f"model {number}" for number in range(20)]
    spent = []
    for _ in range(20):
        shown = ["worked", "failed", "failed", "claimed"]
        tries: list[Try] = [(*rng.sample(models, 2), rng.choice(shown)) for _ in range(40)]  # type: ignore[misc]
        started = time.process_time()
        chance(tries, rng.choice(models), rng.choice(models))
        spent.append(time.process_time() - started)

    assert sorted(spent)[10] < 0.05  # 11 ms on a quiet machine, for evidence far worse than any shop's


def test_a_thousand_tries_that_contradict_each_other_still_give_a_figure() -> None:
    tangle: list[Try] = [("a", "b", "worked"), ("b", "c", "worked"), ("a", "c", "failed")]

    assert 0.0 < chance(tangle * 1000, "a", "c") < 1.0


def test_the_same_model_fits_until_tries_speak_against_it() -> None:
    assert chance([], "a", "a") == pytest.approx(1 - MISFIT)
    assert chance([("a", "b", "failed")] * 5, "a", "a") == pytest.approx(1 - MISFIT)
    assert chance([("a", "a", "failed")], "a", "a") < 0.8 < chance([("a", "a", "worked")] * 9, "a", "a")
    assert chance([("a", "a", "failed")] * 9, "a", "b") == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("tries", "alpha", "told"),
    [
        pytest.param([("a", "b", "fitted")], 3.0, "worked, failed or claimed, not 'fitted'", id="an unknown word"),
        pytest.param([], 0.0, "must be above 0", id="no alpha"),
    ],
)
def test_bad_input_is_told_in_a_sentence(tries: list[Try], alpha: float, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        chance(tries, "a", "b", alpha)


def tries_of(*rows: str) -> list[PartTry]:
    """Tries written as `a b worked 2026-03-01 why`."""
    made = []
    for row in rows:
        giver, receiver, shown, at, *why = row.split()
        made.append(PartTry(giver=giver, receiver=receiver, shown=shown, at=at, reason=" ".join(why)))  # type: ignore[arg-type]
    return made


def test_fits_is_said_only_after_a_direct_try_or_of_the_same_model() -> None:
    tries = tries_of(
        "a b worked 2026-03-01", "a b worked 2026-04-01", "b c worked 2026-05-01", "d c claimed 2026-05-02"
    )

    verdicts = {pair: fitting(tries, *pair).verdict for pair in ("ab", "aa", "ac", "ba", "dc", "ad", "ax")}

    assert verdicts == {
        "ab": "fits", "aa": "fits", "ac": "may fit", "ba": "may fit", "dc": "claimed", "ad": "may fit", "ax": "unknown",
    }  # fmt: skip
    assert fitting(tries, "b", "a").turned_round == tuple(tries[:2])


def test_evidence_is_told_with_its_times_its_last_day_and_its_chain() -> None:
    tries = tries_of(
        "a b worked 2026-04-01", "a b worked 2026-03-01", "b c worked 2026-05-01", "c d claimed 2026-05-02"
    )

    straight, far = fitting(tries, "a", "b"), fitting(tries, "a", "d")

    assert len(straight.worked) == 2
    assert straight.last is not None
    assert straight.last.at == "2026-04-01"
    assert (far.chain, far.weakest) == (("a", "b", "c", "d"), "claimed")
    assert far.chance == pytest.approx(chance([(t.giver, t.receiver, t.shown) for t in tries], "a", "d"))


@pytest.mark.parametrize("asked", ["ac", "ca"])
def test_a_failed_pair_always_shows_its_reason_and_never_the_figure_of_the_family(asked: str) -> None:
    tries = tries_of("a c worked 2026-01-01", "a c failed 2026-03-01 ribbon too short", "a c failed 2026-04-01")

    seen = fitting([*tries, *tries_of("a b worked 2026-03-01", "b c worked 2026-05-01")], *asked)

    assert (seen.verdict, seen.reason, seen.chance) == ("did not fit", "ribbon too short", None)
    assert fitting(tries_of("a a failed 2026-03-01 connector"), "a", "a").verdict == "did not fit"


def test_a_pair_that_nothing_links_is_told_as_one_of_which_nothing_is_known() -> None:
    tries = tries_of("a b worked 2026-03-01", "a c worked 2026-03-01")

    assert fitting(tries, "a", "x") == Fitting(giver="a", receiver="x", verdict="unknown", chance=chance([], "a", "x"))


def test_what_one_source_claims_again_and_again_is_one_claim() -> None:
    claim = PartTry(giver="a", receiver="b", shown="claimed", source="a parts list")

    once, thrice = fitting([claim], "a", "b"), fitting([claim] * 3, "a", "b")
    two = fitting([claim, PartTry(giver="a", receiver="b", shown="claimed", source="a colleague")], "a", "b")

    assert once.chance == thrice.chance == pytest.approx(0.682)
    assert two.chance is not None
    assert two.chance > 0.9


def test_alpha_and_claims_are_learned_from_what_came_true() -> None:
    assert learned_alpha(9, 17) == pytest.approx(1.0)  # (9 + 1) / (17 + 3) is one half
    assert learned_alpha(9, 17, worked_here=0, tried_here=12) > learned_alpha(9, 17) > learned_alpha(9, 17, 12, 12)
    assert learned_claim(0, 0) == pytest.approx(7.0)
    assert learned_claim(1, 9) < 7.0 < learned_claim(9, 9)


def mean(losses: Sequence[float]) -> float:
    return math.fsum(losses) / len(losses)


def test_families_foretell_the_next_try_better_than_any_simpler_rule() -> None:
    """150 kinds of part, 16 tries each; bars .58 over all and .42 for linked, untried pairs."""
    world = WORLDS["kinds differ"]
    ours = foretell(world, by_families, 150, seed=7)
    rivals = [foretell(world, rule, 150, seed=7, learning="none") for rule in RIVALS]

    assert mean(ours.losses) <= 0.58
    assert mean(ours.linked) <= 0.42
    assert mean(ours.losses) < min(mean(rival.losses) for rival in rivals) - 0.1
    assert mean(ours.linked) < min(mean(rival.linked) for rival in rivals) - 0.05


RIVALS: tuple[Rule, ...] = (joined_is_fits, chain_product, tried_pairs_only)


@pytest.mark.skipif(not LONG, reason="takes half a minute; BENCHLORE_LONG=1")
@pytest.mark.parametrize("name", WORLDS)
def test_families_win_in_shops_whose_families_are_made_otherwise_too(name: str) -> None:
    ours = foretell(WORLDS[name], by_families_if_linked, 150, seed=8)
    rivals = [foretell(WORLDS[name], rule, 150, seed=8, learning="none") for rule in RIVALS]

    assert mean(ours.losses) < min(mean(rival.losses) for rival in rivals) - 0.03
    assert mean(ours.linked) < min(mean(rival.linked) for rival in rivals)


@pytest.mark.skipif(not LONG, reason="takes half a minute; BENCHLORE_LONG=1")
@pytest.mark.parametrize("name", ["kinds differ", "kinds alike"])
def test_what_is_said_comes_about_as_often_as_said(name: str) -> None:
    seen = foretell(WORLDS[name], by_families_if_linked, 300, seed=9)

    for count, said, came in seen.calibration():
        assert count < 90 or abs(said - came) < 0.1, (count, said, came)

"""Counts into probabilities: worked examples, limits, published posteriors, and laws that hold for any counts."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from kb.diagnosis.belief import Interval, interval, learned, two_levels, with_findings

Table = dict[str, float]

#: Worked by hand and with scipy: four causes, 50 jobs on other models, 5 on this one, weights worth 10 and 8 jobs.
WEIGHTS = {"contact": 0.4, "pack": 0.3, "board": 0.2, "fuse": 0.1}
ELSEWHERE = {"contact": 30.0, "pack": 10.0, "board": 5.0, "fuse": 5.0}
HERE = {"contact": 1.0, "pack": 4.0}
OVER_ALL = {"contact": 0.566667, "pack": 0.216667, "board": 0.116667, "fuse": 0.1}
ON_THE_MODEL = {
    "contact": 0.425641,
    "pack": 0.441026,
    "board": 0.071795,
    "fuse": 0.061538,
}


# Two levels


def test_four_jobs_on_this_model_overtake_thirty_on_others() -> None:
    assert two_levels(WEIGHTS, ELSEWHERE, HERE, 10, 8) == pytest.approx(
        ON_THE_MODEL, abs=1e-6
    )


def test_a_model_never_seen_takes_what_the_others_showed() -> None:
    assert two_levels(WEIGHTS, ELSEWHERE, {}, 10, 8) == pytest.approx(
        OVER_ALL, abs=1e-6
    )


def test_no_history_gives_the_weights() -> None:
    assert two_levels(WEIGHTS, {}, {}) == pytest.approx(WEIGHTS)


def test_weights_need_not_sum_to_one() -> None:
    odds = {name: 7 * weight for name, weight in WEIGHTS.items()}

    assert two_levels(odds, ELSEWHERE, HERE) == pytest.approx(
        two_levels(WEIGHTS, ELSEWHERE, HERE)
    )


def test_a_long_history_on_this_model_gives_its_raw_shares() -> None:
    long = {name: 100_000 * count for name, count in HERE.items()}

    found = two_levels(WEIGHTS, ELSEWHERE, long)

    assert found == pytest.approx(
        {"contact": 0.2, "pack": 0.8, "board": 0.0, "fuse": 0.0}, abs=1e-4
    )
    assert found == pytest.approx(
        two_levels(WEIGHTS, ELSEWHERE, HERE, 10, 1e-9), abs=1e-4
    )


def test_counts_of_a_cause_that_is_not_listed_change_nothing() -> None:
    stray = {"gone": 50.0}

    assert two_levels(WEIGHTS, ELSEWHERE | stray, HERE | stray) == two_levels(
        WEIGHTS, ELSEWHERE, HERE
    )


def test_no_causes_have_no_shares() -> None:
    assert two_levels({}, ELSEWHERE, HERE) == {}


def test_job_by_job_the_shares_multiply_to_the_dirichlet_multinomial_of_scipy() -> None:
    """The chance of one order of the five jobs, times the number of orders: -3.91365835 in logs."""
    over_all = two_levels(WEIGHTS, ELSEWHERE, {}, 10, 8)
    orders = math.log(math.comb(5, 1))
    seen: Table = {}
    chance = 0.0
    for cause in ("pack", "contact", "pack", "pack", "pack"):
        chance += math.log(two_levels(WEIGHTS, ELSEWHERE, seen, 10, 8)[cause])
        seen[cause] = seen.get(cause, 0.0) + 1

    theirs = stats.dirichlet_multinomial.logpmf(
        [1, 4, 0, 0], [8 * share for share in over_all.values()], 5
    )

    assert chance + orders == pytest.approx(theirs, abs=1e-9)
    assert chance + orders == pytest.approx(-3.91365835, abs=1e-8)


@pytest.mark.parametrize(
    ("here", "of", "plugged_in", "whole"),
    [
        (1, 5, 0.4256, 0.4137),
        (4, 5, 0.6564, 0.6639),
        (0, 2, 0.4533, 0.4403),
        (20, 25, 0.7434, 0.7490),
    ],
)
def test_plugging_in_the_upper_level_stays_close_to_the_whole_hierarchy(
    here: int, of: int, plugged_in: float, whole: float
) -> None:
    """Others 30 of 50, weight .4; the whole hierarchy integrates over the upper share instead of taking its mean."""
    other_jobs, counts = (
        {"it": 30.0, "not": 20.0},
        {"it": float(here), "not": float(of - here)},
    )

    found = two_levels({"it": 0.4, "not": 0.6}, other_jobs, counts, 10, 8)["it"]

    assert found == pytest.approx(plugged_in, abs=5e-5)
    assert _by_quadrature(here, of) == pytest.approx(whole, abs=5e-5)
    assert abs(found - whole) <= 0.0131


def _by_quadrature(here: int, of: int) -> float:
    def weighted(value: Callable[[float], float]) -> float:
        def density(p: float) -> float:
            likelihood = stats.betabinom.pmf(here, of, 8 * p, 8 * (1 - p))
            return value(p) * float(
                likelihood * stats.beta.pdf(p, 30 + 10 * 0.4, 20 + 10 * 0.6)
            )

        return float(integrate.quad(density, 1e-9, 1 - 1e-9)[0])

    return weighted(lambda p: (here + 8 * p) / (of + 8)) / weighted(lambda p: 1.0)


def test_a_new_group_of_rats_is_drawn_towards_the_seventy_before_it() -> None:
    """Gelman et al., Bayesian Data Analysis, 5.1 (from memory): 4 tumours in 14 after Beta(1.38, 8.7) give .223."""
    before, rats = {"tumour": 1.38, "clear": 8.7}, {"tumour": 4.0, "clear": 10.0}

    shares = two_levels(before, {}, rats, model_jobs=1.38 + 8.7)
    spread = interval(1.38 + 4, 8.7 + 10)

    assert shares["tumour"] == pytest.approx(0.223, abs=5e-4)
    assert learned(1.38 / 10.08, right=4, wrong=10, claim_jobs=10.08) == pytest.approx(
        shares["tumour"]
    )
    # sd .083 in the book
    assert (spread.high - spread.low) / 4 == pytest.approx(0.083, abs=5e-3)


# Findings


def test_two_findings_turn_four_causes_towards_one() -> None:
    """One fault; the first test shows it, the second does not. Worked by hand: the evidence is .35475."""
    findings = [
        {"contact": 0.9, "pack": 0.2, "board": 0.1, "fuse": 0.05},
        {"contact": 1 - 0.1, "pack": 1 - 0.8, "board": 1 - 0.3, "fuse": 1 - 0.05},
    ]
    by_hand = {"contact": 0.324, "pack": 0.012, "board": 0.014, "fuse": 0.00475}

    found = with_findings(WEIGHTS, findings)

    assert found == pytest.approx(
        {name: part / 0.35475 for name, part in by_hand.items()}
    )
    assert list(found.values()) == pytest.approx(
        [0.913319, 0.033827, 0.039464, 0.013390], abs=1e-6
    )


def test_a_cause_that_a_finding_does_not_speak_of_keeps_its_weight() -> None:
    assert with_findings({"a": 0.5, "b": 0.5}, [{"a": 0.5}]) == pytest.approx(
        {"a": 1 / 3, "b": 2 / 3}
    )


def test_findings_that_contradict_each_other_leave_the_prior() -> None:
    assert with_findings(
        {"a": 0.6, "b": 0.4}, [{"a": 0.0, "b": 1.0}, {"a": 1.0, "b": 0.0}]
    ) == {"a": 0.6, "b": 0.4}


def test_a_thousand_unlikely_findings_do_not_run_out_of_digits() -> None:
    findings = [{"a": 1e-5, "b": 2e-5}] * 10 + [{"a": 1e-5, "b": 1e-5}] * 1000

    assert with_findings({"a": 0.5, "b": 0.5}, findings)["b"] == pytest.approx(
        1024 / 1025
    )


#: The chest clinic of Lauritzen & Spiegelhalter 1988 (J. R. Statist. Soc. B 50(2)): the tables that it publishes.
GIVEN_YES = {
    "tub": {"asia": 0.05, "": 0.01},
    "lung": {"smoke": 0.1, "": 0.01},
    "bronc": {"smoke": 0.6, "": 0.3},
}
#: Probabilities of "yes" by evidence: two independent programs (plain enumeration and pgmpy) agree to six digits.
CLINIC: list[tuple[tuple[str, ...], Table]] = [
    ((), {"tub": 0.0104, "lung": 0.055, "bronc": 0.45, "either": 0.064828, "xray": 0.11029, "dysp": 0.435971,
          "smoke": 0.5}),
    (("asia", "dysp"), {"tub": 0.087751, "lung": 0.099525, "bronc": 0.811402, "either": 0.1823, "xray": 0.219539,
                        "smoke": 0.62592}),
    (("asia", "dysp", "smoke"), {"tub": 0.07276, "lung": 0.145519, "bronc": 0.867258, "either": 0.211003,
                                 "xray": 0.246232}),
    (("asia", "dysp", "no xray"), {"tub": 0.002249, "lung": 0.00255, "bronc": 0.862761, "either": 0.004672,
                                   "smoke": 0.604512}),
    (("xray",), {"tub": 0.092411, "lung": 0.488711, "bronc": 0.506326, "either": 0.57604, "dysp": 0.640766,
                 "smoke": 0.687754}),
]  # fmt: skip
#: 10,000 draws for (asia, dysp), from the classic BUGS examples that ship with nimble; standard error .003-.005.
CLINIC_BY_DRAWING = {
    "tub": 0.0903,
    "lung": 0.100,
    "bronc": 0.8177,
    "either": 0.1851,
    "xray": 0.2222,
    "smoke": 0.631,
}


@pytest.mark.parametrize(
    ("evidence", "published"),
    CLINIC,
    ids=[" ".join(seen) or "none" for seen, _ in CLINIC],
)
def test_the_chest_clinic_has_its_known_posteriors(
    evidence: tuple[str, ...], published: Table
) -> None:
    """The joint states of the diseases and their roots are the candidates; what was seen are the findings."""
    belief = with_findings(
        _clinic_prior(), [_clinic_finding(seen) for seen in evidence]
    )

    found = {
        name: sum(share * _yes(name, state) for state, share in belief.items())
        for name in published
    }

    assert found == pytest.approx(published, abs=1e-6)


def test_the_chest_clinic_agrees_with_a_published_simulation() -> None:
    belief = with_findings(
        _clinic_prior(), [_clinic_finding("asia"), _clinic_finding("dysp")]
    )

    found = {
        name: sum(share * _yes(name, state) for state, share in belief.items())
        for name in CLINIC_BY_DRAWING
    }

    assert found == pytest.approx(CLINIC_BY_DRAWING, abs=0.009)


def _clinic_prior() -> Table:
    """Each state is the names of what is present, in order, parted by blanks."""
    prior = {"": 1.0}
    for name in ("asia", "smoke", "tub", "lung", "bronc"):
        prior = {
            f"{state} {name}".strip() if present else state: share
            * (chance if present else 1 - chance)
            for state, share in prior.items()
            for chance in [_chance(name, state)]
            for present in (True, False)
        }
    return prior


def _chance(name: str, state: str) -> float:
    if name in ("asia", "smoke"):
        return {"asia": 0.01, "smoke": 0.5}[name]
    table = GIVEN_YES[name]
    return next(
        (table[parent] for parent in state.split() if parent in table), table[""]
    )


def _yes(name: str, state: str) -> float:
    """P(name is yes | the state of the roots and diseases)."""
    present = state.split()
    either = "tub" in present or "lung" in present
    if name == "either":
        return float(either)
    if name == "xray":
        return 0.98 if either else 0.05
    if name == "dysp":
        return {
            (True, True): 0.9,
            (True, False): 0.7,
            (False, True): 0.8,
            (False, False): 0.1,
        }[either, "bronc" in present]
    return float(name in present)


def _clinic_finding(seen: str) -> Table:
    name = seen.removeprefix("no ")
    return {
        state: 1 - _yes(name, state) if seen != name else _yes(name, state)
        for state in _clinic_prior()
    }


# Reliability and intervals


def test_births_of_girls_after_a_flat_prior() -> None:
    """Gelman et al., Bayesian Data Analysis, 2.4 (from memory): 437 girls of 980; mean .446, 95 % .415 to .477."""
    spread = interval(437 + 1, 543 + 1)

    assert learned(0.5, right=437, wrong=543, claim_jobs=2) == pytest.approx(
        0.446, abs=5e-4
    )
    assert (spread.low, spread.high) == pytest.approx((0.415, 0.477), abs=5e-4)


def test_the_shares_of_the_worked_example_come_with_their_intervals() -> None:
    """Recomputed with scipy.stats.beta."""
    contact, pack = interval(5.533333, 7.466667), interval(5.733333, 7.266667)

    assert (contact.low, contact.high) == pytest.approx((0.182459, 0.690462), abs=1e-6)
    assert (pack.low, pack.high) == pytest.approx((0.194495, 0.704722), abs=1e-6)


@given(st.floats(0.05, 2000), st.floats(0.05, 2000))
def test_intervals_are_those_of_scipys_beta(successes: float, failures: float) -> None:
    found, theirs = interval(successes, failures), stats.beta(successes, failures)

    assert found.low == pytest.approx(theirs.ppf(0.025), abs=1e-9)
    assert found.high == pytest.approx(theirs.ppf(0.975), abs=1e-9)


def test_a_share_without_anything_on_one_side_is_a_point() -> None:
    assert interval(0, 5) == Interval(0.0, 0.0)
    assert interval(5, 0) == Interval(1.0, 1.0)


@given(st.floats(0, 1), st.integers(0, 500), st.integers(0, 500))
def test_a_learned_reliability_lies_between_the_claim_and_what_was_seen(
    claim: float, right: int, wrong: int
) -> None:
    found = learned(claim, right, wrong)
    seen = right / (right + wrong) if right + wrong else claim

    assert min(claim, seen) - 1e-12 <= found <= max(claim, seen) + 1e-12
    assert (
        learned(claim, right + 1, wrong)
        >= found - 1e-12
        >= learned(claim, right, wrong + 1) - 2e-12
    )


# Laws

CAUSES = st.lists(st.sampled_from("abcdefgh"), min_size=1, max_size=8, unique=True)


@st.composite
def histories(draw: st.DrawFn) -> tuple[Table, Table, Table]:
    """Weights, counts elsewhere and counts here for one to eight causes."""
    causes = draw(CAUSES)
    weights = {cause: draw(st.floats(0.01, 10)) for cause in causes}
    elsewhere = {
        cause: float(draw(st.integers(0, 200)))
        for cause in draw(st.lists(st.sampled_from(causes)))
    }
    here = {
        cause: float(draw(st.integers(0, 50)))
        for cause in draw(st.lists(st.sampled_from(causes)))
    }
    return weights, elsewhere, here


@st.composite
def diagnoses(draw: st.DrawFn) -> tuple[Table, list[Table]]:
    """A prior that sums to one and findings about some of its causes."""
    causes = draw(CAUSES)
    odds = {cause: draw(st.floats(0.01, 10)) for cause in causes}
    finding = st.dictionaries(st.sampled_from(causes), st.floats(0.001, 1.0))
    return {cause: odd / sum(odds.values()) for cause, odd in odds.items()}, draw(
        st.lists(finding, max_size=12)
    )


@given(histories())
def test_shares_sum_to_one_and_none_is_negative(
    history: tuple[Table, Table, Table],
) -> None:
    shares = two_levels(*history)

    assert sum(shares.values()) == pytest.approx(1.0)
    assert min(shares.values()) > 0


@given(histories())
def test_new_names_for_the_causes_change_no_share(
    history: tuple[Table, Table, Table],
) -> None:
    renamed = [
        {f"cause-{name}": value for name, value in reversed(table.items())}
        for table in history
    ]

    found = two_levels(renamed[0], renamed[1], renamed[2])

    assert found == pytest.approx(
        {f"cause-{name}": share for name, share in two_levels(*history).items()}
    )


@given(histories(), st.data())
def test_one_more_confirmation_raises_its_cause_and_no_other(
    history: tuple[Table, Table, Table], data: st.DataObject
) -> None:
    weights, elsewhere, here = history
    cause = data.draw(st.sampled_from(sorted(weights)))
    before = two_levels(weights, elsewhere, here)

    for after in (
        two_levels(weights, elsewhere, _one_more(here, cause)),
        two_levels(weights, _one_more(elsewhere, cause), here),
    ):
        assert after[cause] >= before[cause] - 1e-12
        assert all(
            after[name] <= before[name] + 1e-12 for name in weights if name != cause
        )


@given(histories(), st.data())
def test_the_first_confirmation_here_says_more_than_one_more_elsewhere(
    history: tuple[Table, Table, Table], data: st.DataObject
) -> None:
    weights, elsewhere, _ = history
    cause = data.draw(st.sampled_from(sorted(weights)))

    first_here = two_levels(weights, elsewhere, {cause: 1.0})
    one_elsewhere = two_levels(weights, _one_more(elsewhere, cause), {})

    assert first_here[cause] >= one_elsewhere[cause] - 1e-12


def _one_more(counts: Mapping[str, float], cause: str) -> Table:
    return {**counts, cause: counts.get(cause, 0.0) + 1}


@pytest.mark.slow
@given(histories())
def test_a_share_lies_between_its_weight_and_its_raw_shares(
    history: tuple[Table, Table, Table],
) -> None:
    weights, elsewhere, here = history

    for cause, share in two_levels(weights, elsewhere, here).items():
        anchors = [_share(table, cause) for table in history if sum(table.values())]
        assert min(anchors) - 1e-12 <= share <= max(anchors) + 1e-12


def _share(table: Mapping[str, float], cause: str) -> float:
    return table.get(cause, 0.0) / sum(table.values())


@given(diagnoses())
def test_belief_sums_to_one_after_any_findings(case: tuple[Table, list[Table]]) -> None:
    assert sum(with_findings(*case).values()) == pytest.approx(1.0)


@given(diagnoses(), st.randoms(use_true_random=False))
def test_the_order_of_the_findings_does_not_matter(
    case: tuple[Table, list[Table]], random: Random
) -> None:
    prior, findings = case
    shuffled = list(findings)
    random.shuffle(shuffled)

    assert with_findings(prior, shuffled) == pytest.approx(
        with_findings(prior, findings), rel=1e-9
    )


@given(diagnoses(), st.integers(0, 12))
def test_findings_may_be_taken_in_two_steps(
    case: tuple[Table, list[Table]], cut: int
) -> None:
    prior, findings = case

    in_two = with_findings(with_findings(prior, findings[:cut]), findings[cut:])

    assert in_two == pytest.approx(with_findings(prior, findings), rel=1e-9)


@given(diagnoses())
def test_belief_is_bayes_rule_by_plain_multiplication(
    case: tuple[Table, list[Table]],
) -> None:
    prior, findings = case
    joint = {
        name: p * math.prod(f.get(name, 1.0) for f in findings)
        for name, p in prior.items()
    }

    assert with_findings(prior, findings) == pytest.approx(
        {n: j / sum(joint.values()) for n, j in joint.items()}
    )


@given(diagnoses(), st.floats(0.001, 1.0))
def test_a_finding_that_fits_all_causes_alike_tells_nothing(
    case: tuple[Table, list[Table]], fit: float
) -> None:
    prior, findings = case

    told = with_findings(prior, [*findings, dict.fromkeys(prior, fit)])

    assert told == pytest.approx(with_findings(prior, findings))


@given(diagnoses())
def test_no_findings_leave_the_prior(case: tuple[Table, list[Table]]) -> None:
    prior, _ = case

    assert with_findings(prior, []) == pytest.approx(prior)

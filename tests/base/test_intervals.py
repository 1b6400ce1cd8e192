"""Shares, rates and demands with their intervals, held against published tables, statsmodels' figures and scipy."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kb.base.intervals import demand, mean_interval, poisson, student, wilson

#: Wilson score intervals at 95 %: Newcombe 1998, Statistics in Medicine 17, table I (from memory, recomputed).
NEWCOMBE = {
    (81, 263): (0.2553, 0.3662),
    (15, 148): (0.0624, 0.1605),
    (0, 20): (0.0000, 0.1611),
    (1, 29): (0.0061, 0.1718),
}

#: Exact limits of a Poisson count at 95 %: Garwood 1936, Biometrika 28, recomputed with scipy's chi-square.
GARWOOD = {
    0: (0.0, 3.6889),
    1: (0.0253, 5.5716),
    2: (0.2422, 7.2247),
    3: (0.6187, 8.7673),
    5: (1.6235, 11.6683),
    10: (4.7954, 18.3904),
    20: (12.2165, 30.8884),
    25: (16.1787, 36.9049),
    50: (37.1110, 65.9188),
    100: (81.3640, 121.6268),
}


@pytest.mark.parametrize(("seen", "limits"), NEWCOMBE.items())
def test_wilson_gives_newcombes_intervals(
    seen: tuple[int, int], limits: tuple[float, float]
) -> None:
    found = wilson(*seen)

    assert (found.low, found.high) == pytest.approx(limits, abs=5e-5)


@pytest.mark.parametrize(
    ("seen", "level", "limits"),
    [
        pytest.param(
            (4, 20),
            0.95,
            (0.080658, 0.416017),
            id="R, binom package, in the tests of statsmodels",
        ),
        pytest.param(
            (19, 38),
            0.95,
            (0.348499284, 0.651500716),
            id="R, in the tests of statsmodels",
        ),
        pytest.param(
            (4, 20),
            0.90,
            (0.093118, 0.378377),
            id="the formula of NIST handbook 7.2.4.1, recomputed",
        ),
        pytest.param((3, 3), 0.95, (0.438503, 1.0), id="3 of 3, recomputed"),
        pytest.param((1, 1), 0.95, (0.206549, 1.0), id="1 of 1, recomputed"),
        pytest.param((0, 1), 0.95, (0.0, 0.793451), id="0 of 1, recomputed"),
    ],
)
def test_wilson_agrees_with_other_programs(
    seen: tuple[int, int], level: float, limits: tuple[float, float]
) -> None:
    found = wilson(*seen, level)

    assert (found.low, found.high) == pytest.approx(limits, abs=1e-6)


@given(
    st.integers(0, 400), st.integers(1, 400), st.sampled_from([0.8, 0.9, 0.95, 0.99])
)
def test_wilson_agrees_with_scipy_everywhere(k: int, more: int, level: float) -> None:
    n = k + more

    found, theirs = (
        wilson(k, n, level),
        stats.binomtest(k, n).proportion_ci(level, method="wilson"),
    )

    assert (found.low, found.high) == pytest.approx(
        (theirs.low, theirs.high), abs=1e-12
    )


@given(st.integers(0, 200), st.integers(0, 200))
def test_wilson_holds_the_share_and_turns_round_with_it(k: int, more: int) -> None:
    n = k + more
    found, turned = wilson(k, n), wilson(more, n)

    assert 0.0 <= found.low <= (k / n if n else 0.5) <= found.high <= 1.0
    assert (found.low, found.high) == pytest.approx((1 - turned.high, 1 - turned.low))


def test_a_share_of_nothing_seen_may_be_anything() -> None:
    assert (wilson(0, 0).low, wilson(0, 0).high) == (0.0, 1.0)


@pytest.mark.parametrize(("k", "n"), [(3, 2), (-1, 5), (0, -1)])
def test_an_impossible_share_is_refused(k: int, n: int) -> None:
    with pytest.raises(ValueError, match="is not a share"):
        wilson(k, n)


@pytest.mark.parametrize("level", [0.0, 1.0, 95.0])
def test_a_level_that_is_no_probability_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        wilson(1, 2, level)


@pytest.mark.parametrize(("count", "limits"), GARWOOD.items())
def test_poisson_gives_garwoods_limits(count: int, limits: tuple[float, float]) -> None:
    found = poisson(count)

    assert (found.low, found.high) == pytest.approx(limits, abs=5e-5)


@pytest.mark.parametrize(
    ("level", "limits"),
    [(0.90, (17.38, 34.92)), (0.95, (16.18, 36.90)), (0.99, (14.00, 41.00))],
)
def test_poisson_gives_the_published_limits_of_twenty_five(
    level: float, limits: tuple[float, float]
) -> None:
    """The statistics FAQ of GraphPad prints these three for a count of 25."""
    found = poisson(25, level=level)

    assert (found.low, found.high) == pytest.approx(limits, abs=6e-3)


def test_a_rate_is_the_count_over_its_exposure() -> None:
    """15 in 400, from R, as the tests of statsmodels hold it."""
    found = poisson(15, 400)

    assert (found.low, found.high) == pytest.approx(
        (0.0209884653, 0.0618505472), abs=1e-9
    )


@pytest.mark.parametrize(("count", "exposure"), [(-1, 1.0), (3, 0.0), (3, -2.0)])
def test_an_impossible_rate_is_refused(count: int, exposure: float) -> None:
    with pytest.raises(ValueError, match="give"):
        poisson(count, exposure)


@given(
    st.integers(0, 300),
    st.floats(1, 2000),
    st.floats(0, 2000),
    st.sampled_from([0.8, 0.95]),
)
def test_demand_is_the_negative_binomial_of_scipy(
    count: int, seen: float, ahead: float, level: float
) -> None:
    found, theirs = (
        demand(count, seen, ahead, level),
        stats.nbinom(count + 0.5, seen / (seen + ahead)),
    )
    outside = (1 - level) / 2

    assert found.expected == pytest.approx(theirs.mean(), rel=1e-9)
    assert theirs.cdf(found.low) >= outside - 1e-9 > theirs.cdf(found.low - 1) - 2e-9
    assert (
        theirs.cdf(found.high) >= 1 - outside - 1e-9 > theirs.cdf(found.high - 1) - 2e-9
    )


@pytest.mark.parametrize(("seen", "ahead"), [(180.0, 30.0), (60.0, 30.0), (30.0, 90.0)])
@pytest.mark.parametrize("mean_seen", [0.2, 1.0, 5.0, 20.0])
def test_a_stock_of_the_high_demand_seldom_runs_short(
    seen: float, ahead: float, mean_seen: float
) -> None:
    """Worked out exactly: over all counts that a known rate may show, the stretch ahead stays within the limits."""
    counts = range(int(mean_seen + 10 * mean_seen**0.5 + 10))
    true_ahead = stats.poisson(mean_seen * ahead / seen)
    weights = stats.poisson(mean_seen).pmf(list(counts))
    limits = [demand(count, seen, ahead) for count in counts]

    short = sum(
        w * true_ahead.sf(limit.high) for w, limit in zip(weights, limits, strict=True)
    )
    below = sum(
        w * true_ahead.cdf(limit.low - 1)
        for w, limit in zip(weights, limits, strict=True)
    )

    assert short <= 0.025
    assert short + below <= 0.05


@given(st.integers(0, 60), st.floats(1, 400), st.floats(0.1, 400))
def test_demand_grows_with_what_went_out_and_with_the_days_ahead(
    count: int, seen: float, ahead: float
) -> None:
    now, one_more, longer = (
        demand(count, seen, ahead),
        demand(count + 1, seen, ahead),
        demand(count, seen, 2 * ahead),
    )

    assert one_more.expected > now.expected
    assert one_more.high >= now.high
    assert one_more.low >= now.low
    assert longer.expected == pytest.approx(2 * now.expected)
    assert longer.high >= now.high >= now.low


def test_no_days_ahead_ask_for_nothing() -> None:
    assert demand(12, seen_days=30, ahead_days=0) == (0.0, 0, 0)


@pytest.mark.parametrize(
    ("count", "seen", "ahead"), [(-1, 30.0, 7.0), (1, 0.0, 7.0), (1, 30.0, -7.0)]
)
def test_an_impossible_demand_is_refused(count: int, seen: float, ahead: float) -> None:
    with pytest.raises(ValueError, match="some days seen"):
        demand(count, seen, ahead)


@pytest.mark.parametrize("degrees", [1, 2, 5, 30, 400])
def test_students_quantile_is_that_of_scipy(degrees: int) -> None:
    assert student(0.975, degrees) == pytest.approx(
        stats.t.ppf(0.975, degrees), rel=1e-9
    )


@given(st.lists(st.floats(0, 500), min_size=2, max_size=40))
def test_the_interval_for_a_mean_is_that_of_scipy(values: list[float]) -> None:
    found = mean_interval(values)
    spread = stats.sem(values)
    middle = sum(values) / len(values)
    reach = stats.t.ppf(0.975, len(values) - 1) * spread

    assert found
    assert found.high == pytest.approx(middle + reach, rel=1e-6, abs=1e-9)
    assert found.low == pytest.approx(max(middle - reach, 0.0), rel=1e-6, abs=1e-6)


def test_one_value_leaves_its_mean_open() -> None:
    assert mean_interval([3.0]) is None

"""Quantiles and tails of the beta and the gamma law, held against scipy and published tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kb.base.quantiles import beta_below, beta_quantile, gamma_below, gamma_quantile

#: Clopper-Pearson intervals at 95 % for the same cases (same table), and for 4 in 20 from R's `binom` package.
EXACT = {
    (81, 263): (0.2527, 0.3676),
    (15, 148): (0.0578, 0.1617),
    (0, 20): (0.0000, 0.1684),
    (1, 29): (0.0009, 0.1776),
    (4, 20): (0.057334, 0.436614),
}
#: Jeffreys intervals at 95 %, recomputed with scipy; 4 in 20 also from R's `binom` package.
JEFFREYS = {
    (81, 263): (0.2545, 0.3656),
    (15, 148): (0.0604, 0.1576),
    (1, 29): (0.0037, 0.1501),
    (4, 20): (0.071520, 0.408226),
}


@pytest.mark.parametrize(("seen", "limits"), EXACT.items())
def test_beta_quantiles_give_the_exact_intervals(
    seen: tuple[int, int], limits: tuple[float, float]
) -> None:
    k, n = seen
    low = beta_quantile(0.025, k, n - k + 1) if k else 0.0

    assert (low, beta_quantile(0.975, k + 1, n - k)) == pytest.approx(limits, abs=5e-5)


@pytest.mark.parametrize(("seen", "limits"), JEFFREYS.items())
def test_beta_quantiles_give_the_jeffreys_intervals(
    seen: tuple[int, int], limits: tuple[float, float]
) -> None:
    k, n = seen
    a, b = k + 0.5, n - k + 0.5

    assert (beta_quantile(0.025, a, b), beta_quantile(0.975, a, b)) == pytest.approx(
        limits, abs=5e-5
    )


@given(
    st.floats(0.1, 3000),
    st.floats(0.1, 3000),
    st.sampled_from([0.005, 0.025, 0.5, 0.975, 0.995]),
)
def test_beta_quantiles_agree_with_scipy(a: float, b: float, share: float) -> None:
    assert beta_quantile(share, a, b) == pytest.approx(
        stats.beta.ppf(share, a, b), abs=1e-9
    )


@given(st.floats(0.1, 3000), st.sampled_from([0.005, 0.025, 0.5, 0.975, 0.995]))
def test_gamma_quantiles_agree_with_scipy(shape: float, share: float) -> None:
    assert gamma_quantile(share, shape) == pytest.approx(
        stats.gamma.ppf(share, shape), rel=1e-9, abs=1e-9
    )


@given(st.floats(-0.5, 1.5), st.floats(0.1, 1000), st.floats(0.1, 1000))
def test_beta_probabilities_agree_with_scipy(x: float, a: float, b: float) -> None:
    assert beta_below(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), abs=1e-9)


@given(st.floats(-1, 5000), st.floats(0.1, 1000))
def test_gamma_probabilities_agree_with_scipy(x: float, shape: float) -> None:
    assert gamma_below(x, shape) == pytest.approx(stats.gamma.cdf(x, shape), abs=1e-9)

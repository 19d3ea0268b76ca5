"""Quantile errors and rank correlation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import stats

from energyplan.advice.draws import quantile_errors, quantiles, rank_correlation


def test_rank_correlation_agrees_with_scipy() -> None:
    """Spearman's, with ties, against scipy.stats.spearmanr."""
    rng = np.random.default_rng(3)
    one = rng.integers(0, 20, 500).astype(float)
    other = one + rng.normal(0, 5, 500)
    assert rank_correlation(one, other) == pytest.approx(stats.spearmanr(one, other).statistic, abs=1e-12)


def test_what_does_not_vary_correlates_with_nothing() -> None:
    """No division by zero."""
    assert rank_correlation(np.ones(10), np.arange(10.0)) == 0.0
    assert rank_correlation(np.arange(10.0), np.full(10, 67.0) + 1e-13 * np.arange(10)) == 0.0


def test_errors_of_normal_quantiles() -> None:
    """sqrt(p (1 - p) / n) over the density (asymptotic theory), within 10 % at 40 000 draws."""
    values = np.random.default_rng(5).normal(0.0, 1.0, 40_000)
    expected = [np.sqrt(p * (1 - p) / 40_000) / stats.norm.pdf(stats.norm.ppf(p)) for p in (0.1, 0.5, 0.9)]
    assert quantile_errors(values) == pytest.approx(expected, rel=0.1)


@given(
    arrays(np.float64, st.tuples(st.integers(1, 4), st.integers(1, 60)), elements=st.floats(-1e6, 1e6)),
    st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4),
)
def test_quantiles_are_those_of_numpy(values, fracs):
    """Along the last axis, between order statistics."""
    expected = np.quantile(values, fracs, axis=-1)
    assert quantiles(values, fracs) == pytest.approx(expected, rel=1e-9, abs=1e-9)

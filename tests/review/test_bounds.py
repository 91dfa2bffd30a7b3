"""Exact binomial limits against SciPy, a reference library, and against published sample sizes."""

from __future__ import annotations

import pytest
from scipy import stats

from reader.review.bounds import chance_of_at_most, needed, upper_bound

CASES = [(0, 1), (0, 10), (0, 299), (0, 2995), (1, 50), (2, 473), (3, 40), (17, 400), (399, 400), (5, 100_000)]


@pytest.mark.parametrize(("wrong", "checked"), CASES)
def test_bound_is_clopper_and_pearsons(wrong: int, checked: int) -> None:
    interval = stats.binomtest(wrong, checked, alternative="less").proportion_ci(0.95, method="exact")
    assert upper_bound(wrong, checked) == pytest.approx(interval.high, rel=1e-9)
    assert upper_bound(wrong, checked) == pytest.approx(stats.beta.ppf(0.95, wrong + 1, checked - wrong), rel=1e-9)


@pytest.mark.parametrize(("wrong", "checked"), CASES)
@pytest.mark.parametrize("share", [1e-6, 0.001, 0.3, 0.999])
def test_chance_is_the_binomial_one(wrong: int, checked: int, share: float) -> None:
    assert chance_of_at_most(wrong, checked, share) == pytest.approx(stats.binom.cdf(wrong, checked, share), rel=1e-7)


def test_nothing_checked_says_nothing() -> None:
    assert upper_bound(0, 0) == 1.0
    assert upper_bound(3, 3) == 1.0


@pytest.mark.parametrize(
    ("share", "wrong", "count"), [(0.01, 0, 299), (0.005, 0, 598), (0.001, 0, 2995), (0.01, 1, 473), (0.001, 1, 4742)]
)
def test_sample_sizes(share: float, wrong: int, count: int) -> None:
    """The smallest sample whose bound is the share or less, found by SciPy for its neighbours too."""
    assert needed(share, wrong) == count
    assert stats.beta.ppf(0.95, wrong + 1, count - wrong) <= share
    assert stats.beta.ppf(0.95, wrong + 1, count - 1 - wrong) > share

"""Differences by ranks against published values and scipy's own tests of ranks."""

import math

import numpy as np
import pytest
from scipy import stats  # type: ignore[import-untyped]  # scipy ships no types

from service.science.rank_difference import chance_of_largest, delta_interval, rank_difference

# Permeability of the human chorioamnion at term and at 12 to 26 weeks, as R's help page of
# wilcox.test prints it from M. Hollander and D. A. Wolfe, Nonparametric Statistical Methods,
# Wiley 1973, p. 69 f. (the numbers from memory).
TERM = np.array([0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46])
EARLY = np.array([1.15, 0.88, 0.90, 0.74, 1.21])


def test_hollander_and_wolfe_s_example_comes_out_as_they_print_it() -> None:
    """W = 35 of 50 pairs and a shift of 0.305, both from memory of the book's solution."""
    found = rank_difference(TERM, EARLY)

    assert (1 + found.delta) / 2 * TERM.size * EARLY.size == pytest.approx(35, abs=1e-9)  # exact
    assert found.shift == pytest.approx(0.305, abs=1e-9)  # three decimals are all there are


@pytest.mark.parametrize("seed", range(5))
def test_delta_is_scipy_s_mann_whitney_statistic(seed: int) -> None:
    draw = np.random.default_rng(seed)
    # Whole numbers, so that there are ties.
    first, second = draw.integers(0, 8, 9).astype(float), draw.integers(2, 10, 13).astype(float)
    wins = float(stats.mannwhitneyu(first, second).statistic)

    # The same counts, summed in another order.
    assert rank_difference(first, second).delta == pytest.approx(2 * wins / 117 - 1, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_the_chance_of_one_feature_is_that_of_the_exact_test(seed: int) -> None:
    draw = np.random.default_rng(seed)
    values = draw.normal(size=(11, 1))
    is_case = np.arange(11) < 5
    exact = stats.mannwhitneyu(values[is_case, 0], values[~is_case, 0], method="exact").pvalue

    # Both count all 462 deals.
    assert chance_of_largest(values, is_case, draw)[0] == pytest.approx(exact, abs=1e-12)


def test_the_chance_of_many_deals_is_near_that_of_the_exact_test() -> None:
    draw = np.random.default_rng(11)
    values = draw.normal(size=(30, 1))
    values[:14] += 0.7
    is_case = np.arange(30) < 14
    exact = stats.mannwhitneyu(values[is_case, 0], values[~is_case, 0], method="exact").pvalue
    spread = math.sqrt(exact * (1 - exact) / 4_999)

    # Five thousand deals scatter about the exact chance; four standard deviations.
    assert chance_of_largest(values, is_case, draw)[0] == pytest.approx(exact, abs=4 * spread)


@pytest.mark.parametrize(("theta", "first", "second"), [(0.893, 51, 58), (0.7, 10, 5), (0.5, 6, 9)])
def test_the_ends_of_the_interval_solve_newcombe_s_equation(
    theta: float, first: int, second: int
) -> None:
    """Newcombe 2006 part 2, method 5: (found - θ)² = z² θ(1-θ)[1 + N*((1-θ)/(2-θ) + θ/(1+θ))]/mn.

    N* = (m + n)/2 - 1. The equation as other authors' code has it, not seen in the paper itself.
    """
    z = stats.norm.ppf(0.975)
    star = (first + second) / 2 - 1
    for end in delta_interval(2 * theta - 1, first, second):
        at = (1 + end) / 2
        inner = 1 + star * ((1 - at) / (2 - at) + at / (1 + at))
        allowed = z**2 * at * (1 - at) * inner / (first * second)

        # The root is found to 1e-12 or so; both sides are about 0.01.
        assert (theta - at) ** 2 == pytest.approx(allowed, abs=1e-9)


def test_the_interval_is_as_wide_as_hanley_and_mcneil_s_error_says() -> None:
    """An area of 0.893 from 51 and 58 readings has a standard error of 0.032.

    Hanley and McNeil, Radiology 143 (1982) 29, their example; from memory.
    """
    low, high = delta_interval(2 * 0.893 - 1, 51, 58)

    # Half the width of the area's interval over 1.96; Newcombe's is not symmetric, so 5 %.
    assert (high - low) / 4 / 1.96 == pytest.approx(0.032, rel=0.05)


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    """Normal groups one standard deviation apart: P(X > Y) = Φ(1/√2)."""
    draw = np.random.default_rng(5)
    truth = 2 * stats.norm.cdf(1 / math.sqrt(2)) - 1
    held = 0
    for _ in range(1_000):
        first, second = draw.normal(1, 1, 8), draw.normal(0, 1, 10)
        low, high = delta_interval(float(np.sign(np.subtract.outer(first, second)).mean()), 8, 10)
        held += low <= truth <= high

    # 95 in 100, with four standard deviations of a thousand tries: 2.8 in 100.
    assert held / 1_000 == pytest.approx(0.95, abs=0.028)

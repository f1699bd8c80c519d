"""Trends: robustness, correlated neighbours, means of days, large series."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.signals import US_PER_DAY
from service.science.trends import (
    daily_means,
    mann_kendall,
    theil_sen,
    variance_inflation,
)


def test_one_glitch_in_ten_hardly_moves_the_slope() -> None:
    x = np.arange(100.0)
    y = 0.5 * x + np.random.default_rng(1).normal(0, 0.5, 100)
    y[::10] += 500.0

    # Without the glitches the standard error of a fitted slope is 0.002.
    assert theil_sen(x, y).slope == pytest.approx(0.5, abs=0.02)


@given(
    st.lists(st.integers(-1000, 1000), min_size=4, max_size=30),
    st.integers(-50, 50),
    st.integers(1, 9),
)
def test_slope_follows_a_change_of_units(values: list[int], added: int, times: int) -> None:
    x, y = np.arange(len(values), dtype=np.float64), np.array(values, dtype=np.float64)
    line, other = theil_sen(x, y), theil_sen(x, times * y + added * x)

    # Rounding only.
    assert other.slope == pytest.approx(times * line.slope + added, abs=1e-9)
    assert other.low <= other.slope <= other.high


@given(st.lists(st.integers(-5, 5), min_size=3, max_size=40))
def test_rises_less_falls_are_counted_exactly(values: list[int]) -> None:
    pairs = [(a, b) for place, a in enumerate(values) for b in values[place + 1 :]]
    expected = sum((b > a) - (b < a) for a, b in pairs)

    assert mann_kendall(np.array(values, dtype=np.float64)).s == expected


def test_a_constant_series_has_no_trend() -> None:
    assert mann_kendall(np.full(20, 7.0)).p == 1.0


def test_interval_widens_with_correlated_neighbours() -> None:
    x, y = np.arange(50.0), np.random.default_rng(2).normal(0, 1, 50)
    plain, wide = theil_sen(x, y), theil_sen(x, y, inflation=4.0)

    assert wide.high - wide.low > 1.5 * (plain.high - plain.low)


def test_inflation_of_an_autoregression_is_that_of_theory() -> None:
    """(1 + 0.6) / (1 - 0.6) = 4 for a first-order autoregression of 0.6."""
    draw, values = np.random.default_rng(4), [0.0]
    for _ in range(20_000):
        values.append(0.6 * values[-1] + draw.normal())

    # Standard error of the correlation is 0.006, so of the factor about 0.08.
    assert variance_inflation(np.array(values)) == pytest.approx(4.0, abs=0.3)


def test_independent_values_are_hardly_inflated() -> None:
    values = np.random.default_rng(5).normal(0, 1, 20_000)

    # Standard error of the correlation is 0.007, so of the factor 0.014.
    assert variance_inflation(values) == pytest.approx(1.0, abs=0.05)


def test_a_half_known_day_is_left_out() -> None:
    hours = np.concatenate([np.arange(24), 24 + np.arange(12), 48 + np.arange(24)])
    starts_us, means = daily_means(hours * US_PER_DAY // 24, np.ones(hours.size))

    assert starts_us.tolist() == [0, 2 * US_PER_DAY]
    assert means.tolist() == [1.0, 1.0]


def test_a_busy_hour_counts_no_more_than_a_quiet_one() -> None:
    quiet = np.arange(24) * US_PER_DAY // 24
    times_us = np.sort(np.concatenate([quiet, np.arange(1, 600)]))
    values = np.where(times_us < 600, 30.0, 6.0)

    _, means = daily_means(times_us, values)

    assert means[0] == pytest.approx((30.0 + 23 * 6.0) / 24, abs=1e-12)  # rounding only


def test_days_of_nothing_are_no_days() -> None:
    assert daily_means(np.arange(3), np.full(3, np.nan))[1].size == 0


def test_a_slope_in_ten_weeks_of_minutes_is_found() -> None:
    """Five thousand million pairs would fill the memory."""
    x = np.arange(100_800.0)
    y = np.random.default_rng(6).normal(0, 1, x.size) + 1e-4 * x
    line, test = theil_sen(x, y), mann_kendall(y)

    # Standard error of the slope from ten weeks of unit noise is 1e-7; averaging adds little.
    assert line.slope == pytest.approx(1e-4, abs=1e-6)
    assert test.p < 1e-6


@pytest.mark.parametrize("confidence", [0.0, 1.0, 95.0])
def test_confidence_outside_its_range_is_refused(confidence: float) -> None:
    with pytest.raises(OutOfRangeError, match="confidence"):
        theil_sen(np.arange(3.0), np.arange(3.0), confidence)


def test_points_at_one_place_have_no_slope() -> None:
    with pytest.raises(OutOfRangeError, match="slope"):
        theil_sen(np.ones(3), np.arange(3.0))
    with pytest.raises(OutOfRangeError, match="trend"):
        mann_kendall(np.ones(2))
    assert variance_inflation(np.ones(5)) == 1.0

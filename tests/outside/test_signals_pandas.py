"""Minute means and smoothing against the pandas library."""

import numpy as np
import pandas as pd
import pytest

from service.science.signals import US_PER_S, minute_means, smoothed


def test_minute_means_are_those_of_a_resampled_series() -> None:
    chance = np.random.default_rng(20261109)
    times_us = np.sort(chance.integers(0, 6 * 3600 * US_PER_S, 700))
    values = chance.normal(85, 4, 700)
    series = pd.Series(values, index=pd.to_datetime(times_us, unit="us", utc=True))
    reference = series.resample("1min").mean()

    starts, means = minute_means(times_us, values)

    assert starts.tolist() == (reference.index.as_unit("us").astype("int64")).tolist()
    # Sums in another order: rounding only.
    assert means == pytest.approx(reference.to_numpy(), abs=1e-11, nan_ok=True)


def test_smoothing_an_even_series_is_the_exponential_moving_average() -> None:
    """With even steps the weight is constant: pandas calls it alpha, unadjusted."""
    values = np.random.default_rng(20261110).normal(12, 1, 500)
    alpha = 1 - np.exp(-60 / 600)
    reference = pd.Series(values).ewm(alpha=alpha, adjust=False).mean()

    averages = smoothed(np.arange(500) * 60 * US_PER_S, values, 600.0, gap_s=300)

    # The same recursion in another order of terms: rounding only.
    assert averages == pytest.approx(reference.to_numpy(), abs=1e-11)

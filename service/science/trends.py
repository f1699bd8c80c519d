"""Trend and drift: robust slopes, the test for a trend, correlated values, means of days.

Nothing here knows a clock, a file, a database, or what a value means.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.stats import (  # type: ignore[import-untyped]  # scipy ships no types
    kendalltau,
    norm,
    rankdata,
)

from service.errors import OutOfRangeError
from service.science.signals import US_PER_DAY, FloatArray, IntArray

_MOST_POINTS: Final = 1_000
"""Points beyond which a slope is taken from means: half a million pairs are still quick."""
_MOST_CORRELATION: Final = 0.9
"""Correlation of neighbours is never taken as more; ten means for one. Our choice."""


@dataclass(frozen=True, slots=True)
class Slope:
    """A robust straight line.

    Attributes:
        slope: Median of the slopes of all pairs. [unit of y over unit of x]
        low: Lower end of its confidence interval.
        high: Upper end.
        intercept: Median of y less slope times median of x, Sen's first convention. [unit of y]
    """

    slope: float
    low: float
    high: float
    intercept: float


@dataclass(frozen=True, slots=True)
class MannKendall:
    """The test for a monotonic trend.

    Attributes:
        s: Pairs that rise less pairs that fall.
        variance: Of `s` without a trend, ties allowed for.
        z: `s` in standard deviations, with the correction for continuity.
        p: Chance of a `z` as large without a trend, both sides.
    """

    s: int
    variance: float
    z: float
    p: float


def theil_sen(
    x: FloatArray, y: FloatArray, confidence: float = 0.95, inflation: float = 1.0
) -> Slope:
    """The median slope of all pairs, with Sen's interval: a glitch cannot pull it.

    More than a thousand points are first averaged in a thousand groups of neighbours.

    Args:
        x: Where the values were taken, in rising order.
        y: The values, none missing.
        confidence: Of the interval. [1] Between 0 and 1.
        inflation: Factor on the variance of Kendall's sum for correlated values, see
            `variance_inflation`. [1]

    Returns:
        Slope, interval, intercept.

    Raises:
        OutOfRangeError: Fewer than two different x, or a confidence outside 0 to 1.

    References:
        Sen, P. K., Estimates of the regression coefficient based on Kendall's tau, Journal of
        the American Statistical Association 63 (1968) 1379-1389; Theil 1950.

    Examples:
        >>> x = np.array([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0])
        >>> y = np.array([9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0])
        >>> round(theil_sen(x, y, 0.93).slope, 2)
        4.0
    """
    if not 0 < confidence < 1:
        raise OutOfRangeError(f"a confidence of {confidence:g}; give one between 0 and 1")
    if x.size > _MOST_POINTS:
        edges = np.linspace(0, x.size, _MOST_POINTS + 1).astype(np.int64)[:-1]
        counts = np.diff(edges, append=x.size)
        x, y = np.add.reduceat(x, edges) / counts, np.add.reduceat(y, edges) / counts
    first, second = np.triu_indices(x.size, 1)
    run = x[second] - x[first]
    slopes = np.sort((y[second] - y[first])[run > 0] / run[run > 0])
    if slopes.size == 0:
        raise OutOfRangeError(f"{x.size} points at one place have no slope; give two places")
    slope = float(np.median(slopes))
    variance = _kendall_variance(y, x) * max(inflation, 1.0)
    half = float(norm.ppf(0.5 + confidence / 2)) * math.sqrt(variance)
    upper = min(round((slopes.size + half) / 2), slopes.size - 1)
    lower = max(round((slopes.size - half) / 2) - 1, 0)
    intercept = float(np.median(y) - slope * np.median(x))
    return Slope(slope, float(slopes[lower]), float(slopes[upper]), intercept)


def mann_kendall(values: FloatArray) -> MannKendall:
    """Whether values in order of time tend to rise or fall, whatever their distribution.

    Args:
        values: The values in order of time, none missing; at least three.

    Returns:
        The test. Values that lean on their neighbours make `p` too small.

    Raises:
        OutOfRangeError: Fewer than three values.

    References:
        Mann, H. B., Econometrica 13 (1945) 245-259; Kendall, M. G., Rank Correlation Methods,
        1975 (both from memory), variance with ties.

    Examples:
        >>> mann_kendall(np.array([9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0])).s
        21
    """
    count = values.size
    if count < 3:  # noqa: PLR2004  # a pair can rise, but tells no trend
        raise OutOfRangeError(f"{count} values have no trend; give three or more")
    variance = _kendall_variance(values)
    if variance == 0:
        return MannKendall(0, 0.0, 0.0, 1.0)
    pairs = count * (count - 1) / 2
    _, sizes = np.unique(values, return_counts=True)
    tied = float(np.sum(sizes * (sizes - 1) / 2))
    # Kendall's tau-b is s over this root; s is whole, so rounding gives it back exactly.
    tau = float(kendalltau(np.arange(count), values, method="asymptotic").statistic)
    s = round(tau * math.sqrt(pairs * (pairs - tied)))
    z = (s - math.copysign(1, s)) / math.sqrt(variance) if s else 0.0
    return MannKendall(s, variance, z, float(2 * norm.sf(abs(z))))


def variance_inflation(residuals: FloatArray) -> float:
    """By how much correlated neighbours make a mean or a slope less sure than their number says.

    The values over this factor are the effective sample size. Neighbours are taken to hang
    together as in a first-order autoregression; the estimate of the correlation is corrected
    for its bias in short series.

    Args:
        residuals: What a line leaves over, evenly spaced, none missing.

    Returns:
        Factor on the variance. [1] From 1 to 19.

    References:
        Bayley & Hammersley, Journal of the Royal Statistical Society Supplement 8 (1946)
        184-197; bias by Marriott & Pope, Biometrika 41 (1954) 390-402 (both from memory).

    Examples:
        >>> variance_inflation(np.array([1.0, -1.0, 1.0, -1.0]))
        1.0
    """
    centred = residuals - residuals.mean()
    power = float(np.sum(centred**2))
    if power == 0:
        return 1.0
    ranks = rankdata(residuals)
    ranks = ranks - ranks.mean()
    correlation = float(np.sum(ranks[1:] * ranks[:-1]) / np.sum(ranks**2))
    correlation += (1 + 4 * correlation) / residuals.size
    correlation = min(max(correlation, 0.0), _MOST_CORRELATION)
    return (1 + correlation) / (1 - correlation)


def daily_means(
    times_us: IntArray, values: FloatArray, midnight_us: int = 0, least_hours: int = 18
) -> tuple[IntArray, FloatArray]:
    """The mean of each whole day, each hour counting alike; half-known days are left out.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read; NaN where not known.
        midnight_us: The instant of any midnight of the place. [µs UTC]
        least_hours: Hours with a reading that a day must have.

    Returns:
        Starts of the days [µs UTC], and the mean of each.

    Examples:
        >>> starts_us, means = daily_means(np.arange(48) * US_PER_DAY // 24, np.arange(48.0))
        >>> means.tolist()
        [11.5, 35.5]
    """
    known = ~np.isnan(values)
    hours, index = np.unique(
        (times_us[known] - midnight_us) // (US_PER_DAY // 24), return_inverse=True
    )
    if hours.size == 0:
        return np.empty(0, dtype=np.int64), np.empty(0)
    hourly = np.bincount(index, weights=values[known]) / np.bincount(index)
    days, index = np.unique(hours // 24, return_inverse=True)
    counts = np.bincount(index)
    means = np.bincount(index, weights=hourly) / counts
    whole = counts >= least_hours
    return days[whole] * US_PER_DAY + midnight_us, means[whole]


def _kendall_variance(y: FloatArray, x: FloatArray | None = None) -> float:
    """Variance of Kendall's sum, ties in y (and in x) allowed for."""
    count = y.size
    total = count * (count - 1) * (2 * count + 5)
    for series in (y, x):
        if series is not None:
            _, sizes = np.unique(series, return_counts=True)
            total -= int(np.sum(sizes * (sizes - 1) * (2 * sizes + 5)))
    return max(total, 0) / 18

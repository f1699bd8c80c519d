"""Series of readings as signals: gaps, minute means, spells, smoothing.

Times are whole microseconds since 1970, UTC, in rising order; values are arrays of the same
length in which NaN marks what is not known. Nothing here knows what a value means, what time
it is, or where it came from.
"""

import math
from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from service.errors import OutOfRangeError

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

US_PER_S = 1_000_000
"""Microseconds in a second; repeated here because the science may not import the clock."""
US_PER_MINUTE = 60 * US_PER_S
"""Microseconds in a minute."""
US_PER_DAY = 86_400 * US_PER_S
"""Microseconds in a day of twenty-four hours."""


def median_interval_s(times_us: IntArray) -> float:
    """The usual time between readings.

    The median, so that a few long silences do not stretch it.

    Args:
        times_us: Times of the readings, rising. [µs UTC]

    Returns:
        The median interval; zero when there are fewer than two readings. [s]

    Examples:
        >>> median_interval_s(np.array([0, 60, 120, 900]) * US_PER_S)
        60.0
    """
    intervals_us = np.diff(times_us)
    return float(np.median(intervals_us)) / US_PER_S if intervals_us.size else 0.0


def gaps(times_us: IntArray, longest_s: float) -> IntArray:
    """The silences between readings that lasted longer than they may.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        longest_s: The longest silence that is no gap. [s]

    Returns:
        One row a gap: time of the last reading before it and of the first after it. [µs UTC]

    Examples:
        >>> gaps(np.array([0, 60, 400]) * US_PER_S, longest_s=300).tolist()
        [[60000000, 400000000]]
    """
    last = np.flatnonzero(np.diff(times_us) > longest_s * US_PER_S)
    return np.column_stack((times_us[last], times_us[last + 1])).astype(np.int64)


def minute_means(times_us: IntArray, values: FloatArray) -> tuple[IntArray, FloatArray]:
    """The mean of the readings in each whole minute, from the first minute to the last.

    A reading on the stroke belongs to the minute that it opens. The grid is dense, so a series
    with a silence of years in it is better cut at its gaps first.

    Args:
        times_us: Times of the readings, in any order. [µs UTC]
        values: What was read; NaN counts for nothing.

    Returns:
        Starts of the minutes [µs UTC], and the mean of each; NaN where nothing was read.

    Examples:
        >>> minute_means(np.array([0, 30, 150]) * US_PER_S, np.array([1.0, 2.0, 5.0]))[1]
        array([1.5, nan, 5. ])
    """
    if times_us.size == 0:
        return np.empty(0, dtype=np.int64), np.empty(0)
    minutes = times_us // US_PER_MINUTE
    first, last = int(minutes.min()), int(minutes.max())
    known = ~np.isnan(values)
    slots, size = minutes[known] - first, last - first + 1
    counts = np.bincount(slots, minlength=size)
    sums = np.bincount(slots, weights=values[known], minlength=size)
    means = np.divide(sums, counts, out=np.full(size, np.nan), where=counts > 0)
    return np.arange(first, last + 1, dtype=np.int64) * US_PER_MINUTE, means


def runs(mask: BoolArray) -> IntArray:
    """The unbroken stretches in which the mask is true.

    Args:
        mask: True where it holds.

    Returns:
        One row a stretch: index of its first element, and index after its last.

    Examples:
        >>> runs(np.array([True, True, False, True])).tolist()
        [[0, 2], [3, 4]]
    """
    edges = np.diff(mask.astype(np.int8), prepend=0, append=0)
    return np.column_stack((np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)))


def smooth_step(previous: float, value: float, dt_s: float, time_constant_s: float) -> float:
    """The next value of an exponential moving average over unevenly spaced readings.

    The weight of the new reading is 1 - exp(-dt/τ): after a long wait it counts fully, after a
    short one hardly, so the average forgets in time and not in readings.

    Args:
        previous: The average before this reading.
        value: The reading.
        dt_s: Time since the reading before. [s] Zero or more.
        time_constant_s: Time in which the average forgets all but 1/e. [s] Above zero; zero
            means no smoothing.

    Returns:
        The average after this reading, between `previous` and `value`.

    Raises:
        OutOfRangeError: Time would run backwards, or the time constant is negative.

    Examples:
        >>> smooth_step(10.0, 12.0, dt_s=math.log(2) * 600, time_constant_s=600)
        11.0
    """
    if dt_s < 0 or time_constant_s < 0:
        raise OutOfRangeError(
            f"a step of {dt_s:g} s with a time constant of {time_constant_s:g} s; "
            "neither may be negative, so put the readings in order of time"
        )
    if time_constant_s == 0:
        return value
    return previous - math.expm1(-dt_s / time_constant_s) * (value - previous)


def smoothed(
    times_us: IntArray, values: FloatArray, time_constant_s: float, gap_s: float
) -> FloatArray:
    """The exponential moving average of a whole series; see `smooth_step`.

    It is a fold of `smooth_step`, so a service that takes one reading at a time gets the same
    bits as one that computes the history again.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read; NaN is skipped and stays NaN.
        time_constant_s: See `smooth_step`. [s]
        gap_s: After a silence longer than this the average starts afresh. [s]

    Returns:
        The average at each reading.

    Raises:
        OutOfRangeError: Time runs backwards, or the time constant is negative.

    Examples:
        >>> smoothed(np.array([0, 60]) * US_PER_S, np.array([9.0, 9.0]), 600.0, 300.0)
        array([9., 9.])
    """
    averages = _fold(times_us.tolist(), values.tolist(), time_constant_s, gap_s)
    return np.fromiter(averages, dtype=np.float64)


def _fold(
    times_us: list[int], values: list[float], time_constant_s: float, gap_s: float
) -> Iterable[float]:
    """The average after each reading; python floats, for the same arithmetic as one step."""
    average, before_us = math.nan, 0
    for time_us, value in zip(times_us, values, strict=True):
        if math.isnan(value):
            yield math.nan
            continue
        dt_s = (time_us - before_us) / US_PER_S
        if math.isnan(average) or dt_s > gap_s:
            average = value
        else:
            average = smooth_step(average, value, dt_s, time_constant_s)
        before_us = time_us
        yield average

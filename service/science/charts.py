"""Control charts: small lasting shifts that single readings hide.

Nothing here knows a clock, a file, a database, or what a value means.
"""

import numpy as np

from service.errors import OutOfRangeError
from service.science.signals import FloatArray


def ewma(values: FloatArray, weight: float, start: float) -> FloatArray:
    """Exponentially weighted moving average of evenly spaced values.

    Shows a small lasting shift sooner than single values do. For uneven times see
    `signals.smoothed`.

    Args:
        values: The values, none missing.
        weight: Weight of the newest. [1] Above 0, up to 1.
        start: The average before the first value, such as the target.

    Returns:
        The average after each value.

    Raises:
        OutOfRangeError: The weight is not above 0 and up to 1.

    References:
        NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, doi 10.18434/M32189.

    Examples:
        >>> ewma(np.array([52.0, 47.0]), 0.3, 50.0).round(2).tolist()
        [50.6, 49.52]
    """
    _weight_checked(weight)
    averages = np.empty(values.size)
    average = start
    for place, value in enumerate(values.tolist()):
        average += weight * (value - average)
        averages[place] = average
    return averages


def ewma_limits(
    count: int, target: float, sigma: float, weight: float, width: float = 3.0
) -> tuple[FloatArray, FloatArray]:
    """Control limits of an EWMA chart, narrower at its start, where the average knows little.

    Args:
        count: Number of values.
        target: Where the average should lie.
        sigma: Standard deviation of one value. Above zero.
        weight: Weight of the newest value. [1]
        width: Standard deviations of the average from target to limit. [1]

    Returns:
        Lower and upper limit after each value.

    Raises:
        OutOfRangeError: The weight is not above 0 and up to 1.

    References:
        NIST/SEMATECH e-Handbook, 6.3.2.4; exact variance as in Lucas & Saccucci, Technometrics
        32 (1990) 1-12 (from memory).

    Examples:
        >>> low, high = ewma_limits(1000, 50.0, 2.0539, 0.3)
        >>> round(float(high[-1]), 4)
        52.5884
    """
    _weight_checked(weight)
    forgotten = (1 - weight) ** (2 * np.arange(1, count + 1))
    half = width * sigma * np.sqrt(weight / (2 - weight) * (1 - forgotten))
    return target - half, target + half


def cusum(
    values: FloatArray, target: float, slack: float, head_start: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Cumulative sums above and below a target: they find small lasting shifts.

    A signal is a sum beyond the decision interval, which the caller compares. With a head start
    of half the interval a shift that is there from the beginning is found sooner (fast initial
    response).

    Args:
        values: The values, none missing.
        target: Where they should lie.
        slack: Departure that is not summed up, half the shift to be found. [unit of the values]
        head_start: Both sums before the first value. [unit of the values]

    Returns:
        Upper and lower sum after each value, neither below zero.

    References:
        NIST/SEMATECH e-Handbook, 6.3.2.3; Lucas & Crosier, Technometrics 24 (1982) 199-205.

    Examples:
        >>> upper, lower = cusum(np.array([0.8, 1.9, 1.4]), 0.0, 0.5, head_start=2.5)
        >>> upper.round(1).tolist()
        [2.8, 4.2, 5.1]
    """
    return (
        _one_sided(values - target - slack, head_start),
        _one_sided(target - values - slack, head_start),
    )


def _one_sided(steps: FloatArray, head_start: float) -> FloatArray:
    """Sums that never fall below zero: the running sum above its own lowest point."""
    total = np.cumsum(steps)
    return total - np.minimum(np.minimum.accumulate(total), -head_start)


def _weight_checked(weight: float) -> None:
    if not 0 < weight <= 1:
        raise OutOfRangeError(f"a weight of {weight:g}; give one above 0, up to 1")

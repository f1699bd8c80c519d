"""The mean of the air that verdicts and alarms compare with a limit.

It is an exponential mean, so that the swing of a fridge's cooling cycle does not count, with
one thing more: on the side of the limit a reading pulls it no harder than if it lay `reach`
beyond the mean. A door that opens for two minutes can drop the humidity by thirty %RH; a plain
mean then takes half an hour to forget it, and every visit to the cave would end in an alarm.
A true change is followed all the same, only at most `reach` per time constant.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from service.ageing.values import Direction, Quantity
from service.science.signals import US_PER_S, smooth_step


@dataclass(frozen=True, slots=True)
class Smoothing:
    """How the mean is taken.

    Attributes:
        time_constant_s: Of the exponential mean. [s] A cooling cycle lasts 20 to 60 minutes;
            15 minutes flatten most of its swing and yet follow a tray that runs dry.
        gap_s: After a longer silence the mean starts afresh. [s]
        reach: How far beyond the mean a reading counts, on the side of the limit.
            [K or %RH]
    """

    time_constant_s: float = 900.0
    gap_s: float = 1800.0
    reach: float = math.inf


# Our choice: a swing within the reach leaves the mean where it is (checked by simulation up to
# 5 %RH to either side), and the reach is small beside what an opening does to the air.
_SMOOTHING: Final = {
    Quantity.HUMIDITY: Smoothing(reach=5.0),
    Quantity.TEMPERATURE: Smoothing(reach=2.0),
}

_READINGS_IN_GAP: Final = 5
"""A silence is no gap before the sensor has missed this many readings. Our choice."""


def smoothing(quantity: Quantity, interval_s: float = 0.0) -> Smoothing:
    """The smoothing of a quantity, for a sensor that usually reports every `interval_s`.

    A sensor that reports once an hour must not have a gap between any two of its readings:
    no delay of an alarm would ever end.
    """
    usual = _SMOOTHING[quantity]
    return replace(usual, gap_s=max(usual.gap_s, _READINGS_IN_GAP * interval_s))


def mean_step(
    before: float, value: float, dt_s: float, direction: Direction, how: Smoothing
) -> float:
    """The mean after one more reading.

    Args:
        before: The mean so far. [°C or %RH]
        value: The reading. [°C or %RH]
        dt_s: Time since the reading before. [s]
        direction: The side of the limit with which the mean will be compared.
        how: How the mean is taken.

    Examples:
        >>> how = Smoothing(time_constant_s=900, gap_s=1800, reach=5)
        >>> opened = mean_step(90.0, 60.0, 60, Direction.BELOW, how)
        >>> opened == mean_step(90.0, 85.0, 60, Direction.BELOW, how)
        True
    """
    if dt_s > how.gap_s:
        return value
    if direction is Direction.BELOW:
        pull = max(value, before - how.reach)
    else:
        pull = min(value, before + how.reach)
    return smooth_step(before, pull, dt_s, how.time_constant_s)


def means(
    times_us: npt.NDArray[np.int64],
    values: npt.NDArray[np.float64],
    direction: Direction,
    how: Smoothing,
) -> npt.NDArray[np.float64]:
    """The mean at each reading of a series; the fold of `mean_step`, to the last bit.

    Args:
        times_us: Times of the readings, rising; at least one. [µs UTC]
        values: What was read, none of it NaN; the first is the first mean.
        direction: The side of the limit with which the mean will be compared.
        how: How the mean is taken.
    """
    return np.fromiter(_fold(times_us.tolist(), values.tolist(), direction, how), np.float64)


def _fold(
    times_us: list[int], values: list[float], direction: Direction, how: Smoothing
) -> Iterable[float]:
    mean, before_us = values[0], times_us[0]
    for time_us, value in zip(times_us, values, strict=True):
        mean = mean_step(mean, value, (time_us - before_us) / US_PER_S, direction, how)
        before_us = time_us
        yield mean

"""The time until a limit is reached, told before it happens, and not told without reason.

A cave breathes with the day and the weather; a forecast is made only where its trend goes
beyond what it does anyway. Nothing here knows a clock, a file, a database, or what a value
means.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.stats import norm  # type: ignore[import-untyped]  # scipy ships no types

from service.science.signals import US_PER_S, FloatArray, IntArray
from service.science.trends import theil_sen, variance_inflation

_S_PER_H: Final = 3_600.0
_Z_95: Final = 1.959964
"""Half width of a 95 % interval of the normal distribution. [standard deviations]"""
_BIN_S: Final = 1_200.0
"""Forecasts look at means over this time. [s] Our choice: shorter than any trend of a cave."""
_FEWEST_BINS: Final = 12
"""Means below which there is no forecast: four hours' worth, our choice."""
_STALE_S: Final = 7_200.0
"""A forecast from readings older than this would be a guess. [s] Our choice."""
_HISTORY_S: Final = 14 * 86_400.0
"""How far back the restlessness of the space is judged. [s] Our choice."""
_GATE: Final = 3.5
"""Errors by which a slope must differ from none. [1] Our choice: it keeps false
early warnings on two kinds of simulated steady cave to fewer than one a month."""
_BEND: Final = 0.5
"""Part of a bend within the window that counts as error of the slope. [1] Our choice."""
_WANDER_H: Final = 6.0
"""The level is unsure by what the usual restlessness does in this time. [h] Our choice."""
_SLOWEST: Final = 0.25
"""The late end of an interval takes no less than this part of the slope. [1] Our choice."""
_SHORT_HISTORY: Final = 2.0
"""Factor on the error of a slope while there is no history to judge it by. Our choice."""
_FEWEST_WINDOWS: Final = 24
"""Earlier windows, two hours apart, that make a history: two days, our choice."""
_WINDOW_STEP: Final = 6
"""Means from one earlier window to the next: two hours."""
_KEPT: Final = 0.8
_KEPT_MEAN: Final = 0.5586
"""Mean size of the smallest four fifths of normal numbers of standard deviation 1."""
_FEWEST_DAYS: Final = 7
"""Days of history from which the shape of a day is learned. Our choice."""
_HOURS: Final = 24
_DAYS_AHEAD: Final = 8
_DAY_BINS_H: Final = np.arange(0, _HOURS, _BIN_S / 3_600)
"""Starts of the short bins of a day, counted from now. [h]"""


class Direction(StrEnum):
    """On which side of a limit trouble lies."""

    BELOW = "below"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a limit will be reached if things go on as they do: an estimate.

    Attributes:
        expected_s: Time from now. [s]
        low_s: Early end of the interval. [s]
        high_s: Late end of the interval. [s]
        slope_per_h: The trend behind it. [unit of the values over an hour]
    """

    expected_s: float
    low_s: float
    high_s: float
    slope_per_h: float


def time_to_limit(
    times_us: IntArray,
    values: FloatArray,
    limit: float,
    direction: Direction,
    now_us: int,
    window_s: float = 43_200.0,
    horizon_s: float = 172_800.0,
    confidence: float = 0.9,
) -> Forecast | None:
    """How long until a limit is crossed, if the trend of the last hours goes on.

    The slope is Theil and Sen's over half the window, or over all of it where half is not sure
    enough, after what the hour of the day explains is taken off. Its error has three parts: the
    scatter, made larger for correlated neighbours; a bend within the window; and the slopes
    that this space has shown in the two weeks before, which hold its weather. A restless cave
    is so given less credit. Give at least a week of history. An estimate.

    Args:
        times_us: Times, rising; none after `now_us` counts. [µs UTC]
        values: The de-cycled series (`cycles.without_cycle`); NaN where not known.
        limit: The limit, in the unit of the values.
        direction: Where trouble lies.
        now_us: The present. [µs UTC]
        window_s: Length of the window. [s]
        horizon_s: Farthest expected crossing that is told. [s]
        confidence: Of the interval. [1]

    Returns:
        The forecast; or None: too few or too old values, the slope's interval holds zero or
        leads away from the limit, the limit is crossed already, or it lies beyond the horizon.

    References:
        Sen 1968, see `theil_sen`; the rest is our own.

    Examples:
        >>> times_us = np.arange(720) * 60 * US_PER_S
        >>> falling = 90 - np.arange(720) / 600 + np.sin(np.arange(720)) / 100
        >>> found = time_to_limit(times_us, falling, 88.0, Direction.BELOW, 720 * 60 * US_PER_S)
        >>> found is not None and round(found.expected_s / 3600)
        8
    """
    sign = -1.0 if direction is Direction.BELOW else 1.0
    hours, level = _binned(times_us, sign * values, now_us)
    z = float(norm.ppf(0.5 + confidence / 2))
    # A tray ends faster than it began: the shorter window sees it sooner, if it sees enough.
    for width_s in (0.5 * window_s, window_s):
        line = _line(hours, level, width_s)
        if line is None or line.slope <= _GATE * line.error:
            continue
        away = sign * limit - line.now
        expected_h = _crossing_h(away, line.slope, line.day)
        if not 0 < expected_h <= horizon_s / _S_PER_H:
            continue
        unsure = z * line.scatter
        fast = max(line.slope, line.newer) + z * line.error
        slow = max(min(line.slope, line.newer) - z * line.error, _SLOWEST * line.slope)
        return Forecast(
            expected_s=expected_h * _S_PER_H,
            low_s=_crossing_h(away - unsure, fast, line.day) * _S_PER_H,
            high_s=_crossing_h(away + unsure, slow, line.day) * _S_PER_H,
            slope_per_h=sign * line.slope,
        )
    return None


@dataclass(frozen=True, slots=True)
class _Line:
    """The trend of a window, a rise being towards the limit. [unit, unit over an hour]

    `day` is what the hour of the day adds in each short bin of the next hours, from now on.
    """

    slope: float
    newer: float
    error: float
    now: float
    scatter: float
    day: FloatArray


def _line(hours: FloatArray, level: FloatArray, window_s: float) -> _Line | None:
    """The trend of the last window, and how sure it is; None with too few or too old values."""
    day = _day_shape(hours, level, window_s)
    level = level - np.interp(hours % _HOURS, _DAY_BINS_H, day, period=_HOURS)
    recent = hours > -window_s / _S_PER_H
    x, y = hours[recent], level[recent]
    if y.size < max(_FEWEST_BINS, 0.6 * window_s / _BIN_S) or x[-1] < -_STALE_S / _S_PER_H:
        return None
    line = theil_sen(x, y)
    residuals = y - line.slope * x - line.intercept
    error = (line.high - line.low) / (2 * _Z_95) * math.sqrt(variance_inflation(residuals))
    # A bend shows as a newer half that runs at another slope than the whole.
    half = y.size // 2
    newer = theil_sen(x[-half:], y[-half:]).slope
    restless = _usual_slope(hours, level, window_s)
    error = math.hypot(error, _BEND * (newer - line.slope))
    error = error * _SHORT_HISTORY if restless is None else math.hypot(error, restless)
    # The newest third tells where the line stands now, should it be bent.
    third = max(y.size // 3, 1)
    return _Line(
        slope=line.slope,
        newer=newer,
        error=error,
        now=float(np.median(y[-third:] - line.slope * x[-third:])),
        scatter=math.hypot(float(np.std(residuals)), _WANDER_H * (restless or 0.0)),
        day=day,
    )


def _crossing_h(away: float, slope: float, day: FloatArray) -> float:
    """Hours until line and hour of the day together have gone so far; zero if they have."""
    ahead_h = np.arange(_DAYS_AHEAD * day.size) * _BIN_S / _S_PER_H
    gone = slope * ahead_h + np.tile(day, _DAYS_AHEAD) >= away
    if gone.any():
        return float(ahead_h[np.argmax(gone)])
    return max(away / slope, float(ahead_h[-1]))


def _binned(times_us: IntArray, values: FloatArray, now_us: int) -> tuple[FloatArray, FloatArray]:
    """Means over short bins of the last two weeks, and their middles in hours before now."""
    first, last = np.searchsorted(times_us, (now_us - int(_HISTORY_S * US_PER_S), now_us + 1))
    times_us, values = times_us[first:last], values[first:last]
    known = ~np.isnan(values)
    before = (now_us - times_us[known]) // int(_BIN_S * US_PER_S)
    bins, index = np.unique(-before, return_inverse=True)
    if bins.size == 0:
        return np.empty(0), np.empty(0)
    means = np.bincount(index, weights=values[known]) / np.bincount(index)
    return (bins - 0.5) * _BIN_S / 3_600, means


def _day_shape(hours: FloatArray, level: FloatArray, window_s: float) -> FloatArray:
    """What the hour of the day alone adds, by short bins of the day from now; zero with no past.

    Learned before the window. Over half a day the warmth of an afternoon looks like a trend.
    """
    earlier = hours <= -window_s / _S_PER_H
    x, y = hours[earlier], level[earlier]
    if x.size == 0 or x[-1] - x[0] < _FEWEST_DAYS * _HOURS:
        return np.zeros(_DAY_BINS_H.size)
    total = np.concatenate(([0.0], np.cumsum(y)))
    first = np.searchsorted(x, x - _HOURS / 2)
    last = np.searchsorted(x, x + _HOURS / 2)
    middle = (x - x[0] >= _HOURS / 2) & (x[-1] - x >= _HOURS / 2)
    swing = (y - (total[last] - total[first]) / (last - first))[middle]
    hour = (np.floor(x[middle]) % _HOURS).astype(np.int64)
    parts = [swing[hour == each] for each in range(_HOURS)]
    medians = np.array([np.median(part) if part.size else 0.0 for part in parts])
    # The medians stand in the middles of the hours; straight lines join them, midnight too.
    shape: FloatArray = np.interp(_DAY_BINS_H, np.arange(_HOURS) + 0.5, medians, period=_HOURS)
    return shape


def _usual_slope(hours: FloatArray, level: FloatArray, window_s: float) -> float | None:
    """Robust size of the slopes over windows before the last one; None with too short a past."""
    width = int(window_s / _BIN_S)
    earlier = hours <= -window_s / 3_600
    x, y = hours[earlier], level[earlier]
    if x.size < width + _FEWEST_WINDOWS * _WINDOW_STEP:
        return None
    xs = np.lib.stride_tricks.sliding_window_view(x, width)[::_WINDOW_STEP]
    ys = np.lib.stride_tricks.sliding_window_view(y, width)[::_WINDOW_STEP]
    xs = xs - xs.mean(axis=1, keepdims=True)
    slopes = np.sum(xs * ys, axis=1) / np.sum(xs**2, axis=1)
    days = max((x[-1] - x[0]) / _HOURS, 2.0)
    # The shape of the day was learned from the same days, so they look calmer than the next.
    unseen = math.sqrt((days + 1) / (days - 1))
    # A tray that once ran dry stands in the largest fifth, which is left out.
    sizes = np.sort(np.abs(slopes))[: math.ceil(_KEPT * slopes.size)]
    return float(sizes.mean()) / _KEPT_MEAN * unseen

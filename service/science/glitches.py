"""Readings that stand alone: spikes of one or two readings that no air can have made.

Air that a sensor has followed away from its course leads the sensor back slowly; a spike
comes and goes between two readings that agree. An opening of the door moves temperature and
humidity together and leaves a tail, so it stays. Nothing here knows a limit or a door.
"""

import numpy as np
import numpy.typing as npt
from scipy.ndimage import median_filter  # type: ignore[import-untyped]  # scipy ships no types

from service.science.signals import US_PER_S

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

LEAST_TEMPERATURE_K = 0.5
"""Temperatures nearer to their neighbours than this are no spike. [K] Our choice."""
LEAST_HUMIDITY_PCT = 2.0
"""Humidities nearer to their neighbours than this are no spike. [%RH] Our choice."""
SCALES = 8.0
"""A spike stands out by so many robust standard deviations of its neighbourhood. Our choice:
3 is usual for noise alone, but turning points of cooling cycles stand out too."""
TAIL = 0.25
"""The neighbours of a spike agree within this share of its height. [1] Our choice: a sensor
with a lag of 45 s still shows as much a minute after air that jumped back at once."""
HUGE_K = 15.0
"""A joint jump up to this height may be an opening that was caught once. [K] Our choice."""
DENSE_S = 120.0
"""Readings no further apart than this show the tail of every opening. [s] Our choice: the air
of a small cave needs minutes to come back to the temperature of its walls."""

_HALF_WINDOW = 7
_LONGEST_SPIKE = 2
_MAD_TO_SIGMA = 1.4826


def spikes(
    times_us: IntArray,
    temperature_c: FloatArray,
    humidity_pct: FloatArray,
    longest_s: float,
) -> tuple[BoolArray, BoolArray]:
    """Which temperatures and which humidities are spikes.

    A spike of one quantity alone is rejected; one of both together only where readings are
    dense or it is higher than any opening, for an opening caught by one reading moves both.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: Temperatures; NaN where not known. [°C]
        humidity_pct: Relative humidities; NaN where not known. [%RH]
        longest_s: The longest silence that is no gap; readings are not compared across one,
            so a reading next to a gap, first or last, is never a spike. [s]

    Returns:
        True where the temperature is a spike, and where the humidity is.

    References:
        F. R. Hampel, J. Am. Stat. Assoc. 69 (1974) 383-393: distance from the median in
        units of the median absolute deviation. The rest is ours.

    Examples:
        >>> t = np.arange(30) * 60 * US_PER_S
        >>> said = np.full(30, 88.0)
        >>> said[12] = 55.0
        >>> np.flatnonzero(spikes(t, np.full(30, 10.0), said, 300.0)[1]).tolist()
        [12]
    """
    warm = _standing_alone(times_us, temperature_c, longest_s, LEAST_TEMPERATURE_K)
    damp = _standing_alone(times_us, humidity_pct, longest_s, LEAST_HUMIDITY_PCT)
    joint = (warm > 0.0) & _moved(times_us, humidity_pct, longest_s, LEAST_HUMIDITY_PCT)
    joint |= (damp > 0.0) & _moved(times_us, temperature_c, longest_s, LEAST_TEMPERATURE_K)
    # Read every minute, an opening leaves a tail in the temperature at least.
    dense = np.median(np.diff(times_us)) <= DENSE_S * US_PER_S if times_us.size > 1 else False
    keep = joint & (warm <= HUGE_K) & ~((warm > 0.0) & (damp > 0.0) & dense)
    return (warm > 0.0) & ~keep, (damp > 0.0) & ~keep


def _standing_alone(
    times_us: IntArray, values: FloatArray, longest_s: float, least: float
) -> FloatArray:
    """Height of the spike at each reading, zero where there is none."""
    height = np.zeros(values.size)
    known = np.flatnonzero(~np.isnan(values))
    x, t = values[known], times_us[known]
    if x.size < 2 * _HALF_WINDOW:
        return height
    close = np.diff(t) <= longest_s * US_PER_S
    scale = _local_scale(x)
    found = np.zeros(x.size)
    for width in range(1, _LONGEST_SPIKE + 1):
        # Reading i is the first of the spike; `last` stands before it and `next` after it.
        i = np.arange(1, x.size - width)
        joined = close[i - 1]
        for step in range(width):
            joined &= close[i + step]
        last, after = x[i - 1], x[i + width]
        inside = np.stack([x[i + step] for step in range(width)])
        away = inside - (last + after) / 2
        high = np.abs(away).min(axis=0)
        same_side = np.abs(np.sign(away).sum(axis=0)) == width
        limit = np.maximum(least, SCALES * scale[i])
        calm = _agree(x, i, width, TAIL * high)
        for first in i[joined & same_side & calm & (high > limit)].tolist():
            found[first : first + width] = np.maximum(found[first : first + width], high[first - 1])
    height[known] = found
    return height


def _agree(x: FloatArray, first: IntArray, width: int, within: FloatArray) -> BoolArray:
    """Where the readings around a would-be spike agree as if it were not there.

    Either they are level, by medians of three, so that a second spike close by does not hide
    the first; or they lie on one slope, that of a fridge that cools.
    """
    last, after = x[first - 1], x[first + width]
    before = [x[np.maximum(first - back, 0)] for back in (1, 2, 3)]
    behind = [x[np.minimum(first + width + ahead, x.size - 1)] for ahead in (0, 1, 2)]
    level = np.abs(after - last) <= within
    level &= np.abs(np.median(before, axis=0) - last) <= within
    level &= np.abs(np.median(behind, axis=0) - after) <= within
    into, out = before[0] - before[1], behind[1] - behind[0]
    sloping = np.abs(into - out) <= within
    sloping &= np.abs(after - last - (width + 1) * (into + out) / 2) <= within
    agree: BoolArray = level | sloping
    return agree


def _moved(times_us: IntArray, values: FloatArray, longest_s: float, least: float) -> BoolArray:
    """Where a quantity left its course suddenly, within a reading of here.

    The straight line through the two readings before is its course, so the slope of a cooling
    cycle is none; a reading of tolerance, because one element of a sensor lags the other.
    """
    moved = np.zeros(values.size, dtype=bool)
    known = np.flatnonzero(~np.isnan(values))
    x = values[known]
    if x.size < 2 * _HALF_WINDOW:
        return moved
    away = np.zeros(x.size)
    away[2:] = np.abs(x[2:] - 2 * x[1:-1] + x[:-2])
    left = away > np.maximum(least / 2, SCALES / 2 * _local_scale(x))
    left[1:] &= np.diff(times_us[known]) <= longest_s * US_PER_S
    near = left.copy()
    near[1:] |= left[:-1]
    near[:-1] |= left[1:]
    moved[known] = near
    return moved


def _local_scale(x: FloatArray) -> FloatArray:
    """Robust standard deviation of each reading about the mean of its two neighbours.

    The second difference takes out level and slope, so a cave that warms or a cycle that
    runs does not count as noise; the median over fifteen readings leaves out the spike.
    """
    bend = np.zeros(x.size)
    bend[1:-1] = np.abs(x[1:-1] - (x[:-2] + x[2:]) / 2)
    bend[[0, -1]] = bend[[1, -2]]
    usual: FloatArray = median_filter(bend, 2 * _HALF_WINDOW + 1, mode="mirror")
    return _MAD_TO_SIGMA * usual

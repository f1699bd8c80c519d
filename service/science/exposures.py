"""A series cut where the air around the sensor changed suddenly: each piece is one exposure.

Put into a bag, bag opened, bag closed again: each makes the readings leave where they were,
fast at first and slower later. Slow approaches and cooling cycles do not cut. Nothing here
knows what the readings are compared with.
"""

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.science.signals import US_PER_S, runs

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]

SHORTEST_BIN_S = 60.0
"""Readings are taken together by the minute. [s] Our choice."""
MOST_BINS = 1_500
"""Longer series are taken together more coarsely. Our choice."""
JUMP_PCT = 1.2
"""A change within ten minutes below this is no jump. [%RH] Our choice: a calm bag stays below
it, openings do not."""

_REACH_S = 300.0
_JUMP_SCALES = 6.0
_USUAL_SHARE, _JUMP_TIMES = 0.9, 2.0
_SUDDEN = 2.5
_SPIKE_PCT, _SPIKE_SCALES = 1.0, 5.0
_MAD_TO_SIGMA = 1.4826
_HALF_WINDOW = 2


@dataclass(frozen=True, slots=True)
class Exposure:
    """Medians of readings by the minute, in one air.

    Attributes:
        begin_us: Time from which `seconds` count. [µs UTC]
        seconds: Times. [s]
        difference_pct: What is judged. [%RH]
        temperature_c: Temperature. [°C]
        humidity_pct: Humidity as read. [%RH]
    """

    begin_us: int
    seconds: FloatArray
    difference_pct: FloatArray
    temperature_c: FloatArray
    humidity_pct: FloatArray


def exposures(
    times_us: IntArray,
    difference_pct: FloatArray,
    temperature_c: FloatArray,
    humidity_pct: FloatArray,
) -> list[Exposure]:
    """The pieces of a series between sudden changes, at least one.

    Args:
        times_us: Times of the readings, rising; at least one. [µs UTC]
        difference_pct: The quantity whose sudden changes cut. [%RH]
        temperature_c: Temperature. [°C]
        humidity_pct: Humidity. [%RH]

    Returns:
        The pieces in order of time, without single outliers.

    References:
        F. R. Hampel, J. Am. Stat. Assoc. 69 (1974) 383-393, for the outliers.

    Examples:
        >>> t = np.arange(120) * 60 * US_PER_S
        >>> d = np.where(np.arange(120) < 60, -20.0, 1.0)
        >>> [piece.seconds.size for piece in exposures(t, d, d, d)]
        [55, 65]
    """
    begin_us = int(times_us[0])
    length_s = (int(times_us[-1]) - begin_us) / US_PER_S
    bin_s = max(SHORTEST_BIN_S, length_s / MOST_BINS)
    slots = ((times_us - begin_us) / (bin_s * US_PER_S)).astype(np.int64)
    starts = np.flatnonzero(np.diff(slots, prepend=-1))
    stops = np.append(starts[1:], slots.size)
    bins = [slice(a, b) for a, b in zip(starts.tolist(), stops.tolist(), strict=True)]
    seconds = np.array([np.mean(times_us[part] - begin_us) for part in bins]) / US_PER_S
    difference, temperature, humidity = (
        np.array([np.median(values[part]) for part in bins])
        for values in (difference_pct, temperature_c, humidity_pct)
    )
    difference, humidity = _without_outliers(difference), _without_outliers(humidity)
    edges = [0, *_jumps(difference, bin_s), difference.size]
    return [
        Exposure(begin_us, seconds[a:b], difference[a:b], temperature[a:b], humidity[a:b])
        for a, b in itertools.pairwise(edges)
        if b > a
    ]


def _without_outliers(values: FloatArray) -> FloatArray:
    """Values far from the median of their five neighbours replaced by it."""
    padded = np.pad(values, _HALF_WINDOW, mode="reflect" if values.size > _HALF_WINDOW else "edge")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * _HALF_WINDOW + 1), -1)
    away = np.abs(values - middle)
    scale = _MAD_TO_SIGMA * float(np.median(away))
    return np.where(away > max(_SPIKE_PCT, _SPIKE_SCALES * scale), middle, values)


def _jumps(values: FloatArray, bin_s: float) -> list[int]:
    """Indices at which sudden changes begin."""
    reach = max(1, round(_REACH_S / bin_s))
    index = np.arange(values.size)
    after = values[np.minimum(index + reach, values.size - 1)]
    moved = after - values[np.maximum(index - reach, 0)]
    # What cooling cycles do within ten minutes is known from most of the series, and what noise
    # does from one reading to the next.
    usual = float(np.quantile(np.abs(moved), _USUAL_SHARE))
    noise = _MAD_TO_SIGMA * float(np.median(np.abs(np.diff(values)))) if values.size > 1 else 0.0
    least = max(JUMP_PCT, _JUMP_TIMES * usual, _JUMP_SCALES * noise)
    found = []
    for start, stop in runs(np.abs(moved) > least).tolist():
        before = float(np.abs(moved[max(start - 2 * reach, 0)]))
        peak = float(np.abs(moved[start:stop]).max())
        if start > 0 and peak >= _SUDDEN * before:
            found.append(start)
    return found

"""The air behind noisy, lagging readings, as best it can be told.

Noise breaks a spell near its limit into pieces, and a plain mean over many readings rubs off
its edges. So the width of the fit is chosen anew at each reading: the widest one that the
narrower ones do not contradict. Pure; nothing here knows what is read.
"""

import numpy as np
from scipy.signal import savgol_coeffs, savgol_filter  # type: ignore[import-untyped]  # no types

from service.analyse.series import BoolArray, FloatArray, IntArray
from service.science.signals import US_PER_S, gaps, median_interval_s

WIDEST_S = 600.0
"""The widest fit reaches so far to either side. [s] Our choice: half a short cooling cycle."""
SURENESS = 1.0
"""Half the width of the intervals in which fits of two widths must meet, in standard errors.
[1] Our choice, on the narrow side: what is bent is sooner left noisy than made flat."""
LAG_S = 15.0
"""The lag that is taken for any sensor. [s] In still air it is 20 to 120 s and not known; our
choice, so low that it does no harm where the sensor hardly lags."""

_GROWTH = 1.4
_FEWEST = 8
_NARROWEST = 2
_ORDER = 2
_MAD_TO_SIGMA = 1.4826
_FOURTH_DIFFERENCE = 70.0
"""Variance of a fourth difference of white noise: 1 + 16 + 36 + 16 + 1."""


def noise_of(values: FloatArray) -> float:
    """Standard deviation of the noise of readings that follow each other evenly.

    From their fourth differences, which the course of the air hardly touches; the median, so
    that openings and spikes do not count.

    Args:
        values: Readings in order of time; NaN is passed over.

    Returns:
        The standard deviation, zero with fewer than eight readings. [as the values]

    Examples:
        >>> noise_of(np.arange(100.0) ** 2)
        0.0
    """
    x = values[~np.isnan(values)]
    if x.size < _FEWEST:
        return 0.0
    bends = np.abs(np.diff(x, n=4))
    return float(_MAD_TO_SIGMA * np.median(bends) / np.sqrt(_FOURTH_DIFFERENCE))


def steadied(times_us: IntArray, values: FloatArray, longest_s: float) -> FloatArray:
    """Readings without most of their noise, with their edges where they were.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read; NaN where not known, and stays so.
        longest_s: The longest silence that is no gap; nothing is joined across a gap. [s]

    Returns:
        The best estimate at each reading.

    References:
        Parabolas by least squares: A. Savitzky and M. J. E. Golay, Anal. Chem. 36 (1964)
        1627-1639. Intersection of confidence intervals: A. Goldenshluger and A. Nemirovski,
        Math. Methods of Statistics 6 (1997) 135-170 (from memory).

    Examples:
        >>> step = np.where(np.arange(60) < 30, 80.0, 90.0)
        >>> bool((steadied(np.arange(60) * 60_000_000, step, 300.0) == step).all())
        True
    """
    best = values.copy()
    known = np.flatnonzero(~np.isnan(values))
    noise = noise_of(values)
    if noise == 0.0:
        return best
    step_s = median_interval_s(times_us[known])
    for part in _stretches(times_us, known, longest_s):
        best[part] = _widest_that_agree(values[part], noise, WIDEST_S / step_s)
    return best


def moved_up(
    times_us: IntArray, values: FloatArray, behind_s: float, longest_s: float
) -> FloatArray:
    """Values told as they were some seconds later, along the slope.

    The slope is the harmonic mean of those to both neighbours, and none at a turn or where a
    plateau begins: a sensor that shows so sharp a corner does not lag.

    Args:
        times_us: Times, rising. [µs UTC]
        values: Steadied values; NaN where not known, and stays so.
        behind_s: How far they run behind. [s]
        longest_s: The longest silence that is no gap; no slope reaches across a gap. [s]

    Returns:
        The values moved up.

    References:
        Harmonic slopes: B. van Leer, J. Comput. Phys. 23 (1977) 276-299 (from memory).

    Examples:
        >>> t = np.arange(5) * 60_000_000
        >>> moved_up(t, np.array([0.0, 0.0, 1.0, 2.0, 2.0]), 30.0, 300.0).tolist()
        [0.0, 0.0, 1.5, 2.0, 2.0]
    """
    moved = values.copy()
    known = np.flatnonzero(~np.isnan(values))
    for part in _stretches(times_us, known, longest_s):
        slope = np.diff(values[part]) / np.diff(times_us[part]) * US_PER_S
        if slope.size:
            into, out = np.append(slope[0], slope), np.append(slope, slope[-1])
            same: BoolArray = into * out > 0
            mean = np.divide(2 * into * out, into + out, out=np.zeros_like(into), where=same)
            moved[part] += behind_s * mean
    return moved


def _stretches(times_us: IntArray, known: IntArray, longest_s: float) -> list[IntArray]:
    """Indices of what is known, cut at the gaps."""
    cuts = np.searchsorted(times_us[known], gaps(times_us[known], longest_s)[:, 1])
    return np.split(known, cuts)


def _widest_that_agree(values: FloatArray, noise: float, most: float) -> FloatArray:
    """At each reading the fit over the widest window whose interval meets all narrower ones."""
    best = values.copy()
    low, high = values - SURENESS * noise, values + SURENESS * noise
    agree = np.ones(values.size, dtype=np.bool_)
    half = _NARROWEST
    while half <= most and 2 * half < values.size and agree.any():
        fit = savgol_filter(values, 2 * half + 1, _ORDER)
        weights = savgol_coeffs(2 * half + 1, _ORDER)
        unsure = SURENESS * noise * float(np.sqrt(weights @ weights))
        low, high = np.maximum(low, fit - unsure), np.minimum(high, fit + unsure)
        agree &= low <= high
        best = np.where(agree, fit, best)
        half = max(half + 1, int(_GROWTH * half))
    return best

"""A sensor's own lag: its readings moved back to the air, and a bound on it from openings.

A sensor that follows its air with a time constant shows the air as it was a while ago, with
its edges rubbed off. Where the time constant is known, the air is reading plus time constant
times slope. Nothing here knows which quantity it is.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.errors import OutOfRangeError
from service.science.signals import US_PER_S

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]

_MOST_NEIGHBOURS = 40
_MAD_TO_SIGMA = 1.4826
_BEFORE_S, _AFTER_S = 600.0, 900.0
_FEWEST_POINTS = 3
_NOISES = 5.0
_GROWTH = 1.5


@dataclass(frozen=True, slots=True)
class FastestRecovery:
    """How fast the readings have come back after openings.

    Attributes:
        time_constant_s: Of the fastest third of the recoveries, their median. [s] None if no
            opening could be used. The sensor's lag is about this or shorter.
        openings: Number of openings used.
    """

    time_constant_s: float | None
    openings: int


def moved_back(
    times_us: IntArray,
    values: FloatArray,
    lag_s: float,
    *,
    longest_s: float,
    most_noise: float,
) -> FloatArray:
    """The air that a lagging sensor has seen: reading plus lag times slope.

    The slope is that of a straight line through the neighbours, over the shortest window that
    keeps the noise which the slope adds below a bound; so a dense noisy series is smoothed
    and a sparse one is not. Windows stop at gaps. Edges shorter than the window stay rounded.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read; NaN stays NaN.
        lag_s: The sensor's time constant. [s] Zero or more.
        longest_s: The longest silence that is no gap. [s]
        most_noise: Standard deviation that the slope may add. [as the values] Above zero.

    Returns:
        The air at each reading; the reading itself where it has no neighbour.

    Raises:
        OutOfRangeError: The lag is negative, or the bound is not above zero.

    References:
        First-order lag inverted; A. Savitzky and M. J. E. Golay, Anal. Chem. 36 (1964)
        1627-1639, slope by local least squares, here on uneven times.

    Examples:
        >>> t, said = np.arange(5) * 60 * US_PER_S, np.arange(5.0)
        >>> moved_back(t, said, 90.0, longest_s=300.0, most_noise=0.1).tolist()
        [1.5, 2.5, 3.5, 4.5, 5.5]
    """
    if lag_s < 0.0 or not most_noise > 0.0:
        raise OutOfRangeError(
            f"a lag of {lag_s:g} s and a noise of {most_noise:g}; the lag may not be negative "
            "and the noise must be above zero"
        )
    known = np.flatnonzero(~np.isnan(values))
    if lag_s == 0.0 or known.size < _FEWEST_POINTS:
        return values.copy()
    x, seconds = values[known], (times_us[known] - times_us[known[0]]) / US_PER_S
    step_s = float(np.median(np.diff(seconds)))
    noise = _noise(x)
    half_s = 1.5 * step_s
    slope, power = _slopes(seconds, x, half_s, longest_s)
    while lag_s * noise > most_noise * np.sqrt(np.median(power)):
        if _GROWTH * half_s > _MOST_NEIGHBOURS * step_s:
            break
        half_s *= _GROWTH
        slope, power = _slopes(seconds, x, half_s, longest_s)
    air = values.copy()
    air[known] = x + lag_s * slope
    return air


def fastest_recovery(
    times_us: IntArray, values: FloatArray, openings_us: IntArray
) -> FastestRecovery:
    """A bound on the sensor's lag from what follows openings; the lag itself is not known.

    After an opening the reading comes back as slowly as the slower of two: the air and the
    sensor. So the sensor is no slower than the fastest recovery. How much faster it is, the
    readings cannot tell: a fast sensor in air that recovers in 90 s and a slow one in air
    that recovers at once say the same. Nor do the two channels tell it together: vapour pressure
    worked out from them stays smooth under a lag that they share, and shows but a little of one
    that only the humidity has. Take the lag from the data sheet or from a test.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        values: Temperature or humidity as read; NaN where not known.
        openings_us: When the door was opened. [µs UTC]

    Returns:
        The bound. Planted lags of 30 to 180 s, read every 10 to 60 s, were never above 1.3
        times it; see the bench.

    References:
        Ours; checked on planted lags only.
    """
    known = ~np.isnan(values)
    times, x = times_us[known], values[known]
    if x.size < _FEWEST_POINTS:
        return FastestRecovery(None, 0)
    noise = _noise(x)
    found = [
        recovery_s
        for opening_us in openings_us.tolist()
        if (recovery_s := _recovery_s(times, x, opening_us, noise)) is not None
    ]
    if not found:
        return FastestRecovery(None, 0)
    # The median of the fastest third, not the fastest: noise makes some too fast.
    third = np.sort(found)[: max(len(found) // 3, 1)]
    return FastestRecovery(float(np.median(third)), len(found))


def _recovery_s(times_us: IntArray, x: FloatArray, opening_us: int, noise: float) -> float | None:
    """Time constant of the first part of the way back after an opening, or None."""
    a, o, b = np.searchsorted(
        times_us,
        [opening_us - _BEFORE_S * US_PER_S, opening_us, opening_us + _AFTER_S * US_PER_S],
    ).tolist()
    if o - a < _FEWEST_POINTS or b - o < _FEWEST_POINTS + 1:
        return None
    level = float(np.median(x[a:o]))
    away = x[o:b] - level
    peak = int(np.argmax(np.abs(away)))
    height = float(away[peak])
    part = away[peak:] / height if height else np.zeros(1)
    # Only what stands well above the noise has a logarithm worth fitting.
    low = part <= max(_NOISES * noise / abs(height), 0.2) if height else np.array([True])
    stop = int(np.argmax(low)) if low.any() else part.size
    if stop < _FEWEST_POINTS:
        return None
    seconds = (times_us[o + peak : o + peak + stop] - times_us[o + peak]) / US_PER_S
    logs = np.log(part[:stop])
    centred = seconds - seconds.mean()
    slope = float(centred @ logs) / float(centred @ centred)
    return -1.0 / slope if slope < 0.0 else None


def _noise(x: FloatArray) -> float:
    """Standard deviation of the noise from second differences, robust."""
    bend = x[1:-1] - (x[:-2] + x[2:]) / 2
    # The second difference of independent noise has 1.5 times its variance.
    return _MAD_TO_SIGMA * float(np.median(np.abs(bend))) / np.sqrt(1.5) if bend.size else 0.0


def _slopes(
    seconds: FloatArray, x: FloatArray, half_s: float, longest_s: float
) -> tuple[FloatArray, FloatArray]:
    """Slope of the straight line through each reading's window, and the power of its times.

    One pass for each neighbour, with times counted from the reading itself: sums over the
    whole series would lose the digits in which the windows differ.
    """
    n = x.size
    group = np.concatenate(([0], np.cumsum(np.diff(seconds) > longest_s)))
    count, st, sx, stt, stx = (np.zeros(n) for _ in range(5))
    count += 1.0
    for k in range(1, min(_MOST_NEIGHBOURS, n - 1) + 1):
        dt, dx = seconds[k:] - seconds[:-k], x[k:] - x[:-k]
        near = ((dt <= half_s) & (group[k:] == group[:-k])).astype(np.float64)
        if not near.any():
            break
        for part, sign in ((slice(None, n - k), 1.0), (slice(k, None), -1.0)):
            count[part] += near
            st[part] += sign * near * dt
            sx[part] += sign * near * dx
            stt[part] += near * dt * dt
            stx[part] += near * dt * dx
    power = stt - st * st / count
    shared = stx - st * sx / count
    slope = np.divide(shared, power, out=np.zeros(n), where=power > 0.0)
    return slope, power

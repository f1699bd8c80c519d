"""The compressor's rhythm read from the air: period, duty, starts, and a series without it.

A thermostat lets the air swing; how often and for what share of the time it cools tells of the
load on the cave, and a trend is only seen once the swing is taken out. Nothing here knows a
clock, a file or a database, nor what happens in a cave beside its cooling.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.science.signals import US_PER_MINUTE, US_PER_S, BoolArray, FloatArray, IntArray, runs

_SHORTEST_S: Final = 600.0
_LONGEST_S: Final = 7_200.0
"""Periods that are looked for: 10 minutes to 2 hours, our choice for fridges."""
_TREND_S: Final = 10_800.0
"""Slower changes than this are no cycle; one and a half times the longest period, our choice."""
_FEWEST_CYCLES: Final = 4
"""Fewer swings than this are no rhythm: our choice."""
_FEWEST_STEPS: Final = 4
"""Readings in a period below which its turning points cannot be told: our choice."""
_LEAST_CORRELATION: Final = 0.2
"""Autocorrelation one period on below which there is no cycle.

Our choice: white and red noise of a week stay below 0.1 after the trend is taken out.
"""
_LARGEST_SCATTER: Final = 0.3
"""Robust scatter of the period, as a share of it, beyond which there is no cycle. Our choice."""
_PHASES: Final = 96
"""Points on the mean cycle: its duty is read to about a hundredth."""
_MAD_TO_SIGMA: Final = 1.4826
"""Median absolute deviation to standard deviation, for a normal distribution."""


@dataclass(frozen=True, slots=True)
class Cycles:
    """The cooling cycle of a fridge, estimated from its air.

    Attributes:
        period_s: Mean time from one start of cooling to the next, odd ones left out. [s]
        period_scatter_s: Robust standard deviation of one period. [s]
        duty: Share of the time in which the compressor cools. [1]
        duty_scatter: Robust standard deviation of one cycle's duty, noise included. [1]
        swing_k: Median height of the cycle, from its top to its bottom. [K]
        starts_us: Tops of the swing, one a cycle: the air begins to fall. They lag the
            compressor by the lag of coil and sensor. [µs UTC]
    """

    period_s: float
    period_scatter_s: float
    duty: float
    duty_scatter: float
    swing_k: float
    starts_us: IntArray


def cooling_cycles(times_us: IntArray, temperature_c: FloatArray) -> Cycles | None:
    """Period and duty of the cooling, or None where the air shows no regular cycle.

    The period is found from the autocorrelation and then counted from top to top, so it may
    wander. Coil and sensor answer to the compressor's start and stop with the same delay; so
    the duty is the share of the time in which the air's slope lies in the lower half of its
    range, and not the time in which the air falls, which a lag would lengthen. On
    simulated caves read each minute the period is within 2 % and the duty mostly within 0.03,
    in cycles as short as a quarter of an hour within 0.1.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: Temperature of the air; NaN where not known. [°C]

    Returns:
        The cycle, or None: too few readings in a period, fewer than four cycles, or no rhythm.

    References:
        Autocorrelation of a stationary series, Box & Jenkins, Time Series Analysis, 1970,
        chapter 2 (from memory); the rest is our own.

    Examples:
        >>> times_us = np.arange(600) * US_PER_MINUTE
        >>> swing = np.abs(times_us / US_PER_MINUTE % 30 - 15) / 15
        >>> found = cooling_cycles(times_us, 10 + swing)
        >>> round(found.period_s), round(found.duty, 2)
        (1801, 0.5)
    """
    grid_us, air, step_s = even_grid(times_us, temperature_c)
    shortest = max(_SHORTEST_S / step_s, _FEWEST_STEPS) if step_s else np.inf
    longest = _LONGEST_S / step_s if step_s else 0.0
    if longest <= shortest or air.size < _FEWEST_CYCLES * shortest:
        return None
    swing = air - _rolling_mean(air, _odd(_TREND_S / step_s))
    known = ~np.isnan(swing)
    if not known.any():
        return None
    limit = 3 * _MAD_TO_SIGMA * float(np.median(np.abs(swing[known])))
    period = _rhythm(np.clip(swing, -limit, limit), int(shortest), int(longest))
    if period is None:
        return None
    smooth = _rolling_mean(swing, _odd(period / 8))
    tops, heights = _tops(smooth, round(43_200 / step_s))
    starts_us = _between_steps(smooth, tops, grid_us, step_s)
    return _counted(starts_us, heights, grid_us, smooth, period * step_s)


def without_cycle(
    times_us: IntArray, values: FloatArray, cycles: Cycles | None, plain_s: float = 3_600.0
) -> FloatArray:
    """A series with the cooling cycle taken out: the mean over exactly one local period.

    A mean over one whole period around each time holds nothing of the cycle, and follows a
    drift without delay. The local period is the median of the seven cycles about the time, so
    a spell of warm days, or one odd cycle, does no harm. Works on any quantity of the same air.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read, of any unit; NaN where not known.
        cycles: The cycle of the air, or None when there is none.
        plain_s: Width of the mean without a cycle. [s] Above zero.

    Returns:
        The mean about each reading; NaN for the half period at either end, and where readings
        cover less than four fifths of it.

    Examples:
        >>> times_us = np.arange(600) * US_PER_MINUTE
        >>> swing = np.abs(times_us / US_PER_MINUTE % 30 - 15) / 15
        >>> calm = without_cycle(times_us, swing, cooling_cycles(times_us, swing))
        >>> bool(np.nanmax(calm) - np.nanmin(calm) < 0.01)
        True
    """
    grid_us, even, step_s = even_grid(times_us, values)
    if step_s == 0:
        return np.full(times_us.size, np.nan)
    half_us = 0.5 * US_PER_S * _local_period_s(times_us, cycles, plain_s)
    known = ~np.isnan(even)
    step_us = step_s * US_PER_S
    # Trapezoids, so that a window may begin and end between two readings.
    both = known[1:] & known[:-1] & (np.diff(grid_us) < 1.5 * step_us)
    filled = np.where(known, even, 0.0)
    areas = np.where(both, 0.5 * (filled[1:] + filled[:-1]) * step_us, 0.0)
    area = np.concatenate(([0.0], np.cumsum(areas)))
    covered = np.concatenate(([0.0], np.cumsum(np.where(both, step_us, 0.0))))
    at = (grid_us - grid_us[0]).astype(np.float64)
    middle = (times_us - grid_us[0]).astype(np.float64)
    first, last = middle - half_us, middle + half_us
    time = np.interp(last, at, covered) - np.interp(first, at, covered)
    inside = (first >= -0.5 * step_us) & (last <= at[-1] + 0.5 * step_us)
    inside &= time >= 0.8 * (last - first)
    total = np.interp(last, at, area) - np.interp(first, at, area)
    means = np.full(times_us.size, np.nan)
    np.divide(total, time, out=means, where=inside)
    return means


def even_grid(times_us: IntArray, values: FloatArray) -> tuple[IntArray, FloatArray, float]:
    """Readings on even steps of their usual interval, at least a minute; silences are NaN.

    Readings that come faster are averaged first. A silence of more than three and a half steps
    stays open, and is never longer than the widest window here, so that a silence of years
    costs nothing.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read; NaN where not known.

    Returns:
        Times of the steps [µs UTC], values at them, and the step [s]; the step is zero when
        there are fewer than two readings.
    """
    known = ~np.isnan(values)
    times_us, values = times_us[known], values[known]
    if times_us.size > 1 and np.median(np.diff(times_us)) < US_PER_MINUTE:
        minutes, index = np.unique(times_us // US_PER_MINUTE, return_inverse=True)
        times_us = minutes * US_PER_MINUTE + US_PER_MINUTE // 2
        values = np.bincount(index, weights=values) / np.bincount(index)
    if times_us.size < 2:  # noqa: PLR2004  # one reading has no interval
        return times_us, values, 0.0
    step_us = max(US_PER_MINUTE, int(np.median(np.diff(times_us))))
    edges = np.flatnonzero(np.diff(times_us) > 3.5 * step_us) + 1
    hole = np.full(int(_TREND_S * US_PER_S // step_us) + 1, np.nan)
    grid: list[IntArray] = []
    even: list[FloatArray] = []
    for part in np.split(np.arange(times_us.size), edges):
        steps = np.arange(times_us[part[0]], times_us[part[-1]] + 1, step_us)
        if grid:
            before_us = grid[-1][-1]
            grid.append(np.linspace(before_us, steps[0], hole.size + 2)[1:-1].astype(np.int64))
            even.append(hole)
        grid.append(steps)
        even.append(np.interp(steps, times_us[part], values[part]))
    return np.concatenate(grid), np.concatenate(even), step_us / US_PER_S


def _local_period_s(times_us: IntArray, cycles: Cycles | None, plain_s: float) -> FloatArray:
    """The period about each time: a running median of seven cycles. [s]"""
    if cycles is None:
        return np.full(times_us.size, plain_s)
    periods = np.diff(cycles.starts_us) / US_PER_S
    usual = np.abs(periods / cycles.period_s - 1) < 0.5  # noqa: PLR2004  # our choice: not odd
    middles = 0.5 * (cycles.starts_us[1:] + cycles.starts_us[:-1])[usual]
    padded = np.pad(periods[usual], 3, mode="edge")
    local = np.median(np.lib.stride_tricks.sliding_window_view(padded, 7), axis=1)
    period_s: FloatArray = np.interp(times_us, middles, local)
    return period_s


def _odd(steps: float) -> int:
    """The nearest odd number of steps, so that a window has a middle."""
    return 2 * int(steps / 2) + 1


def _rolling_mean(values: FloatArray, width: int) -> FloatArray:
    """Mean of what is known in a centred window; NaN where the value itself is not known."""
    known = ~np.isnan(values)
    sums = np.concatenate(([0.0], np.cumsum(np.where(known, values, 0.0))))
    counts = np.concatenate(([0], np.cumsum(known)))
    first = np.maximum(np.arange(values.size) - width // 2, 0)
    last = np.minimum(np.arange(values.size) + width // 2 + 1, values.size)
    count = counts[last] - counts[first]
    means = np.full(values.size, np.nan)
    np.divide(sums[last] - sums[first], count, out=means, where=known)
    return means


def _rhythm(swing: FloatArray, shortest: int, longest: int) -> float | None:
    """The period in steps: the first high peak of the autocorrelation; None without one."""
    known = ~np.isnan(swing)
    size = 1 << (swing.size + longest).bit_length()
    length = min(longest + 2, swing.size - 1)
    power = np.abs(np.fft.rfft(np.where(known, swing, 0.0), size)) ** 2
    pairs = np.abs(np.fft.rfft(known.astype(np.float64), size)) ** 2
    products = np.fft.irfft(power, size)[:length]
    counts = np.maximum(np.fft.irfft(pairs, size)[:length], 1.0)
    if products[0] <= 0:
        return None
    correlation = (products / counts) / (products[0] / counts[0])
    middle = correlation[1:-1]
    peaks = 1 + np.flatnonzero((middle > correlation[:-2]) & (middle >= correlation[2:]))
    peaks = peaks[(peaks >= shortest) & (peaks <= longest)]
    if peaks.size == 0 or correlation[peaks].max() < _LEAST_CORRELATION:
        return None
    # Every multiple of the period is a peak too; the first high one is the period itself.
    return float(peaks[correlation[peaks] >= 0.7 * correlation[peaks].max()][0])


def _tops(swing: FloatArray, block: int) -> tuple[IntArray, FloatArray]:
    """Indices of the tops of the swing, and how far each falls afterwards.

    A top counts when the air then falls, and had risen before, by half the usual height of the
    swing in that half day; ripples on the way are passed over.
    """
    needed = _needed_height(swing, block)
    found: list[int] = []
    falls: list[float] = []
    for first, last in runs(~np.isnan(swing)).tolist():
        part = swing[first:last]
        turning = np.flatnonzero(np.diff(np.sign(np.diff(part)))) + 1
        at = np.concatenate(([0], turning, [part.size - 1]))
        _zigzag(first + at, part[at], needed[first + at], found, falls)
    return np.array(found, dtype=np.int64), np.array(falls)


def _zigzag(
    at: IntArray, level: FloatArray, needed: FloatArray, found: list[int], falls: list[float]
) -> None:
    """Append the tops of one unbroken stretch and the fall after each."""
    rising, fell = False, True
    top_at, top, bottom = 0, -np.inf, np.inf
    for index, value, height in zip(at.tolist(), level.tolist(), needed.tolist(), strict=True):
        if rising:
            if value > top:
                top_at, top = index, value
            elif top - value >= height:
                found.append(top_at)
                falls.append(top - value)
                rising, fell, bottom = False, True, value
        elif value < bottom:
            bottom = value
            if found and fell and falls:
                falls[-1] = max(falls[-1], top - bottom)
        elif value - bottom >= height:
            rising, top_at, top = True, index, value


def _needed_height(swing: FloatArray, block: int) -> FloatArray:
    """Half the height of the swing in each half day, and at least a third of it over all."""
    overall = _height(swing)
    needed = np.empty(swing.size)
    for first in range(0, swing.size, block):
        part = swing[first : first + block]
        local = _height(part) if np.count_nonzero(~np.isnan(part)) > block // 4 else overall
        needed[first : first + block] = 0.5 * max(local, 0.6 * overall)
    return needed


def _height(swing: FloatArray) -> float:
    """Most of the height of a swing: from its lower to its upper tenth."""
    known = swing[~np.isnan(swing)]
    low, high = np.quantile(known, (0.1, 0.9)).tolist()
    return float(high - low)


def _between_steps(swing: FloatArray, tops: IntArray, grid_us: IntArray, step_s: float) -> IntArray:
    """Times of the tops, placed between the steps by a parabola through three of them."""
    tops = tops[(tops > 0) & (tops < swing.size - 1)]
    before, top, after = swing[tops - 1], swing[tops], swing[tops + 1]
    bend = before - 2 * top + after
    shift = np.zeros(tops.size)
    np.divide(0.5 * (before - after), bend, out=shift, where=bend < 0)
    shift = np.nan_to_num(np.clip(shift, -0.5, 0.5))
    return grid_us[tops] + np.round(shift * step_s * US_PER_S).astype(np.int64)


def _counted(
    starts_us: IntArray, heights: FloatArray, grid_us: IntArray, swing: FloatArray, coarse_s: float
) -> Cycles | None:
    """Statistics of the cycles, or None where they are too few or too uneven."""
    periods = np.diff(starts_us) / US_PER_S
    # A silence, or a cycle that a visit broke, makes a pair of starts that are no neighbours.
    near = np.abs(periods / coarse_s - 1) < 0.6  # noqa: PLR2004  # our choice
    if np.count_nonzero(near) < _FEWEST_CYCLES - 1:
        return None
    usual_s = float(np.median(periods[near]))
    scatter_s = _MAD_TO_SIGMA * float(np.median(np.abs(periods[near] - usual_s)))
    if scatter_s > _LARGEST_SCATTER * usual_s:
        return None
    clean: BoolArray = np.abs(periods - usual_s) < max(3 * scatter_s, 0.1 * usual_s)
    if np.count_nonzero(clean) < _FEWEST_CYCLES - 1:
        return None
    duties = _duties(starts_us[:-1][clean], periods[clean], grid_us, swing)
    return Cycles(
        period_s=float(np.mean(periods[clean])),
        period_scatter_s=scatter_s,
        duty=duties[0],
        duty_scatter=duties[1],
        swing_k=float(np.median(heights)),
        starts_us=starts_us,
    )


def _duties(
    starts_us: IntArray, periods_s: FloatArray, grid_us: IntArray, swing: FloatArray
) -> tuple[float, float]:
    """Duty from the median cycle, and the robust scatter of the duty of single cycles."""
    phase = (np.arange(_PHASES + 1) - 0.25 * _PHASES) / _PHASES
    at_us = starts_us[:, None] + phase * (periods_s * US_PER_S)[:, None]
    known = ~np.isnan(swing)
    shape = np.interp(at_us, grid_us[known], swing[known])
    slopes = np.diff(shape, axis=1)
    mean_slope = np.median(slopes, axis=0)
    middle = 0.5 * (mean_slope.max() + mean_slope.min())
    single = np.mean(slopes < middle, axis=1)
    scatter = _MAD_TO_SIGMA * float(np.median(np.abs(single - np.median(single))))
    return float(np.mean(mean_slope < middle)), scatter

"""The air of a space without its cooling cycle, on a grid of twenty minutes.

The value of a step hangs on the readings about it and on the cycle of the day before, never on
what came long after; so whoever computes a past step again finds what was found then.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.ageing.values import Quantity
from service.ageing.verdict import AirHistory
from service.clock import DAY_US, US_PER_S
from service.science.cycles import cooling_cycles
from service.science.signals import FloatArray, IntArray, median_interval_s

STEP_US: Final = 1_200 * US_PER_S
"""The grid: a forecast looks at means over this time, so more often would tell nothing new."""
_PLAIN_S: Final = 3_600.0
"""Width of the mean in a space without a cycle. [s] Our choice."""
_SILENCE_S: Final = 1_800.0
_SILENT_INTERVALS: Final = 3.5
"""A silence longer than half an hour and than so many usual intervals stays open: our choice."""
_COVERED: Final = 0.8
"""Part of a mean's time that readings must cover."""


@dataclass(frozen=True, slots=True, eq=False)
class CalmAir:
    """De-cycled air, one value a step.

    Attributes:
        middles_us: Middles of the steps, rising. [µs UTC]
        known_us: From when on each value is known for good: the end of its mean. [µs UTC]
        temperature_c: NaN where readings do not cover the mean. [°C]
        humidity_pct: The same. [%RH]
    """

    middles_us: IntArray
    known_us: IntArray
    temperature_c: FloatArray
    humidity_pct: FloatArray

    def of(self, quantity: Quantity) -> FloatArray:
        """The values of one quantity."""
        return self.temperature_c if quantity is Quantity.TEMPERATURE else self.humidity_pct

    def known_at(self, at_us: int, since_us: int = 0) -> "CalmAir":
        """What was known at a time, of the steps since another."""
        taken = (self.known_us <= at_us) & (self.middles_us >= since_us)
        return CalmAir(
            self.middles_us[taken],
            self.known_us[taken],
            self.temperature_c[taken],
            self.humidity_pct[taken],
        )


def step_before(time_us: int) -> int:
    """The last full step of the grid not after a time. [µs UTC]"""
    return time_us // STEP_US * STEP_US


def calm_air(history: AirHistory) -> CalmAir:
    """The air without its cycle.

    Args:
        history: The readings, with a day more at the start than is to be looked at, so that
            the first day's cycle is known as well as the others'.
    """
    times_us = history.times_us
    if times_us.size < 2:  # noqa: PLR2004  # one reading covers no time
        nothing = np.empty(0)
        return CalmAir(times_us[:0], times_us[:0], nothing, nothing)
    first_us = step_before(int(times_us[0]))
    middles_us = np.arange(first_us, int(times_us[-1]) + 1, STEP_US) + STEP_US // 2
    half_us = np.empty(middles_us.size, dtype=np.int64)
    longest_us = np.empty(times_us.size - 1, dtype=np.int64)
    for day_us in range(first_us // DAY_US * DAY_US, int(middles_us[-1]) + 1, DAY_US):
        first, last = np.searchsorted(times_us, (day_us - DAY_US, day_us)).tolist()
        before = slice(first, last)
        found = cooling_cycles(times_us[before], history.temperature_c[before])
        width_s = found.period_s if found else _PLAIN_S
        steps = slice(*np.searchsorted(middles_us, (day_us, day_us + DAY_US)).tolist())
        half_us[steps] = round(0.5 * width_s * US_PER_S)
        today = slice(*np.searchsorted(times_us[1:], (day_us, day_us + DAY_US)).tolist())
        usual_s = median_interval_s(times_us[before])
        longest_us[today] = round(max(_SILENCE_S, _SILENT_INTERVALS * usual_s) * US_PER_S)
    return CalmAir(
        middles_us=middles_us,
        known_us=middles_us + half_us,
        temperature_c=_means(times_us, history.temperature_c, longest_us, middles_us, half_us),
        humidity_pct=_means(times_us, history.humidity_pct, longest_us, middles_us, half_us),
    )


def _means(
    times_us: IntArray,
    values: FloatArray,
    longest_us: IntArray,
    middles_us: IntArray,
    half_us: IntArray,
) -> FloatArray:
    """The mean over time about each middle; NaN where too little of it is covered."""
    known = ~np.isnan(values)
    times_us, values = times_us[known], values[known]
    if times_us.size < 2:  # noqa: PLR2004  # one reading covers no time
        return np.full(middles_us.size, np.nan)
    lasted = np.diff(times_us)
    joined = lasted <= longest_us[np.flatnonzero(known)[1:] - 1]
    # From the middle of the values on, so that a long history loses no digits in its sum.
    base = float(np.median(values))
    areas = np.where(joined, 0.5 * (values[1:] + values[:-1] - 2 * base) * lasted, 0.0)
    area = np.concatenate(([0.0], np.cumsum(areas)))
    covered = np.concatenate(([0.0], np.cumsum(np.where(joined, lasted, 0))))
    first, last = middles_us - half_us, middles_us + half_us
    time = np.interp(last, times_us, covered) - np.interp(first, times_us, covered)
    total = np.interp(last, times_us, area) - np.interp(first, times_us, area)
    means = np.full(middles_us.size, np.nan)
    np.divide(total, time, out=means, where=time >= _COVERED * 2 * half_us)
    return means + base

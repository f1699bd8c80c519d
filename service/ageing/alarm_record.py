"""The alarm record of a period, computed from its readings at once.

It gives what `service.ageing.alarms.step` gives reading by reading, to the last bit, and only
leaps where nothing can happen. So a period may be computed again at any time, and its record
comes out the same.
"""

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from service.ageing.alarms import AlarmRule, Change, Condition, Mean, farther, weigh
from service.ageing.limits import HAIR, past_limit
from service.ageing.means import Smoothing, means
from service.ageing.values import Direction
from service.science.signals import US_PER_S


def fold(
    condition: Condition,
    times_us: npt.NDArray[np.int64],
    values: npt.NDArray[np.float64],
    limits: float | npt.NDArray[np.float64] | None,
    *,
    direction: Direction,
    rule: AlarmRule,
) -> tuple[Condition, list[Change]]:
    """Take many readings; the same as `step` on each in turn.

    Args:
        condition: What is known before them.
        times_us: Their times; whatever does not rise is ignored. [µs UTC]
        values: What was read; NaN is ignored. [°C or %RH]
        limits: One limit for all, or one a reading with NaN where there is none, or None.
        direction: The side of the limit on which the alarm lies.
        rule: How patient the alarm is.

    Returns:
        What is known after them, and the changes in their order.
    """
    counted = _counted(condition, times_us, values)
    times, taken = times_us[counted], values[counted]
    if times.size == 0:
        return condition, []
    limit = np.full(values.shape, np.nan if limits is None else limits)[counted]
    mean, after_gap = _means(condition, times, taken, direction, rule.smoothing)
    # A missing limit compares false, so nothing is beyond it, and it counts as "back".
    distance = past_limit(mean, limit, direction)
    beyond_at = np.flatnonzero(distance > HAIR)
    back_at = np.flatnonzero(~(distance > HAIR - rule.deadband))

    changes: list[Change] = []
    here = 0
    while here < times.size:
        # No change comes before the next reading that is beyond, or back while active.
        wanted = back_at if condition.active else beyond_at
        place = int(np.searchsorted(wanted, here))
        there = int(wanted[place]) if place < wanted.size else int(times.size)
        if there > here:
            condition = _leap(condition, times[here:there], mean[here:there], direction)
        if there == times.size:
            break
        condition, change = weigh(
            condition,
            Mean(int(times[there]), float(mean[there]), bool(after_gap[there])),
            None if np.isnan(limit[there]) else float(limit[there]),
            direction,
            rule,
        )
        if change is not None:
            changes.append(change)
        here = there + 1
    return condition, changes


def _counted(
    condition: Condition, times_us: npt.NDArray[np.int64], values: npt.NDArray[np.float64]
) -> npt.NDArray[np.intp]:
    """Indices of the readings that `step` would not ignore."""
    known = np.flatnonzero(~np.isnan(values))
    times = times_us[known]
    first_us = np.iinfo(np.int64).min if condition.last_us is None else condition.last_us
    latest_before = np.maximum.accumulate(np.concatenate(([first_us], times)))[:-1]
    return known[times > latest_before]


def _means(
    condition: Condition,
    times: npt.NDArray[np.int64],
    values: npt.NDArray[np.float64],
    direction: Direction,
    how: Smoothing,
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """The mean at each reading, and whether a gap lies before it."""
    first = 0
    if condition.last_us is not None and condition.smoothed is not None:
        # The mean so far goes on as if it were a reading at its own time.
        first = 1
        times = np.concatenate(([condition.last_us], times))
        values = np.concatenate(([condition.smoothed], values))
    after_gap = np.diff(times, prepend=times[0]) / US_PER_S > how.gap_s
    return means(times, values, direction, how)[first:], after_gap[first:]


def _leap(
    condition: Condition,
    times: npt.NDArray[np.int64],
    mean: npt.NDArray[np.float64],
    direction: Direction,
) -> Condition:
    """Take readings none of which is beyond (or, while active, none of which is back)."""
    seen = replace(condition, smoothed=float(mean[-1]), last_us=int(times[-1]))
    if not condition.active:
        return replace(seen, beyond_since_us=None, extreme=None)
    farthest = float(mean.min() if direction is Direction.BELOW else mean.max())
    extreme = farther(condition.extreme, farthest, direction)
    return replace(seen, within_since_us=None, extreme=extreme)

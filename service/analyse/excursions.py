"""The times in which the air was outside the range of the wheel's stage.

Pure: a series and the stages in, spells out. Judged on minute means of the air, for which each
reading is first moved up to the middle of its minute and against the sensor's lag. A minute in
which a slow sensor did not read is taken from the straight line between its neighbours, so long
as they lie no further apart than the series' longest silence. A longer one is a gap and breaks
every spell.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.ageing.values import Direction, Quantity, Target
from service.analyse.series import FloatArray, IntArray, Series
from service.analyse.steadied import LAG_S, moved_up
from service.science.signals import US_PER_MINUTE, US_PER_S, gaps, minute_means, runs

SHORTEST_MIN = 10
"""So many minute means outside without a break make an excursion. The contract's value."""

_ROUNDING = 1e-9
"""The mean of equal readings may miss them in its last digit, which is no excursion."""


@dataclass(frozen=True, slots=True)
class Excursion:
    """One unbroken time outside the range.

    Attributes:
        quantity: Temperature or humidity.
        direction: On which side of the range.
        from_us: Start of the first minute outside. [µs UTC]
        to_us: End of the last minute outside. [µs UTC]
        extreme: The minute mean furthest out in that direction, as the sensor saw it. [°C or %RH]
    """

    quantity: Quantity
    direction: Direction
    from_us: int
    to_us: int
    extreme: float


def find_excursions(
    series: Series, stages: Sequence[tuple[int, Target]], shortest_min: int = SHORTEST_MIN
) -> list[Excursion]:
    """All excursions, the earliest first.

    A spell that lasts into the next stage goes on if the next stage's range is violated on the
    same side. Before the first stage there is no range.

    Args:
        series: The readings.
        stages: When each stage begins [µs UTC], and what it asks of the air; in any order.
        shortest_min: Minutes outside that make an excursion.

    Returns:
        Excursions by start, temperature before humidity.
    """
    found = []
    for quantity in Quantity:
        read = series.of(quantity)
        air = moved_up(series.times_us, read, _behind_s(series.interval_s), series.longest_s)
        starts_us, means = _minutes(series.times_us, air, series.longest_s)
        _, seen = _minutes(series.times_us, read, series.longest_s)
        low, high = _limits(starts_us, stages, quantity)
        for direction, outside in (
            (Direction.BELOW, means < low - _ROUNDING),
            (Direction.ABOVE, means > high + _ROUNDING),
        ):
            worst = np.min if direction is Direction.BELOW else np.max
            found += [
                Excursion(
                    quantity=quantity,
                    direction=direction,
                    from_us=int(starts_us[first]),
                    to_us=int(starts_us[stop - 1]) + US_PER_MINUTE,
                    extreme=float(worst(seen[first:stop])),
                )
                for first, stop in runs(outside).tolist()
                if stop - first >= shortest_min
            ]
    return sorted(found, key=lambda spell: spell.from_us)


def _behind_s(interval_s: float) -> float:
    """How far readings run behind the means of their minutes. [s]

    Of a minute with one reading that is half a minute, of one with many next to nothing.
    """
    return LAG_S + 0.5 * min(interval_s, US_PER_MINUTE / US_PER_S)


def _minutes(
    times_us: IntArray, values: FloatArray, longest_s: float
) -> tuple[IntArray, FloatArray]:
    """Minute means without a hole inside a stretch, and one unknown minute after each stretch."""
    known = ~np.isnan(values)
    times_us, values = times_us[known], values[known]
    cuts = np.searchsorted(times_us, gaps(times_us, longest_s)[:, 1])
    starts: list[IntArray] = [np.empty(0, dtype=np.int64)]
    means: list[FloatArray] = [np.empty(0)]
    for stretch_us, stretch in zip(np.split(times_us, cuts), np.split(values, cuts), strict=True):
        minutes_us, mean = minute_means(stretch_us, stretch)
        read = ~np.isnan(mean)
        if read.any():
            starts += [minutes_us, minutes_us[-1:] + US_PER_MINUTE]
            means += [np.interp(minutes_us, minutes_us[read], mean[read]), np.array([np.nan])]
    return np.concatenate(starts), np.concatenate(means)


def _limits(
    starts_us: IntArray, stages: Sequence[tuple[int, Target]], quantity: Quantity
) -> tuple[FloatArray, FloatArray]:
    """The low and high end of the range in each minute; NaN where nothing is asked."""
    in_turn = sorted(stages, key=lambda stage: stage[0])
    ends = [(np.nan, np.nan)]
    for _, target in in_turn:
        wanted = target.of(quantity)
        ends.append((np.nan, np.nan) if wanted is None else (wanted.low, wanted.high))
    stage = np.searchsorted([begins_us for begins_us, _ in in_turn], starts_us, side="right")
    low, high = np.array(ends)[stage].T
    return low, high

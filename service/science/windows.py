"""Sums and means of a series over any window of time, from sums that are made once.

A reading holds until the next one; across a silence nothing is known. Kept on a grid, months
of minutes become small, and a window costs two look-ups. Nothing here knows what a value means.
"""

from dataclasses import dataclass

import numpy as np

from service.science.signals import US_PER_S, FloatArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """A series summed up from its start, at rising instants.

    Attributes:
        times_us: Instants, rising. [µs UTC]
        area: Value times time up to each. [value · s]
        known_s: Time up to each in which the value is known. [s]
    """

    times_us: IntArray
    area: FloatArray
    known_s: FloatArray

    def between(self, from_us: int, to_us: int) -> tuple[float, float]:
        """The sum over a window, and how much of the window is known. [value · s, s]

        Examples:
            >>> minutes = np.arange(4) * 60 * US_PER_S
            >>> known = sums(minutes, np.array([1.0, 1.0, 0.0, 0.0]), 300.0)
            >>> known.between(30 * US_PER_S, 180 * US_PER_S)
            (90.0, 150.0)
        """
        if not self.times_us.size:
            return 0.0, 0.0
        ends = np.array([from_us, to_us])
        area = np.interp(ends, self.times_us, self.area)
        known = np.interp(ends, self.times_us, self.known_s)
        return float(area[1] - area[0]), float(known[1] - known[0])

    def on_grid(self, every_us: int) -> "Sums":
        """The same at the instants of a grid only; exact there, and even in between.

        Args:
            every_us: The grid. [µs]
        """
        if not self.times_us.size:
            return self
        first = int(self.times_us[0]) // every_us * every_us
        grid = np.arange(first, int(self.times_us[-1]) + every_us, every_us, dtype=np.int64)
        return Sums(
            grid,
            np.interp(grid, self.times_us, self.area),
            np.interp(grid, self.times_us, self.known_s),
        )


def sums(times_us: IntArray, values: FloatArray, longest_s: float) -> Sums:
    """A series summed up from its start.

    Args:
        times_us: Instants, rising. [µs UTC]
        values: One an instant; NaN where not known.
        longest_s: A longer time to the next instant is a silence, of which nothing counts. [s]

    Returns:
        Its sums at the same instants.
    """
    if times_us.size < 2:  # noqa: PLR2004  # one instant covers no time
        return Sums(times_us[:0], np.empty(0), np.empty(0))
    lasted_s = np.diff(times_us) / US_PER_S
    known = np.isfinite(values[:-1]) & (lasted_s <= longest_s)
    area = np.where(known, np.where(known, values[:-1], 0.0) * lasted_s, 0.0)
    return Sums(
        times_us,
        np.concatenate(([0.0], np.cumsum(area))),
        np.concatenate(([0.0], np.cumsum(np.where(known, lasted_s, 0.0)))),
    )

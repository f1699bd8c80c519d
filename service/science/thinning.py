"""Long series made short enough to draw: minima and maxima kept, silences left open.

Times are whole microseconds since 1970, UTC, in rising order; values are arrays of the same
length in which NaN marks what is not known. Nothing here knows what a value means.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from service.errors import OutOfRangeError
from service.science.signals import US_PER_S, FloatArray, IntArray, median_interval_s

_SHORTEST_GAP_US: Final = 300 * US_PER_S
"""Our choice: five minutes without a reading are no silence worth a hole in a line."""
_INTERVALS_IN_A_GAP: Final = 3
"""Our choice: a sensor that misses one reading, or two, has not fallen silent."""


def usual_gap_us(times_us: IntArray) -> int:
    """The silence after which a line is left open: thrice the usual interval, or five minutes.

    Args:
        times_us: Times of the readings, rising. [µs UTC]

    Returns:
        The longest silence that is still joined. [µs]

    Examples:
        >>> usual_gap_us(np.arange(5) * 600 * US_PER_S) // US_PER_S
        1800
    """
    usual_us = median_interval_s(times_us) * US_PER_S
    return max(_SHORTEST_GAP_US, round(_INTERVALS_IN_A_GAP * usual_us))


def fewest_points(series: int) -> int:
    """The smallest bound that `thinned` can keep for so many series.

    A single bucket keeps two rows a series, the first and the last row; each row but one may
    need an open row before it.
    """
    return 4 * series + 4


def thinned(
    times_us: IntArray, values: Sequence[FloatArray], points: int, gap_us: int
) -> tuple[IntArray, list[FloatArray]]:
    """At most so many rows that look the same when drawn.

    The time from the first row to the last is cut into equal buckets. Each bucket keeps the
    row of the smallest and of the largest value of every series, so no peak is lost; the first
    and the last row stay as well. Where two rows that are kept have a silence longer than
    `gap_us` between them, a row of NaN stands in it, so that no line is drawn across. Rows
    that know nothing are left out first: a silence shows by its length.

    Args:
        times_us: Times of the rows, strictly rising. [µs UTC]
        values: One array a series, of the same length as the times; NaN where not known.
        points: The most rows to return; at least `fewest_points(len(values))`.
        gap_us: The longest silence that is joined. [µs]

    Returns:
        Times, rising [µs UTC], and the series. All rows are as given but for those of NaN.

    Raises:
        OutOfRangeError: `points` is too small for so many series.

    Examples:
        >>> air = np.array([5.0, 9.0, 4.0, 5.0])
        >>> times, (air,) = thinned(np.array([0, 1, 2, 50]), [air], 8, 10)
        >>> times.tolist(), air.tolist()
        ([0, 1, 2, 26, 50], [5.0, 9.0, 4.0, nan, 5.0])
    """
    if points < fewest_points(len(values)):
        raise OutOfRangeError(
            f"{points} points are too few for {len(values)} series;"
            f" ask for {fewest_points(len(values))} or more"
        )
    known = ~np.logical_and.reduce([np.isnan(series) for series in values])
    times_us, values = times_us[known], [series[known] for series in values]
    silent = np.diff(times_us) > gap_us
    kept = np.arange(times_us.size)
    buckets = max(1, (points - 2) // (2 * len(values)))
    while kept.size + _open_rows(silent, kept).size > points:
        kept = _extremes(times_us, values, buckets)
        # Only many silences, each with its open row, make a second round needed.
        buckets = max(1, buckets * 3 // 4)
    breaks = _open_rows(silent, kept)
    # The row of NaN stands halfway through the silence that follows its reading.
    open_us = times_us[breaks] + (times_us[breaks + 1] - times_us[breaks]) // 2
    places = np.searchsorted(kept, breaks, side="right")
    return (
        np.insert(times_us[kept], places, open_us),
        [np.insert(series[kept], places, np.nan) for series in values],
    )


def _open_rows(silent: np.ndarray, kept: IntArray) -> IntArray:
    """For each pair of kept rows with silences between them: the row before the first one."""
    if kept.size < 2:  # noqa: PLR2004  # one row has no neighbour
        return np.empty(0, dtype=np.int64)
    before = np.concatenate(([0], np.cumsum(silent)))
    crossed = before[kept[1:]] > before[kept[:-1]]
    starts = np.flatnonzero(silent)
    return starts[np.searchsorted(starts, kept[:-1][crossed])]


def _extremes(times_us: IntArray, values: Sequence[FloatArray], buckets: int) -> IntArray:
    """Rows to keep: the first, the last, and every series' extremes in each bucket."""
    offsets = (times_us - times_us[0]).astype(np.float64)
    slots = np.minimum((offsets * (buckets / max(offsets[-1], 1.0))).astype(np.int64), buckets - 1)
    starts = np.flatnonzero(np.diff(slots, prepend=-1))
    lengths = np.diff(starts, append=slots.size)
    keep = np.zeros(times_us.size, dtype=np.bool_)
    keep[[0, -1]] = True
    for series in values:
        missing = np.isnan(series)
        for extreme, never in ((np.minimum, np.inf), (np.maximum, -np.inf)):
            filled = np.where(missing, never, series)
            best = np.repeat(extreme.reduceat(filled, starts), lengths)
            hits = np.flatnonzero((filled == best) & ~missing)
            _, first = np.unique(slots[hits], return_index=True)
            keep[hits[first]] = True
    return np.flatnonzero(keep)

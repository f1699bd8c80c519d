"""When a space was listened to at all, and how often its sensor usually reports."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from service.clock import US_PER_S

INTERVALS: Final = 5
"""The usual interval is the median of this many: two long silences do not stretch it."""

_INTERVAL_STEP_S: Final = 360.0
"""Intervals are rounded up to whole steps, so that their jitter does not change the rule. A
fifth of the rule's shortest gap, so that faster sensors are all treated alike."""


def coverage_ends(stays: Sequence[tuple[int, int | None]]) -> list[int]:
    """The times from which on no sensor stood in a space, however long."""
    ends = []
    covered_to_us: float = -np.inf
    for from_us, to_us in stays:
        if -np.inf < covered_to_us < from_us:
            ends.append(int(covered_to_us))
        covered_to_us = max(covered_to_us, np.inf if to_us is None else to_us)
    if np.isfinite(covered_to_us):
        ends.append(int(covered_to_us))
    return ends


def usual_intervals_s(
    recent_us: Sequence[int], times_us: npt.NDArray[np.int64]
) -> npt.NDArray[np.float64]:
    """The usual interval as known at each reading, from it and those before it.

    From these alone, so that it does not depend on how many readings came at once.
    """
    known = np.concatenate([np.array(recent_us, dtype=np.int64), times_us])
    intervals = np.diff(known) / US_PER_S
    if not intervals.size:
        return np.zeros(times_us.shape)
    # Before enough are known, the first one stands for those that are not; the very first
    # reading has none and takes the shortest.
    padded = np.concatenate([np.full(INTERVALS - 1, intervals[0]), intervals])
    usual = np.median(np.lib.stride_tricks.sliding_window_view(padded, INTERVALS), axis=1)
    stepped = np.ceil(usual / _INTERVAL_STEP_S) * _INTERVAL_STEP_S
    return (
        np.concatenate([[_INTERVAL_STEP_S], stepped])[-times_us.size :]
        if times_us.size
        else stepped[:0]
    )

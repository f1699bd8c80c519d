"""Bands: the ends between which an estimate lies, and how inputs that are not known make them.

Each input is put to the ends of its own band while the others stay; what that moves is added
in quadrature, on each side by itself, because much of what is told cannot fall below none.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import gammaincinv  # type: ignore[import-untyped]  # scipy ships no types

from service.errors import OutOfRangeError
from service.science.air import FloatArray

BAND_Z: Final = 1.6448536269514722
"""Standard normal deviate with 5 % beyond it on each side: all bands hold 9 times in 10."""


@dataclass(frozen=True, slots=True)
class Band:
    """The ends between which a value lies 9 times in 10."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        """Whether a value lies within."""
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True, eq=False)
class Away:
    """How far the truth may lie below and above what is told, each not negative."""

    below: FloatArray
    above: FloatArray


def in_quadrature(best: FloatArray, pairs: Sequence[tuple[FloatArray, FloatArray]]) -> Away:
    """How far inputs that are independent of each other move a result, down and up.

    Args:
        best: The result with every input at its best.
        pairs: The result with one input at its low end and at its high end, for each input.

    Returns:
        The root of the sum of squares, on each side.

    References:
        JCGM 100:2008 (GUM), section 5.1, with finite differences for the sensitivities (its
        note to 5.1.3); sides apart is our own.

    Examples:
        >>> away = in_quadrature(np.array([5.0]), [(np.array([2.0]), np.array([6.0]))] * 2)
        >>> away.below.round(3).tolist(), away.above.round(3).tolist()
        ([4.243], [1.414])
    """
    below = np.zeros_like(best)
    above = np.zeros_like(best)
    for one, other in pairs:
        below += np.maximum(0.0, best - np.minimum(one, other)) ** 2
        above += np.maximum(0.0, np.maximum(one, other) - best) ** 2
    return Away(np.sqrt(below), np.sqrt(above))


def around(told: float, others: Sequence[tuple[float, float]], best: float) -> Band:
    """The band about one value that is never below zero.

    Args:
        told: The value that is told.
        others: What it is with one input at its low end and at its high end, each input.
        best: What it is in the same reckoning with every input at its best, which may be
            coarser than the one that told the value.

    Examples:
        >>> around(2.0, [(0.0, 5.0), (1.0, 2.0)], best=1.0)
        Band(low=1.0, high=6.123105625617661)
    """
    away = in_quadrature(
        np.array([best]), [(np.array([one]), np.array([other])) for one, other in others]
    )
    return Band(max(0.0, told - float(away.below[0])), told + float(away.above[0]))


def counted_band(count: int) -> Band:
    """The band of the mean number of events of which so many were counted.

    For events that come by themselves, at one rate.

    Args:
        count: How many were counted. [1] Not negative.

    Returns:
        The central 90 % interval of the mean; from nothing, where none was counted. [1]

    Raises:
        OutOfRangeError: The count is negative.

    References:
        Garwood, Biometrika 28 (1936) 437-442: exact limits of a Poisson mean, as quantiles of
        the gamma distribution.

    Examples:
        >>> band = counted_band(10)
        >>> round(band.low, 2), round(band.high, 2)
        (5.43, 16.96)
    """
    if count < 0:
        raise OutOfRangeError(f"{count} events; a count is not negative")
    low = float(gammaincinv(count, _TAIL)) if count else 0.0
    return Band(low, float(gammaincinv(count + 1, 1.0 - _TAIL)))


_TAIL: Final = 0.05

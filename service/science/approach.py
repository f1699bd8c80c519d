"""A first-order approach to a level, fitted robustly: how far it will go, how surely, how fast.

Any quantity that closes its distance to a level by the same share in each minute. Nothing
here knows what approaches what.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_RATES = 48
"""Time constants tried in each of two passes; the second leaves them within 1 %. Our choice."""
_LONGEST = 4.0
"""The longest time constant tried, in lengths of the series: beyond it a straight line."""
_PASSES = 3
"""Rounds of reweighting; the weights hardly move after the second. Our choice."""
_HUBER = 1.345
"""Residuals beyond so many scales count less; 95 % efficient for normal noise. P. J. Huber,
Robust Statistics (1981), constant from memory."""
_MAD_TO_SIGMA = 1.4826
"""Standard deviation of normal noise over its median absolute deviation."""
_TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Approach:
    """Level plus distance times exp(-t / time constant), t from the first sample.

    Attributes:
        level: Where it goes.
        level_uncertainty: Standard uncertainty of the level; noise that hangs together from
            sample to sample is counted as fewer samples.
        distance: How far from the level it began.
        time_constant_s: Time in which the distance falls to 1/e. [s]
    """

    level: float
    level_uncertainty: float
    distance: float
    time_constant_s: float

    def remaining(self, after_s: float) -> float:
        """Distance from the level, signed, so long after the first sample. [as the samples]"""
        return self.distance * math.exp(-after_s / self.time_constant_s)

    def within_s(self, tolerance: float) -> float:
        """Time from the first sample until the distance is no more than a tolerance. [s]"""
        ratio = abs(self.distance) / tolerance
        return self.time_constant_s * math.log(ratio) if ratio > 1.0 else 0.0


def fit_approach(seconds: FloatArray, values: FloatArray) -> Approach:
    """The first-order approach that runs through a series.

    For each time constant the rest is a straight-line fit, so the search is along one line
    and cannot get lost; outliers count less (Huber). A series that has not bent yet has a
    level of large uncertainty.

    Args:
        seconds: Times, rising, four or more. [s]
        values: What approaches.

    Returns:
        The approach, counted from the first time.

    References:
        G. H. Golub and V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432, separation of
        linear from other parameters; P. J. Huber, Robust Statistics (1981).

    Examples:
        >>> t = np.arange(0.0, 7200.0, 60.0)
        >>> found = fit_approach(t, 2.0 - 20.0 * np.exp(-t / 1500.0))
        >>> round(found.level, 1), round(found.time_constant_s / 1500.0, 2)
        (2.0, 1.0)
    """
    t = seconds - seconds[0]
    length_s = float(t[-1])
    shortest_s = max(length_s / t.size, _TINY)
    weights = np.ones(t.size)
    tau_s = length_s
    for _ in range(_PASSES):
        grid = np.geomspace(shortest_s, _LONGEST * length_s, _RATES)
        near = int(np.argmin(_costs(t, values, weights, grid)))
        grid = np.geomspace(grid[max(near - 1, 0)], grid[min(near + 1, _RATES - 1)], _RATES)
        tau_s = float(grid[int(np.argmin(_costs(t, values, weights, grid)))])
        level, distance = _straight(t, values, weights, tau_s)
        residual = values - level - distance * np.exp(-t / tau_s)
        scale = max(_MAD_TO_SIGMA * float(np.median(np.abs(residual))), _TINY)
        weights = np.minimum(1.0, _HUBER * scale / np.maximum(np.abs(residual), _TINY))
    faded = np.exp(-t / tau_s)
    columns = np.column_stack((np.ones(t.size), faded, distance * faded * t / tau_s))
    normal = columns.T @ (columns * weights[:, None])
    variance = float(np.sum(weights * residual**2)) / max(t.size - 3, 1)
    inverse = np.linalg.pinv(normal, rcond=1e-12, hermitian=True)
    uncertainty = math.sqrt(max(float(inverse[0, 0]), 0.0) * variance * hanging_together(residual))
    return Approach(level, uncertainty, distance, tau_s)


def hanging_together(residual: FloatArray) -> float:
    """How many samples count as one, because neighbours deviate together; 1 if they do not. [1]

    References:
        G. V. Bayley and J. M. Hammersley, J. R. Stat. Soc. Suppl. 8 (1946) 184-197: for noise
        in which each sample keeps a share r of the one before, (1 + r) / (1 - r). From memory.
    """
    centred = residual - residual.mean()
    power = float(centred @ centred)
    if power <= _TINY**2:
        return 1.0
    share = float(centred[1:] @ centred[:-1]) / power
    share = min(max(share, 0.0), 0.98)
    return (1.0 + share) / (1.0 - share)


def _costs(
    t: FloatArray, values: FloatArray, weights: FloatArray, taus_s: FloatArray
) -> FloatArray:
    """Weighted squares left over by the best level and distance for each time constant."""
    faded = np.exp(-t[:, None] / taus_s)
    total = weights.sum()
    mean_value = float(weights @ values) / total
    mean_faded = weights @ faded / total
    value, fade = values - mean_value, faded - mean_faded
    cross = (weights * value) @ fade
    power = np.maximum(weights @ fade**2, _TINY)
    left: FloatArray = float(weights @ value**2) - cross**2 / power
    return left


def _straight(
    t: FloatArray, values: FloatArray, weights: FloatArray, tau_s: float
) -> tuple[float, float]:
    """Level and distance for a time constant."""
    faded = np.exp(-t / tau_s)
    total = weights.sum()
    mean_value, mean_faded = float(weights @ values) / total, float(weights @ faded) / total
    fade = faded - mean_faded
    power = max(float(weights @ fade**2), _TINY)
    distance = float((weights * (values - mean_value)) @ fade) / power
    return float(mean_value - distance * mean_faded), distance

"""How far two groups of numbers lie apart, by ranks alone: difference, interval, chance.

Ranks ask for no shape of the numbers, and one wild value moves them by one place. Whether the
largest of many differences is more than chance is asked of all of them together, by dealing
the labels of the groups out again. Nothing here knows what is compared.
"""

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
from scipy import optimize, special, stats  # type: ignore[import-untyped]  # scipy ships no types

from service.errors import OutOfRangeError
from service.science.signals import BoolArray, FloatArray

MOST_DEALS: Final = 4_999
"""Deals of the labels when not all of them are tried. Our choice: it tells five in a hundred
to within one in a hundred."""
_EPS: Final = 1e-9


@dataclass(frozen=True, slots=True)
class RankDifference:
    """How far one group lies above another.

    Attributes:
        delta: Chance that one of the first lies above one of the second, less the chance that
            it lies below: from -1 to 1, 0 where neither tends to be higher. [1]
        low: Lower end of its 95 % interval. [1]
        high: Upper end. [1]
        shift: By how much the first lies higher, in the unit of the numbers.
        spreads: The shift in pooled spreads of the groups; infinite where they have none.
    """

    delta: float
    low: float
    high: float
    shift: float
    spreads: float


def rank_difference(first: FloatArray, second: FloatArray) -> RankDifference:
    """How far the numbers of one group lie above those of another.

    Args:
        first: At least one number, none of them NaN.
        second: The same.

    Returns:
        Cliff's delta with Newcombe's interval, and the shift of Hodges and Lehmann.

    Raises:
        OutOfRangeError: A group is empty, or holds what is no number.

    References:
        N. Cliff, Dominance statistics: ordinal analyses to answer ordinal questions,
        Psychological Bulletin 114 (1993) 494-509.
        J. L. Hodges and E. L. Lehmann, Estimates of location based on rank tests,
        Ann. Math. Statist. 34 (1963) 598-611.

    Examples:
        >>> found = rank_difference(np.array([4.0, 5.0, 6.0]), np.array([1.0, 2.0, 5.0]))
        >>> round(found.delta, 3), found.shift
        (0.667, 3.0)
    """
    if not first.size or not second.size:
        raise OutOfRangeError("a group is empty; give at least one number in each")
    if not (np.isfinite(first).all() and np.isfinite(second).all()):
        raise OutOfRangeError("a group holds what is no number; leave it out")
    apart = np.subtract.outer(first, second)
    delta = float(np.sign(apart).mean())
    low, high = delta_interval(delta, first.size, second.size)
    shift = float(np.median(apart))
    spread = _pooled_spread(first, second)
    spreads = shift / spread if spread > 0 else math.copysign(math.inf, shift) if shift else 0.0
    return RankDifference(delta, low, high, shift, spreads)


def delta_interval(
    delta: float, first: int, second: int, confidence: float = 0.95
) -> tuple[float, float]:
    """The interval within which a Cliff's delta of so many numbers lies.

    Newcombe's fifth method: the ends are those deltas from which the one that was found lies
    as far as chance allows, so the interval stays within -1 to 1 and does not shrink to
    nothing where the groups are wholly apart.

    Args:
        delta: What was found. [1] From -1 to 1.
        first: Numbers in the first group. At least one.
        second: Numbers in the second. At least one.
        confidence: How often such an interval holds the true one. [1]

    Returns:
        Lower and upper end. [1]

    Raises:
        OutOfRangeError: A delta beyond 1, or an empty group.

    References:
        R. G. Newcombe, Confidence intervals for an effect size measure based on the
        Mann-Whitney statistic, part 2, Statist. Med. 25 (2006) 559-573, method 5; its variance
        is that of J. A. Hanley and B. J. McNeil, Radiology 143 (1982) 29-36.

    Examples:
        >>> [round(end, 2) for end in delta_interval(1.0, 6, 6)]
        [0.38, 1.0]
    """
    if not -1 <= delta <= 1 or min(first, second) < 1:
        raise OutOfRangeError(f"a delta of {delta:g} of {first} and {second} numbers cannot be")
    found = (1 + delta) / 2
    z = float(special.ndtri(0.5 + confidence / 2))

    def beyond(theta: float) -> float:
        return (theta - found) ** 2 - z**2 * _variance(theta, first, second)

    # At 0 and 1 the variance is none, so an end there would be a root that says nothing.
    low = optimize.brentq(beyond, _EPS, found - _EPS) if found > 2 * _EPS else 0.0
    high = optimize.brentq(beyond, found + _EPS, 1 - _EPS) if found < 1 - 2 * _EPS else 1.0
    return 2 * float(low) - 1, 2 * float(high) - 1


def _variance(theta: float, first: int, second: int) -> float:
    """Variance of a Mann-Whitney statistic of a true theta, both groups spread alike. [1]"""
    star = (first + second) / 2 - 1
    inner = 1 + star * (1 - theta) / (2 - theta) + star * theta / (1 + theta)
    return theta * (1 - theta) * inner / (first * second)


def _pooled_spread(first: FloatArray, second: FloatArray) -> float:
    """Mean distance of all numbers from the median of their group, in the numbers' unit.

    Not the median of these distances: of hours that are mostly none it would be none.
    """
    away = [np.abs(group - np.median(group)) for group in (first, second)]
    return float(np.mean(np.concatenate(away)))


def chance_of_largest(
    values: FloatArray, is_case: BoolArray, generator: np.random.Generator
) -> FloatArray:
    """For each feature, how often chance alone makes the largest of all deltas as large.

    The labels are dealt out again, all features keeping to their row, so that features that
    go together count as one and many features cost what they must (Westfall and Young). All
    deals are tried where they are few; else so many at random, the one found counted in.

    Args:
        values: One row an observation, one column a feature; NaN where not known.
        is_case: Which rows are of the first group.
        generator: Deals the labels.

    Returns:
        A chance for each feature; 1 where it is known in one group only. [1]

    References:
        P. H. Westfall and S. S. Young, Resampling-Based Multiple Testing, Wiley 1993, single-
        step maxT. B. Phipson and G. K. Smyth, Permutation p-values should never be zero,
        Stat. Appl. Genet. Mol. Biol. 9 (2010) article 39.

    Examples:
        >>> rows = np.array([[1.0], [2.0], [3.0], [4.0], [5.0], [6.0]])
        >>> chance_of_largest(rows, rows[:, 0] > 3, np.random.default_rng(1)).tolist()
        [0.1]
    """
    count, cases = is_case.size, int(is_case.sum())
    if cases in (0, count) or not values.size:
        return np.ones(values.shape[1])
    everything = math.comb(count, cases)
    if everything <= MOST_DEALS:
        deals = np.zeros((everything, count), dtype=bool)
        for deal, chosen in zip(deals, combinations(range(count), cases), strict=True):
            deal[list(chosen)] = True
    else:
        places = generator.permuted(np.tile(is_case, (MOST_DEALS, 1)), axis=1)
        deals = np.concatenate([is_case[None, :], places])
    largest = np.zeros(deals.shape[0])
    found = np.zeros(values.shape[1])
    for column, feature in enumerate(values.T):
        known = np.isfinite(feature)
        if not known.any():
            continue
        largest = np.maximum(largest, np.abs(_deltas(feature[known], deals[:, known])))
        found[column] = abs(float(_deltas(feature[known], is_case[None, known])[0]))
    chances: FloatArray = np.mean(largest[:, None] >= found[None, :] - _EPS, axis=0)
    return chances


def _deltas(feature: FloatArray, deals: BoolArray) -> FloatArray:
    """The delta of a feature under each deal, in units of its own scatter; 0 with one group.

    Divided by its scatter under chance, ties counted, so that a feature known in few rows is
    not given the last word.
    """
    ranks = stats.rankdata(feature)
    first = deals.sum(axis=1).astype(np.float64)
    second = feature.size - first
    pairs = first * second
    delta = np.zeros(deals.shape[0])
    wins = deals @ ranks - first * (first + 1) / 2
    np.divide(2 * wins, pairs, out=delta, where=pairs > 0)
    delta = np.where(pairs > 0, delta - 1, 0.0)
    scatter = float(np.var(ranks, ddof=1)) if feature.size > 1 else 0.0
    if scatter <= 0:
        return np.zeros(deals.shape[0])
    # Variance of a rank sum drawn without replacement: n₁ n₂ / N times that of the ranks.
    spread = 2 * np.sqrt(np.where(pairs > 0, scatter / (feature.size * np.maximum(pairs, 1)), 1))
    studentised: FloatArray = delta / spread
    return studentised

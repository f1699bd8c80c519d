"""How far a wheel has ripened: equivalent age on the wheel's mean temperature.

A rate that follows Arrhenius turns a history of temperature into days at a reference
temperature. Published activation energies of ripening differ by a factor of four (22.6 to
103.5 kJ/mol), so every age comes as a value with a band. Between two samples the temperature
runs on a straight line; across a gap too, and the part that rests on gaps is told.

Nothing here knows what day it is or which plan a wheel follows.
"""

import math
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from service.errors import OutOfRangeError
from service.science.air import GAS_CONSTANT_J_PER_MOL_K, ZERO_C_K, Values
from service.science.signals import US_PER_DAY, US_PER_S, FloatArray, IntArray

COLDEST_C, WARMEST_C = -40.0, 60.0
"""Outside this range no cheese ripens, and a reading is a mistake. [°C] Our choice."""

_J_PER_KJ = 1_000.0
_Q10_STEP_K = 10.0
# Gauss-Legendre on five points: over a segment that runs through 22 K at 110 kJ/mol the rate's
# integral is met within 1e-8 of itself, over 5 K to the last digits (measured).
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)
_ENERGIES = 9
"""Activation energies tried across a band. Our choice: age is convex in the energy, so its
largest value lies at an end and its smallest may lie between; nine find it closely enough."""


@dataclass(frozen=True, slots=True)
class Activation:
    """An activation energy with the band within which it is known. [kJ/mol]"""

    kj_per_mol: float
    low_kj_per_mol: float
    high_kj_per_mol: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.low_kj_per_mol <= self.kj_per_mol <= self.high_kj_per_mol:
            raise OutOfRangeError(
                f"an activation energy of {self.kj_per_mol:g} kJ/mol between "
                f"{self.low_kj_per_mol:g} and {self.high_kj_per_mol:g}; give low ≤ value ≤ high, "
                "none negative"
            )

    def across(self) -> list[float]:
        """The value first, then energies across the band from low to high. [kJ/mol]"""
        band = np.linspace(self.low_kj_per_mol, self.high_kj_per_mol, _ENERGIES)
        return [self.kj_per_mol, *band.tolist()]


@dataclass(frozen=True, slots=True)
class EquivalentAge:
    """An estimate of how far a wheel has ripened.

    Attributes:
        days: Days at the reference temperature that would have ripened it as far. [d]
        low_days: The lower end of the band of activation energy. [d]
        high_days: The upper end. [d]
        elapsed_days: Days by the calendar, first sample to last. [d]
        in_gaps_days: The part of `days` in gaps, from the straight line across them. [d]
    """

    days: float
    low_days: float
    high_days: float
    elapsed_days: float
    in_gaps_days: float


def ripening_rate(
    temperature_c: Values, reference_temperature_c: float, activation_kj_per_mol: float
) -> Values:
    """How many times as fast a wheel ripens as at the reference temperature.

    Arrhenius with one activation energy stands in for many reactions of many microbes. It
    holds within the range in which they live, about 2 to 20 °C.

    Args:
        temperature_c: Temperature of the wheel. [°C] From -40 to 60.
        reference_temperature_c: Where the rate is 1. [°C] From -40 to 60.
        activation_kj_per_mol: Activation energy. [kJ/mol] Zero or more.

    Returns:
        The rate, 1 at the reference, rising strictly with temperature if the energy is above
        zero. [1] NaN where the temperature is NaN.

    Raises:
        OutOfRangeError: A temperature or the energy lies outside its range.

    References:
        S. Arrhenius, Z. phys. Chem. 4 (1889) 226-248, the law; definition of the ratio.

    Examples:
        >>> round(ripening_rate(12.0, 4.0, 60.0), 4)
        2.0761
    """
    given = np.asarray(temperature_c, dtype=np.float64)
    for checked in (given, np.asarray(reference_temperature_c)):
        bad = checked[(checked < COLDEST_C) | (checked > WARMEST_C)]
        if bad.size:
            raise OutOfRangeError(
                f"a temperature of {float(bad.flat[0]):g} °C; a wheel ripens between "
                f"{COLDEST_C:g} and {WARMEST_C:g} °C, so check the readings"
            )
    if not activation_kj_per_mol >= 0.0:
        raise OutOfRangeError(
            f"an activation energy of {activation_kj_per_mol:g} kJ/mol; give zero or more"
        )
    slope_k = activation_kj_per_mol * _J_PER_KJ / GAS_CONSTANT_J_PER_MOL_K
    reference = 1.0 / (reference_temperature_c + ZERO_C_K)
    rate = np.exp(slope_k * (reference - 1.0 / (given + ZERO_C_K)))
    return cast(Values, rate if rate.ndim else float(rate))


def q10_from_activation(activation_kj_per_mol: float, from_c: float) -> float:
    """How many times as fast it goes 10 K warmer.

    Args:
        activation_kj_per_mol: Activation energy. [kJ/mol]
        from_c: The lower of the two temperatures. [°C]

    Returns:
        Q10, one or more. [1]

    References:
        Definition of Q10; the law of Arrhenius.

    Examples:
        >>> round(q10_from_activation(46.2, 5.0), 2)
        2.0
    """
    return ripening_rate(from_c + _Q10_STEP_K, from_c, activation_kj_per_mol)


def activation_from_q10_kj_per_mol(q10: float, from_c: float) -> float:
    """The activation energy of a Q10; the inverse of `q10_from_activation`.

    A Q10 belongs to a pair of temperatures 10 K apart: name the lower of them.

    Args:
        q10: How many times as fast it goes 10 K warmer. [1] One or more.
        from_c: The lower of the two temperatures. [°C]

    Returns:
        Activation energy. [kJ/mol]

    Raises:
        OutOfRangeError: The Q10 is below one: nothing ripens faster in the cold.

    References:
        Definition of Q10; the law of Arrhenius.

    Examples:
        >>> round(activation_from_q10_kj_per_mol(1.403011, 5.0), 1)
        22.6
    """
    if not q10 >= 1.0:
        raise OutOfRangeError(f"a Q10 of {q10:g}; give one or more, about 1.4 to 4.7 for cheese")
    cold_k = from_c + ZERO_C_K
    warm_k = cold_k + _Q10_STEP_K
    energy = GAS_CONSTANT_J_PER_MOL_K * math.log(q10) * cold_k * warm_k / _Q10_STEP_K
    return energy / _J_PER_KJ


def equivalent_days(
    times_us: IntArray,
    temperature_c: FloatArray,
    reference_temperature_c: float,
    activation_kj_per_mol: float,
) -> FloatArray:
    """Equivalent age since the first sample, at each sample.

    The integral of the rate, exact but for rounding while the temperature runs on straight
    lines between samples, however unevenly they come. NaN samples are passed over.

    Args:
        times_us: Times of the samples, rising. [µs UTC]
        temperature_c: Mean temperature of the wheel; NaN where not known. [°C]
        reference_temperature_c: Where a day counts as a day. [°C]
        activation_kj_per_mol: Activation energy. [kJ/mol]

    Returns:
        Days at the reference temperature, zero at the first known sample, never falling;
        before the first and after the last known sample NaN. [d]

    Raises:
        OutOfRangeError: Times do not rise, or see `ripening_rate`.

    References:
        The law of Arrhenius; Gauss-Legendre quadrature on five points.

    Examples:
        >>> week_us = np.array([0, 3, 7]) * US_PER_DAY
        >>> equivalent_days(week_us, np.array([12.0, 12.0, 12.0]), 12.0, 60.0).round(9).tolist()
        [0.0, 3.0, 7.0]
    """
    check_rising(times_us)
    known = np.flatnonzero(~np.isnan(temperature_c))
    age = np.full(times_us.size, np.nan)
    if known.size == 0:
        return age
    first, last = int(known[0]), int(known[-1])
    times, values = times_us[known], temperature_c[known]
    segments = segment_days(times, values, reference_temperature_c, activation_kj_per_mol)
    age[known] = np.concatenate(([0.0], np.cumsum(segments)))
    for index in np.flatnonzero(np.isnan(age[first : last + 1])) + first:
        end_c = float(np.interp(times_us[index], times, values))
        before = int(np.searchsorted(times, times_us[index])) - 1
        part = segment_days(
            np.array([times[before], times_us[index]]),
            np.array([values[before], end_c]),
            reference_temperature_c,
            activation_kj_per_mol,
        )
        age[index] = age[known[before]] + part[0]
    return age


def equivalent_age(
    times_us: IntArray,
    temperature_c: FloatArray,
    reference_temperature_c: float,
    activation: Activation,
    longest_s: float,
) -> EquivalentAge:
    """How far a wheel has ripened between its first and last sample, with its band.

    Args:
        times_us: Times of the samples, rising. [µs UTC]
        temperature_c: Mean temperature of the wheel; NaN where not known. [°C]
        reference_temperature_c: Where a day counts as a day. [°C]
        activation: Activation energy and its band.
        longest_s: The longest silence that is no gap. [s]

    Returns:
        The estimate; zero days if fewer than two samples are known.

    Raises:
        OutOfRangeError: Times do not rise, or see `ripening_rate`.

    References:
        See `equivalent_days`.

    Examples:
        >>> warm = np.array([13.0, 13.0])
        >>> ten = np.array([0, 10]) * US_PER_DAY
        >>> age = equivalent_age(ten, warm, 10.0, Activation(60.0, 40.0, 100.0), 1e6)
        >>> round(age.low_days, 2), round(age.days, 2), round(age.high_days, 2)
        (11.95, 13.06, 15.61)
    """
    check_rising(times_us)
    known = ~np.isnan(temperature_c)
    times, values = times_us[known], temperature_c[known]
    in_gaps = np.diff(times) > longest_s * US_PER_S
    per_energy = [
        segment_days(times, values, reference_temperature_c, energy)
        for energy in activation.across()
    ]
    ages = [float(days.sum()) for days in per_energy]
    elapsed = float(times[-1] - times[0]) / US_PER_DAY if times.size else 0.0
    return EquivalentAge(
        days=ages[0],
        low_days=min(ages),
        high_days=max(ages),
        elapsed_days=elapsed,
        in_gaps_days=float(per_energy[0][in_gaps].sum()),
    )


def segment_days(
    times_us: npt.NDArray[np.int64] | FloatArray,
    temperature_c: FloatArray,
    reference_temperature_c: float,
    activation_kj_per_mol: float,
) -> FloatArray:
    """Equivalent days of each segment between neighbouring samples, all of them known.

    The building block of every age here; times in microseconds, temperature and reference in
    °C, activation energy in kJ/mol, result in days.
    """
    half_days = np.diff(times_us) / (2.0 * US_PER_DAY)
    centre_c = (temperature_c[1:] + temperature_c[:-1]) / 2.0
    half_c = np.diff(temperature_c) / 2.0
    days = np.zeros(half_days.size)
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        there_c = centre_c + node * half_c
        days += weight * ripening_rate(there_c, reference_temperature_c, activation_kj_per_mol)
    return days * half_days


def check_rising(times_us: IntArray) -> None:
    """Refuse times that stand still or run backwards.

    Raises:
        OutOfRangeError: They do.
    """
    if np.any(np.diff(times_us) <= 0):
        raise OutOfRangeError("times must rise; put the samples in order and each time once")

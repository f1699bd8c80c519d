"""When a wheel will have ripened enough: the inverse of equivalent age, for planning.

Given a constant temperature, or a history of temperature that may reach into the future, it
tells the instant at which a wanted equivalent age is reached, with the earliest and the
latest that the band of the activation energy allows. Nothing here knows what day it is.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.errors import OutOfRangeError
from service.science.air import Values
from service.science.ripening import (
    Activation,
    check_rising,
    ripening_rate,
    segment_days,
)
from service.science.signals import US_PER_DAY

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]

_NEWTON_STEPS = 6
"""The fourth step lands on the microsecond even across 20 K; two more cost nothing."""


@dataclass(frozen=True, slots=True)
class Reached:
    """When a wanted equivalent age is reached; None where it is not, as far as is known.

    Attributes:
        time_us: With the activation energy as given. [µs UTC]
        earliest_us: The earliest within the band. [µs UTC]
        latest_us: The latest within the band. [µs UTC]
    """

    time_us: int | None
    earliest_us: int | None
    latest_us: int | None


def days_needed(
    wanted_days: float,
    temperature_c: Values,
    reference_temperature_c: float,
    activation_kj_per_mol: float,
) -> Values:
    """Days at a constant temperature until an equivalent age is reached.

    Args:
        wanted_days: Equivalent age to be gained. [d] Zero or more.
        temperature_c: The constant temperature. [°C]
        reference_temperature_c: Where a day counts as a day. [°C]
        activation_kj_per_mol: Activation energy. [kJ/mol]

    Returns:
        Days by the calendar. [d]

    Raises:
        OutOfRangeError: See `ripening_rate`; or the wanted age is negative.

    References:
        The inverse of `equivalent_days` in closed form.

    Examples:
        >>> round(days_needed(10.0, 4.0, 12.0, 60.0), 2)
        20.76
    """
    _check_wanted(wanted_days)
    rate = ripening_rate(temperature_c, reference_temperature_c, activation_kj_per_mol)
    return wanted_days / rate


def reached_us(
    wanted_days: float,
    times_us: IntArray,
    temperature_c: FloatArray,
    reference_temperature_c: float,
    activation_kj_per_mol: float,
    *,
    then_c: float | None = None,
) -> int | None:
    """When a wheel reaches an equivalent age, counted from the first sample.

    Args:
        wanted_days: Equivalent age to be gained from the first known sample on. [d]
        times_us: Times of the samples, past or foreseen, rising. [µs UTC]
        temperature_c: Mean temperature of the wheel; NaN is passed over. [°C]
        reference_temperature_c: Where a day counts as a day. [°C]
        activation_kj_per_mol: Activation energy. [kJ/mol]
        then_c: Constant temperature after the last sample, or None: nothing is known. [°C]

    Returns:
        The instant, to the microsecond; None if it lies beyond what is known. [µs UTC]

    Raises:
        OutOfRangeError: There is no known sample; or see `equivalent_days`.

    References:
        The inverse of `equivalent_days`; Newton's method within one segment.

    Examples:
        >>> reached_us(2.0, np.array([0]), np.array([12.0]), 12.0, 60.0, then_c=12.0) / US_PER_DAY
        2.0
    """
    _check_wanted(wanted_days)
    check_rising(times_us)
    known = ~np.isnan(temperature_c)
    times, values = times_us[known], temperature_c[known]
    if times.size == 0:
        raise OutOfRangeError("no temperature is known; give at least one sample")
    segments = segment_days(times, values, reference_temperature_c, activation_kj_per_mol)
    age = np.concatenate(([0.0], np.cumsum(segments)))
    if wanted_days > age[-1]:
        if then_c is None:
            return None
        missing = wanted_days - float(age[-1])
        wait_days = days_needed(missing, then_c, reference_temperature_c, activation_kj_per_mol)
        return int(times[-1]) + round(wait_days * US_PER_DAY)
    index = max(int(np.searchsorted(age, wanted_days)) - 1, 0)
    if times.size == 1:
        return int(times[0])
    missing = wanted_days - float(age[index])
    ends_c = values[index : index + 2]
    length_us = float(times[index + 1] - times[index])
    share = missing / float(segments[index])
    # Newton converges on the whole segment: the age rises, and its slope is the rate itself.
    for _ in range(_NEWTON_STEPS):
        there_c = float(ends_c[0] + share * (ends_c[1] - ends_c[0]))
        done = segment_days(
            np.array([0.0, share * length_us]),
            np.array([ends_c[0], there_c]),
            reference_temperature_c,
            activation_kj_per_mol,
        )
        rate = ripening_rate(there_c, reference_temperature_c, activation_kj_per_mol)
        share += (missing - float(done[0])) * US_PER_DAY / (rate * length_us)
        share = min(max(share, 0.0), 1.0)
    return int(times[index]) + round(share * length_us)


def reached_between_us(
    wanted_days: float,
    times_us: IntArray,
    temperature_c: FloatArray,
    reference_temperature_c: float,
    activation: Activation,
    *,
    then_c: float | None = None,
) -> Reached:
    """When an equivalent age is reached, with the earliest and latest of the energy's band.

    Args:
        wanted_days: Equivalent age to be gained from the first known sample on. [d]
        times_us: Times of the samples, past or foreseen, rising. [µs UTC]
        temperature_c: Mean temperature of the wheel. [°C]
        reference_temperature_c: Where a day counts as a day. [°C]
        activation: Activation energy and its band.
        then_c: Constant temperature after the last sample, or None. [°C]

    Returns:
        The instants; `latest_us` is None as soon as one energy of the band does not get there.

    Raises:
        OutOfRangeError: See `reached_us`.

    References:
        See `reached_us`.
    """
    found = [
        reached_us(
            wanted_days,
            times_us,
            temperature_c,
            reference_temperature_c,
            energy,
            then_c=then_c,
        )
        for energy in activation.across()
    ]
    there = [instant for instant in found if instant is not None]
    return Reached(
        time_us=found[0],
        earliest_us=min(there, default=None),
        latest_us=max(there) if len(there) == len(found) else None,
    )


def _check_wanted(wanted_days: float) -> None:
    """Refuse an age that no wheel can gain."""
    if not wanted_days >= 0.0:
        raise OutOfRangeError(f"an age of {wanted_days:g} days is wanted; give zero or more")

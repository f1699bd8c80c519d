"""What a sensor's own readings tell against it: silent, stuck, saturated, crept.

Each finding is a stretch of time with its facts; words are made elsewhere. Nothing is
corrected here: a creep is bounded and said, for its size cannot be known from the readings.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from service.science.signals import US_PER_S, gaps, median_interval_s, runs

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

SATURATED_PCT = 99.5
"""A reading from here up is as good as 100. [%RH] Our choice."""
SATURATED_S = 7_200.0
"""Flat at saturation for this long: the sensor is wet, or its air is fog. [s] Our choice."""
BRIDGED_S = 600.0
"""A shorter dip does not end a stretch of saturation. [s] Our choice, as for sweat."""
STUCK_S, STEADY_STUCK_S = 1_800.0, 43_200.0
"""A repeated value younger than this is never called stuck: for the most restless sensor, and
for one that is coarse or has not shown how it repeats itself. [s] Our choice: half an hour;
half a day, for a coarse sensor in a lidded box repeats itself for hours."""
RESTLESS_TIMES = 20.0
"""Between those two it is so many times the longest repeat in order. [1] Our choice: a sensor
read every ten minutes that never repeats itself is stuck after some three hours."""
STUCK_TIMES = 8.0
"""Stuck repeats last so many times as long as the longest one in order. [1] Our choice."""
FEWEST_CHANGES = 20
"""With fewer changes of value a sensor has not shown how it repeats itself. Our choice."""
FEWEST_REPEATS = 10
"""Fewer equal readings in a row are chance. Our choice."""
CREEP_ABOVE_PCT = 95.0
"""Damper than this a polymer sensor creeps upward. [%RH] Our choice; data sheets of common
parts start at 80 %RH, from memory."""
CREEP_LIMIT_PCT = 3.0
"""Most that it creeps. [%RH] Data sheets of common parts: up to +3 %RH after 60 h of damp,
temporary; from memory."""
CREEP_RISE_H, CREEP_FALL_H = 60.0, 168.0
"""Time constants of the bound, up and down. [h] The first from the same statement; the second
our choice: back within weeks."""
CREEP_TOLD_PCT = 0.5
"""A bound below this is not worth telling. [%RH] Our choice."""

_S_PER_H = 3_600.0


class Fault(StrEnum):
    """What can be wrong with a stretch of readings."""

    GAP = "gap"
    STUCK_TEMPERATURE = "stuck temperature"
    STUCK_HUMIDITY = "stuck humidity"
    SATURATED = "saturated"
    CREEP = "creep suspected"


@dataclass(frozen=True, slots=True)
class Finding:
    """A stretch of time in which a sensor is not to be trusted.

    Attributes:
        fault: Why.
        from_us: Where it begins. [µs UTC]
        to_us: Where it ends. [µs UTC]
        value: The value at which it is stuck or saturated (its highest); for a creep the most
            by which the humidity may read too high; NaN for a gap. [°C or %RH]
    """

    fault: Fault
    from_us: int
    to_us: int
    value: float


def findings(
    times_us: IntArray, temperature_c: FloatArray, humidity_pct: FloatArray, longest_s: float
) -> list[Finding]:
    """Everything in this module, in order of time.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: Temperatures as read, spikes left out; NaN where not known. [°C]
        humidity_pct: Humidities as read, spikes left out; NaN where not known. [%RH]
        longest_s: The longest silence that is no gap. [s]

    Returns:
        The findings; they may overlap.
    """
    found = [
        Finding(Fault.GAP, last_us, first_us, float("nan"))
        for last_us, first_us in gaps(times_us, longest_s).tolist()
    ]
    found += stuck(times_us, temperature_c, Fault.STUCK_TEMPERATURE, longest_s)
    found += stuck(
        times_us,
        np.where(humidity_pct >= SATURATED_PCT, np.nan, humidity_pct),
        Fault.STUCK_HUMIDITY,
        longest_s,
    )
    found += saturated(times_us, humidity_pct, longest_s)
    found += creep(times_us, humidity_pct)
    return sorted(found, key=lambda finding: (finding.from_us, finding.to_us))


def stuck(times_us: IntArray, values: FloatArray, fault: Fault, longest_s: float) -> list[Finding]:
    """Stretches in which a value is repeated for too long for this sensor.

    How long a value may be repeated, the sensor itself tells: a coarse one in a steady cellar
    repeats for hours, one with noise and hundredths never thrice. Put in order of length, the
    stuck stretches are those above a step by a factor of eight to the longest one in order.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read; NaN ends a stretch.
        fault: What to call it.
        longest_s: A silence longer than this ends a stretch. [s]

    Returns:
        The findings in order of time.
    """
    same = np.zeros(values.size, dtype=bool)
    same[1:] = (np.diff(values) == 0.0) & (np.diff(times_us) <= longest_s * US_PER_S)
    # A run of "same as before" begins with the reading before it.
    stretches = [(start - 1, stop) for start, stop in runs(same).tolist()]
    if not stretches:
        return []
    edges = np.array(stretches)
    length_s = (times_us[edges[:, 1] - 1] - times_us[edges[:, 0]]) / US_PER_S
    told = np.count_nonzero(np.diff(values[~np.isnan(values)])) >= FEWEST_CHANGES
    ordered = np.sort(length_s)[::-1]
    # Where nothing else is repeated, the longest in order is one reading long; but a sensor that
    # repeats all that it says has no such readings, and its shortest repeats are in order.
    lone = values.size - int(np.diff(edges, axis=1).sum())
    in_order_s = ordered[-1] if told and lone < FEWEST_CHANGES else median_interval_s(times_us)
    after = np.append(ordered[1:], in_order_s)
    restless_s = np.clip(RESTLESS_TIMES * after, STUCK_S, STEADY_STUCK_S)
    least_s = restless_s if told else STEADY_STUCK_S
    steps = np.flatnonzero((ordered >= STUCK_TIMES * after) & (ordered >= least_s))
    if steps.size == 0:
        return []
    shortest_s = ordered[steps[-1]]
    return [
        Finding(fault, int(times_us[start]), int(times_us[stop - 1]), float(values[start]))
        for row, (start, stop) in enumerate(stretches)
        if length_s[row] >= shortest_s and stop - start >= FEWEST_REPEATS
    ]


def saturated(times_us: IntArray, humidity_pct: FloatArray, longest_s: float) -> list[Finding]:
    """Stretches at saturation for two hours or more: a wet sensor, or fog.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        humidity_pct: Humidities as read; NaN counts for nothing. [%RH]
        longest_s: A silence longer than this ends a stretch. [s]

    Returns:
        The findings in order of time.
    """
    wet = np.flatnonzero(humidity_pct >= SATURATED_PCT)
    if wet.size == 0:
        return []
    # Slow readings bridge nothing: each must be wet, within half an interval's delay.
    usual_us = float(np.median(np.diff(times_us))) if times_us.size > 1 else 0.0
    bridged_us = max(BRIDGED_S * US_PER_S, 1.5 * usual_us)
    silent = np.concatenate(([0], np.cumsum(np.diff(times_us) > longest_s * US_PER_S)))
    apart = (np.diff(times_us[wet]) > bridged_us) | (np.diff(silent[wet]) > 0)
    groups = np.split(wet, np.flatnonzero(apart) + 1)
    return [
        Finding(
            Fault.SATURATED,
            int(times_us[group[0]]),
            int(times_us[group[-1]]),
            float(humidity_pct[group].max()),
        )
        for group in groups
        if times_us[group[-1]] - times_us[group[0]] >= SATURATED_S * US_PER_S
    ]


def creep_bound_pct(times_us: IntArray, humidity_pct: FloatArray) -> FloatArray:
    """The most by which each reading may be too high after damp days, if it is at all.

    A first-order rise towards +3 %RH while the reading is above 95 %, and a slower fall while
    it is not. A bound, not an estimate: many sensors do not creep.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        humidity_pct: Humidities as read; NaN keeps the state of the reading before. [%RH]

    Returns:
        The bound at each reading, from 0 to 3; 0 at the first. [%RH]

    References:
        Data sheets of common capacitive sensors, "up to +3 %RH after 60 h", from memory.

    Examples:
        >>> t = np.array([0, 60 * 3600]) * US_PER_S
        >>> creep_bound_pct(t, np.array([98.0, 98.0])).round(2).tolist()
        [0.0, 1.9]
    """
    bound = np.zeros(times_us.size)
    if times_us.size == 0:
        return bound
    damp = humidity_pct > CREEP_ABOVE_PCT
    known = ~np.isnan(humidity_pct)
    latest = np.maximum.accumulate(np.where(known, np.arange(known.size), 0))
    damp = damp[latest]
    hours = (times_us - times_us[0]) / (US_PER_S * _S_PER_H)
    level = 0.0
    # Within a run of damp or of drier readings the law is one exponential, so runs are few.
    changes = np.flatnonzero(np.diff(damp)) + 1
    for part in np.split(np.arange(damp.size), changes):
        begin_h = hours[max(int(part[0]) - 1, 0)]
        passed_h = hours[part] - begin_h
        if damp[part[0]]:
            bound[part] = CREEP_LIMIT_PCT + (level - CREEP_LIMIT_PCT) * np.exp(
                -passed_h / CREEP_RISE_H
            )
        else:
            bound[part] = level * np.exp(-passed_h / CREEP_FALL_H)
        level = float(bound[part[-1]])
    return bound


def creep(times_us: IntArray, humidity_pct: FloatArray) -> list[Finding]:
    """Stretches in which the humidity may read too high by half a percent or more.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        humidity_pct: Humidities as read; NaN where not known. [%RH]

    Returns:
        The findings in order of time, each with the most by which it may be too high.
    """
    bound = creep_bound_pct(times_us, humidity_pct)
    return [
        Finding(
            Fault.CREEP,
            int(times_us[start]),
            int(times_us[stop - 1]),
            float(bound[start:stop].max()),
        )
        for start, stop in runs(bound >= CREEP_TOLD_PCT).tolist()
    ]

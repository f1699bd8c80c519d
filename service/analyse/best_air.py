"""The air as best it can be told from readings: what is no air set aside, corrected, steadied."""

from dataclasses import dataclass, replace

import numpy as np

from service.analyse.series import FloatArray, IntArray, Series
from service.analyse.steadied import steadied
from service.science.correction import Correction, at_full_scale
from service.science.sensor_truth import Fault, Finding
from service.science.signals import US_PER_S, gaps
from service.science.silenced import sifted


@dataclass(frozen=True, slots=True)
class BestAir:
    """The air of a space, in two forms, and what to know of its sensor.

    Attributes:
        corrected: The readings without spikes and without those of a sensor that stood still
            or was wet, told as true humidity; noise and all.
        best: The same without most of the noise.
        spikes: How many temperatures and humidities were set aside as spikes.
        silenced: How many were set aside because their sensor stood still or was wet.
        faults: What the readings tell against the sensor, gaps left out.
    """

    corrected: Series
    best: Series
    spikes: int
    silenced: int
    faults: tuple[Finding, ...]


def best_air(series: Series, correction: Correction | None) -> BestAir:
    """The air behind the readings.

    Args:
        series: The readings.
        correction: The sensor's correction, or None.

    Returns:
        The air.
    """
    times_us, longest_s = series.times_us, series.longest_s
    told = sifted(times_us, series.temperature_c, series.humidity_pct, longest_s)
    temperature_c, said_pct = told.temperature_c, told.humidity_pct
    true_pct = said_pct
    if correction is not None:
        true_pct = at_full_scale(said_pct, correction.corrected_pct(said_pct))
    corrected = replace(series, temperature_c=temperature_c, humidity_pct=true_pct)
    best = replace(
        corrected,
        temperature_c=steadied(times_us, temperature_c, longest_s),
        humidity_pct=np.clip(steadied(times_us, true_pct, longest_s), 0.0, 100.0),
    )
    faults = tuple(each for each in told.faults if each.fault is not Fault.GAP)
    return BestAir(corrected, best, told.spikes, told.silenced, faults)


def at_instants(
    instants_us: IntArray, times_us: IntArray, values: FloatArray, longest_s: float
) -> FloatArray:
    """What was read, on straight lines between neighbours, and NaN in the gaps.

    Args:
        instants_us: Where it is wanted, rising. [µs UTC]
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read; NaN where not known.
        longest_s: The longest silence that is no gap. [s]

    Returns:
        A value an instant; NaN in a gap, and further than this from the first or last reading.
    """
    known = ~np.isnan(values)
    times_us, values = times_us[known], values[known]
    if times_us.size == 0:
        return np.full(instants_us.size, np.nan)
    found: FloatArray = np.interp(instants_us, times_us, values)
    longest_us = int(longest_s * US_PER_S)
    found[(instants_us < times_us[0] - longest_us) | (instants_us > times_us[-1] + longest_us)] = (
        np.nan
    )
    for last_us, first_us in gaps(times_us, longest_s).tolist():
        start = np.searchsorted(instants_us, last_us, side="right")
        found[start : np.searchsorted(instants_us, first_us, side="left")] = np.nan
    return found


def drawn_across(
    found: FloatArray,
    instants_us: IntArray,
    times_us: IntArray,
    values: FloatArray,
    longest_s: float,
) -> FloatArray:
    """What `at_instants` gave, with its gaps filled by straight lines.

    A line runs from the median of the last three readings before a gap to that of the first
    three behind it: one bad reading just there, which nothing could tell for a spike, would
    bend the air of the whole gap.

    Args:
        found: A value an instant; NaN where not known.
        instants_us: The instants, rising. [µs UTC]
        times_us: Times of the readings, rising. [µs UTC]
        values: What was read; NaN where not known.
        longest_s: The longest silence that is no gap. [s]

    Returns:
        A value at every instant; `found` itself where nothing was ever read.
    """
    known = np.flatnonzero(~np.isnan(values))
    silent = np.isnan(found)
    if known.size == 0 or not silent.any():
        return found
    when = times_us[known]
    stretches = np.split(known, np.searchsorted(when, gaps(when, longest_s)[:, 1]))
    ends_us = [times_us[end] for part in stretches for end in (part[0], part[-1])]
    levels = [np.median(values[side]) for part in stretches for side in (part[:3], part[-3:])]
    filled = found.copy()
    filled[silent] = np.interp(instants_us[silent], ends_us, levels)
    return filled

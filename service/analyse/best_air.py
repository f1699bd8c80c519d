"""The air as best it can be told from readings: spikes set aside, corrected, noise taken out."""

from dataclasses import dataclass, replace

import numpy as np

from service.analyse.series import FloatArray, IntArray, Series
from service.analyse.steadied import steadied
from service.science.correction import Correction
from service.science.glitches import spikes
from service.science.sensor_truth import Fault, Finding, findings
from service.science.signals import US_PER_S, gaps


@dataclass(frozen=True, slots=True)
class BestAir:
    """The air of a space, in two forms, and what to know of its sensor.

    Attributes:
        corrected: The readings without spikes, told as true humidity; noise and all.
        best: The same without most of the noise.
        spikes: How many temperatures and humidities were set aside.
        faults: What the readings tell against the sensor, gaps left out.
    """

    corrected: Series
    best: Series
    spikes: int
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
    warm, damp = spikes(times_us, series.temperature_c, series.humidity_pct, longest_s)
    temperature_c = np.where(warm, np.nan, series.temperature_c)
    said_pct = np.where(damp, np.nan, series.humidity_pct)
    faults = [
        finding
        for finding in findings(times_us, temperature_c, said_pct, longest_s)
        if finding.fault is not Fault.GAP
    ]
    true_pct = said_pct if correction is None else correction.corrected_pct(said_pct)
    corrected = replace(series, temperature_c=temperature_c, humidity_pct=true_pct)
    best = replace(
        corrected,
        temperature_c=steadied(times_us, temperature_c, longest_s),
        humidity_pct=np.clip(steadied(times_us, true_pct, longest_s), 0.0, 100.0),
    )
    return BestAir(corrected, best, int(warm.sum() + damp.sum()), tuple(faults))


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

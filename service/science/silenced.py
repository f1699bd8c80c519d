"""Readings that came, but tell nothing of the air: spikes, a sensor that stood still or was wet.

`sensor_truth` says what a stretch looks like; this module says whether the air is known in it.
A frozen value is no air, so the stretch is as good as silent. Saturation is told both by a wet
sensor and by fog: air comes to it along its course, a sensor that was splashed leaps there.
Nothing here knows a clock, a file or a database.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.science.glitches import spikes
from service.science.sensor_truth import Fault, Finding, findings
from service.science.signals import US_PER_S, BoolArray, FloatArray, IntArray

LEAP_PCT: Final = 3.0
"""A smaller step of the humidity is no leap. [%RH] Our choice: air that fogs takes minutes."""
LEAP_K: Final = 0.5
"""A smaller step of the temperature is no opening of the door. [K] As for spikes."""
LEAP_TIMES: Final = 5.0
"""A leap is so many times the step that is usual between readings. [1] Our choice: the steepest
part of a cooling cycle steps two to three times as far as its median."""
MOSTLY: Final = 0.5
"""A value frozen for more than this part of the readings is believed. [1] Our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Sifted:
    """Readings without those that tell nothing of the air.

    Attributes:
        temperature_c: NaN where nothing is told. [°C]
        humidity_pct: The same, as read. [%RH]
        spikes: How many temperatures and humidities were left out as spikes.
        silenced: How many were left out because their sensor stood still or was wet.
        faults: What the readings tell against the sensor, gaps among it.
        mostly_still: Whether a value stood still for most of these readings and is believed for
            that. With older readings it may not be.
    """

    temperature_c: FloatArray
    humidity_pct: FloatArray
    spikes: int
    silenced: int
    faults: tuple[Finding, ...]
    mostly_still: bool


def sifted(
    times_us: IntArray, temperature_c: FloatArray, humidity_pct: FloatArray, longest_s: float
) -> Sifted:
    """Readings as they came, with what tells nothing of the air taken out.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: Temperatures as read; NaN where not known. [°C]
        humidity_pct: Relative humidities as read, the same; never corrected ones. [%RH]
        longest_s: The longest silence that is no gap. [s]

    Returns:
        What is left, and what was found.
    """
    warm, damp = spikes(times_us, temperature_c, humidity_pct, longest_s)
    temperature_c = np.where(warm, np.nan, temperature_c)
    humidity_pct = np.where(damp, np.nan, humidity_pct)
    faults = findings(times_us, temperature_c, humidity_pct, longest_s)
    still, mute = silenced(times_us, temperature_c, humidity_pct, faults, longest_s)
    return Sifted(
        np.where(still, np.nan, temperature_c),
        np.where(mute, np.nan, humidity_pct),
        int(warm.sum() + damp.sum()),
        int(still.sum() + mute.sum()),
        tuple(faults),
        any(_mostly(frozen) for frozen in _frozen(times_us, faults)),
    )


def silenced(
    times_us: IntArray,
    temperature_c: FloatArray,
    humidity_pct: FloatArray,
    faults: Sequence[Finding],
    longest_s: float,
) -> tuple[BoolArray, BoolArray]:
    """Which temperatures and which humidities tell nothing of the air.

    The first reading of a frozen stretch was still read, so it stays. A sensor that stood still
    for most of its readings may lie in air that does; it is believed, and so is saturation that
    the air came to step by step, or together with the temperature as at a door.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: Temperatures as read, spikes left out; NaN where not known. [°C]
        humidity_pct: Relative humidities as read, the same. [%RH]
        faults: What `sensor_truth.findings` says of just these readings.
        longest_s: The longest silence that is no gap. [s]

    Returns:
        True where the temperature tells nothing, and where the humidity does.

    Examples:
        >>> t = np.arange(60) * 60 * US_PER_S
        >>> said = np.where(np.arange(60) % 2, 88.0, 88.1)
        >>> said[20:50] = said[20]
        >>> stands = Finding(Fault.STUCK_HUMIDITY, int(t[20]), int(t[49]), 88.1)
        >>> _, damp = silenced(t, np.full(60, 10.0), said, [stands], 300.0)
        >>> np.flatnonzero(damp)[[0, -1]].tolist()
        [21, 49]
    """
    warm, damp = _frozen(times_us, faults)
    wet = np.zeros(times_us.size, dtype=np.bool_)
    for fault in faults:
        if fault.fault is Fault.SATURATED and _leapt(
            times_us, temperature_c, humidity_pct, fault.from_us, longest_s
        ):
            wet |= (times_us >= fault.from_us) & (times_us <= fault.to_us)
    return warm & (not _mostly(warm)), damp & (not _mostly(damp)) | wet


def _frozen(times_us: IntArray, faults: Sequence[Finding]) -> tuple[BoolArray, BoolArray]:
    """Where temperature and humidity stood still, the first reading of each stretch left out."""
    warm, damp = (np.zeros(times_us.size, dtype=np.bool_) for _ in range(2))
    for fault in faults:
        stretch = (times_us > fault.from_us) & (times_us <= fault.to_us)
        if fault.fault is Fault.STUCK_TEMPERATURE:
            warm |= stretch
        elif fault.fault is Fault.STUCK_HUMIDITY:
            damp |= stretch
    return warm, damp


def _mostly(frozen: BoolArray) -> bool:
    """Whether that is what the sensor mostly did."""
    return bool(np.count_nonzero(frozen) > MOSTLY * frozen.size)


def _leapt(
    times_us: IntArray,
    temperature_c: FloatArray,
    humidity_pct: FloatArray,
    at_us: int,
    longest_s: float,
) -> bool:
    """Whether the humidity came to a reading by a leap, and the temperature did not."""
    step_pct, usual_pct = _step(times_us, humidity_pct, at_us, longest_s)
    step_k, usual_k = _step(times_us, temperature_c, at_us, longest_s)
    return step_pct >= max(LEAP_PCT, LEAP_TIMES * usual_pct) and abs(step_k) < max(
        LEAP_K, LEAP_TIMES * usual_k
    )


def _step(
    times_us: IntArray, values: FloatArray, at_us: int, longest_s: float
) -> tuple[float, float]:
    """The step into a reading, and the median size of a step; zero where no step is known."""
    known = ~np.isnan(values)
    when, said = times_us[known], values[known]
    steps = np.diff(said)
    close = np.diff(when) <= longest_s * US_PER_S
    place = int(np.searchsorted(when, at_us)) - 1
    if not close.any() or not 0 <= place < steps.size or not close[place]:
        return 0.0, 0.0
    return float(steps[place]), float(np.median(np.abs(steps[close])))

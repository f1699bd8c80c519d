"""Readings as plain values, and the sieve that every one of them passes."""

from collections.abc import Mapping
from dataclasses import dataclass

from sensors.moments import iso
from sensors.plausible import fault, time_fault

MAX_REASONS = 20
"""Most reasons told for one message; the rest are counted. Our choice."""

_FULL_PCT = 100.0

HIGHEST_BATTERY_V = 60.0
"""No sensor's battery is above this. Our choice."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One reading of one sensor, as received.

    Attributes:
        sensor: The sensor's key: `{site}/{sensor}`, `{site}/{sensor}/{device}` where one
            topic speaks for several devices, or what a mapping says.
        time_us: When it was measured. [µs since 1970, UTC]
        temperature_c: Air temperature, None when not given. [°C]
        humidity_pct: Relative humidity, None when not given. [%RH]
        battery_pct: Charge left, None when not given. [%]
        battery_v: Battery voltage, None when not given. [V]
        timed_by_sensor: False when the time hangs on the arrival, so that the same message
            delivered twice gives two times.
    """

    sensor: str
    time_us: int
    temperature_c: float | None
    humidity_pct: float | None
    battery_pct: float | None = None
    battery_v: float | None = None
    timed_by_sensor: bool = True


@dataclass(frozen=True, slots=True)
class Decoded:
    """What a message held.

    Attributes:
        samples: The good readings, in the order of time.
        refused: Why others were refused, each reason naming its reading. When there are
            any, the message's bytes belong in quarantine though its samples are stored.
    """

    samples: tuple[Sample, ...]
    refused: tuple[str, ...] = ()


class Sieve:
    """Lets plausible readings of one message through and notes why others are not."""

    def __init__(self, arrival_us: int, previous_temperature_c: Mapping[str, float] | None) -> None:
        self._arrival_us = arrival_us
        self._before = previous_temperature_c or {}
        self._latest_c: dict[str, float] = {}
        self._samples: list[Sample] = []
        self._reasons: list[str] = []
        self._untold = 0

    def offer(self, sample: Sample) -> None:
        """Take a reading in, or note why not; call in the order of time."""
        previous_c = self._latest_c.get(sample.sensor)
        if previous_c is None:
            previous_c = self._before.get(sample.sensor)
        reason = time_fault(sample.time_us, self._arrival_us) or fault(
            sample.temperature_c, sample.humidity_pct, previous_c
        )
        if reason:
            self.refuse(sample.sensor, sample.time_us, reason)
            return
        if sample.temperature_c is not None:
            self._latest_c[sample.sensor] = sample.temperature_c
        self._samples.append(sample)

    def battery_pct(self, sensor: str, time_us: int, level: float | None) -> float | None:
        """The battery's charge when it can be true; one that cannot never costs a reading."""
        if level is None or 0.0 <= level <= _FULL_PCT:
            return level
        self.refuse(sensor, time_us, f"battery {level:g} % is not between 0 and 100 %")
        return None

    def battery_v(self, sensor: str, time_us: int, voltage: float | None) -> float | None:
        """The battery's voltage when it can be true; one that cannot never costs a reading."""
        if voltage is None or 0.0 <= voltage <= HIGHEST_BATTERY_V:
            return voltage
        self.refuse(sensor, time_us, f"battery {voltage:g} V is not between 0 and 60 V")
        return None

    def refuse(self, sensor: str, time_us: int, reason: str) -> None:
        """Note why a reading, or a part of one, is left out."""
        if len(self._reasons) < MAX_REASONS:
            self._reasons.append(f"{sensor} at {iso(time_us)}: {reason}")
        else:
            self._untold += 1

    def result(self) -> Decoded:
        """All that came through, and the reasons."""
        reasons = list(self._reasons)
        if self._untold:
            reasons.append(f"and {self._untold} more refusals in the same message")
        return Decoded(tuple(self._samples), tuple(reasons))

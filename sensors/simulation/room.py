"""The room around a cave: its season, its day and its weather, for any instant.

The weather is drawn for each half day from the seed and the half day alone, so that a
history and a later run agree on it without talking.
"""

import math
from dataclasses import dataclass
from random import Random

from sensors.simulation.air import saturation_pressure_pa

US_PER_DAY = 86_400_000_000
_KNOTS_PER_DAY = 2


@dataclass(frozen=True, slots=True)
class RoomConfig:
    """A room; all values are our choice, for a house in the south of England.

    Attributes:
        start_us: When the season starts to change. [µs UTC]
        end_us: When the season has come to its end. [µs UTC]
        start_c: Mean temperature until `start_us`. [°C]
        end_c: Mean temperature from `end_us` on. [°C]
        daily_swing_k: Half the difference of afternoon and night. [K]
        weather_k: Largest departure of a half day from the season. [K]
        humidity_pct: Mean relative humidity. [%]
        weather_pct: Largest departure of a half day from it. [%]
        warmest_hour_utc: When the day is warmest. [h]
        seed: Names the weather.
    """

    start_us: int
    end_us: int
    start_c: float
    end_c: float
    daily_swing_k: float
    weather_k: float
    humidity_pct: float
    weather_pct: float
    warmest_hour_utc: float
    seed: str


class Room:
    """The air of a room; nothing that happens in a cave changes it."""

    def __init__(self, config: RoomConfig) -> None:
        self.config = config
        self._knots: dict[int, tuple[float, float]] = {}

    def _knot(self, index: int) -> tuple[float, float]:
        """Departures of temperature and humidity at the start of a half day, -1 to 1."""
        if index not in self._knots:
            # Weather of a demo is no secret; Random's random() is the same on every Python.
            draw = Random(f"{self.config.seed}:{index}")  # noqa: S311
            self._knots[index] = (2.0 * draw.random() - 1.0, 2.0 * draw.random() - 1.0)
        return self._knots[index]

    def at(self, time_us: int) -> tuple[float, float]:
        """Temperature and vapour pressure at an instant. [°C, Pa]"""
        config = self.config
        season = (time_us - config.start_us) / (config.end_us - config.start_us)
        season = min(1.0, max(0.0, season))
        days = time_us / US_PER_DAY
        hour = 24.0 * (days - math.floor(days))
        day = math.cos(2.0 * math.pi * (hour - config.warmest_hour_utc) / 24.0)
        index = math.floor(days * _KNOTS_PER_DAY)
        part = days * _KNOTS_PER_DAY - index
        ease = part * part * (3.0 - 2.0 * part)
        before, after = self._knot(index), self._knot(index + 1)
        warm = before[0] + (after[0] - before[0]) * ease
        damp = before[1] + (after[1] - before[1]) * ease
        temperature_c = (
            config.start_c
            + (config.end_c - config.start_c) * season
            + config.daily_swing_k * day
            + config.weather_k * warm
        )
        # A warm afternoon dries the room: half a per cent for each tenth of a kelvin.
        humidity_pct = (
            config.humidity_pct + config.weather_pct * damp - 1.5 * config.daily_swing_k * day
        )
        return temperature_c, 0.01 * humidity_pct * saturation_pressure_pa(temperature_c)

"""A sensor as it is: it lags, it has noise and steps, it creeps when long wet, it falls silent."""

import math
from dataclasses import dataclass
from random import Random

_S_PER_H = 3_600.0


@dataclass(frozen=True, slots=True)
class SensorConfig:
    """What is wrong with a sensor.

    Attributes:
        temperature_lag_s: Time constant of its temperature in still air. [s] Our choice.
        humidity_lag_s: Time constant of its humidity. [s] Our choice; a data sheet gives
            8 s at 1 m/s, still air behind a filter is slower.
        temperature_noise_k: Standard deviation of one reading. [K] Our choice.
        humidity_noise_pct: Standard deviation of one reading. [%RH] Our choice.
        temperature_offset_k: Error of its calibration. [K]
        humidity_offset_pct: Error of its calibration. [%RH]
        creep_above_pct: Humidity beyond which it creeps. [%RH]
        creep_limit_pct: Most that it creeps. [%RH] Reported: "> 80 %RH for 60 h: up to
            +3 %RH, temporary" for a common part; ours starts higher.
        creep_rise_h: Time constant of the creep. [h]
        creep_fall_h: Time constant of its recovery in drier air. [h] Our choice.
        seed: Names the noise.
    """

    temperature_lag_s: float = 90.0
    humidity_lag_s: float = 45.0
    temperature_noise_k: float = 0.012
    humidity_noise_pct: float = 0.10
    temperature_offset_k: float = 0.0
    humidity_offset_pct: float = 0.0
    creep_above_pct: float = 95.0
    creep_limit_pct: float = 2.5
    creep_rise_h: float = 60.0
    creep_fall_h: float = 168.0
    seed: str = "sensor"


def lagged(value: float, target: float, step_s: float, lag_s: float) -> float:
    """A first-order lag after a step in which its target stood still, exactly.

    Args:
        value: Before the step.
        target: What it follows.
        step_s: Length of the step. [s]
        lag_s: Time constant. [s]

    Returns:
        The value after the step.

    Examples:
        >>> round(lagged(0.0, 1.0, 90.0, 90.0), 6)
        0.632121
    """
    return value - (target - value) * math.expm1(-step_s / lag_s)


class Sensor:
    """The state of a sensor.

    Attributes:
        temperature_c: What its element has reached. [°C]
        humidity_pct: What its element has reached, without creep and offset. [%RH]
        creep_pct: How far it has crept. [%RH]
        silent_s: Time for which it still says nothing. [s]
    """

    STATE = ("temperature_c", "humidity_pct", "creep_pct", "silent_s")

    def __init__(self, config: SensorConfig, temperature_c: float, humidity_pct: float) -> None:
        self.config = config
        self.temperature_c = temperature_c
        self.humidity_pct = humidity_pct
        self.creep_pct = 0.0
        self.silent_s = 0.0
        # Noise is no secret, and random() alone is promised to be the same on every Python.
        self._random = Random(config.seed).random  # noqa: S311
        self._step_s = 0.0
        self._temperature_share = 0.0
        self._humidity_share = 0.0

    def step(self, step_s: float, air_c: float, air_pct: float) -> None:
        """Follow the air for a step."""
        config = self.config
        if step_s != self._step_s:
            self._step_s = step_s
            self._temperature_share = lagged(0.0, 1.0, step_s, config.temperature_lag_s)
            self._humidity_share = lagged(0.0, 1.0, step_s, config.humidity_lag_s)
        self.temperature_c += (air_c - self.temperature_c) * self._temperature_share
        self.humidity_pct += (air_pct - self.humidity_pct) * self._humidity_share

    def read(self, since_s: float) -> tuple[float, float] | None:
        """Temperature and humidity as it says them, or None while silent. [°C, %RH]

        Args:
            since_s: Time since it was last asked. [s]
        """
        config = self.config
        if self.humidity_pct > config.creep_above_pct:
            towards, lag_h = config.creep_limit_pct, config.creep_rise_h
        else:
            towards, lag_h = 0.0, config.creep_fall_h
        self.creep_pct = lagged(self.creep_pct, towards, since_s, lag_h * _S_PER_H)
        temperature_noise, humidity_noise = self._noise(), self._noise()
        if self.silent_s > 0.0:
            self.silent_s = max(0.0, self.silent_s - since_s)
            return None
        temperature_c = (
            self.temperature_c
            + config.temperature_offset_k
            + config.temperature_noise_k * temperature_noise
        )
        humidity_pct = (
            self.humidity_pct
            + config.humidity_offset_pct
            + self.creep_pct
            + config.humidity_noise_pct * humidity_noise
        )
        return round(temperature_c, 2), round(min(100.0, max(0.0, humidity_pct)), 2)

    def _noise(self) -> float:
        """Noise of mean 0 and variance 1: three uniform numbers, each of variance 1/12."""
        draw = self._random
        return 2.0 * (draw() + draw() + draw() - 1.5)

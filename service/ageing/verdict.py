"""The verdict: a wheel's air against the target of its stage, with how far and since when.

It is given on smoothed air. A converted fridge swings by several %RH with every cooling cycle,
and a door stands open for a minute; neither changes what the rind feels, so neither may change
the verdict.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from service.ageing.limits import HAIR, past_limit
from service.ageing.means import Smoothing, means, smoothing
from service.ageing.values import Direction, Finding, Quantity, Target, Unknown, Verdict
from service.science.signals import US_PER_S

SCALE: Final = {Quantity.TEMPERATURE: 1.0, Quantity.HUMIDITY: 3.0}
"""Distances of the same weight, 1 K and 3 %RH. Our choice: near 10 °C and 90 %RH, one kelvin
less in the air raises its humidity by about 6 %RH, but a cave's humidity wanders more easily
than its temperature, so half of that weighs the same."""


@dataclass(frozen=True, slots=True, eq=False)
class AirHistory:
    """The air of a space as its sensor reported it, corrected, up to now.

    Attributes:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: NaN where missing. [°C]
        humidity_pct: NaN where missing. [%RH]
    """

    times_us: npt.NDArray[np.int64]
    temperature_c: npt.NDArray[np.float64]
    humidity_pct: npt.NDArray[np.float64]

    def of(self, quantity: Quantity) -> npt.NDArray[np.float64]:
        """The values of one quantity."""
        return self.temperature_c if quantity is Quantity.TEMPERATURE else self.humidity_pct


@dataclass(frozen=True, slots=True)
class JudgingRules:
    """How a verdict is reached.

    Attributes:
        temperature: How the mean temperature is taken, as in its alarm.
        humidity: How the mean humidity is taken, as in its alarm. A silence that is a gap
            there also ends what is known of "since when".
        stale_after_s: Without a reading for longer than this there is no verdict. [s] Our
            choice: twice the mean's time constant.
    """

    temperature: Smoothing = field(default_factory=lambda: smoothing(Quantity.TEMPERATURE))
    humidity: Smoothing = field(default_factory=lambda: smoothing(Quantity.HUMIDITY))
    stale_after_s: float = 1800.0

    def of(self, quantity: Quantity) -> Smoothing:
        """How the mean of one quantity is taken."""
        return self.temperature if quantity is Quantity.TEMPERATURE else self.humidity


DEFAULT_RULES: Final = JudgingRules()


def judging_rules(interval_s: float = 0.0) -> JudgingRules:
    """The rules for a sensor that usually reports every `interval_s`, however rarely."""
    temperature = smoothing(Quantity.TEMPERATURE, interval_s)
    humidity = smoothing(Quantity.HUMIDITY, interval_s)
    return JudgingRules(temperature, humidity, max(DEFAULT_RULES.stale_after_s, humidity.gap_s))


def judge(
    target: Target, air: AirHistory, now_us: int, rules: JudgingRules = DEFAULT_RULES
) -> Verdict:
    """The verdict on a wheel whose stage asks for `target`, in the air of its space.

    A value on the end of a range is in range. A reading from a few minutes ahead of now (a
    sensor whose clock is fast) counts as fresh.

    Args:
        target: What the wheel's stage asks.
        air: The readings of its space up to now; they should reach back as far as "since
            when" is to be told.
        now_us: The time of the verdict. [µs UTC]
        rules: How it is reached.

    Returns:
        What is out of range, the gravest first, and what cannot be judged.
    """
    findings: list[Finding] = []
    unknown: list[Unknown] = []
    for quantity in Quantity:
        result = _judge(quantity, target, air, now_us, rules)
        if isinstance(result, Finding):
            findings.append(result)
        elif isinstance(result, Unknown):
            unknown.append(result)
    findings.sort(key=lambda finding: -finding.amount / SCALE[finding.quantity])
    return Verdict(findings=tuple(findings), unknown=tuple(unknown))


def _judge(
    quantity: Quantity, target: Target, air: AirHistory, now_us: int, rules: JudgingRules
) -> Finding | Unknown | None:
    asked = target.of(quantity)
    if asked is None:
        return None
    if air.times_us.size == 0:
        return Unknown(quantity, "no sensor in this space has reported")
    known = ~np.isnan(air.of(quantity))
    if not known.any():
        return Unknown(quantity, f"no reading of the {quantity} has come")
    times_us = air.times_us[known]
    last_us = int(times_us[-1])
    if now_us - last_us > rules.stale_after_s * US_PER_S:
        return Unknown(quantity, "no fresh reading", last_us)
    how = rules.of(quantity)
    for direction, limit in ((Direction.BELOW, asked.low), (Direction.ABOVE, asked.high)):
        mean = means(times_us, air.of(quantity)[known], direction, how)
        beyond = past_limit(mean, limit, direction)
        if beyond[-1] > HAIR:
            since, is_start = _start_of_last_run(times_us, beyond > HAIR, how.gap_s)
            return Finding(quantity, direction, float(beyond[-1]), int(times_us[since]), is_start)
    return None


def _start_of_last_run(
    times_us: npt.NDArray[np.int64], outside: npt.NDArray[np.bool_], gap_s: float
) -> tuple[int, bool]:
    """Index at which the last unbroken run outside begins, and whether it was seen to begin."""
    inside = np.flatnonzero(~outside)
    silences = np.flatnonzero(np.diff(times_us) / US_PER_S > gap_s)
    after_inside = int(inside[-1]) + 1 if inside.size else 0
    after_silence = int(silences[-1]) + 1 if silences.size else 0
    # What was outside before a silence may have been in range during it; nobody knows.
    return max(after_inside, after_silence), after_inside > after_silence

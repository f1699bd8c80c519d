"""When an alarm is raised and when it returns to normal: a fold over the readings.

The words are those of ANSI/ISA-18.2 and IEC 62682. The on-delay is how long the air must stay
beyond its limit, without a break, before the alarm is raised; the deadband is how far it must
come back, and the off-delay how long it must stay back by that much, before the alarm returns
to normal. (Meanings as in OPC 10000-9, OnDelay, OffDelay and AlarmDeadband.)

The state of the fold is one small value that goes through JSON without loss, so a worker may
stop and start anywhere. `service.ageing.alarm_record` takes many readings at once.
"""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Final, NamedTuple, Self

from service.ageing.limits import HAIR, past_limit
from service.ageing.means import Smoothing, mean_step, smoothing
from service.ageing.values import Direction, Quantity
from service.science.signals import US_PER_S


@dataclass(frozen=True, slots=True)
class AlarmRule:
    """How patient an alarm is.

    Attributes:
        on_delay_s: Unbroken time beyond the limit before the alarm is raised. [s]
        off_delay_s: Unbroken time back by the deadband before it returns to normal. [s]
        deadband: How far inside the limit is back. [K or %RH]
        smoothing: How the mean is taken that is compared with the limit. A silence that is
            a gap there also breaks both delays.
    """

    on_delay_s: float
    off_delay_s: float
    deadband: float
    smoothing: Smoothing = field(default_factory=Smoothing)


# Our choice. Published starting values (temperature 1 % and 60 s; REFERENCES section 7) are for
# chemical plants and their fast loops; a rind takes hours to suffer, so a quarter of an hour
# costs nothing, and the mean needs as much to forget an opening. A deadband of 1 %RH or 0.3 K
# is about what a good sensor's noise and the rest of a cooling cycle move the mean.
_RULES: Final = {
    Quantity.HUMIDITY: AlarmRule(on_delay_s=900.0, off_delay_s=600.0, deadband=1.0),
    Quantity.TEMPERATURE: AlarmRule(on_delay_s=900.0, off_delay_s=600.0, deadband=0.3),
}


def alarm_rule(quantity: Quantity, interval_s: float = 0.0) -> AlarmRule:
    """The rule for a quantity, for a sensor that usually reports every `interval_s`."""
    return replace(_RULES[quantity], smoothing=smoothing(quantity, interval_s))


@dataclass(frozen=True, slots=True)
class Condition:
    """What the fold knows of one limit after the readings so far.

    Attributes:
        smoothed: The mean that is compared with the limit; None before the first reading.
        last_us: The last reading; an earlier or equal one is not counted again. [µs UTC]
        beyond_since_us: Start of the unbroken time beyond the limit, while it lasts and no
            alarm is raised. [µs UTC]
        within_since_us: Start of the unbroken time back by the deadband, while it lasts and
            the alarm is raised. [µs UTC]
        active: Whether the alarm is raised.
        raised_us: When it was. [µs UTC]
        since_us: Start of the time beyond the limit that raised it. [µs UTC]
        extreme: The mean farthest beyond the limit since then.
    """

    smoothed: float | None = None
    last_us: int | None = None
    beyond_since_us: int | None = None
    within_since_us: int | None = None
    active: bool = False
    raised_us: int | None = None
    since_us: int | None = None
    extreme: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """The condition as JSON knows values; floats survive exactly."""
        return asdict(self)

    @classmethod
    def from_dict(cls, saved: Mapping[str, Any]) -> Self:
        """The condition that `to_dict` gave; an empty mapping gives a new one."""
        return cls(**saved)


@dataclass(frozen=True, slots=True)
class Raised:
    """An alarm was raised.

    Attributes:
        time_us: At which reading. [µs UTC]
        value: The mean at that reading.
        since_us: Since when the mean has been beyond the limit. [µs UTC]
    """

    time_us: int
    value: float
    since_us: int


@dataclass(frozen=True, slots=True)
class Returned:
    """An alarm returned to normal.

    Attributes:
        time_us: At which reading. [µs UTC]
        value: The mean at that reading.
        extreme: The mean farthest beyond the limit while it lasted.
    """

    time_us: int
    value: float
    extreme: float


Change = Raised | Returned


class Mean(NamedTuple):
    """The mean at one reading, and whether a gap lies before it."""

    time_us: int
    value: float
    after_gap: bool


def step(
    condition: Condition,
    time_us: int,
    value: float,
    limit: float | None,
    *,
    direction: Direction,
    rule: AlarmRule,
) -> tuple[Condition, Change | None]:
    """Take one reading.

    Args:
        condition: What is known so far.
        time_us: The reading's time. [µs UTC] One not later than the last is ignored.
        value: What was read; NaN is ignored. [°C or %RH]
        limit: The limit at that time; None when no wheel asks anything, and then an alarm
            returns to normal at once.
        direction: The side of the limit on which the alarm lies.
        rule: How patient the alarm is.

    Returns:
        What is known now, and the change if there was one.
    """
    old = condition.last_us is not None and time_us <= condition.last_us
    if old or math.isnan(value):
        return condition, None
    after_gap = False
    mean = value
    if condition.last_us is not None and condition.smoothed is not None:
        dt_s = (time_us - condition.last_us) / US_PER_S
        after_gap = dt_s > rule.smoothing.gap_s
        mean = mean_step(condition.smoothed, value, dt_s, direction, rule.smoothing)
    return weigh(condition, Mean(time_us, mean, after_gap), limit, direction, rule)


def weigh(
    condition: Condition,
    mean: Mean,
    limit: float | None,
    direction: Direction,
    rule: AlarmRule,
) -> tuple[Condition, Change | None]:
    """Compare a mean with its limit: the part of `step` that comes after the smoothing."""
    time_us, value, after_gap = mean
    seen = replace(condition, smoothed=value, last_us=time_us)
    if condition.active:
        return _weigh_active(seen, mean, limit, direction, rule)
    if limit is None or past_limit(value, limit, direction) <= HAIR:
        return replace(seen, beyond_since_us=None, extreme=None), None
    if condition.beyond_since_us is None or after_gap:
        since_us, extreme = time_us, value
    else:
        since_us = condition.beyond_since_us
        extreme = farther(condition.extreme, value, direction)
    if time_us - since_us < rule.on_delay_s * US_PER_S:
        return replace(seen, beyond_since_us=since_us, extreme=extreme), None
    raised = replace(
        seen,
        beyond_since_us=None,
        active=True,
        raised_us=time_us,
        since_us=since_us,
        extreme=extreme,
    )
    return raised, Raised(time_us, value, since_us)


def _weigh_active(
    seen: Condition,
    mean: Mean,
    limit: float | None,
    direction: Direction,
    rule: AlarmRule,
) -> tuple[Condition, Change | None]:
    """Compare a mean with its limit while the alarm is raised."""
    time_us, value, after_gap = mean
    extreme = farther(seen.extreme, value, direction)
    if limit is not None:
        if past_limit(value, limit, direction) > HAIR - rule.deadband:
            return replace(seen, within_since_us=None, extreme=extreme), None
        within_us = seen.within_since_us
        since_us = time_us if within_us is None or after_gap else within_us
        if time_us - since_us < rule.off_delay_s * US_PER_S:
            return replace(seen, within_since_us=since_us, extreme=extreme), None
    normal = Condition(smoothed=value, last_us=time_us)
    return normal, Returned(time_us, value, extreme)


def farther(extreme: float | None, value: float, direction: Direction) -> float:
    """Whichever of the two lies farther out; a run beyond a limit always has an extreme."""
    assert extreme is not None
    return min(extreme, value) if direction is Direction.BELOW else max(extreme, value)

"""The life of an alarm after it is raised: its states, its priority, and the silent sensor.

States and events are those of ANSI/ISA-18.2 and IEC 62682 in plain words: UNACK, ACKED, RTNUN
and NORM of the standards are unacknowledged, acknowledged, returned unacknowledged and normal.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.ageing.values import Quantity
from service.ageing.verdict import SCALE
from service.errors import WheelwardError
from service.science.signals import US_PER_S


class AlarmState(StrEnum):
    """Where an alarm stands."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned unacknowledged"


class AlarmEvent(StrEnum):
    """What can happen to an alarm."""

    RAISED = "raised"
    RETURNED = "returned"
    ACKNOWLEDGE = "acknowledge"


class Priority(StrEnum):
    """How soon the maker should act."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


class WrongEventError(WheelwardError):
    """Something cannot happen to an alarm in that state."""


_NEXT: Final = {
    (AlarmState.NORMAL, AlarmEvent.RAISED): AlarmState.UNACKNOWLEDGED,
    (AlarmState.UNACKNOWLEDGED, AlarmEvent.ACKNOWLEDGE): AlarmState.ACKNOWLEDGED,
    (AlarmState.UNACKNOWLEDGED, AlarmEvent.RETURNED): AlarmState.RETURNED_UNACKNOWLEDGED,
    (AlarmState.ACKNOWLEDGED, AlarmEvent.RETURNED): AlarmState.NORMAL,
    (AlarmState.RETURNED_UNACKNOWLEDGED, AlarmEvent.ACKNOWLEDGE): AlarmState.NORMAL,
    (AlarmState.RETURNED_UNACKNOWLEDGED, AlarmEvent.RAISED): AlarmState.UNACKNOWLEDGED,
}


def next_state(state: AlarmState, event: AlarmEvent) -> AlarmState:
    """The state of an alarm after an event.

    Raises:
        WrongEventError: That cannot happen in that state.
    """
    try:
        return _NEXT[state, event]
    except KeyError:
        possible = ", ".join(e for (s, e) in _NEXT if s is state)
        raise WrongEventError(
            f'"{event}" cannot happen to an alarm that is {state}; possible: {possible}'
        ) from None


_LASTS_S: Final = 6 * 3600.0


def priority(quantity: Quantity, amount: float, duration_s: float) -> Priority:
    """How soon the maker should act, from how far and how long the air is out of range.

    Our choice: up to 1 K or 3 %RH beyond the limit is low, up to three times that is medium,
    more is high; lasting six hours or longer lifts it by one. A rind bears a little for a
    night, but neither much nor long.

    Args:
        quantity: What is out of range.
        amount: Distance beyond the limit. [K or %RH]
        duration_s: How long it has lasted. [s]

    Examples:
        >>> priority(Quantity.HUMIDITY, 2.0, duration_s=900)
        <Priority.LOW: 'low'>
    """
    weight = amount / SCALE[quantity]
    level = (0 if weight <= 1 else 1 if weight <= 3 else 2) + (duration_s >= _LASTS_S)  # noqa: PLR2004 - explained above
    return list(Priority)[min(level, 2)]


@dataclass(frozen=True, slots=True)
class SilenceRule:
    """When a sensor counts as silent; our choice.

    Attributes:
        at_least_s: Never before this. [s] A router that restarts takes some minutes.
        intervals: Nor before it has missed this many of its usual intervals.
    """

    at_least_s: float = 900.0
    intervals: float = 5.0


DEFAULT_SILENCE: Final = SilenceRule()


def silent_from_us(
    last_us: int | None,
    placed_since_us: int,
    interval_s: float,
    rule: SilenceRule = DEFAULT_SILENCE,
) -> int:
    """When a sensor counts as silent if nothing more comes from it.

    Args:
        last_us: Its last reading; None when there is none. [µs UTC]
        placed_since_us: Since when it has been in its space. [µs UTC] Silence before that
            time, in a drawer perhaps, does not count.
        interval_s: Its usual time between readings; 0 when that is not known. [s]
        rule: How patient to be.

    Returns:
        The time from which on it is silent. [µs UTC]
    """
    heard_us = placed_since_us if last_us is None else max(last_us, placed_since_us)
    return heard_us + round(max(rule.at_least_s, rule.intervals * interval_s) * US_PER_S)


def silent(
    last_us: int | None,
    placed_since_us: int,
    interval_s: float,
    now_us: int,
    rule: SilenceRule = DEFAULT_SILENCE,
) -> bool:
    """Whether a sensor is silent now; see `silent_from_us`."""
    return now_us >= silent_from_us(last_us, placed_since_us, interval_s, rule)

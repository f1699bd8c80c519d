"""The one place that asks what time it is.

Everything else receives the time as an argument or a clock as a dependency. A demo may
run its clock faster than the world's, so that a day of ageing passes in minutes.
"""

import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

US_PER_S = 1_000_000
"""Microseconds in a second; every stored time is an integer of microseconds, UTC."""
HOUR_US = 3_600 * US_PER_S
"""Microseconds in an hour."""
DAY_US = 24 * HOUR_US
"""Microseconds in a day of twenty-four hours."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Clock(Protocol):
    """Whatever can tell the time."""

    @property
    def speed(self) -> float:
        """How many seconds pass on this clock in one second of the world. [s/s]"""

    def now_us(self) -> int:
        """The time now. [µs since 1970, UTC]"""


@dataclass(frozen=True, slots=True)
class WorldClock:
    """The machine's own clock."""

    @property
    def speed(self) -> float:
        """One second a second."""
        return 1.0

    def now_us(self) -> int:
        """The time now. [µs since 1970, UTC]"""
        return time.time_ns() // 1_000


@dataclass(frozen=True, slots=True)
class DemoClock:
    """A clock that left the world's time at `started_us` and runs `speed` times as fast.

    Processes that are given the same two numbers agree on the time without talking.
    """

    started_us: int
    speed: float

    def now_us(self) -> int:
        """The time now. [µs since 1970, UTC]"""
        return self.started_us + round((WorldClock().now_us() - self.started_us) * self.speed)


def to_datetime(time_us: int) -> datetime:
    """The same instant as an aware datetime in UTC, exact to the microsecond."""
    return _EPOCH + timedelta(microseconds=time_us)


def zone_or_utc(name: str) -> ZoneInfo:
    """The time zone of that name; UTC when this machine knows none, for an alarm must go out.

    Examples:
        >>> str(zone_or_utc("Larch/Lane"))
        'UTC'
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return ZoneInfo("UTC")


def from_datetime(moment: datetime) -> int:
    """The same instant in microseconds since 1970, UTC.

    Raises:
        ValueError: The datetime carries no offset, so it names no instant.
    """
    if moment.utcoffset() is None:
        raise ValueError(f"{moment.isoformat()} has no UTC offset; write one, for example a Z")
    return (moment - _EPOCH) // timedelta(microseconds=1)

"""Times as text: ISO 8601 and seconds since 1970, exact to the microsecond.

Knows no clock: it never asks what time it is.
"""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

US_PER_S = 1_000_000

BEYOND_S = 10**10
"""Seconds from 1970 at which a time is nonsense, in either direction: the years 1653 and
2286. Our choice, so that every time that is let through can be written as a date; huge
exponents stop here before any arithmetic."""

_BEYOND = "a time lies beyond the years 1653 to 2286"

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_ONE_US = timedelta(microseconds=1)


def from_iso(text: str) -> int:
    """The instant that an ISO 8601 text names. [µs since 1970, UTC]

    Raises:
        ValueError: The text is no ISO 8601 time, names no instant for want of an offset, or
            one beyond the years 1653 to 2286.

    Examples:
        >>> from_iso("2026-11-25T12:00:00.5Z")
        1795608000500000
    """
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("the time has no UTC offset; write one, for example a Z at its end")
    time_us = (moment - _EPOCH) // _ONE_US
    if abs(time_us) >= BEYOND_S * US_PER_S:
        raise ValueError(_BEYOND)
    return time_us


def iso(time_us: int) -> str:
    """The instant as ISO 8601 in UTC, with a fraction only where there is one.

    Examples:
        >>> iso(1795608000500000)
        '2026-11-25T12:00:00.500000Z'
        >>> iso(0)
        '1970-01-01T00:00:00Z'
    """
    return (_EPOCH + timedelta(microseconds=time_us)).replace(tzinfo=None).isoformat() + "Z"


def seconds_text(time_us: int) -> str:
    """Microseconds as a decimal number of seconds, exact and as short as can be.

    Examples:
        >>> seconds_text(1276020076001000), seconds_text(-500_000), seconds_text(60_000_000)
        ('1276020076.001', '-0.5', '60')
    """
    seconds, rest = divmod(abs(time_us), US_PER_S)
    text = f"{seconds}.{rest:06d}".rstrip("0") if rest else str(seconds)
    return f"-{text}" if time_us < 0 else text


def whole_us(time: int | Decimal, unit_us: int = US_PER_S) -> int:
    """A number of seconds as whole microseconds, the nearest where it holds finer parts.

    Args:
        time: The number, however large: its size is looked at before its digits.
        unit_us: What it counts; seconds unless said otherwise. [µs]

    Raises:
        ValueError: The time lies beyond the years 1653 to 2286.

    Examples:
        >>> whole_us(Decimal("1276020076.001"))
        1276020076001000
    """
    beyond = BEYOND_S * US_PER_S // unit_us
    if not -beyond < time < beyond:
        raise ValueError(_BEYOND)
    if isinstance(time, int):
        return time * unit_us
    return int((time * unit_us).to_integral_value())

"""Times in JSON: ISO 8601 text outside, integer microseconds inside."""

import re
from typing import Annotated, Final

from pydantic import BeforeValidator, PlainSerializer, WithJsonSchema

from sensors.moments import from_iso, iso

_LONGEST: Final = 40
_SHAPE: Final = re.compile(r"[0-9W-]+[Tt ][0-9:.,]+([Zz]|[+-][0-9:]+)")
"""Python takes any sign between day and time; ISO 8601 has a T there, and RFC 3339 suffers a
blank."""
_LATEST_US: Final = from_iso("2200-01-01T00:00:00Z")
"""Our choice: no cheese ages longer. The earliest is 1970, where the count begins."""


def _parse(value: object) -> int:
    """The instant that was asked for or entered.

    Raises:
        ValueError: It is no instant, or beyond the years 1970 to 2200.
    """
    text = value if isinstance(value, str) and len(value) <= _LONGEST else ""
    try:
        time_us = from_iso(text if _SHAPE.fullmatch(text) else "")
    except (ValueError, OverflowError):
        raise ValueError(
            "write a time as ISO 8601 with its offset from UTC, such as 2026-11-25T12:00:00Z"
        ) from None
    if not 0 <= time_us < _LATEST_US:
        raise ValueError("a time lies between the years 1970 and 2200")
    return time_us


_SCHEMA: Final = {"type": "string", "format": "date-time"}

GivenInstant = Annotated[int, BeforeValidator(_parse), WithJsonSchema(_SCHEMA)]
"""A time that comes in. [µs UTC inside]"""
Instant = Annotated[int, PlainSerializer(iso, return_type=str), WithJsonSchema(_SCHEMA)]
"""A time that goes out. [µs UTC inside]"""

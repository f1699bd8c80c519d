"""How the maker's clock reads in words, in notices and on pages alike.

Takes local times as they come; knows neither the zone nor what time it is.
"""

# ruff: noqa: RUF001, RUF002 - the reader gets a real minus sign

from datetime import date, datetime, timedelta
from typing import Final

# Written out, because strftime would take the names from the machine's locale.
_DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS: Final = (
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun"),
    *("Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
)


def day_words(local: date) -> str:
    """The day: "Wed 25 Nov"."""
    return f"{_DAYS[local.weekday()]} {local.day} {_MONTHS[local.month - 1]}"


def clock_words(local: datetime) -> str:
    """The time of day; in the hour that comes twice in autumn, with its offset: "02:30 (UTC+2)"."""
    shown = f"{local.hour:02}:{local.minute:02}"
    return f"{shown} ({_offset(local)})" if _comes_twice(local) else shown


def moment_words(local: datetime) -> str:
    """The time with its day: "Wed 25 Nov 14:32"."""
    return f"{day_words(local)} {clock_words(local)}"


def _offset(local: datetime) -> str:
    """How far a local time is from UTC: "UTC+1", "UTC−3:30"."""
    minutes = round((local.utcoffset() or timedelta()) / timedelta(minutes=1))
    hours, rest = divmod(abs(minutes), 60)
    sign = "−" if minutes < 0 else "+"
    return f"UTC{sign}{hours}:{rest:02}" if rest else f"UTC{sign}{hours}"


def _comes_twice(local: datetime) -> bool:
    """Whether the same wall time comes twice on that day."""
    early, late = local.replace(fold=0), local.replace(fold=1)
    return (early.utcoffset() or timedelta()) > (late.utcoffset() or timedelta())

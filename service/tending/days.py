"""From instants to days of the household's calendar, and back.

The rules of ageing count in days of the calendar in the household's zone. A night in which the
clocks change is 23 or 25 hours long, and still one night.
"""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from service.clock import from_datetime, to_datetime


def day_of(time_us: int, zone: ZoneInfo) -> date:
    """The day of the calendar on which an instant falls.

    Examples:
        >>> day_of(1_792_879_200_000_000, ZoneInfo("Europe/Vienna"))
        datetime.date(2026, 10, 25)
    """
    return to_datetime(time_us).astimezone(zone).date()


def start_of_day_us(day: date, zone: ZoneInfo) -> int:
    """The first instant of a day; where midnight is skipped, the instant of the leap.

    Examples:
        >>> start_of_day_us(date(2026, 10, 25), ZoneInfo("Europe/Vienna"))
        1792879200000000
    """
    # Where midnight comes twice, fold 0 is the first; where it is skipped, fold 0 counts with
    # the offset from before the leap, which names the very instant of the leap.
    return from_datetime(datetime.combine(day, time(), zone))


def noon_us(day: date, zone: ZoneInfo) -> int:
    """Noon of a day, as it stands on the household's clock; no clock leaps at noon.

    It is where something is kept of which only the day is known.
    """
    return from_datetime(datetime.combine(day, time(12), zone))


def days_after(day: date, number: int) -> date:
    """The day so many days later; the last day of the calendar where there is none.

    Examples:
        >>> days_after(date(2026, 12, 31), 1)
        datetime.date(2027, 1, 1)
    """
    return day + timedelta(days=min(number, (date.max - day).days))

"""From instants to days of the household's calendar, and back.

The rules of ageing count in days of the calendar in the household's zone. A night in which the
clocks change is 23 or 25 hours long, and still one night. A household that takes another zone
keeps the days of what it did before.
"""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from service.clock import from_datetime, to_datetime


@dataclass(frozen=True, slots=True)
class Zones:
    """The zones of a household's calendar.

    Attributes:
        now: The one that holds.
        held: Those before, each with the instant until which it held, in the order of time.
    """

    now: ZoneInfo
    held: tuple[tuple[int, ZoneInfo], ...] = ()

    def at(self, time_us: int) -> ZoneInfo:
        """The zone that held at an instant."""
        return next((zone for until_us, zone in self.held if time_us < until_us), self.now)


def day_of(time_us: int, zones: Zones | ZoneInfo) -> date:
    """The day of the calendar on which an instant falls.

    Examples:
        >>> day_of(1_792_879_200_000_000, ZoneInfo("Europe/Vienna"))
        datetime.date(2026, 10, 25)
    """
    zone = zones.at(time_us) if isinstance(zones, Zones) else zones
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


def noon_us(day: date, zones: Zones | ZoneInfo) -> int:
    """Noon of a day, as it stood on the household's clock; no clock leaps at noon.

    It is where something is kept of which only the day is known.
    """
    if isinstance(zones, ZoneInfo):
        return _noon_us(day, zones)
    for zone in (*(held for _, held in zones.held), zones.now):
        found_us = _noon_us(day, zone)
        if day_of(found_us, zones) == day:
            return found_us
    # The noon of a day that a change of zone has left out: some hour of its neighbour.
    return _noon_us(day, zones.now)


def _noon_us(day: date, zone: ZoneInfo) -> int:
    return from_datetime(datetime.combine(day, time(12), zone))


def days_after(day: date, number: int) -> date:
    """The day so many days later; the last day of the calendar where there is none.

    Examples:
        >>> days_after(date(2026, 12, 31), 1)
        datetime.date(2027, 1, 1)
    """
    return day + timedelta(days=min(number, (date.max - day).days))

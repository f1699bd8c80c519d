"""Ticks of a time axis: whole hours and days of the household's own wall clock.

Wall time has days of 23 and 25 hours, so ticks are counted on the wall and then turned into
instants; an hour that a spring change leaves out gets no tick.
"""

from collections.abc import Iterator
from datetime import datetime, time, timedelta

from dashboards.drawings.air import Tick
from dashboards.words import Words
from service.clock import US_PER_S, from_datetime

_HOUR_S = 3_600
_STEPS_H = (1, 2, 3, 6, 12, 24, 48, 168, 336, 672, 1344, 2688, 5376)


def ticks(from_us: int, to_us: int, words: Words, most: int) -> tuple[Tick, ...]:
    """At most about `most` ticks between two times, each with its words.

    Midnights carry their day, other hours the time of day.
    """
    hours = (to_us - from_us) / US_PER_S / _HOUR_S
    step_h = next((step for step in _STEPS_H if hours / step <= most), _STEPS_H[-1])
    return tuple(
        Tick(time_us, words.day(time_us) if _is_midnight(time_us, words) else words.clock(time_us))
        for time_us in _on_the_wall(from_us, to_us, step_h, words)
    )


def midnights(from_us: int, to_us: int, words: Words) -> list[int]:
    """The midnight before `from_us`, and each one after it up to the first past `to_us`."""
    day = words.local(from_us).date()
    found: list[int] = []
    while not found or found[-1] <= to_us:
        found.append(from_datetime(datetime.combine(day, time(), words.zone)))
        day += timedelta(days=1)
    return found


def _on_the_wall(from_us: int, to_us: int, step_h: int, words: Words) -> Iterator[int]:
    first = words.local(from_us).replace(hour=0, minute=0, second=0, microsecond=0)
    wall = datetime.combine(first.date(), first.time())
    while True:
        moment = wall.replace(tzinfo=words.zone)
        time_us = from_datetime(moment)
        if time_us > to_us:
            return
        # A wall time that does not exist comes back as another one.
        exists = words.local(time_us).replace(tzinfo=None) == wall
        if time_us >= from_us and exists:
            yield time_us
        wall += timedelta(hours=step_h)


def _is_midnight(time_us: int, words: Words) -> bool:
    moment = words.local(time_us)
    return moment.hour == 0 and moment.minute == 0

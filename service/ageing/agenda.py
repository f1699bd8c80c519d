"""What lies ahead for a calendar: care as it will recur, and the days on which gates are asked.

It supposes that each care is done on its expected day; whatever else happens, the agenda is made
anew from what was entered. Knows no clock and no zone.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.ageing.gates import GateStanding
from service.ageing.schedule import Due
from service.ageing.work import CareRule


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One time that a care comes up.

    Attributes:
        due: The care as it is due now.
        number: 0 for the due itself, 1 for the time after it, and so on.
        rule: The rule that asks on this occasion.
        opens: Not before.
        day: When it is done; never in the past.
        latest: Overdue from the day after this one; past when it is overdue now.
    """

    due: Due
    number: int
    rule: CareRule
    opens: date
    day: date
    latest: date


@dataclass(frozen=True, slots=True)
class GateAsk:
    """The day on which a wheel's gate is asked; never in the past."""

    wheel: int
    day: date
    standing: GateStanding


@dataclass(frozen=True, slots=True)
class Agenda:
    """What lies ahead, by day."""

    care: tuple[Occurrence, ...]
    gates: tuple[GateAsk, ...]


def agenda(
    due: Sequence[Due], gates: Mapping[int, GateStanding], today: date, until: date
) -> Agenda:
    """What lies ahead up to a day, that day included.

    Args:
        due: What is due, as `schedule.due` tells.
        gates: How wheels stand before their gates, by the number of the wheel.
        today: Which day it is.
        until: The last day to tell of.
    """
    care = [each for item in due for each in _occurrences(item, today, until)]
    asks = [
        GateAsk(wheel, max(standing.ask_on, today), standing) for wheel, standing in gates.items()
    ]
    return Agenda(
        care=tuple(sorted(care, key=_by_day)),
        gates=tuple(
            sorted((ask for ask in asks if ask.day <= until), key=lambda ask: (ask.day, ask.wheel))
        ),
    )


def _occurrences(due: Due, today: date, until: date) -> Iterator[Occurrence]:
    opens, day, latest, rule = due.opens, max(due.expected, today), due.latest, due.rule
    number = 0
    while day <= until:
        yield Occurrence(due, number, rule, opens, day, latest)
        if due.then is None or due.then.every is None:
            return
        number, rule, every, done = number + 1, due.then, due.then.every, day
        # Nothing is asked for again on the day on which it was done.
        opens, day, latest = (
            done + timedelta(days=max(1, days))
            for days in (every.earliest, every.expected, every.latest)
        )


def _by_day(item: Occurrence) -> tuple[date, str, int, str, int]:
    subject = item.due.subject
    return item.day, subject.place, subject.number, item.due.work, item.number

"""The calendar as text by RFC 5545, composed by the icalendar package.

A visit and a question are all-day events, a task is a to-do. All-day values carry dates and no
zone, so that they stay on their day wherever the phone is. Reminders ring at 9 in the morning:
of a visit and a question on their day, of a task on its last day only, for the visit before it
has rung already; what is only foreseen does not ring.
"""

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Event, Todo
from icalendar.prop import vText

from service.ageing.diary import DiaryEntry, DiaryKind
from service.clock import to_datetime
from service.store.calendar import SaidEntry

_PRODUCT: Final = "-//Wheelward//Ageing schedule//EN"
_REMINDER: Final = time(9)
"""Our choice: after breakfast, before the day has its own plans."""
_REFRESH: Final = timedelta(hours=1)
_DAY: Final = timedelta(days=1)
_MARKED: Final = re.compile(r"[\\;,]")
_LINE_END: Final = re.compile(r"\r\n?|\n")
_CONTROL: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


class _Text(vText):
    r"""Text written as it stands: the package's own turns a typed ``\N`` into a line end."""

    __slots__ = ()

    def to_ical(self) -> bytes:
        """The text by RFC 5545, section 3.3.11."""
        escaped = _MARKED.sub(r"\\\g<0>", _CONTROL.sub("", self))
        return _LINE_END.sub(r"\\n", escaped).encode()


def calendar_text(
    said: Iterable[SaidEntry], *, name: str, zone: ZoneInfo, household: str, address: str
) -> bytes:
    """The calendar.

    Args:
        said: Its entries with how often each has changed.
        name: What the calendar is called.
        zone: The household's time zone, for the reminders of to-dos.
        household: Its short name, which makes the identifiers its own.
        address: Where the pages are, without a slash at the end.

    Returns:
        Text by RFC 5545: UTF-8, lines of 75 octets, CRLF.
    """
    calendar = Calendar()
    calendar.add("prodid", _PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    # RFC 7986, sections 5.1 and 5.7.
    calendar.add("name", _Text(name))
    calendar.add("refresh-interval", _REFRESH, parameters={"VALUE": "DURATION"})
    for each in said:
        part = _todo(each, zone) if each.entry.kind is DiaryKind.TASK else _event(each)
        _complete(part, each, f"{each.entry.key}@{household}.wheelward", address)
        calendar.add_component(part)
    text: bytes = calendar.to_ical()
    return text


def _event(said: SaidEntry) -> Event:
    event, entry = Event(), said.entry
    event.add("dtstart", entry.day)
    event.add("dtend", entry.day + _DAY)
    event.add("transp", "TRANSPARENT")
    event.add("status", _event_status(said))
    if not (said.is_removed or entry.is_estimate):
        at = timedelta(hours=_REMINDER.hour, minutes=_REMINDER.minute)
        event.add_component(_alarm(entry, at))
    return event


def _event_status(said: SaidEntry) -> str:
    if said.is_removed:
        return "CANCELLED"
    return "TENTATIVE" if said.entry.is_estimate else "CONFIRMED"


def _todo(said: SaidEntry, zone: ZoneInfo) -> Todo:
    todo, entry = Todo(), said.entry
    # RFC 5545, 3.8.2.3: a to-do is due after it starts, never on the same day.
    if entry.opens is not None and entry.opens < entry.day:
        todo.add("dtstart", entry.opens)
    todo.add("due", entry.day)
    if said.is_removed:
        todo.add("status", "CANCELLED")
    elif entry.done_us is not None:
        todo.add("status", "COMPLETED")
        todo.add("completed", to_datetime(entry.done_us))
        todo.add("percent-complete", 100)
    else:
        todo.add("status", "NEEDS-ACTION")
        if not entry.is_estimate:
            last = max(entry.day, entry.latest or entry.day)
            todo.add_component(_alarm(entry, _reminder(last, zone)))
    return todo


def _reminder(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, _REMINDER, zone).astimezone(UTC)


def _alarm(entry: DiaryEntry, trigger: timedelta | datetime) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", _Text(entry.title))
    # A trigger is a duration unless it says that it is an instant (RFC 5545, 3.8.6.3).
    kind = {"VALUE": "DATE-TIME"} if isinstance(trigger, datetime) else {}
    alarm.add("trigger", trigger, parameters=kind)
    return alarm


def _complete(part: Event | Todo, said: SaidEntry, uid: str, address: str) -> None:
    entry, changed = said.entry, to_datetime(said.modified_us)
    part.add("uid", uid)
    part.add("dtstamp", changed)
    part.add("last-modified", changed)
    part.add("sequence", said.sequence)
    part.add("summary", _Text(entry.title))
    part.add("url", address + entry.path)
    if entry.words:
        part.add("description", _Text(entry.words))

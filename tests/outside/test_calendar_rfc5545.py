"""The calendar's text against RFC 5545 (2009), by two parsers that are not ours.

The icalendar package composes it, so the second parser, vobject, is the outside check; what
neither of them looks at (line ends, length of lines) is checked here against section 3.1.
"""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest
import vobject
from hypothesis import example, given
from hypothesis import strategies as st
from icalendar.alarms import Alarms

from service.ageing.diary import DiaryEntry, DiaryKind
from service.api.calendar_text import calendar_text
from service.clock import from_datetime
from service.store.calendar import SaidEntry

CHANGED_US = from_datetime(datetime(2026, 11, 25, 14, 32, tzinfo=UTC))
VISIT = DiaryEntry(
    key="visit-1-2026-11-27",
    kind=DiaryKind.VISIT,
    title="Cave: turn Blue 1, 2 and 3; air the blue box",
    words="One opening serves 4 works.",
    path="/care",
    day=date(2026, 11, 27),
)
TURN = DiaryEntry(
    key="turn-wheel-4-2026-11-20",
    kind=DiaryKind.TASK,
    title="Turn Tomme 1",
    words="Weekly; last done 20 Nov.",
    path="/wheels/4",
    day=date(2026, 11, 27),
    opens=date(2026, 11, 24),
    latest=date(2026, 11, 28),
)


def text_of(*entries: DiaryEntry, sequence: int = 0, is_removed: bool = False) -> bytes:
    said = [SaidEntry(entry, sequence, CHANGED_US, is_removed) for entry in entries]
    return calendar_text(
        said,
        name="Larch Lane: cheese",
        zone=ZoneInfo("Europe/Vienna"),
        household="larch-lane",
        address="https://cave.example",
    )


def parts(text: bytes, name: str) -> list[Any]:
    return [*icalendar.Calendar.from_ical(text).walk(name)]


def test_second_parser_finds_the_calendar_valid_and_reads_what_was_meant() -> None:
    read = vobject.readOne(text_of(VISIT, TURN).decode())

    assert read.validate(raiseException=True)
    assert read.vevent.summary.value == VISIT.title
    assert read.vevent.dtstart.value == date(2026, 11, 27)
    assert read.vevent.dtend.value == date(2026, 11, 28)
    assert read.vtodo.due.value == date(2026, 11, 27)
    assert read.vtodo.dtstart.value == date(2026, 11, 24)
    assert read.vtodo.uid.value == "turn-wheel-4-2026-11-20@larch-lane.wheelward"
    assert read.vtodo.valarm.action.value == "DISPLAY"


def test_lines_end_and_fold_as_section_3_1_says() -> None:
    long = replace(VISIT, title="Höhle: wenden, lüften, tupfen; " * 9)
    lines = text_of(long).split(b"\r\n")

    assert lines[-1] == b""
    assert all(len(line) <= 75 for line in lines)
    assert not any(b"\n" in line or b"\r" in line for line in lines)


def test_every_component_has_what_section_3_6_requires() -> None:
    text = text_of(VISIT, TURN)
    (calendar,) = parts(text, "VCALENDAR")

    assert calendar["version"] == "2.0"
    assert calendar["prodid"]
    for part in (*parts(text, "VEVENT"), *parts(text, "VTODO")):
        assert part["uid"]
        assert part["dtstamp"].dt == datetime(2026, 11, 25, 14, 32, tzinfo=UTC)
    for alarm in parts(text, "VALARM"):
        assert alarm["trigger"] is not None
        assert alarm["description"]


def test_visit_rings_at_nine_of_its_day_wherever_the_phone_is() -> None:
    (event,) = parts(text_of(VISIT), "VEVENT")
    alarms = Alarms(event)
    alarms.set_local_timezone("Australia/Lord_Howe")
    (alarm,) = alarms.times

    assert alarm.trigger == datetime(2026, 11, 27, 9, tzinfo=ZoneInfo("Australia/Lord_Howe"))


@pytest.mark.parametrize(
    ("day", "utc_hour"),
    [
        # Daylight saving ended on 25 October 2026 in Vienna, and begins on 28 March 2027.
        (date(2026, 10, 24), 7),
        (date(2026, 10, 25), 8),
        (date(2027, 3, 27), 8),
        (date(2027, 3, 28), 7),
    ],
)
def test_task_rings_at_nine_of_the_household_on_both_sides_of_a_clock_change(
    day: date, utc_hour: int
) -> None:
    due = replace(TURN, day=day, latest=day, opens=date(2026, 10, 1))
    (todo,) = parts(text_of(due), "VTODO")
    (alarm,) = Alarms(todo).times

    assert alarm.trigger == datetime(day.year, day.month, day.day, utc_hour, tzinfo=UTC)
    assert todo["due"].dt == day
    # Section 3.8.6.3: an instant must say that it is one, for a trigger is a duration otherwise.
    assert b"TRIGGER;VALUE=DATE-TIME:" in text_of(due)


def test_task_rings_on_its_last_day_and_an_estimate_never() -> None:
    (todo,) = parts(text_of(TURN), "VTODO")
    (foreseen,) = parts(text_of(replace(TURN, is_estimate=True)), "VTODO")
    (alarm,) = Alarms(todo).times

    assert alarm.trigger == datetime(2026, 11, 28, 8, tzinfo=UTC)
    assert foreseen.walk("VALARM") == []


def test_visit_that_is_only_foreseen_is_tentative_and_rings_never() -> None:
    # Section 3.8.1.11: "TENTATIVE" is a status of an event and of no to-do.
    text = text_of(replace(VISIT, is_estimate=True), replace(TURN, is_estimate=True))
    (event,), (todo,) = parts(text, "VEVENT"), parts(text, "VTODO")
    read = vobject.readOne(text.decode())

    assert (event["status"], todo["status"]) == ("TENTATIVE", "NEEDS-ACTION")
    assert event.walk("VALARM") == todo.walk("VALARM") == []
    assert read.validate(raiseException=True)
    assert read.vevent.status.value == "TENTATIVE"


def test_task_that_opens_on_its_day_has_no_start_that_equals_its_due() -> None:
    (todo,) = parts(text_of(replace(TURN, opens=TURN.day)), "VTODO")

    assert "dtstart" not in todo


def test_done_task_is_completed_and_rings_no_more() -> None:
    (todo,) = parts(text_of(replace(TURN, done_us=CHANGED_US)), "VTODO")

    assert todo["status"] == "COMPLETED"
    assert todo["completed"].dt == datetime(2026, 11, 25, 14, 32, tzinfo=UTC)
    assert todo.walk("VALARM") == []


@pytest.mark.parametrize(("entry", "part"), [(VISIT, "VEVENT"), (TURN, "VTODO")])
def test_entry_that_was_taken_out_is_cancelled_under_its_own_identifier(
    entry: DiaryEntry, part: str
) -> None:
    (read,) = parts(text_of(entry, sequence=3, is_removed=True), part)

    assert read["status"] == "CANCELLED"
    assert read["sequence"] == 3
    assert read["uid"] == f"{entry.key}@larch-lane.wheelward"
    assert read.walk("VALARM") == []


@given(st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=200))
@example("Old\\New")
@example("a\\nb")
@example("\\\\N;\\,")
@example("a\u2028b\x85")
def test_any_title_comes_out_as_it_went_in(title: str) -> None:
    text = text_of(replace(VISIT, title=title))
    (event,) = parts(text, "VEVENT")

    assert event["summary"] == title
    assert all(len(line) <= 75 for line in text.split(b"\r\n"))


def test_line_ends_of_any_make_become_one_and_control_characters_go() -> None:
    # Section 3.3.11: TEXT holds no control character but the tab; a line end is written as "\\n".
    text = text_of(replace(VISIT, words="dry\r\nfaces\rand\nlids\x00\x1b\x7f\tdone"))

    assert vobject.readOne(text.decode()).vevent.description.value == "dry\nfaces\nand\nlids\tdone"

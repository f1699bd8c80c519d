"""Visits of two weeks in the calendar: they keep their names as those before are made or move."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import icalendar
import pytest
import vobject

from service.ageing.diary import DiaryEntry, DiaryKind
from service.ageing.tended import Outcome
from service.ageing.work import Place
from service.api import care_actions
from service.api.calendar_text import calendar_text
from service.api.care_actions import Given, Touch
from service.api.context import Context
from service.store import calendar, gates, wheels
from service.store.calendar import SaidEntry
from service.store.database import Session
from service.tending.care import care_now
from service.tending.diary import diary
from service.tending.facts import zones_of
from tests.builders import (
    DAY_US,
    HOUR_US,
    NOW_US,
    add_batch,
    add_one_wheel,
    add_space,
    empty_home,
    steady,
)

TODAY = date(2026, 11, 25)
CAVE = 1
SOON_US = NOW_US + HOUR_US


@dataclass
class Home:
    """One tomme in one cave, of which everything is overdue."""

    context: Context
    session: Session

    def visits(self, days: int = 0) -> dict[str, DiaryEntry]:
        """The visits as the calendar tells them so many days from now."""
        found = diary(self.session, self.context.plans, NOW_US + days * DAY_US)
        return {each.key: each for each in found if each.kind is DiaryKind.VISIT}

    def makes_visit(self, days: int = 0) -> str:
        """All that the visit of that day asks for is done; the name of the touch."""
        now_us = NOW_US + days * DAY_US
        now = care_now(self.session, self.context.plans, now_us)
        (visit,) = [each for each in now.visits if each.day == now.today]
        given = [
            Given(each.work, Outcome.DONE, space_id=each.subject.number)
            if each.subject.place is Place.BOX
            else Given(each.work, Outcome.DONE, (each.subject.number,))
            for each in visit.due
        ]
        touch = f"a-visit-on-day-{days}"
        care_actions.enter_all(self.session, given, Touch(touch, "Ann", now_us))
        return touch

    def feed(self, days: int = 0) -> dict[str, SaidEntry]:
        now_us = NOW_US + days * DAY_US
        entries = diary(self.session, self.context.plans, now_us)
        return {each.entry.key: each for each in calendar.said(self.session, entries, now_us)}


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    context = empty_home(tmp_path)
    with context.sessions() as session:
        add_one_wheel(session, steady(88.0))
        yield Home(context, session)


def days_of(visits: dict[str, DiaryEntry]) -> list[int]:
    return [(each.day - TODAY).days for each in visits.values()]


def test_calendar_tells_the_visits_of_two_weeks_and_which_are_foreseen(home: Home) -> None:
    visits = home.visits()
    first, *later = visits.values()

    # Every fifth day serves all: turning and brushing wait for the look, up to half their way.
    assert days_of(visits) == [0, 5, 10]
    assert not first.is_estimate
    assert all(each.is_estimate and each.title.endswith(" (foreseen)") for each in later)
    assert "Foreseen: turn, Tomme 1." in later[0].words


@pytest.mark.parametrize("late", [0, 1, 2])
def test_visit_keeps_its_name_when_the_one_before_is_made_late(home: Home, late: int) -> None:
    before = home.visits()
    home.makes_visit(late)
    after = home.visits(late)
    first, *later = before

    assert first not in after
    assert [*after][: len(later)] == later
    assert [(after[key].day - before[key].day).days for key in later] == [late] * len(later)


def test_visit_that_moved_counts_its_changes_under_one_identifier(home: Home) -> None:
    before = home.feed()
    home.makes_visit(1)
    after = home.feed(1)
    first, *later = [key for key in before if key.startswith("visit-")]

    assert after[first].is_removed
    for key in later:
        assert not after[key].is_removed
        assert after[key].sequence == before[key].sequence + 1
        assert after[key].entry.day == before[key].entry.day + timedelta(days=1)


def test_visit_that_is_undone_gives_back_the_names_of_before(home: Home) -> None:
    before = home.visits()
    touch = home.makes_visit()
    made = home.visits()
    care_actions.undo(home.session, touch)

    assert [*made] != [*before]
    assert home.visits() == before


def test_visit_that_has_begun_keeps_its_name_until_it_is_over(home: Home) -> None:
    before = home.visits()
    now = care_now(home.session, home.context.plans, NOW_US)
    one, *_ = now.visits[0].due
    done = Given(one.work, Outcome.DONE, (one.subject.number,))
    care_actions.enter_care(home.session, done, Touch("only-one-of-it", "Ann", NOW_US))
    begun = home.visits()

    name = next(iter(before))
    assert next(iter(begun)) == name
    assert begun[name].day == TODAY


def test_visit_entered_on_the_next_day_as_made_yesterday_moves_no_name(home: Home) -> None:
    before = home.visits()
    now = care_now(home.session, home.context.plans, NOW_US)
    given = [
        Given(each.work, Outcome.DONE, (each.subject.number,), at=TODAY)
        for each in now.visits[0].due
    ]
    care_actions.enter_all(home.session, given, Touch("entered-a-day-late", "Ann", NOW_US + DAY_US))
    after = home.visits(1)
    later = [*before][1:]

    assert [*after][: len(later)] == later
    assert all(after[key].day == before[key].day for key in later)


def test_wheel_that_goes_elsewhere_takes_no_number_with_it(home: Home) -> None:
    home.makes_visit()
    wheels.place_wheel(home.session, 1, add_space(home.session, 1, "shed", "Shed", "cave"), SOON_US)
    there = next(iter(home.visits(1)))
    wheels.place_wheel(home.session, 1, CAVE, SOON_US + DAY_US)
    back = next(iter(home.visits(2)))

    # Its moves have opened both; what was done in the cave before still counts for the cave.
    assert (there, back) == ("visit-2-2", f"visit-{CAVE}-3")


def test_batch_that_has_ended_takes_no_number_with_it(home: Home) -> None:
    home.makes_visit()
    home.makes_visit(5)
    gates.end_wheel(home.session, 1, "eaten", NOW_US + 6 * DAY_US)
    ended = home.visits(6)
    add_batch(home.session, 1, "Second", "tomme", 41, [(190, 75, 1950)], CAVE, "ripening")

    assert ended == {}
    # Another wheel in the same cave goes on counting where the first one stopped.
    assert next(iter(home.visits(6))) == f"visit-{CAVE}-3"


def test_feed_marks_foreseen_visits_as_tentative_without_alarm_for_two_parsers(home: Home) -> None:
    said = home.feed()
    text = calendar_text(
        said.values(),
        name="Tomme: cheese",
        zone=zones_of(home.session).now,
        household="home",
        address="https://cave.example",
    )
    found: list[Any] = [*icalendar.Calendar.from_ical(text).walk("VEVENT")]
    events = [each for each in found if each["uid"].startswith("visit-")]
    read = vobject.readOne(text.decode())

    # RFC 5545, 3.8.1.11: TENTATIVE and CONFIRMED are states of an event.
    assert [str(each["status"]) for each in events] == ["CONFIRMED", *["TENTATIVE"] * 2]
    assert [len(each.walk("VALARM")) for each in events] == [1, 0, 0]
    assert read.validate(raiseException=True)
    assert {each.uid.value for each in read.vevent_list} >= {str(each["uid"]) for each in events}

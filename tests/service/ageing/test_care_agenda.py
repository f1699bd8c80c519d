"""The agenda for a calendar, against the schedule lived through day by day."""

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from service.ageing.agenda import agenda
from service.ageing.gates import standing
from service.ageing.schedule import Outcome, due
from service.ageing.tended import Entry, Subject, WheelDays
from service.ageing.work import Gate, Place, Work
from tests.care_builders import (
    BEGAN,
    MADE,
    TODAY,
    day,
    days,
    entry,
    every,
    histories,
    households,
    once,
    wheel,
)

UNTIL = TODAY + timedelta(days=25)


def test_a_weekly_turn_comes_up_every_week() -> None:
    found = agenda(due([wheel(every(Work.TURN))], [], day(0)), {}, day(0), day(28))

    assert [each.day for each in found.care] == [day(7), day(14), day(21), day(28)]
    assert [each.number for each in found.care] == [0, 1, 2, 3]
    assert (found.care[1].opens, found.care[1].latest) == (day(12), day(16))


def test_what_is_overdue_comes_up_today_and_then_counts_from_today() -> None:
    found = agenda(due([wheel(every(Work.TURN))], [], day(20)), {}, day(20), day(30))

    assert [each.day for each in found.care] == [day(20), day(27)]


def test_a_one_off_comes_up_once() -> None:
    dues = due([wheel(once(Work.PIERCE, days(2, 3, 5)))], [], day(0))

    assert [each.day for each in agenda(dues, {}, day(0), day(60)).care] == [day(3)]


def test_a_gate_comes_up_on_the_day_on_which_it_is_asked_and_no_earlier_than_today() -> None:
    gate = Gate("What must be seen.", days(7, 10, 14))
    gates = {1: standing(gate, MADE, BEGAN, [], [], day(0))}
    late = {1: standing(gate, MADE, BEGAN, [], [], day(20))}

    assert [ask.day for ask in agenda([], gates, day(0), day(30)).gates] == [day(10)]
    assert agenda([], gates, day(0), day(9)).gates == ()
    assert [ask.day for ask in agenda([], late, day(20), day(30)).gates] == [day(20)]


@settings(max_examples=25)
@given(households(), histories)
def test_the_agenda_is_what_comes_of_doing_each_on_its_day(
    wheels: tuple[WheelDays, ...], entered: list[Entry]
) -> None:
    told = agenda(due(wheels, entered, TODAY), {}, TODAY, UNTIL)
    # Piercing ends a call for piercing again, which the agenda cannot know of.
    care = set(Work) - {Work.PIERCE_AGAIN}

    assert {
        (each.day, each.due.work, each.due.subject) for each in told.care if each.due.work in care
    } == _lived(wheels, entered, care)


def _lived(
    wheels: tuple[WheelDays, ...], entered: list[Entry], care: set[Work]
) -> set[tuple[date, Work, Subject]]:
    held, lived, today = list(entered), set(), TODAY
    while today <= UNTIL:
        for item in due(wheels, held, today):
            if item.work in care and item.expected <= today:
                lived.add((today, item.work, item.subject))
                held.append(Entry(item.work, item.subject, Outcome.DONE, today, None, order=99))
        today += timedelta(days=1)
    return lived


@settings(max_examples=25)
@given(households(), histories, st.integers(0, 30))
def test_the_agenda_never_lies_in_the_past_and_names_each_time_once(
    wheels: tuple[WheelDays, ...], entered: list[Entry], ahead: int
) -> None:
    until = TODAY + timedelta(days=ahead)
    care = agenda(due(wheels, entered, TODAY), {}, TODAY, until).care

    assert all(TODAY <= each.day <= until for each in care)
    assert len({(each.day, each.due.work, each.due.subject) for each in care}) == len(care)


def test_care_of_a_box_recurs_by_its_strictest_wheel() -> None:
    calm = wheel(every(Work.AIR_BOX), number=1, box=50)
    airy = wheel(every(Work.AIR_BOX, days(1, 3, 4)), number=2, box=50)
    dues = due([calm, airy], [entry(Work.AIR_BOX, day(0), number=50)], day(0))

    assert [each.day for each in agenda(dues, {}, day(0), day(9)).care] == [day(3), day(6), day(9)]
    assert dues[0].subject == Subject(Place.BOX, 50)

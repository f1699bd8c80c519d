"""Care as it recurs, against the schedule lived through day by day."""

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from service.ageing.occurrences import Occurrence, own_days
from service.ageing.schedule import Due, Outcome, due
from service.ageing.tended import Entry, Subject, WheelDays
from service.ageing.work import Place, Work
from tests.care_builders import (
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


def only(found: tuple[Due, ...]) -> Due:
    (one,) = found
    return one


def test_a_weekly_turn_comes_up_every_week() -> None:
    turn = only(due([wheel(every(Work.TURN))], [], day(0)))

    assert [*own_days(turn, day(0), day(28))] == [day(7), day(14), day(21), day(28)]


def test_what_follows_counts_its_whole_window_from_the_day_on_which_it_is_done() -> None:
    turn = Occurrence.of(only(due([wheel(every(Work.TURN))], [], day(0))))
    after = turn.following(day(9))

    assert after is not None
    assert (after.opens, after.expected, after.latest) == (day(14), day(16), day(18))
    assert (turn.is_foreseen, after.is_foreseen, after.number) == (False, True, 1)


def test_what_is_overdue_comes_up_today_and_then_counts_from_today() -> None:
    turn = only(due([wheel(every(Work.TURN))], [], day(20)))

    assert [*own_days(turn, day(20), day(30))] == [day(20), day(27)]


def test_a_one_off_comes_up_once() -> None:
    pierce = only(due([wheel(once(Work.PIERCE, days(2, 3, 5)))], [], day(0)))

    assert [*own_days(pierce, day(0), day(60))] == [day(3)]
    assert Occurrence.of(pierce).following(day(3)) is None


def test_what_may_be_done_again_at_once_comes_up_on_the_next_day() -> None:
    after = Occurrence.of(only(due([wheel(every(Work.TURN, days(0, 0, 0)))], [], day(0))))
    found = after.following(day(0))

    assert found is not None
    assert (found.opens, found.expected, found.latest) == (day(1), day(1), day(1))


@settings(max_examples=25)
@given(households(), histories)
def test_own_days_are_what_comes_of_doing_each_care_on_its_day(
    wheels: tuple[WheelDays, ...], entered: list[Entry]
) -> None:
    # Piercing ends a call for piercing again, which nobody can know of before.
    care = set(Work) - {Work.PIERCE_AGAIN}

    assert {
        (on, each.work, each.subject)
        for each in due(wheels, entered, TODAY)
        if each.work in care
        for on in own_days(each, TODAY, UNTIL)
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
def test_own_days_ascend_from_today_and_end_in_time(
    wheels: tuple[WheelDays, ...], entered: list[Entry], ahead: int
) -> None:
    until = TODAY + timedelta(days=ahead)

    for each in due(wheels, entered, TODAY):
        found = [*own_days(each, TODAY, until)]
        assert all(TODAY <= on <= until for on in found)
        assert found == sorted(set(found))


def test_care_of_a_box_recurs_by_its_strictest_wheel() -> None:
    calm = wheel(every(Work.AIR_BOX), number=1, box=50)
    airy = wheel(every(Work.AIR_BOX, days(1, 3, 4)), number=2, box=50)
    air = only(due([calm, airy], [entry(Work.AIR_BOX, day(0), number=50)], day(0)))

    assert [*own_days(air, day(0), day(9))] == [day(3), day(6), day(9)]
    assert air.subject == Subject(Place.BOX, 50)

"""Visits: one opening serves all that is open, and no care is lost, doubled or late for it."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from service.ageing.schedule import Due
from service.ageing.tended import Subject
from service.ageing.visits import Openings, openings, outermost, visits
from service.ageing.work import Place, Trigger, Work
from tests.care_builders import day, every, when

CAVE, OTHER_CAVE, BOX = 1, 2, 50
SPACES: dict[int, int | None] = {CAVE: None, OTHER_CAVE: None, BOX: CAVE}
TODAY = day(0)

random_dues = settings(max_examples=80)


def asked(opens: int, expected: int, latest: int, number: int = 1, space: int | None = CAVE) -> Due:
    return Due(
        work=Work.TURN,
        subject=Subject(Place.WHEEL, number),
        wheels=(number,),
        rule=every(Work.TURN),
        opens=day(opens),
        expected=day(expected),
        latest=day(latest),
        last_done=None,
        why="made up",
        space=space,
    )


@st.composite
def many(draw: st.DrawFn, most: int = 6) -> list[Due]:
    """Dues of several spaces, some overdue, some put off past their latest day."""
    found = []
    for number in range(draw(st.integers(0, most))):
        opens, expected, latest = sorted(
            draw(st.lists(st.integers(-6, 20), min_size=3, max_size=3))
        )
        if draw(st.booleans()) and draw(st.booleans()):
            opens = expected = latest + draw(st.integers(1, 9))
        space = draw(st.sampled_from([CAVE, OTHER_CAVE, BOX, None]))
        found.append(asked(opens, expected, latest, number, space))
    return found


def own_day(item: Due) -> date:
    """When it would be done by itself."""
    first = max(item.opens, TODAY)
    return min(max(item.expected, first), max(item.latest, first))


def last_day(item: Due) -> date:
    """Half the way from its expected day to its latest, or its own day if that is later."""
    slack = max(timedelta(), item.latest - item.expected)
    return max(own_day(item), item.expected + slack // 2)


def counted(dues: list[Due], ahead: int = 14) -> Openings:
    return openings(visits(dues, SPACES, TODAY, ahead), dues, SPACES, TODAY, ahead)


def test_what_is_open_together_is_done_in_one_visit() -> None:
    turn, air = asked(2, 4, 6, number=1), asked(3, 5, 9, number=2, space=BOX)
    (visit,) = visits([turn, air], SPACES, TODAY)

    assert visit.space == CAVE
    assert visit.due == (turn, air)
    assert visit.day in {day(4), day(5)}


def test_one_visit_for_two_days_saves_one_opening() -> None:
    count = counted([asked(2, 4, 6), asked(3, 5, 9, number=2)])

    assert (count.planned, count.by_expected_days, count.saved) == (1, 2, 1)


def test_what_falls_on_one_day_anyway_saves_nothing() -> None:
    count = counted([asked(2, 4, 6), asked(3, 4, 9, number=2)])

    assert count.saved == 0


def test_what_is_overdue_is_done_today_and_takes_along_what_is_open() -> None:
    overdue, is_open = asked(-9, -7, -5), asked(0, 3, 5, number=2)
    (visit,) = visits([overdue, is_open], SPACES, TODAY)

    assert visit.day == TODAY
    assert visit.due == (overdue, is_open)


def test_care_goes_to_the_visit_nearest_to_its_expected_day() -> None:
    now, later, between = asked(0, 0, 0), asked(8, 8, 8, number=2), asked(0, 7, 9, number=3)
    first, second = visits([now, later, between], SPACES, TODAY)

    assert first.due == (now,)
    assert second.due == (later, between)


def test_no_opening_is_saved_by_leaving_care_to_its_last_day() -> None:
    turn, late = asked(2, 4, 7), asked(7, 7, 7, number=2)
    first, second = visits([turn, late], SPACES, TODAY)

    assert first.day == day(4)
    assert second.day == day(7)


def test_a_visit_is_not_moved_on_day_after_day() -> None:
    dues = [asked(0, 2, 8), asked(4, 6, 12, number=2)]
    proposed = [visits(dues, SPACES, day(today))[0].day for today in range(6)]

    # Half the way from day 2 to day 8 is day 5: that is the last day which any day proposes.
    assert proposed[-1] == day(5)
    assert max(proposed) == day(5)


def test_care_that_a_sign_calls_for_is_not_moved_to_save_an_opening() -> None:
    sign = replace(asked(0, 0, 4), rule=when(Work.PAT_DRY, Trigger.WET_FACE))
    first, second = visits([sign, asked(1, 2, 2, number=2)], SPACES, TODAY)

    assert (first.day, first.due) == (TODAY, (sign,))
    assert second.day == day(2)


def test_a_visit_that_has_begun_goes_on_with_what_is_open() -> None:
    is_open, later = asked(0, 3, 5), asked(2, 4, 6, number=2)
    (joined,) = visits([is_open, later], SPACES, TODAY)
    begun = visits([is_open], SPACES, TODAY, opened={CAVE})

    assert joined.day > TODAY
    assert [(visit.day, visit.due) for visit in begun] == [(TODAY, (is_open,))]


def test_a_visit_that_has_begun_takes_nothing_that_opens_later() -> None:
    assert visits([asked(2, 4, 6)], SPACES, TODAY, opened={CAVE})[0].day == day(4)


def test_what_was_put_off_waits_for_its_day_although_it_is_overdue() -> None:
    (visit,) = visits([asked(4, 4, -2)], SPACES, TODAY)

    assert visit.day == day(4)


def test_what_comes_up_after_the_days_ahead_is_left_out() -> None:
    assert visits([asked(0, 14, 20)], SPACES, TODAY, days=14) == ()
    assert len(visits([asked(0, 13, 20)], SPACES, TODAY, days=14)) == 1


def test_spaces_that_stand_in_each_other_by_mistake_end_the_search() -> None:
    assert outermost(1, {1: 2, 2: 1}) in {1, 2}


@random_dues
@given(many(), st.sets(st.sampled_from([CAVE, OTHER_CAVE, None])))
def test_every_due_of_the_days_ahead_is_in_one_visit(
    dues: list[Due], opened: set[int | None]
) -> None:
    planned = [
        item.subject.number
        for visit in visits(dues, SPACES, TODAY, opened=opened)
        for item in visit.due
    ]

    assert sorted(planned) == [each.subject.number for each in dues if own_day(each) <= day(13)]


@random_dues
@given(many())
def test_no_care_leaves_its_window(dues: list[Due]) -> None:
    for visit in visits(dues, SPACES, TODAY):
        for item in visit.due:
            first = max(item.opens, TODAY)
            assert first <= visit.day <= max(item.latest, first)


@random_dues
@given(many())
def test_no_space_is_opened_twice_on_a_day(dues: list[Due]) -> None:
    planned = visits(dues, SPACES, TODAY)

    assert len({(visit.day, visit.space) for visit in planned}) == len(planned)
    assert all(
        outermost(item.space, SPACES) == visit.space for visit in planned for item in visit.due
    )


@random_dues
@given(many())
def test_visits_never_cost_openings(dues: list[Due]) -> None:
    count = counted(dues)

    assert count.planned <= count.by_expected_days


@random_dues
@given(many(most=5))
def test_no_choice_of_days_needs_fewer_openings(dues: list[Due]) -> None:
    """Against every choice of days, tried one after the other."""
    planned = visits(dues, SPACES, TODAY, days=8)

    for space in (CAVE, OTHER_CAVE, None):
        mine = [
            item
            for item in dues
            if outermost(item.space, SPACES) == space and own_day(item) <= day(7)
        ]
        fewest = next(
            size
            for size in range(9)
            for chosen in combinations([day(number) for number in range(8)], size)
            if all(
                any(max(item.opens, TODAY) <= on <= last_day(item) for on in chosen)
                for item in mine
            )
        )
        assert len([visit for visit in planned if visit.space == space]) == fewest


@random_dues
@given(many(), st.data())
def test_the_order_of_dues_does_not_move_a_visit(dues: list[Due], data: st.DataObject) -> None:
    mixed = data.draw(st.permutations(dues))

    def told(given_dues: list[Due]) -> list[tuple[date, int | None, set[int]]]:
        return [
            (visit.day, visit.space, {item.subject.number for item in visit.due})
            for visit in visits(given_dues, SPACES, TODAY)
        ]

    assert told(mixed) == told(dues)
